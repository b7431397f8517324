//! How many of a part a fleet will need: exact counts of swaps, and what to order.

use thiserror::Error;

use crate::forecast::{LifeCurve, UseForecast};
use crate::numeric::normal;
use crate::units::Probability;

/// Mass that is dropped from each end of a distribution while it is built, for each bike: the sum over a million bikes
/// stays below 1e-12.
const NEGLIGIBLE: f64 = 1e-18;

/// The distribution of a count.
#[derive(Debug, Clone, PartialEq)]
pub struct Demand {
    first: usize,
    mass: Vec<f64>,
}

impl Demand {
    /// The number of bikes that need a swap, each with its own probability, independent of each other: the
    /// Poisson-binomial distribution by exact convolution (no normal or Poisson approximation).
    #[must_use]
    pub fn of_swaps(probabilities: &[Probability]) -> Self {
        // P_{i}(k) = (1 − p_i)·P_{i−1}(k) + p_i·P_{i−1}(k − 1)
        let mut first = 0;
        let mut mass = vec![1.0];
        let mut low = 0;
        for probability in probabilities {
            let p = probability.get();
            mass.push(0.0);
            for k in (low + 1..mass.len()).rev() {
                mass[k] = mass[k] * (1.0 - p) + mass[k - 1] * p;
            }
            mass[low] *= 1.0 - p;
            while mass.len() > low + 1 && mass[mass.len() - 1] < NEGLIGIBLE {
                mass.pop();
            }
            while low + 1 < mass.len() && mass[low] < NEGLIGIBLE {
                low += 1;
            }
            // Dropped room at the front is given back now and then, not at every bike.
            if low > 1_024 && low > mass.len() / 2 {
                mass.drain(..low);
                first += low;
                low = 0;
            }
        }
        mass.drain(..low);
        Self { first: first + low, mass }
    }

    /// The mixture of several demands: one for each value of a factor that all bikes share, such as a wet season, with
    /// the weight of that value. It has a wider tail than any independent count of the same mean.
    ///
    /// # Errors
    /// [`DemandError::NoWeight`] when no weight is positive or one is not a finite number.
    pub fn mixture(parts: &[(f64, Self)]) -> Result<Self, DemandError> {
        let whole: f64 = parts.iter().map(|(weight, _)| weight).sum();
        if parts.iter().any(|(weight, _)| !(0.0..=f64::MAX).contains(weight))
            || !whole.is_finite()
            || whole <= 0.0
        {
            return Err(DemandError::NoWeight);
        }
        Ok(Self::mixed(parts, whole))
    }

    fn mixed(parts: &[(f64, Self)], whole: f64) -> Self {
        let first = parts.iter().map(|(_, part)| part.first).min().unwrap_or(0);
        let end = parts.iter().map(|(_, part)| part.first + part.mass.len()).max().unwrap_or(1);
        let mut mass = vec![0.0; end - first];
        for (weight, part) in parts {
            for (offset, p) in part.mass.iter().enumerate() {
                mass[part.first - first + offset] += weight / whole * p;
            }
        }
        Self { first, mass }
    }

    /// The number of bikes that need a swap when a factor of [`shared_factor`] multiplies everyone's use:
    /// `probabilities(factor)` are the bikes' probabilities under it.
    ///
    /// Given the factor the bikes are independent; together they are not, and the count's tail is wider.
    #[must_use]
    pub fn under_shared_factor(ln_sd: f64, probabilities: impl Fn(f64) -> Vec<Probability>) -> Self {
        let parts: Vec<(f64, Self)> = shared_factor(ln_sd)
            .into_iter()
            .map(|(factor, weight)| (weight, Self::of_swaps(&probabilities(factor))))
            .collect();
        Self::mixed(&parts, 1.0)
    }

    /// The number of bikes whose chain reaches its limit within `days`, each with the forecast of its use. What the
    /// forecasts have in common makes all of them early or late together; given that they are independent.
    #[must_use]
    pub fn under_shared_use<'a>(
        days: f64,
        bikes: impl IntoIterator<Item = (&'a UseForecast, &'a LifeCurve)>,
    ) -> Self {
        let bikes: Vec<_> = bikes.into_iter().collect();
        Self::under_shared_deviate(|deviate| {
            bikes
                .iter()
                .filter_map(|(usage, curve)| {
                    Probability::new(curve.probability_by_day_given(usage, days, deviate)).ok()
                })
                .collect()
        })
    }

    /// The number of bikes that need a swap when something that all have in common is a normal deviate: `probabilities` are
    /// the bikes' under each of its values, as [`crate::bike::SwapTiming::by_given`] has them.
    #[must_use]
    pub fn under_shared_deviate(probabilities: impl Fn(f64) -> Vec<Probability>) -> Self {
        let parts: Vec<(f64, Self)> = shared_deviates()
            .map(|(deviate, weight)| (weight, Self::of_swaps(&probabilities(deviate))))
            .collect();
        Self::mixed(&parts, 1.0)
    }

    /// Expected count.
    #[must_use]
    pub fn mean(&self) -> f64 {
        self.first as f64 + self.mass.iter().enumerate().map(|(k, p)| k as f64 * p).sum::<f64>()
    }

    /// Variance of the count.
    #[must_use]
    pub fn variance(&self) -> f64 {
        let mean = self.mean() - self.first as f64;
        self.mass.iter().enumerate().map(|(k, p)| (k as f64 - mean).powi(2) * p).sum()
    }

    /// Probability of exactly `count`.
    #[must_use]
    pub fn probability(&self, count: usize) -> f64 {
        count.checked_sub(self.first).and_then(|offset| self.mass.get(offset)).copied().unwrap_or(0.0)
    }

    /// Probability of `count` or fewer.
    #[must_use]
    pub fn at_most(&self, count: usize) -> f64 {
        let Some(offset) = count.checked_sub(self.first) else { return 0.0 };
        self.mass.iter().take(offset.saturating_add(1)).sum::<f64>().min(1.0)
    }

    /// Smallest count of which there are no more with at least this probability.
    #[must_use]
    pub fn quantile(&self, level: Probability) -> usize {
        let mut sum = 0.0;
        for (offset, p) in self.mass.iter().enumerate() {
            sum += p;
            if sum >= level.get() {
                return self.first + offset;
            }
        }
        self.first + self.mass.len() - 1
    }

    /// Expected number that `stock` does not cover.
    #[must_use]
    pub fn expected_short(&self, stock: usize) -> f64 {
        self.mass
            .iter()
            .enumerate()
            .map(|(offset, p)| (self.first + offset).saturating_sub(stock) as f64 * p)
            .sum()
    }
}

/// Spread of the use that a fleet's bikes share from season to season, standard deviation of its logarithm (A: in two
/// seasons out of three within a fifth of the usual).
pub const SEASON_LN_SD: f64 = 0.2;

/// Distance between the values of a shared factor, in standard deviations of its logarithm.
const FACTOR_STEP: f64 = 0.3;

/// Values on each side of the median of a shared factor: out to 3.6 standard deviations.
const FACTOR_STEPS: i32 = 12;

/// Values of a log-normal factor with median 1 and their weights, for [`Demand::mixture`]: the factor on everyone's use
/// in a season or its weather. The weights add up to 1; one value and its weight if `ln_sd` is not above zero.
///
/// The values are evenly spaced in the logarithm, so the tail is there for service levels up to 0.999.
#[must_use]
pub fn shared_factor(ln_sd: f64) -> Vec<(f64, f64)> {
    if ln_sd.is_nan() || ln_sd <= 0.0 {
        return vec![(1.0, 1.0)];
    }
    shared_deviates().map(|(z, weight)| ((ln_sd * z).exp(), weight)).collect()
}

/// Values of a normal deviate and their weights, which add up to 1: what [`Demand::under_shared_deviate`] mixes.
pub fn shared_deviates() -> impl Iterator<Item = (f64, f64)> {
    let deviates = (-FACTOR_STEPS..=FACTOR_STEPS).map(|i| FACTOR_STEP * f64::from(i));
    let whole: f64 = deviates.clone().map(normal::density).sum();
    deviates.map(move |z| (z, normal::density(z) / whole))
}

/// What there is of a part, and how it is bought.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Supply {
    /// On the shelf.
    pub on_hand: u32,
    /// Ordered and not yet here; taken to arrive within the lead time, so leave out what arrives later.
    pub under_way: u32,
    /// Parts per pack; orders are whole packs.
    pub pack: u32,
}

/// Demands or supplies that make no sense.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
#[non_exhaustive]
pub enum DemandError {
    /// A mixture has no positive weight, or one that is negative or not finite.
    #[error("weights: finite, not negative, at least one above zero")]
    NoWeight,
    /// A pack of no parts.
    #[error("pack: at least 1")]
    EmptyPack,
}

/// What to order now.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub struct OrderNeed {
    /// Order when what is on hand and under way falls to this or below: covers demand over the lead time at the service
    /// level.
    pub reorder_point: usize,
    /// What on hand and under way are filled up to: covers demand until an order placed at the next review arrives.
    pub order_up_to: usize,
    /// Parts to order now, in whole packs; 0 while the position is above the reorder point.
    pub quantity: usize,
    /// Probability that the position lasts through the lead time without the order.
    pub lasts_probability: f64,
    /// Parts expected to be missing during the lead time without the order.
    pub expected_short: f64,
}

/// What to order now, given demand over the lead time and over lead time and review period together.
///
/// # Errors
/// [`DemandError::EmptyPack`].
pub fn order_need(
    over_lead_time: &Demand,
    over_lead_time_and_review: &Demand,
    supply: Supply,
    service_level: Probability,
) -> Result<OrderNeed, DemandError> {
    let pack = usize::try_from(supply.pack).unwrap_or(usize::MAX);
    if pack == 0 {
        return Err(DemandError::EmptyPack);
    }
    let position = supply.on_hand as usize + supply.under_way as usize;
    let needed = over_lead_time.quantile(service_level);
    let order_up_to = over_lead_time_and_review.quantile(service_level).max(needed);
    // At the reorder point itself the position still covers the lead time; one swap later it doesn't.
    let quantity = if position < needed || (position == needed && order_up_to > needed) {
        (order_up_to - position).div_ceil(pack) * pack
    } else {
        0
    };
    Ok(OrderNeed {
        reorder_point: needed,
        order_up_to,
        quantity,
        lasts_probability: over_lead_time.at_most(position),
        expected_short: over_lead_time.expected_short(position),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn probabilities(values: impl IntoIterator<Item = f64>) -> Vec<Probability> {
        values.into_iter().map(|p| Probability::new(p).unwrap()).collect()
    }

    #[test]
    fn equal_probabilities_are_binomial() {
        let demand = Demand::of_swaps(&probabilities(vec![0.3; 40]));
        let mut expected = 0.7_f64.powi(40);
        for k in 0..=40_usize {
            assert!((demand.probability(k) - expected).abs() < 1e-15, "{k}");
            expected *= (40 - k) as f64 / (k + 1) as f64 * 0.3 / 0.7;
        }
    }

    #[test]
    fn sure_things_shift_the_count_and_large_fleets_keep_their_moments() {
        let certain = Demand::of_swaps(&probabilities([1.0, 1.0, 0.0, 0.5]));
        assert_eq!((certain.probability(2), certain.probability(3), certain.at_most(1)), (0.5, 0.5, 0.0));
        let values: Vec<f64> = (0..20_000).map(|i| f64::from(i % 100) / 100.0).collect();
        let demand = Demand::of_swaps(&probabilities(values.iter().copied()));
        let mean: f64 = values.iter().sum();
        let variance: f64 = values.iter().map(|p| p * (1.0 - p)).sum();
        assert!((demand.mean() - mean).abs() < 1e-8 && (demand.variance() / variance - 1.0).abs() < 1e-9);
        assert!((demand.at_most(20_000) - 1.0).abs() < 1e-11);
    }

    #[test]
    fn a_shared_factor_has_its_moments_and_its_tail() {
        let nodes = shared_factor(0.4);
        let moment = |f: &dyn Fn(f64) -> f64| -> f64 { nodes.iter().map(|&(x, weight)| f(x) * weight).sum() };
        assert!((moment(&|_| 1.0) - 1.0).abs() < 1e-12);
        assert!((moment(&|x| x.ln().powi(2)) / 0.16 - 1.0).abs() < 5e-3);
        assert!((moment(&|x| x) / 0.08_f64.exp() - 1.0).abs() < 5e-4);
        assert!(moment(&|x| if x > (0.4 * 2.326_f64).exp() { 1.0 } else { 0.0 }) > 0.007);
        assert_eq!(shared_factor(0.0), [(1.0, 1.0)]);
        assert_eq!(shared_factor(f64::NAN), [(1.0, 1.0)]);
    }

    #[test]
    fn a_shared_factor_widens_the_tail() {
        let under = |factor: f64| probabilities(vec![(0.1 * factor).min(1.0); 200]);
        let mixed = Demand::under_shared_factor(0.4, under);
        let alone = Demand::of_swaps(&under(1.0));
        for level in [0.9, 0.95, 0.99] {
            let level = Probability::new(level).unwrap();
            assert!(mixed.quantile(level) > alone.quantile(level) + 3);
        }
        // Var N = E Var(N | f) + Var E(N | f), and a log-normal of median 1 has mean e^(σ²/2).
        let (mean, variance) = (20.0 * 0.08_f64.exp(), 400.0 * 0.16_f64.exp() * 0.16_f64.exp_m1());
        assert!((mixed.mean() / mean - 1.0).abs() < 1e-3, "{}", mixed.mean());
        assert!((mixed.variance() / (mean * 0.88 + variance) - 1.0).abs() < 0.05, "{}", mixed.variance());
        assert!((mixed.at_most(200) - 1.0).abs() < 1e-12);
        assert!((mixed.at_most(usize::MAX) - 1.0).abs() < 1e-12);
        assert_eq!(Demand::under_shared_factor(0.0, under), alone);
        assert_eq!(Demand::mixture(&[]), Err(DemandError::NoWeight));
        assert_eq!(Demand::mixture(&[(f64::NAN, alone)]), Err(DemandError::NoWeight));
    }

    #[test]
    fn orders_are_whole_packs_up_to_the_level() {
        let lead = Demand::of_swaps(&probabilities(vec![0.2; 30]));
        let both = Demand::of_swaps(&probabilities(vec![0.5; 30]));
        let need = |on_hand, under_way, pack| {
            order_need(&lead, &both, Supply { on_hand, under_way, pack }, Probability::new(0.95).unwrap())
        };
        let short = need(2, 1, 5).unwrap();
        assert!(short.quantity % 5 == 0 && 3 + short.quantity >= short.order_up_to);
        assert!(3 + short.quantity < short.order_up_to + 5 && short.lasts_probability < 0.5);
        let covered = need(30, 0, 5).unwrap();
        assert_eq!((covered.quantity, covered.expected_short), (0, 0.0));
        assert_eq!(need(1, 0, 0), Err(DemandError::EmptyPack));
    }
}
