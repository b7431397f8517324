//! How much a bike will be used, from how much it and its like were used.

use super::distance::{DISTANCE_DAYS, DISTANCE_STEPS, DistancesAhead};
use super::history::Scatter;
use super::level::{COMES_BACK, Level, Stretch, Wander};
use super::pattern::Weekdays;
use super::usual_year::{UsualYear, followed};
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

/// How far a year is from another for all bikes of a workshop, standard deviation of ln use: a wet summer, a new cycle path
/// (A).
pub const YEARS_DIFFER: f64 = 0.12;

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
mod tests;
