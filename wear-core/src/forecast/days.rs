//! The distribution of remaining life, laid over days of use.

use super::UseForecast;
use crate::degradation::Posterior;
use crate::units::{Limit, Probability, ReferenceKilometres};

/// Days ahead beyond which no date is given: ten years.
pub const HORIZON_DAYS: u32 = 3_650;

const POINTS: usize = 48;

/// P(R ≤ s) sampled over reference kilometres ahead, so that questions about days cost no new inversion.
#[derive(Debug, Clone, PartialEq)]
pub struct LifeCurve {
    ahead: Vec<f64>,
    probability: Vec<f64>,
}

impl LifeCurve {
    /// The curve of a chain at exposure `at`; `p90` is the ninetieth percentile of its remaining life.
    #[must_use]
    pub fn of(posterior: &Posterior, at: ReferenceKilometres, limit: Limit, p90: f64) -> Self {
        let ahead = Self::distances(p90);
        let legal: Vec<ReferenceKilometres> =
            ahead.iter().map_while(|&s| ReferenceKilometres::new(s).ok()).collect();
        let mut over = posterior.probabilities_over(at, &legal, limit).into_iter();
        // Beyond the longest legal distance every chain is over.
        Self::rising(ahead, |_| over.next().map_or(1.0, Probability::get))
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
        if days <= 0.0 {
            return self.probability[0];
        }
        forecast.exposure_nodes(days).iter().map(|(s, weight)| weight * self.probability(*s)).sum()
    }

    /// First whole day ahead on which the probability reaches `level`; 0 when it has already, `None` beyond
    /// [`HORIZON_DAYS`].
    #[must_use]
    pub fn day_reaching(&self, forecast: &UseForecast, level: f64) -> Option<u32> {
        let reached = |day: u32| self.probability_by_day(forecast, f64::from(day)) >= level;
        if !reached(HORIZON_DAYS) {
            return None;
        }
        let (mut before, mut at) = (0, HORIZON_DAYS);
        if reached(0) {
            return Some(0);
        }
        while at - before > 1 {
            let middle = before + (at - before) / 2;
            if reached(middle) { at = middle } else { before = middle }
        }
        Some(at)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::forecast::DailyUse;

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

    #[test]
    fn a_chains_curve_is_its_probabilities_one_by_one() {
        let (at, limit) =
            (ReferenceKilometres::new(2_000.0).expect("legal"), Limit::new(0.75).expect("legal"));
        let posterior = Posterior::of(&Default::default(), &Default::default(), &[]);
        let p90 = posterior.outlook(at, limit).remaining.p90;
        let curve = LifeCurve::of(&posterior, at, limit, p90);
        assert!(curve.probability.windows(2).all(|pair| pair[0] <= pair[1]));
        let one_by_one = LifeCurve::sample(p90, |ahead| {
            let ahead = ReferenceKilometres::new(ahead).expect("legal");
            posterior.probability_over(at, ahead, limit).get()
        });
        assert_eq!(curve, one_by_one);
    }

    #[test]
    fn over_already_is_today_and_never_is_none() {
        let over = LifeCurve::sample(0.0, |_| 1.0);
        assert_eq!(over.day_reaching(&ten_a_day(), 0.2), Some(0));
        let never = LifeCurve::sample(1e7, |_| 0.0);
        assert_eq!(never.day_reaching(&ten_a_day(), 0.2), None);
    }
}
