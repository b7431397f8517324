//! How much a bike will be used, from how much it and its like were used.

use super::level::{COMES_BACK, Level, Stretch, Wander};
use super::pattern::Weekdays;
use super::usual_year::{Scatter, UsualYear, followed};
use super::wave::{Integrals, Rate, Wave};

/// One day's use of a bike.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct DailyUse {
    /// Distance ridden, km.
    pub km: f64,
    /// Exposure, reference km.
    pub reference_km: f64,
}

impl DailyUse {
    pub(super) fn is_sound(&self) -> bool {
        [self.km, self.reference_km].iter().all(|number| number.is_finite() && *number >= 0.0)
    }

    pub(super) fn is_ridden(&self) -> bool {
        self.reference_km > 0.0
    }
}

/// Days of history that the weekday pattern rests on, and within which a bike has to be ridden to be in use (A).
pub const WINDOW_DAYS: usize = 84;

/// Days of history that are looked at: three years (A).
pub const SEASON_DAYS: usize = 1_096;

/// Days of the stretches of the last twelve weeks, and of those before (A).
const STRETCHES: (usize, usize) = (14, 28);

/// Age at which a day counts half for kilometres per reference kilometre, days (A).
const HALF_LIFE_DAYS: f64 = 28.0;

/// Variance of a bike's ln level round the mean of its own record, where no group tells more (A).
const ALONE_VARIANCE: f64 = 1.0;

/// What a forecast adds to the variance that its fit to the past leaves, as habits don't drift in the way that is assumed (A,
/// by the yards of `examples/seasons`).
const WIDER: f64 = 1.1;

/// How far a year is from another for all bikes of a workshop, in ln use: a wet summer, a new cycle path (A).
const YEARS_DIFFER: f64 = 0.12;

/// Largest standard deviation of ln exposure ahead (A).
const MOST_SD: f64 = 1.5;

/// Expected use per day and its uncertainty.
///
/// Use is log-normal. Its level is followed through the whole record, season taken out, so that the long run and the last
/// weeks count by their variances; ahead it wanders, and comes back to the long run within about a year. Weekdays and a
/// season show as far as they stand out of the noise.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub struct UseForecast {
    level: Level,
    rate: Rate,
    /// Reference km a year's wave and kilometres per reference km make together.
    distance: Rate,
    km_per_reference_km: f64,
    weekdays: Weekdays,
    season: Option<Wave>,
    ratio: Wave,
    today: f64,
    wander: Wander,
    shared: f64,
    /// Variance of ln use in a month that comes from its difference from the wave.
    misfit: f64,
    common_of_wave: f64,
    /// Variance of a sum over its mean, reference km.
    dispersion: f64,
    extra_variance: f64,
}

impl UseForecast {
    /// Forecast of a bike of which nothing but its own daily use is known, oldest day first, days without a ride included as
    /// zeros, yesterday last. Up to [`SEASON_DAYS`] count. `None` when the bike was not used in the last [`WINDOW_DAYS`],
    /// or when a number is negative or not finite.
    #[must_use]
    pub fn from_days(days: &[DailyUse]) -> Option<Self> {
        Self::in_usual_year(days, -1, &UsualYear::default())
    }

    /// The same of a bike in a group or workshop whose usual year is known; `last_day` is that of yesterday, counted since
    /// 1970-01-01. A bike that rests while its like do is in use: the window reaches back until it holds as much of a usual
    /// year as twelve weeks are.
    #[must_use]
    pub fn in_usual_year(days: &[DailyUse], last_day: i64, usual: &UsualYear) -> Option<Self> {
        if !days.iter().all(DailyUse::is_sound) {
            return None;
        }
        // A record begins with the first ride: nobody knows what was before.
        let days = &days[days.len().saturating_sub(SEASON_DAYS)..];
        let days = &days[days.iter().position(DailyUse::is_ridden)?..];
        let today = last_day as f64 + 1.0;
        let window = window(today, usual);
        if !days.iter().rev().take(window).any(DailyUse::is_ridden) {
            return None;
        }
        let used: f64 = days.iter().map(|day| day.reference_km).sum();
        let mean = used / days.len() as f64;
        let scatter = Scatter::of(days.iter().rev().map(|day| day.reference_km));
        let dispersion = usual.dispersion_of(&scatter, mean);
        let (long_run, variance) = usual.level().unwrap_or((mean.ln(), ALONE_VARIANCE));
        let known = usual.before(long_run, variance);
        let season_seen = usual.is_seen() || days.len() >= YEAR_OF_ITS_OWN;
        let mut level = followed(&known, &stretches(days, today, dispersion, usual));
        level.advance(today);
        let wave = level.wave();
        // The same weeks for each weekday, so that a season is in all of them alike.
        let recent: Vec<f64> = days.iter().rev().take(WINDOW_DAYS).map(|day| day.reference_km).collect();
        let ratio = *usual.ratio();
        let mut of_day = (0.0, 0.0);
        for (age, day) in days.iter().rev().take(window).enumerate() {
            let weight = 0.5_f64.powf(age as f64 / HALF_LIFE_DAYS);
            of_day.0 += weight * day.km;
            of_day.1 += weight * day.reference_km * ratio.ln_at(today - age as f64 - 0.5).exp();
        }
        Some(Self {
            level,
            rate: Rate::of(&wave, today),
            distance: Rate::of(&wave.plus(&ratio), today),
            km_per_reference_km: of_day.0 / of_day.1,
            weekdays: Weekdays::of(&recent),
            season: season_seen.then_some(wave),
            ratio,
            today,
            wander: known.wander,
            shared: usual.shared(),
            misfit: usual.misfit_over(0.0),
            common_of_wave: usual.common_of_wave(),
            dispersion,
            extra_variance: 0.0,
        })
    }

    /// The same where the level is itself known to no better than `ln_sd`.
    #[must_use]
    pub fn known_to(self, ln_sd: f64) -> Self {
        Self { extra_variance: self.extra_variance + ln_sd * ln_sd, ..self }
    }

    /// Median exposure per day now, over a whole week, reference km.
    #[must_use]
    pub fn reference_km_per_day(&self) -> f64 {
        self.median_over(7.0) / 7.0
    }

    /// Kilometres ridden per reference kilometre at this time of the year, as in the bike's recent use.
    #[must_use]
    pub fn km_per_reference_km(&self) -> f64 {
        self.km_per_reference_km * self.ratio.ln_at(self.today).exp()
    }

    /// Kilometres that reference kilometres ahead take: fewer where wet months lie in between.
    #[must_use]
    pub fn distances(&self) -> DistancesAhead {
        let year = self.km_per_reference_km * self.distance.mean() / self.rate.mean();
        if self.ratio.is_flat() {
            return DistancesAhead { steps: Vec::new(), beyond: self.km_per_reference_km };
        }
        let steps = (1..=DISTANCE_STEPS).map(|i| {
            let days = DISTANCE_DAYS * f64::from(i) / f64::from(DISTANCE_STEPS);
            let rate = self.rate.over(days, COMES_BACK);
            let distance = self.distance.over(days, COMES_BACK).rate;
            let reference_km = self.median_of(&rate);
            (reference_km, self.km_per_reference_km * reference_km * distance / rate.rate)
        });
        DistancesAhead { steps: steps.collect(), beyond: year }
    }

    /// Use of each day of the week over the mean day's, today first. All 1 where no pattern stands out of the noise.
    #[must_use]
    pub const fn weekday_factors(&self) -> [f64; 7] {
        self.weekdays.ahead()
    }

    /// Expected use `days` from now over that now by the season alone; `None` where less than a year is on record, of the
    /// bike and of its like.
    #[must_use]
    pub fn season_factor(&self, days: f64) -> Option<f64> {
        self.season.map(|wave| (wave.ln_at(self.today + days) - wave.ln_at(self.today)).exp())
    }

    /// `e^m ∫₀ᵗ (1 + (e^x − 1)e^{−u/τ}) wave(u) du`.
    fn median_of(&self, integrals: &Integrals) -> f64 {
        self.level.long_run().exp() * (integrals.rate + self.level.off().exp_m1() * integrals.fading)
    }

    fn median_over(&self, days: f64) -> f64 {
        self.median_of(&self.rate.over(days, COMES_BACK))
    }

    /// Median exposure accrued over `days` from this morning on, reference km.
    #[must_use]
    pub fn exposure_over(&self, days: f64) -> f64 {
        self.ahead(days).median
    }

    /// Standard deviation of the logarithm of the exposure accrued over `days`.
    #[must_use]
    pub fn ln_sd_over(&self, days: f64) -> f64 {
        self.ahead(days).ln_sd
    }

    /// The part of [`UseForecast::ln_sd_over`] that the bikes of a workshop have in common: what isn't known of the season,
    /// and habits that drift together.
    #[must_use]
    pub fn shared_ln_sd_over(&self, days: f64) -> f64 {
        self.ahead(days).shared_ln_sd
    }

    pub(super) fn ahead(&self, days: f64) -> Ahead {
        // Over less than a day as sure as over a whole one.
        let usual_days = self.weekdays.usual_days(days.max(0.0));
        let at_least = usual_days.max(1.0);
        let integrals = self.rate.over(at_least, COMES_BACK);
        let expected = self.median_of(&integrals);
        let now = self.level.off();
        let share = integrals.fading / integrals.rate;
        let by_wander = now.exp() * share / (1.0 + now.exp_m1() * share);
        // Where most use comes late, habits have longer to change: as over days evenly used round the same middle.
        let middle = (-COMES_BACK * share.ln()).clamp(0.0, at_least);
        let drift = self.wander.mean_ahead(2.0 * middle);
        let used_within = 2.0 * middle.min(at_least - middle);
        let misfit = self.misfit / (1.0 + used_within / 28.0);
        // Days are few, and a sum of few has a median below its mean.
        let few = (self.dispersion / expected).min(10.0).ln_1p();
        let known = self.level.variance_of(by_wander, integrals.basis);
        let by_wave = self.level.variance_by_wave(by_wander, integrals.basis);
        let years = YEARS_DIFFER * YEARS_DIFFER;
        let variance = WIDER * (known + drift + misfit + few) + years + self.extra_variance;
        let shared = WIDER * (self.common_of_wave * by_wave + self.shared * drift + misfit) + years;
        let ln_sd = variance.sqrt().min(MOST_SD);
        Ahead {
            median: expected * (usual_days / at_least) * (-0.5 * few).exp(),
            ln_sd,
            shared_ln_sd: shared.sqrt().min(ln_sd),
        }
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
        let ahead = self.ahead(days);
        NODES.map(|(z, weight)| (ahead.median * (ahead.ln_sd * z).exp(), weight))
    }
}

/// Exposure over days ahead.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Ahead {
    /// Reference km.
    pub median: f64,
    pub ln_sd: f64,
    pub shared_ln_sd: f64,
}

/// Kilometres by reference kilometres ahead.
#[derive(Debug, Clone, PartialEq)]
pub struct DistancesAhead {
    /// Reference km and km, both rising.
    steps: Vec<(f64, f64)>,
    /// Kilometres per reference kilometre after them.
    beyond: f64,
}

impl DistancesAhead {
    /// Always as many a reference kilometre.
    #[must_use]
    pub const fn at(km_per_reference_km: f64) -> Self {
        Self { steps: Vec::new(), beyond: km_per_reference_km }
    }

    /// Kilometres of the next `reference_km`.
    #[must_use]
    pub fn km(&self, reference_km: f64) -> f64 {
        let after = self.steps.partition_point(|(reached, _)| *reached < reference_km);
        let before = after.checked_sub(1).map_or((0.0, 0.0), |before| self.steps[before]);
        match self.steps.get(after) {
            Some(next) => before.1 + (next.1 - before.1) * (reference_km - before.0) / (next.0 - before.0),
            None => before.1 + self.beyond * (reference_km - before.0),
        }
    }
}

/// Days ahead over which wet months count; beyond, years are alike.
const DISTANCE_DAYS: f64 = 730.0;

/// Steps of those days.
const DISTANCE_STEPS: u32 = 48;

/// Days from which on a bike's own record tells of a season.
const YEAR_OF_ITS_OWN: usize = 365;

/// Days back within which a bike has to have been ridden.
fn window(today: f64, usual: &UsualYear) -> usize {
    if !usual.is_seen() {
        return WINDOW_DAYS;
    }
    let usual_day = |age: usize| usual.wave().ln_at(today - age as f64 - 0.5).exp();
    let year: f64 = (0..YEAR_OF_ITS_OWN).map(usual_day).sum();
    let needed = year * WINDOW_DAYS as f64 / YEAR_OF_ITS_OWN as f64;
    let mut sum = 0.0;
    let reached = (0..YEAR_OF_ITS_OWN).position(|age| {
        sum += usual_day(age);
        sum >= needed
    });
    reached.map_or(YEAR_OF_ITS_OWN, |age| age + 1).max(WINDOW_DAYS)
}

/// Oldest first.
fn stretches(days: &[DailyUse], today: f64, dispersion: f64, usual: &UsualYear) -> Vec<Stretch> {
    let mut stretches = Vec::new();
    let mut end = days.len();
    while end > 0 {
        let age = days.len() - end;
        let length = if age < WINDOW_DAYS { STRETCHES.0 } else { STRETCHES.1 }.min(end);
        let used: f64 = days[end - length..end].iter().map(|day| day.reference_km).sum();
        stretches.push(Stretch {
            middle: today - age as f64 - 0.5 * length as f64,
            rate: used / length as f64,
            dispersion: dispersion / length as f64,
            blur: usual.blur_over(length as f64),
        });
        end -= length;
    }
    stretches.reverse();
    stretches
}

#[cfg(test)]
mod tests {
    use std::f64::consts::TAU;

    use rand::{RngExt as _, SeedableRng as _};
    use rand_chacha::ChaCha8Rng;

    use super::*;
    use crate::forecast::UseHistory;

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
    fn unused_bikes_have_no_forecast() {
        assert_eq!(UseForecast::from_days(&[]), None);
        let mut days = steady(400);
        days.extend([DailyUse::default(); WINDOW_DAYS]);
        assert_eq!(UseForecast::from_days(&days), None);
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
    }

    #[test]
    fn steady_use_is_forecast_as_it_was() {
        let forecast = UseForecast::from_days(&steady(100)).expect("used");
        assert!((forecast.reference_km_per_day() - 12.5).abs() < 0.1, "{}", forecast.reference_km_per_day());
        assert!((forecast.km_per_reference_km() - 0.8).abs() < 1e-9);
        assert!((forecast.exposure_over(41.0) / (41.0 * 12.5) - 1.0).abs() < 0.1);
        assert_eq!(forecast.season_factor(90.0), None);
        assert!((forecast.distances().km(1_000.0) - 800.0).abs() < 1e-9);
    }

    #[test]
    fn node_weights_sum_to_one_and_have_unit_variance() {
        let forecast = UseForecast::from_days(&steady(100)).expect("used");
        let nodes = forecast.exposure_nodes(10.0);
        let ln_median = forecast.exposure_over(10.0).ln();
        let total: f64 = nodes.iter().map(|(_, weight)| weight).sum();
        let variance: f64 = nodes.iter().map(|(x, weight)| weight * (x.ln() - ln_median).powi(2)).sum();
        assert!((total - 1.0).abs() < 1e-12, "{total}");
        assert!((variance.sqrt() - forecast.ln_sd_over(10.0)).abs() < 1e-9);
    }

    #[test]
    fn noise_makes_no_pattern() {
        let mut factor = 0.0;
        for seed in 0..40 {
            let forecast = UseForecast::from_days(&scattered(84, seed, |_| 15.0)).expect("used");
            factor += forecast.weekday_factors().iter().map(|f| (f - 1.0).abs()).sum::<f64>() / 280.0;
            let ahead = forecast.exposure_over(60.0);
            assert!((ahead / 900.0).ln().abs() < 0.25, "{ahead}");
        }
        assert!(factor < 0.05, "mean weekday deviation {factor}");
    }

    #[test]
    fn the_last_weeks_count_at_once_and_the_long_run_in_the_end() {
        // Two years at 10 a day, twelve weeks at 20.
        let changed = scattered(730, 3, |t| if t < -84.0 { 10.0 } else { 20.0 });
        let forecast = UseForecast::from_days(&changed).expect("used");
        let per_day =
            |from: f64, to: f64| (forecast.exposure_over(to) - forecast.exposure_over(from)) / (to - from);
        let year = |at: f64| per_day(at, at + 365.2425);
        assert!((15.0..21.0).contains(&per_day(0.0, 28.0)), "{}", per_day(0.0, 28.0));
        assert!(year(1_500.0) < 0.95 * year(0.0), "{} {}", year(0.0), year(1_500.0));
        assert!((11.0..16.0).contains(&year(1_500.0)), "{}", year(1_500.0));
    }

    #[test]
    fn the_further_ahead_the_less_is_known() {
        let days = scattered(740, 5, |_| 20.0);
        let forecast = UseForecast::from_days(&days).expect("used");
        let sd = |days| forecast.ln_sd_over(days);
        assert!(sd(56.0) < sd(182.0) && sd(182.0) < sd(365.0), "{} {} {}", sd(56.0), sd(182.0), sd(365.0));
        // And a day is less certain than a month, as it may be one of rest.
        assert!(sd(1.0) > sd(28.0));
        let known_to = forecast.known_to(0.5);
        assert!((known_to.ln_sd_over(90.0).powi(2) - sd(90.0).powi(2) - 0.25).abs() < 1e-9);
    }

    #[test]
    fn a_wave_of_its_own_shows_with_a_year_of_it_and_half_a_year_leaves_it_open() {
        let usual = |t: f64| 20.0 * (1.0 + 0.6 * (TAU * (t + 30.0) / 365.25).sin());
        let truth = |days: u32| (0..days).map(|t| usual(f64::from(t))).sum::<f64>();
        let young = UseForecast::from_days(&scattered(182, 5, usual)).expect("used");
        assert_eq!(young.season_factor(182.0), None);
        for seed in 0..6 {
            let old = UseForecast::from_days(&scattered(740, seed, usual)).expect("used");
            let factor = old.season_factor(152.0).expect("a season");
            let expected = usual(152.0) / usual(0.0);
            assert!((factor / expected).ln().abs() < 0.35, "{factor} {expected}");
            for days in [90, 182, 365] {
                let z =
                    (old.exposure_over(f64::from(days)) / truth(days)).ln() / old.ln_sd_over(f64::from(days));
                assert!(z.abs() < 2.0, "{days} days: {z}");
            }
            assert!(old.ln_sd_over(182.0) < 0.6 * young.ln_sd_over(182.0));
        }
    }

    /// Bikes of a yard where summer is five times winter; the record ends on a last of December.
    fn yard(bikes: u64, days: usize) -> Vec<Vec<DailyUse>> {
        let usual = |t: f64| 15.0 * (-0.8 * (TAU * t / 365.2425).cos()).exp();
        (0..bikes).map(|seed| scattered(days, seed, usual)).collect()
    }

    fn usual_year(bikes: &[Vec<DailyUse>]) -> UsualYear {
        let histories: Vec<UseHistory> =
            bikes.iter().filter_map(|days| UseHistory::of(-(days.len() as i64), days)).collect();
        UsualYear::of(&histories)
    }

    #[test]
    fn a_young_bike_has_its_yards_summer_ahead() {
        let yard = yard(12, 740);
        let usual = usual_year(&yard);
        let young = &yard[0][740 - 56..];
        let forecast = UseForecast::in_usual_year(young, -1, &usual).expect("used");
        let alone = UseForecast::from_days(young).expect("used");
        let truth: f64 = (0..182).map(|t| 15.0 * (-0.8 * (TAU * f64::from(t) / 365.2425).cos()).exp()).sum();
        let error = |forecast: &UseForecast| (forecast.exposure_over(182.0) / truth).ln();
        assert!(
            error(&forecast).abs() < 0.2 && error(&alone) < -0.4,
            "{} {}",
            error(&forecast),
            error(&alone)
        );
        assert!(forecast.ln_sd_over(182.0) < 0.5 * alone.ln_sd_over(182.0));
        let summer = forecast.season_factor(182.0).expect("seen");
        assert!((summer.ln() - 1.6).abs() < 0.3, "{summer}");
        // What nobody knows of the season is common to all.
        assert!(alone.shared_ln_sd_over(182.0) > 3.0 * forecast.shared_ln_sd_over(182.0));
    }

    #[test]
    fn a_bike_of_a_few_days_goes_like_its_group() {
        let yard = yard(12, 740);
        let usual = usual_year(&yard);
        // A day's ride of 90 reference km, then five days of nothing.
        let mut days = vec![day(90.0)];
        days.extend([DailyUse::default(); 5]);
        let grouped = UseForecast::in_usual_year(&days, -1, &usual).expect("used");
        let (grouped, group) =
            (grouped.exposure_over(365.0), usual.reference_km_per_day().expect("twelve bikes"));
        assert!((grouped / (365.0 * group * 1.15)).ln().abs() < 0.5, "{grouped} {group}");
    }

    #[test]
    fn a_bike_that_rests_with_its_yard_is_in_use() {
        let closed = |t: f64| if (t.rem_euclid(365.2425) - 182.0).abs() < 92.0 { 20.0 } else { 0.0 };
        let yard: Vec<_> = (0..8).map(|seed| scattered(740, seed, closed)).collect();
        assert_eq!(UseForecast::from_days(&yard[0]), None);
        let forecast = UseForecast::in_usual_year(&yard[0], -1, &usual_year(&yard)).expect("in use");
        let (winter, year) = (forecast.exposure_over(60.0), forecast.exposure_over(365.0));
        assert!(winter < 0.1 * year, "{winter} {year}");
        assert!((year / (184.0 * 20.0)).ln().abs() < 0.5, "{year}");
        // But not for ever.
        let mut sold = yard[0].clone();
        sold.extend([DailyUse::default(); 365]);
        assert_eq!(UseForecast::in_usual_year(&sold, 364, &usual_year(&yard)), None);
    }

    #[test]
    fn wet_months_take_kilometres_off() {
        // Winter kilometres wear half as much again.
        let ratio = |t: f64| 0.8 * (-0.2 * (TAU * t / 365.2425).cos()).exp();
        let yard: Vec<Vec<DailyUse>> = yard(12, 740)
            .into_iter()
            .map(|days| {
                let of = |(i, day): (usize, DailyUse)| DailyUse {
                    km: day.reference_km * ratio(i as f64 - 740.0),
                    ..day
                };
                days.into_iter().enumerate().map(of).collect()
            })
            .collect();
        let usual = usual_year(&yard);
        let forecast = UseForecast::in_usual_year(&yard[3], -1, &usual).expect("used");
        assert!((forecast.km_per_reference_km() / ratio(0.0)).ln().abs() < 0.05);
        let (month, half) = (forecast.exposure_over(28.0), forecast.exposure_over(182.0));
        let distances = forecast.distances();
        let true_half: f64 = (0..182)
            .map(|t| 15.0 * (-0.8 * (TAU * f64::from(t) / 365.2425).cos()).exp() * ratio(f64::from(t)))
            .sum::<f64>()
            / (0..182).map(|t| 15.0 * (-0.8 * (TAU * f64::from(t) / 365.2425).cos()).exp()).sum::<f64>();
        assert!((distances.km(month) / month / ratio(14.0)).ln().abs() < 0.06);
        assert!((distances.km(half) / half / true_half).ln().abs() < 0.06);
        let many: Vec<f64> = (0..400).map(|i| distances.km(50.0 * f64::from(i))).collect();
        assert!(many.windows(2).all(|pair| pair[0] < pair[1]));
    }

    #[test]
    fn eight_in_ten_months_fall_between_the_tenth_and_the_ninetieth_percentile() {
        // Habits drift by 0.2 a month.
        let mut random = ChaCha8Rng::seed_from_u64(11);
        let mut inside = 0;
        for seed in 0..300 {
            let days = scattered(800, 1_000 + seed, |_| 15.0);
            let forecast = UseForecast::from_days(&days).expect("used");
            let normal = (0..12).map(|_| random.random_range(-0.5..0.5)).sum::<f64>();
            let drifted = 15.0 * (0.2 * normal).exp();
            let month: f64 = (0..30).map(|_| drifted * random.random_range(0.4..1.6)).sum();
            let z = (month / forecast.exposure_over(30.0)).ln() / forecast.ln_sd_over(30.0);
            inside += u32::from(z.abs() < 1.281_55);
        }
        let coverage = f64::from(inside) / 300.0;
        assert!((0.74..0.93).contains(&coverage), "{coverage}");
    }
}
