//! How much of the difference among chains is their bikes'.
//!
//! `ln θ = µ_group + u_bike + v_chain`, `Var u = κτ²`, `Var v = (1 − κ)τ²`, `κ ~ Beta(2, 2)` (A). What one chain says of its
//! ln θ enters as the bell that makes the group's prior into the chain's posterior (expectation propagation's message; Minka 2001,
//! M). With bells all else is in closed form.

use crate::degradation::WearParameters;
use crate::units::LogSd;

/// What one chain says of its ln θ apart from its group.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ChainLevel {
    /// Its mean over the group's mean, µ_group.
    pub away: f64,
    /// One over its variance.
    pub precision: f64,
    /// Whether the chain was met on the road: of those of its bike one that lasts is met more often, its v is
    /// `N(−Var v, Var v)`.
    pub is_found: bool,
}

impl ChainLevel {
    /// The message that leads from `N(µ, τ²)`, `N(µ − τ², τ²)` of a chain as found, to a mean and a variance; `None` when
    /// there is next to nothing in it.
    pub(super) fn between((mean, variance): (f64, f64), mu: f64, tau: f64, is_found: bool) -> Option<Self> {
        let precision = 1.0 / variance - tau.powi(-2);
        let bias = if is_found { tau * tau } else { 0.0 };
        // A chain that tells less than a hundredth of what is believed already says nothing.
        (precision > 0.01 * tau.powi(-2)).then(|| Self {
            away: (mean - mu + bias) / variance / precision - bias,
            precision,
            is_found,
        })
    }

    /// Its weight for u, and its mean over µ_group apart from the length bias.
    fn of_bike(self, of_chain: f64) -> (f64, f64) {
        let bias = if self.is_found { of_chain } else { 0.0 };
        (1.0 / (of_chain + 1.0 / self.precision), self.away + bias)
    }
}

/// How much the chains of a fleet differ, and how much of that is their bikes'.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BikeShare {
    /// κ, the share of τ² that is the bikes'; 0 when too few bikes have had two chains read.
    pub share: f64,
    /// τ, the spread of ln θ within groups.
    pub sd_within: f64,
}

impl BikeShare {
    /// `N(µ + E u, Var v + Var u + Var µ)`: parameters for a chain on a bike of a group that wears so, of which other chains
    /// of the bike have `told`. The chain's own readings have their say in its outlook.
    #[must_use]
    pub fn parameters(
        &self,
        of_group: &WearParameters,
        told: impl Iterator<Item = ChainLevel>,
    ) -> WearParameters {
        let Self { share, sd_within } = *self;
        if share <= 0.0 {
            return *of_group;
        }
        let BikeLevel { mean, variance } = level(told, share, sd_within);
        let of_chain = (1.0 - share) * sd_within * sd_within;
        let of_mean = (of_group.sd_log_rate().powi(2) - sd_within.powi(2)).max(0.0);
        let common = (of_mean + variance).sqrt();
        of_group
            .with_log_rate(of_group.mean_log_rate() + mean, (of_chain + common * common).sqrt())
            .and_then(|p| Ok(p.with_common_spread(LogSd::new(common)?)))
            .unwrap_or(*of_group)
    }
}

/// What is known of a bike's u.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct BikeLevel {
    pub mean: f64,
    pub variance: f64,
}

/// κ is looked for between these, in so many steps.
const SHARES: (f64, f64) = (0.02, 0.95);
const STEPS: usize = 31;

/// Bikes of which two chains were read, for κ to be looked for (A).
const BIKES_TO_LEARN: usize = 5;

/// The most probable κ; 0 when too few bikes have worn out two chains.
pub(super) fn share<'a>(bikes: impl Iterator<Item = &'a [ChainLevel]> + Clone, tau: f64) -> f64 {
    if bikes.clone().filter(|chains| chains.len() > 1).count() < BIKES_TO_LEARN {
        return 0.0;
    }
    let density = |kappa: f64| {
        let data: f64 = bikes.clone().map(|chains| log_density(chains, kappa * tau * tau, tau)).sum();
        data + (kappa * (1.0 - kappa)).ln()
    };
    let step = (SHARES.1 - SHARES.0) / (STEPS - 1) as f64;
    let all = (0..STEPS).map(|i| SHARES.0 + i as f64 * step).map(|kappa| (kappa, density(kappa)));
    all.fold((0.0, f64::NEG_INFINITY), |best, next| if next.1 > best.1 { next } else { best }).0
}

/// `ln p` of the messages of one bike, up to what doesn't depend on κ: bells with a common part.
fn log_density(chains: &[ChainLevel], of_bike: f64, tau: f64) -> f64 {
    let of_chain = tau * tau - of_bike;
    let (mut logs, mut s0, mut s1, mut s2) = (0.0, 0.0, 0.0, 0.0);
    for message in chains {
        let (weight, away) = message.of_bike(of_chain);
        logs += weight.ln();
        s0 += weight;
        s1 += weight * away;
        s2 += weight * away * away;
    }
    let whole = 1.0 + of_bike * s0;
    0.5 * (logs - whole.ln() - (s2 - s1 * s1 * of_bike / whole))
}

/// What some of a bike's chains say of its u.
pub(super) fn level(chains: impl Iterator<Item = ChainLevel>, kappa: f64, tau: f64) -> BikeLevel {
    let (of_bike, of_chain) = (kappa * tau * tau, (1.0 - kappa) * tau * tau);
    if of_bike <= 0.0 {
        return BikeLevel { mean: 0.0, variance: 0.0 };
    }
    let (mut s0, mut s1) = (1.0 / of_bike, 0.0);
    for message in chains {
        let (weight, away) = message.of_bike(of_chain);
        s0 += weight;
        s1 += weight * away;
    }
    BikeLevel { mean: s1 / s0, variance: 1.0 / s0 }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_message_is_what_was_added_to_the_prior() {
        // N(−9, 0.3²) times N(−8.8, 0.2²).
        let (a, b) = (1.0 / 0.09, 1.0 / 0.04);
        let (mean, variance) = ((-9.0 * a - 8.8 * b) / (a + b), 1.0 / (a + b));
        let found = ChainLevel::between((mean, variance), -9.0, 0.3, false).unwrap();
        assert!((found.away - 0.2).abs() < 1e-12 && (found.precision - b).abs() < 1e-9);
        assert_eq!(ChainLevel::between((-9.0, 0.09), -9.0, 0.3, false), None);
    }

    #[test]
    fn two_chains_have_the_density_of_their_joint_bell() {
        let one = |away: f64, precision: f64| ChainLevel { away, precision, is_found: false };
        let chains = [one(0.3, 50.0), one(0.1, 20.0)];
        let (tau, kappa) = (0.35_f64, 0.4);
        let common = kappa * tau * tau;
        let (v, w) = (tau * tau + 1.0 / 50.0, tau * tau + 1.0 / 20.0);
        let det: f64 = v * w - common * common;
        let square = (w * 0.09 - 2.0 * common * 0.03 + v * 0.01) / det;
        let expected = -0.5 * (det.ln() + square);
        assert!((log_density(&chains, common, tau) - expected).abs() < 1e-12);
        // E(u | both) by the same covariances: cov (1, 1) Σ⁻¹ (0.3, 0.1).
        let by_hand = common * ((w - common) * 0.3 + (v - common) * 0.1) / det;
        let level = level(chains.into_iter(), kappa, tau);
        assert!((level.mean - by_hand).abs() < 1e-12);
        let variance = common - common * common * (v + w - 2.0 * common) / det;
        assert!((level.variance - variance).abs() < 1e-12);
    }
}
