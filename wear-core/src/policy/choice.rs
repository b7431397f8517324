//! Which model of chain, or which lubricant, costs least per kilometre.
//!
//! A choice c wears the chain `e^x` times as fast as the chains that the mean life is of, and costs
//!
//! ```text
//! K_c = A_c e^x + B_c
//! ```
//!
//! per 1,000 reference km: A, what is paid once a chain (chain, cassette and rings by its share, labour), B what is paid by the
//! kilometre (looks, failures, and the lubricant with the work of putting it on). x is a bell over all choices together, as
//! a fleet's chains have told it; A and B are those of the scenarios that a limit is judged by. Both sums are over equally
//! likely values, no draw is random.

use super::cost::Costs;
use super::limit::{LimitCost, LimitPolicy, cost_of_limit};
use super::scenarios::{Scenario, Spread, spread};
use crate::numeric::normal;

/// Equally likely values of each bell.
const VALUES: usize = 41;

/// Standard deviations that a mean difference has to be from nought for it to be believed: 95 % of a bell (C).
const BELIEVED: f64 = 1.644_853_6;

/// More chains than this aren't worth waiting for (A).
pub const MOST_CHAINS_TO_TELL: u32 = 2_000;

/// One model of chain, or one lubricant.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Candidate {
    /// Price of a chain.
    pub chain: f64,
    /// What cleaning and lubricating costs per 1,000 reference km, stuff and work; nil where that isn't known, or is the
    /// same for all.
    pub upkeep_per_1000_km: f64,
}

/// What is known of how much faster the chains wear with each candidate.
#[derive(Debug, Clone, PartialEq)]
pub struct Effects {
    /// Mean of x, over the chains that the scenarios' lives are of.
    pub ln_means: Vec<f64>,
    /// Covariance of each with each.
    pub covariance: Vec<Vec<f64>>,
    /// What one more chain, read as the fleet's usually are, says of its x: one over the variance of a reading of it.
    pub information_per_chain: f64,
}

/// What a choice is asked about.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ChoiceQuestion<'a> {
    /// Prices, labour, looks and failures; the chain's own price is the candidate's.
    pub costs: &'a Costs,
    /// What is not known of lives and damage.
    pub scenarios: &'a [Scenario],
    /// The limit at which chains come off, percent.
    pub limit_percent: f64,
    /// Looks, and overshoot of the process at its jumps.
    pub policy: LimitPolicy,
    /// What can be chosen.
    pub candidates: &'a [Candidate],
    /// How each wears.
    pub effects: &'a Effects,
    /// Place of the one in use.
    pub in_use: usize,
}

/// What a choice costs.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub struct ChoiceCost {
    /// Cost per 1,000 reference km.
    pub cost: Spread,
    /// The same, the mean: differences of means are means of differences.
    pub mean: f64,
    /// What it costs more than the one in use; negative when it costs less.
    pub more_than_in_use: Spread,
    /// Probability that it costs less than the one in use; one half of the one in use itself.
    pub cheaper_probability: f64,
    /// Further chains, half of this and half of the one in use and read as the fleet's usually are, after which the difference
    /// as it is thought of now would be believed with a probability of 95 %: its mean is then 1.645 of the standard
    /// deviations that are left. Nought when it is believed already, `None` when it takes more than
    /// [`MOST_CHAINS_TO_TELL`], as of two that cost the same.
    pub chains_to_tell: Option<u32>,
}

/// A candidate's costs in one scenario.
#[derive(Debug, Clone, Copy)]
struct Parts {
    by_wear: f64,
    by_km: f64,
    weight: f64,
}

impl Parts {
    fn at(self, x: f64) -> f64 {
        self.by_wear * x.exp() + self.by_km
    }
}

impl ChoiceQuestion<'_> {
    /// What each candidate costs, in their order; `None` when there is no such candidate or no scenario.
    #[must_use]
    pub fn answer(&self) -> Option<Vec<ChoiceCost>> {
        let count = self.candidates.len();
        let sound = self.in_use < count
            && self.effects.ln_means.len() == count
            && self.effects.covariance.len() == count
            && self.effects.covariance.iter().all(|row| row.len() == count)
            && self.scenarios.iter().map(|scenario| scenario.weight).sum::<f64>() > 0.0;
        if !sound {
            return None;
        }
        let parts: Vec<Vec<Parts>> = self.candidates.iter().map(|candidate| self.parts(candidate)).collect();
        Some((0..count).map(|c| self.one(c, &parts[c], &parts[self.in_use])).collect())
    }

    fn parts(&self, candidate: &Candidate) -> Vec<Parts> {
        let mut costs = self.costs.clone();
        costs.chain.part = candidate.chain;
        let one = |scenario: &Scenario| {
            let LimitCost { chains, cassettes, rings, looks, failures } =
                cost_of_limit(&costs, &scenario.life, scenario.damage_scale, self.policy, self.limit_percent);
            Parts {
                by_wear: chains + cassettes + rings,
                by_km: looks + failures + candidate.upkeep_per_1000_km,
                weight: scenario.weight,
            }
        };
        self.scenarios.iter().map(one).collect()
    }

    fn one(&self, c: usize, own: &[Parts], in_use: &[Parts]) -> ChoiceCost {
        let Effects { ln_means, covariance, .. } = self.effects;
        let (mean, variance) = (ln_means[c], covariance[c][c].max(0.0));
        let standard = values();
        let costs = own.iter().flat_map(|parts| {
            standard.iter().map(move |z| (parts.at(mean + variance.sqrt() * z), parts.weight))
        });
        let costs: Vec<(f64, f64)> = costs.collect();
        let whole: f64 = costs.iter().map(|(_, weight)| weight).sum();
        let expected = costs.iter().map(|(cost, weight)| weight * cost).sum::<f64>() / whole;
        let cost = spread(costs);
        if c == self.in_use {
            let none = Spread { p10: 0.0, p50: 0.0, p90: 0.0 };
            return ChoiceCost {
                cost,
                mean: expected,
                more_than_in_use: none,
                cheaper_probability: 0.5,
                chains_to_tell: Some(0),
            };
        }
        // x_c given x of the one in use is a bell again.
        let base = (ln_means[self.in_use], covariance[self.in_use][self.in_use].max(0.0));
        let slope = if base.1 > 0.0 { covariance[c][self.in_use] / base.1 } else { 0.0 };
        let left = (variance - slope * covariance[c][self.in_use]).max(0.0).sqrt();
        let (mut more, mut cheaper, mut whole) = (Vec::new(), 0.0, 0.0);
        for (own, other) in own.iter().zip(in_use) {
            for z in standard {
                let x = base.0 + base.1.sqrt() * z;
                let centre = mean + slope * (x - base.0);
                let costs = other.at(x);
                more.extend(standard.iter().map(|z| (own.at(centre + left * z) - costs, own.weight)));
                cheaper += own.weight * below(own, costs, centre, left);
                whole += own.weight;
            }
        }
        ChoiceCost {
            cost,
            mean: expected,
            more_than_in_use: spread(more),
            cheaper_probability: cheaper / whole,
            chains_to_tell: self.chains_to_tell(c, own, in_use),
        }
    }

    fn chains_to_tell(&self, c: usize, own: &[Parts], in_use: &[Parts]) -> Option<u32> {
        let Effects { ln_means, covariance, information_per_chain } = self.effects;
        let base = self.in_use;
        let variance = covariance[c][c] + covariance[base][base] - 2.0 * covariance[c][base];
        let mean_of = |parts: &[Parts], part: fn(&Parts) -> f64| {
            let weights: f64 = parts.iter().map(|parts| parts.weight).sum();
            parts.iter().map(|parts| parts.weight * part(parts)).sum::<f64>() / weights
        };
        // x at which it would cost what the one in use does.
        let paid = mean_of(in_use, |parts| parts.by_wear) * ln_means[base].exp()
            + mean_of(in_use, |parts| parts.by_km)
            - mean_of(own, |parts| parts.by_km);
        let per_wear = mean_of(own, |parts| parts.by_wear);
        if paid <= 0.0 || per_wear <= 0.0 {
            // What it costs by the kilometre alone is more than the one in use costs.
            return Some(0);
        }
        let apart = ln_means[c] - (paid / per_wear).ln();
        chains_to_tell(apart, variance, *information_per_chain)
    }
}

/// Probability that a bell's cost is below `costs`.
fn below(own: &Parts, costs: f64, centre: f64, sd: f64) -> f64 {
    let left = costs - own.by_km;
    if left <= 0.0 || own.by_wear <= 0.0 {
        return f64::from(u8::from(left > 0.0));
    }
    let z = (left / own.by_wear).ln() - centre;
    if sd > 0.0 { normal::distribution(z / sd) } else { f64::from(u8::from(z > 0.0)) }
}

/// n with `|apart| ≥ 1.645 √V_n`, `1/V_n = 1/V + n·i/4`: half of n chains are of either, and each says i of its own.
fn chains_to_tell(apart: f64, variance: f64, information: f64) -> Option<u32> {
    let wanted = (BELIEVED / apart).powi(2);
    let lacking = wanted - 1.0 / variance.max(f64::MIN_POSITIVE);
    if lacking <= 0.0 {
        return Some(0);
    }
    let count = (4.0 * lacking / information).ceil();
    (count <= f64::from(MOST_CHAINS_TO_TELL)).then_some(count as u32)
}

/// Equally likely values of a standard bell.
fn values() -> [f64; VALUES] {
    std::array::from_fn(|i| normal::quantile((i as f64 + 0.5) / VALUES as f64))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn more_chains_tell_what_is_closer() {
        // V = 0.04, i = 4: 1/V_n = 25 + n; 0.2 wants 67.6, 0.4 wants 16.9.
        assert_eq!(chains_to_tell(0.2, 0.04, 4.0), Some(43));
        assert_eq!(chains_to_tell(-0.2, 0.04, 4.0), Some(43));
        assert_eq!(chains_to_tell(0.4, 0.04, 4.0), Some(0));
        assert_eq!(chains_to_tell(0.0, 0.04, 4.0), None);
        assert_eq!(chains_to_tell(0.2, 0.04, 0.0), None);
    }

    #[test]
    fn values_have_nearly_the_spread_of_the_bell() {
        let values = values();
        let square = values.iter().map(|z| z * z).sum::<f64>() / VALUES as f64;
        assert!(values.iter().sum::<f64>().abs() < 1e-9 && (square - 1.0).abs() < 0.035, "{square}");
    }
}
