//! The distribution of remaining life, laid over days of use.

use std::collections::BTreeMap;

use super::UseForecast;
use crate::degradation::Snapshot;

/// Days ahead beyond which no date is given: ten years.
pub const HORIZON_DAYS: u32 = 3_650;

const POINTS: usize = 48;

/// Points from one that is computed to the next: a divisor of [`POINTS`].
const STRIDE: usize = 4;

/// Weights of a normal deviate from −3 to 3 in steps of a half: its density, adding up to 1 (M).
const DEVIATE_WEIGHTS: [f64; 13] = [
    0.002218195855,
    0.008773134792,
    0.027023157603,
    0.064825185139,
    0.121109390075,
    0.176213122789,
    0.199675627498,
    0.176213122789,
    0.121109390075,
    0.064825185139,
    0.027023157603,
    0.008773134792,
    0.002218195855,
];

/// P(R ≤ s) sampled over reference kilometres ahead, so that questions about days cost no new inversion.
#[derive(Debug, Clone, PartialEq)]
pub struct LifeCurve {
    ahead: Vec<f64>,
    probability: Vec<f64>,
}

impl LifeCurve {
    /// The curve of a chain; `p90` is the ninetieth percentile of its remaining life.
    ///
    /// Computed at every fourth point with its slope; those in between lie on the cubic through both ends whose
    /// slopes are theirs, or as near to them as a curve that only rises can be (Fritsch and Carlson 1980, SIAM J. Numer.
    /// Anal. 17:238; M).
    #[must_use]
    pub fn of(chain: &Snapshot<'_>, p90: f64) -> Self {
        let ahead = Self::distances(p90);
        let knots: Vec<Knot> = ahead.iter().step_by(STRIDE).map(|&s| Knot::of(chain, s)).collect();
        let between = |s: f64| {
            let after = knots.partition_point(|knot| knot.at < s).clamp(1, knots.len() - 1);
            Knot::between(&knots[after - 1], &knots[after], s)
        };
        Self::rising(ahead, between)
    }

    /// Samples `probability_over(s)`, the probability that the limit is reached within `s` reference km,
    /// densely near zero and out to twice `p90`, the ninetieth percentile of the remaining life.
    #[must_use]
    pub fn sample(p90: f64, probability_over: impl FnMut(f64) -> f64) -> Self {
        Self::rising(Self::distances(p90), probability_over)
    }

    fn distances(p90: f64) -> Vec<f64> {
        let reach = 2.0 * p90.max(1.0);
        (0..=POINTS).map(|i| reach * (i as f64 / POINTS as f64).powf(1.5)).collect()
    }

    fn rising(ahead: Vec<f64>, mut probability_over: impl FnMut(f64) -> f64) -> Self {
        let mut highest = 0.0_f64;
        let probability = ahead
            .iter()
            .map(|&s| {
                highest = highest.max(probability_over(s).clamp(0.0, 1.0));
                highest
            })
            .collect();
        Self { ahead, probability }
    }

    /// P(R ≤ s), linear between samples.
    #[must_use]
    pub fn probability(&self, s: f64) -> f64 {
        let after = self.ahead.partition_point(|&a| a <= s);
        if after == 0 {
            return self.probability[0];
        }
        if after == self.ahead.len() {
            return self.probability[after - 1];
        }
        let (a0, a1) = (self.ahead[after - 1], self.ahead[after]);
        let (p0, p1) = (self.probability[after - 1], self.probability[after]);
        p0 + (p1 - p0) * (s - a0) / (a1 - a0)
    }

    /// The sampled points: reference km ahead and probability.
    pub fn points(&self) -> impl Iterator<Item = (f64, f64)> + '_ {
        self.ahead.iter().copied().zip(self.probability.iter().copied())
    }

    /// Probability that the limit is reached within `days` of use.
    #[must_use]
    pub fn probability_by_day(&self, forecast: &UseForecast, days: f64) -> f64 {
        self.probabilities_by_day(forecast, days, []).0
    }

    /// The same where what the bikes of a workshop have in common is `deviate` standard deviations above its median; see
    /// [`UseForecast::shared_ln_sd_over`].
    #[must_use]
    pub fn probability_by_day_given(&self, forecast: &UseForecast, days: f64, deviate: f64) -> f64 {
        let (_, [given]) = self.probabilities_by_day(forecast, days, [deviate]);
        given
    }

    /// Both, for several deviates.
    pub(crate) fn probabilities_by_day<const N: usize>(
        &self,
        forecast: &UseForecast,
        days: f64,
        deviates: [f64; N],
    ) -> (f64, [f64; N]) {
        if days <= 0.0 {
            return (self.probability[0], [self.probability[0]; N]);
        }
        let ahead = forecast.ahead(days);
        let own = (ahead.ln_sd.powi(2) - ahead.shared_ln_sd.powi(2)).max(0.0).sqrt();
        let given = deviates
            .map(|deviate| self.probability_over(ahead.median * (ahead.shared_ln_sd * deviate).exp(), own));
        (self.probability_over(ahead.median, ahead.ln_sd), given)
    }

    /// `∫ φ(z) P(R ≤ median·e^{sd·z}) dz` by the trapezoidal rule: with a life known to a quarter of the spread of use it
    /// is right to 0.005.
    fn probability_over(&self, median: f64, ln_sd: f64) -> f64 {
        let step = (0.5 * ln_sd).exp();
        let mut s = median * (-3.0 * ln_sd).exp();
        let mut sum = 0.0;
        for weight in DEVIATE_WEIGHTS {
            sum += weight * self.probability(s);
            s *= step;
        }
        sum.min(1.0)
    }

    /// First whole day ahead on which the probability reaches `level`; 0 when it has already, `None` beyond
    /// [`HORIZON_DAYS`].
    #[must_use]
    pub fn day_reaching(&self, forecast: &UseForecast, level: f64) -> Option<u32> {
        let [day] = self.days_reaching(forecast, [level]);
        day
    }

    /// The same for several levels: days that were looked at for one of them narrow the others' search.
    #[must_use]
    pub fn days_reaching<const N: usize>(
        &self,
        forecast: &UseForecast,
        levels: [f64; N],
    ) -> [Option<u32>; N] {
        let mut looked_at = BTreeMap::new();
        let mut by = |day: u32| {
            *looked_at.entry(day).or_insert_with(|| self.probability_by_day(forecast, f64::from(day)))
        };
        levels.map(|level| {
            if by(HORIZON_DAYS) < level {
                return None;
            }
            if by(0) >= level {
                return Some(0);
            }
            let (mut before, mut at) = (0, HORIZON_DAYS);
            while at - before > 1 {
                let middle = before + (at - before) / 2;
                if by(middle) >= level { at = middle } else { before = middle }
            }
            Some(at)
        })
    }
}

/// A point of the curve that was computed.
struct Knot {
    at: f64,
    over: f64,
    slope: f64,
}

impl Knot {
    fn of(chain: &Snapshot<'_>, at: f64) -> Self {
        let (over, slope) = chain.over_within(at);
        Self { at, over, slope }
    }

    fn between(before: &Self, after: &Self, s: f64) -> f64 {
        let (width, rise) = (after.at - before.at, (after.over - before.over).max(0.0));
        let t = (s - before.at) / width;
        let slope = |knot: &Self| (knot.slope * width).clamp(0.0, 3.0 * rise);
        let (m0, m1) = (slope(before), slope(after));
        // Hermite's basis, with the value before taken off.
        before.over + t * (m0 * (1.0 - t).powi(2) + t * (rise * (3.0 - 2.0 * t) - m1 * (1.0 - t)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::degradation::{Posterior, TimedReading, WearParameters};
    use crate::forecast::DailyUse;
    use crate::reading::{Instrument, Measurement};
    use crate::units::{ElongationReading, Limit, ReferenceKilometres};

    fn curve() -> LifeCurve {
        LifeCurve::sample(900.0, |s| 1.0 - (-s / 400.0).exp())
    }

    fn ten_a_day() -> UseForecast {
        UseForecast::from_days(&[DailyUse { km: 10.0, reference_km: 10.0 }; 84]).expect("used")
    }

    #[test]
    fn interpolates_the_distribution() {
        for s in [0.0, 12.0, 333.0, 1_000.0] {
            assert!((curve().probability(s) - (1.0 - (-s / 400.0).exp())).abs() < 2e-3, "{s}");
        }
    }

    #[test]
    fn the_day_is_the_first_on_which_the_level_is_reached() {
        let (curve, forecast) = (curve(), ten_a_day());
        for level in [0.05, 0.2, 0.5, 0.9] {
            let day = curve.day_reaching(&forecast, level).expect("within ten years");
            assert!(curve.probability_by_day(&forecast, f64::from(day)) >= level);
            assert!(curve.probability_by_day(&forecast, f64::from(day) - 1.0) < level);
        }
    }

    #[test]
    fn median_day_is_median_life_over_daily_use() {
        let day = curve().day_reaching(&ten_a_day(), 0.5).expect("within ten years");
        let expected = 400.0 * 2.0_f64.ln() / 10.0;
        assert!((f64::from(day) - expected).abs() <= 2.0, "{day} against {expected}");
    }

    /// Of a new chain, of one that is known well with its limit far, and near.
    #[test]
    fn a_chains_curve_is_its_probabilities_one_by_one() {
        let km = |km| ReferenceKilometres::new(km).expect("legal");
        let limit = Limit::new(0.75).expect("legal");
        let read = |count: u32, percent_per_km: f64| -> Vec<TimedReading> {
            (1..=count)
                .map(|n| {
                    let at = 200.0 * f64::from(n);
                    let percent = ElongationReading::new(0.05 + percent_per_km * at).expect("legal");
                    TimedReading::new(km(at), Measurement::percent(Instrument::Dial, percent).expect("legal"))
                })
                .collect()
        };
        for (readings, at) in [(vec![], 2_000.0), (read(10, 1.5e-4), 2_100.0), (read(20, 1.6e-4), 4_100.0)] {
            let posterior = Posterior::of(&WearParameters::default(), &Default::default(), &readings);
            let chain = posterior.snapshot(km(at), limit);
            let p90 = chain.outlook().remaining.p90;
            let curve = LifeCurve::of(&chain, p90);
            assert!(curve.probability.windows(2).all(|pair| pair[0] <= pair[1]));
            let one_by_one =
                LifeCurve::sample(p90, |ahead| posterior.probability_over(km(at), km(ahead), limit).get());
            assert_eq!(curve.ahead, one_by_one.ahead);
            let differences =
                curve.probability.iter().zip(&one_by_one.probability).map(|(a, b)| (a - b).abs());
            let differences: Vec<f64> = differences.collect();
            let at_knots = differences.iter().step_by(STRIDE).copied().fold(0.0, f64::max);
            let anywhere = differences.iter().copied().fold(0.0, f64::max);
            assert!(at_knots < 1e-9 && anywhere < 2e-3, "{} readings: {at_knots} {anywhere}", readings.len());
        }
    }

    #[test]
    fn over_already_is_today_and_never_is_none() {
        let over = LifeCurve::sample(0.0, |_| 1.0);
        assert_eq!(over.day_reaching(&ten_a_day(), 0.2), Some(0));
        let never = LifeCurve::sample(1e7, |_| 0.0);
        assert_eq!(never.day_reaching(&ten_a_day(), 0.2), None);
    }
}
