//! How much a bike will be used, from how much it was used.

/// One day's use of a bike.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct DailyUse {
    /// Distance ridden, km.
    pub km: f64,
    /// Exposure, reference km.
    pub reference_km: f64,
}

/// Days of history that the forecast looks at (A).
pub const WINDOW_DAYS: usize = 84;

/// Age at which a day counts half, days (A).
const HALF_LIFE_DAYS: f64 = 28.0;

/// Standard deviation of the natural logarithm of next month's rate when the past rate is known exactly (A).
const RATE_DRIFT: f64 = 0.2;

/// Upper bound on the uncertainty of the rate's logarithm, so that one ride does not promise centuries (A).
const RATE_SD_MAXIMUM: f64 = 0.8;

/// Expected use per day and its uncertainty.
///
/// The rate is log-normal: its median is the exponentially weighted mean of the recent days, its spread
/// joins the drift of habits with the sampling error of that mean.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct UseForecast {
    reference_km_per_day: f64,
    km_per_reference_km: f64,
    sd_log_rate: f64,
    day_variation: f64,
}

impl UseForecast {
    /// Forecast from daily use, oldest day first, days without a ride included as zeros; only the last
    /// [`WINDOW_DAYS`] count. `None` when the bike was not used in them.
    #[must_use]
    pub fn from_days(days: &[DailyUse]) -> Option<Self> {
        let recent = &days[days.len().saturating_sub(WINDOW_DAYS)..];
        let weight = |age: usize| 0.5_f64.powf(age as f64 / HALF_LIFE_DAYS);
        let weighted = |value: &dyn Fn(&DailyUse) -> f64| -> f64 {
            recent.iter().rev().enumerate().map(|(age, day)| weight(age) * value(day)).sum()
        };
        let total = weighted(&|_| 1.0);
        let reference_km = weighted(&|day| day.reference_km);
        if !(reference_km.is_finite() && reference_km > 0.0) {
            return None;
        }
        let mean = reference_km / total;
        let variance = weighted(&|day| (day.reference_km - mean).powi(2)) / total;
        let effective_days = total * total / weighted_squares(recent.len(), weight);
        let day_variation = variance.sqrt() / mean;
        let sampling = day_variation / effective_days.sqrt();
        Some(Self {
            reference_km_per_day: mean,
            km_per_reference_km: weighted(&|day| day.km) / reference_km,
            sd_log_rate: RATE_DRIFT.hypot(sampling).min(RATE_SD_MAXIMUM),
            day_variation: day_variation.min(10.0),
        })
    }

    /// Median exposure per day, reference km.
    #[must_use]
    pub const fn reference_km_per_day(&self) -> f64 {
        self.reference_km_per_day
    }

    /// Kilometres ridden per reference kilometre in the bike's recent use.
    #[must_use]
    pub const fn km_per_reference_km(&self) -> f64 {
        self.km_per_reference_km
    }

    /// Standard deviation of the logarithm of the exposure accrued over `days`.
    fn sd_log(&self, days: f64) -> f64 {
        self.sd_log_rate.hypot(self.day_variation / days.max(1.0).sqrt()).min(1.5)
    }

    /// Nodes and weights of the exposure accrued over `days`, reference km: log-normal, five-point
    /// Gauss–Hermite.
    #[must_use]
    pub fn exposure_nodes(&self, days: f64) -> [(f64, f64); 5] {
        // Abramowitz & Stegun, table 25.10, n = 5, scaled by √2 for a unit normal (M).
        const NODES: [(f64, f64); 5] = [
            (-2.856_970_013_872_806, 0.011_257_411_327_720_69),
            (-1.355_626_179_974_266, 0.222_075_922_005_612_6),
            (0.0, 0.533_333_333_333_333_3),
            (1.355_626_179_974_266, 0.222_075_922_005_612_6),
            (2.856_970_013_872_806, 0.011_257_411_327_720_69),
        ];
        let median = self.reference_km_per_day * days;
        let sd = self.sd_log(days);
        NODES.map(|(z, weight)| (median * (sd * z).exp(), weight))
    }
}

fn weighted_squares(days: usize, weight: impl Fn(usize) -> f64) -> f64 {
    (0..days).map(|age| weight(age).powi(2)).sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn steady(days: usize) -> Vec<DailyUse> {
        vec![DailyUse { km: 10.0, reference_km: 12.5 }; days]
    }

    #[test]
    fn steady_use_is_forecast_as_it_was() {
        let forecast = UseForecast::from_days(&steady(100)).expect("used");
        assert!((forecast.reference_km_per_day() - 12.5).abs() < 1e-9);
        assert!((forecast.km_per_reference_km() - 0.8).abs() < 1e-9);
        assert!((forecast.sd_log(30.0) - RATE_DRIFT).abs() < 1e-9);
    }

    #[test]
    fn unused_bikes_have_no_forecast() {
        assert_eq!(UseForecast::from_days(&[]), None);
        let mut days = steady(10);
        days.extend([DailyUse::default(); WINDOW_DAYS]);
        assert_eq!(UseForecast::from_days(&days), None);
    }

    #[test]
    fn node_weights_sum_to_one_and_have_unit_variance() {
        let forecast = UseForecast::from_days(&steady(100)).expect("used");
        let nodes = forecast.exposure_nodes(10.0);
        let log_median = (125.0_f64).ln();
        let total: f64 = nodes.iter().map(|(_, weight)| weight).sum();
        let variance: f64 = nodes.iter().map(|(x, weight)| weight * (x.ln() - log_median).powi(2)).sum();
        assert!((total - 1.0).abs() < 1e-12, "{total}");
        assert!((variance.sqrt() - forecast.sd_log(10.0)).abs() < 1e-9);
    }

    #[test]
    fn scattered_use_is_less_certain_than_steady_use() {
        let scattered: Vec<_> = (0..84)
            .map(|i| if i % 7 == 0 { DailyUse { km: 70.0, reference_km: 87.5 } } else { DailyUse::default() })
            .collect();
        let scattered = UseForecast::from_days(&scattered).expect("used");
        let steady = UseForecast::from_days(&steady(84)).expect("used");
        assert!(scattered.sd_log(14.0) > steady.sd_log(14.0));
    }
}
