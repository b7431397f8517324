//! How much a bike will be used, from how much it was used.

use super::pattern::{Season, Trend, Weekdays};

/// One day's use of a bike.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct DailyUse {
    /// Distance ridden, km.
    pub km: f64,
    /// Exposure, reference km.
    pub reference_km: f64,
}

/// Days of history that level, weekday pattern and trend rest on (A).
pub const WINDOW_DAYS: usize = 84;

/// Days of history that are looked at for a season: three years (A).
pub const SEASON_DAYS: usize = 1_096;

/// Age at which a day counts half, days (A).
const HALF_LIFE_DAYS: f64 = 28.0;

/// Standard deviation of the natural logarithm of next month's rate when the past rate is known exactly (A).
const RATE_DRIFT: f64 = 0.2;

/// Upper bound on the uncertainty of the rate's logarithm, so that one ride does not promise centuries (A).
const RATE_SD_MAXIMUM: f64 = 0.8;

/// Expected use per day and its uncertainty.
///
/// The rate is log-normal. Its median is the exponentially weighted mean of the recent days, taken on by the trend, the
/// weekdays and, with a year of history, the season, as far as each stands out of the noise. Its spread joins the
/// drift of habits with the sampling error of that mean.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub struct UseForecast {
    /// Reference km per day now, season and trend as of today.
    level: f64,
    km_per_reference_km: f64,
    weekdays: Weekdays,
    trend: Trend,
    season: Season,
    sd_log_rate: f64,
    day_variation: f64,
}

impl UseForecast {
    /// Forecast from daily use, oldest day first, days without a ride included as zeros, yesterday last. The last
    /// [`WINDOW_DAYS`] count, and up to [`SEASON_DAYS`] for the season. `None` when the bike was not used in the window,
    /// or when a number is negative or not finite.
    #[must_use]
    pub fn from_days(days: &[DailyUse]) -> Option<Self> {
        let sound = |number: f64| number.is_finite() && number >= 0.0;
        if !days.iter().all(|day| sound(day.km) && sound(day.reference_km)) {
            return None;
        }
        let season = Season::of(&days[days.len().saturating_sub(SEASON_DAYS)..]);
        let window = &days[days.len().saturating_sub(WINDOW_DAYS)..];
        // By age in days, yesterday first, the season taken out.
        let recent: Vec<f64> = window
            .iter()
            .rev()
            .enumerate()
            .map(|(age, day)| day.reference_km / season.at(-(age as f64 + 0.5)))
            .collect();
        let weights: Vec<f64> =
            (0..recent.len()).map(|age| 0.5_f64.powf(age as f64 / HALF_LIFE_DAYS)).collect();
        let weighted = |value: &dyn Fn(usize) -> f64| -> f64 {
            weights.iter().enumerate().map(|(age, weight)| weight * value(age)).sum()
        };
        let total = weighted(&|_| 1.0);
        let used = weighted(&|age| recent[age]);
        if !(used.is_finite() && used > 0.0) {
            return None;
        }
        let weekdays = Weekdays::of(&recent);
        // Over the days' own weights: the same week has the same level on each of its days.
        let mean = used / weighted(&|age| weekdays.factor_at_age(age));
        let trend = Trend::of(&recent, mean);
        let age = weighted(&|age| age as f64 + 0.5) / total;
        let usual = |age: usize| mean * weekdays.factor_at_age(age);
        let variance = weighted(&|age| (recent[age] - usual(age)).powi(2)) / total;
        let effective_days = total * total / weights.iter().map(|weight| weight * weight).sum::<f64>();
        let day_variation = variance.sqrt() / mean;
        let sampling = day_variation / effective_days.sqrt();
        let by_age = |value: fn(&DailyUse) -> f64| weighted(&|age| value(&window[window.len() - 1 - age]));
        Some(Self {
            level: mean * trend.since(age) * season.at(0.0),
            km_per_reference_km: by_age(|day| day.km) / by_age(|day| day.reference_km),
            weekdays,
            trend,
            season,
            sd_log_rate: RATE_DRIFT.hypot(sampling).hypot(trend.sd()).min(RATE_SD_MAXIMUM),
            day_variation: day_variation.min(10.0),
        })
    }

    /// The same where the level is itself known to no better than `ln_sd`.
    #[must_use]
    pub fn known_to(self, ln_sd: f64) -> Self {
        Self { sd_log_rate: self.sd_log_rate.hypot(ln_sd).min(RATE_SD_MAXIMUM), ..self }
    }

    /// Median exposure per day now, over a whole week, reference km.
    #[must_use]
    pub const fn reference_km_per_day(&self) -> f64 {
        self.level
    }

    /// Kilometres ridden per reference kilometre in the bike's recent use.
    #[must_use]
    pub const fn km_per_reference_km(&self) -> f64 {
        self.km_per_reference_km
    }

    /// Use of each day of the week over the mean day's, today first. All 1 where no pattern stands out of the noise.
    #[must_use]
    pub const fn weekday_factors(&self) -> [f64; 7] {
        self.weekdays.ahead()
    }

    /// Share by which use grows per week now; 0 where no trend stands out of the noise. It dies down within weeks.
    #[must_use]
    pub fn trend_per_week(&self) -> f64 {
        self.trend.per_week()
    }

    /// Expected use `days` from now over that now by the season alone; `None` without a year of history or where no
    /// season stands out of the noise.
    #[must_use]
    pub fn season_factor(&self, days: f64) -> Option<f64> {
        self.season.is_seen().then(|| self.season.at(days) / self.season.at(0.0))
    }

    /// Median exposure accrued over `days` from this morning on, reference km.
    #[must_use]
    pub fn exposure_over(&self, days: f64) -> f64 {
        self.level * self.season.integral(&self.trend, self.weekdays.usual_days(days.max(0.0)))
    }

    /// Standard deviation of the logarithm of the exposure accrued over `days`.
    #[must_use]
    pub fn ln_sd_over(&self, days: f64) -> f64 {
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
        let median = self.exposure_over(days);
        let sd = self.ln_sd_over(days);
        NODES.map(|(z, weight)| (median * (sd * z).exp(), weight))
    }
}

#[cfg(test)]
mod tests {
    use std::f64::consts::TAU;

    use rand::{RngExt as _, SeedableRng as _};
    use rand_chacha::ChaCha8Rng;

    use super::*;

    fn day(reference_km: f64) -> DailyUse {
        DailyUse { km: 0.8 * reference_km, reference_km }
    }

    fn steady(days: usize) -> Vec<DailyUse> {
        vec![day(12.5); days]
    }

    /// Use that scatters by ±60 % from day to day round `usual`, which gets days from today, negative in the past.
    fn scattered(days: usize, seed: u64, usual: impl Fn(f64) -> f64) -> Vec<DailyUse> {
        let mut random = ChaCha8Rng::seed_from_u64(seed);
        (0..days).map(|i| day(usual(i as f64 - days as f64) * random.random_range(0.4..1.6))).collect()
    }

    #[test]
    fn steady_use_is_forecast_as_it_was() {
        let forecast = UseForecast::from_days(&steady(100)).expect("used");
        assert!((forecast.reference_km_per_day() - 12.5).abs() < 1e-9);
        assert!((forecast.km_per_reference_km() - 0.8).abs() < 1e-9);
        assert!((forecast.ln_sd_over(30.0) - RATE_DRIFT).abs() < 1e-9);
        assert!((forecast.exposure_over(41.0) - 41.0 * 12.5).abs() < 1e-6);
        assert_eq!((forecast.trend_per_week(), forecast.season_factor(90.0)), (0.0, None));
    }

    #[test]
    fn unused_bikes_have_no_forecast() {
        assert_eq!(UseForecast::from_days(&[]), None);
        let mut days = steady(400);
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
        assert!((variance.sqrt() - forecast.ln_sd_over(10.0)).abs() < 1e-9);
    }

    #[test]
    fn scattered_use_is_less_certain_than_steady_use() {
        // One ride every eleven days: no weekday explains it.
        let rare: Vec<_> = (0..84).map(|i| day(if i % 11 == 0 { 137.5 } else { 0.0 })).collect();
        let rare = UseForecast::from_days(&rare).expect("used");
        let steady = UseForecast::from_days(&steady(84)).expect("used");
        assert!(rare.ln_sd_over(14.0) > 1.5 * steady.ln_sd_over(14.0));
    }

    #[test]
    fn a_bike_ridden_to_work_rests_at_the_weekend() {
        // Monday to Friday, today a Saturday.
        let days: Vec<_> = (0..84).map(|i| day(if i % 7 < 5 { 20.0 } else { 0.0 })).collect();
        let days = &days[..82];
        let forecast = UseForecast::from_days(days).expect("used");
        let factors = forecast.weekday_factors();
        assert!(factors[0] < 0.05 && factors[1] < 0.05 && factors[2] > 1.3, "{factors:?}");
        assert!((factors.iter().sum::<f64>() - 7.0).abs() < 1e-9);
        assert!(forecast.exposure_over(2.0) < 3.0, "{}", forecast.exposure_over(2.0));
        let week = forecast.exposure_over(9.0) - forecast.exposure_over(2.0);
        assert!((week - 100.0).abs() < 8.0, "{week}");
        // The pattern explains the scatter, so the forecast is surer than without it.
        let shuffled: Vec<_> =
            (0..84).map(|i| day(if i * 5 % 7 + i / 7 % 3 < 5 { 20.0 } else { 0.0 })).collect();
        let without = UseForecast::from_days(&shuffled).expect("used");
        assert!(forecast.ln_sd_over(3.0) < without.ln_sd_over(3.0));
    }

    #[test]
    fn noise_makes_no_pattern() {
        let (mut trend, mut factor) = (0.0_f64, 0.0_f64);
        for seed in 0..40 {
            let forecast = UseForecast::from_days(&scattered(84, seed, |_| 15.0)).expect("used");
            trend += forecast.trend_per_week().abs() / 40.0;
            factor += forecast.weekday_factors().iter().map(|f| (f - 1.0).abs()).sum::<f64>() / 280.0;
            assert!(
                (forecast.exposure_over(60.0) / 900.0).ln().abs() < 0.35,
                "{}",
                forecast.exposure_over(60.0)
            );
        }
        assert!(trend < 0.01, "mean trend {trend}");
        assert!(factor < 0.05, "mean weekday deviation {factor}");
    }

    #[test]
    fn a_trend_is_followed_and_dies_down() {
        // Three percent of today's use more every week.
        let rising = scattered(84, 3, |t| 20.0 * (1.0 + 0.03 * t / 7.0).max(0.0));
        let forecast = UseForecast::from_days(&rising).expect("used");
        assert!((0.015..0.045).contains(&forecast.trend_per_week()), "{}", forecast.trend_per_week());
        let per_day =
            |from: f64, to: f64| (forecast.exposure_over(to) - forecast.exposure_over(from)) / (to - from);
        let mean = rising.iter().map(|day| day.reference_km).sum::<f64>() / 84.0;
        assert!(per_day(0.0, 28.0) > 1.1 * mean, "{} {mean}", per_day(0.0, 28.0));
        assert!(per_day(0.0, 7.0) < per_day(21.0, 28.0));
        assert!((per_day(700.0, 707.0) / per_day(350.0, 357.0) - 1.0).abs() < 1e-3, "no growth without end");
        assert!(per_day(700.0, 707.0) < 1.5 * per_day(0.0, 7.0));
    }

    #[test]
    fn a_season_shows_with_a_year_of_it_and_not_before() {
        let usual = |t: f64| 20.0 * (1.0 + 0.6 * (TAU * (t + 30.0) / 365.25).sin());
        let truth = |days: u32| (0..days).map(|t| usual(f64::from(t))).sum::<f64>();
        let young = UseForecast::from_days(&scattered(364, 5, usual)).expect("used");
        assert_eq!(young.season_factor(182.0), None);
        for seed in 0..6 {
            let old = UseForecast::from_days(&scattered(740, seed, usual)).expect("used");
            let factor = old.season_factor(152.0).expect("a season");
            let expected = usual(152.0) / usual(0.0);
            assert!((factor / expected).ln().abs() < 0.3, "{factor} {expected}");
            for days in [90, 182, 365] {
                let share = old.exposure_over(f64::from(days)) / truth(days);
                assert!((share.ln()).abs() < 0.25, "{days} days: {share}");
            }
        }
        let level = UseForecast::from_days(&scattered(740, 5, |_| 20.0)).expect("used");
        let flat = level.season_factor(182.0).unwrap_or(1.0);
        assert!((flat - 1.0).abs() < 0.1, "{flat}");
    }

    #[test]
    fn eight_in_ten_months_fall_between_the_tenth_and_the_ninetieth_percentile_or_more() {
        // Habits drift by the assumed 0.2 a month.
        let mut random = ChaCha8Rng::seed_from_u64(11);
        let mut inside = 0;
        for seed in 0..300 {
            let days = scattered(84, 1_000 + seed, |_| 15.0);
            let forecast = UseForecast::from_days(&days).expect("used");
            let normal = (0..12).map(|_| random.random_range(-0.5..0.5)).sum::<f64>();
            let drifted = 15.0 * (RATE_DRIFT * normal).exp();
            let month: f64 = (0..30).map(|_| drifted * random.random_range(0.4..1.6)).sum();
            let z = (month / forecast.exposure_over(30.0)).ln() / forecast.ln_sd_over(30.0);
            inside += u32::from(z.abs() < 1.281_55);
        }
        let coverage = f64::from(inside) / 300.0;
        assert!((0.74..0.9).contains(&coverage), "{coverage}");
    }
}
