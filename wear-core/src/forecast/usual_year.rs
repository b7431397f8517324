//! What the bikes of a group or workshop have in common: how their year goes, and how habits scatter and drift.

use super::history::{BLOCK, BlockSum, Scatter, UseHistory, middle_of};
use super::level::{Before, Level, Stretch, Wander};
use super::two_way::{Cell, TwoWay};
use super::wave::{COEFFICIENTS, Rate, Wave, YEAR};

/// Days of record from which on a wave of the year is claimed.
const YEAR_ON_RECORD: i64 = 365;

/// Standard deviations of the coefficients of a wave nobody has seen, first and second harmonic, in ln use (A).
const AMPLITUDE: (f64, f64) = (0.6, 0.18);

/// How far a group's wave is from its workshop's, and a bike's from its group's: the same (A).
const DEVIATION: (f64, f64) = (0.2, 0.1);

/// The same of kilometres per reference kilometre (A): wet days wear up to twice as much, and half of a month is wet.
const RATIO_AMPLITUDE: (f64, f64) = (0.15, 0.07);

/// Standard deviation of a bike's ln use over twelve weeks, until learned (A).
pub(super) const WANDER: f64 = 0.2;

/// Its standard deviation from group to group (A).
const WANDER_LN_SD: f64 = 0.4;

/// Standard deviation of the common wander over twelve weeks, from workshop to workshop (A).
const COMMON_WANDER: f64 = 0.1;

/// Standard deviation of its logarithm (A).
const COMMON_LN_SD: f64 = 0.6;

/// How far a month is from the two harmonics of its year, in ln use, until learned (A).
const MISFIT: f64 = 0.12;

/// Standard deviation of its logarithm (A).
const MISFIT_LN_SD: f64 = 0.6;

/// Least standard deviation of ln level from bike to bike, so that a bike of another kind is not held to its group (A).
const LEAST_LEVEL_SD: f64 = 0.3;

/// White noise in blocks of 28 days that hides a wave of a year as much as the wander does: its spectral density at that
/// frequency, 2V·τ/(1 + (ωτ)²), over that of white noise of the same variance, 28·V (C).
const WANDER_AS_NOISE: f64 = 0.64;

/// Bikes from which wander is learned; more would tell the same.
const BIKES_TO_LEARN_FROM: usize = 400;

/// How a year goes for the bikes of a group or workshop, with how sure that is.
///
/// Two harmonics in ln use, fitted to what each bike does over its own mean, so that bikes that come and go make no season.
/// A wave that nobody has seen is uncertain, and a year and more of record makes it certain; what a part of a year tells of the
/// rest is little, and is used as far as it goes.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct UsualYear {
    wave: Wave,
    wave_variance: [[f64; COEFFICIENTS]; COEFFICIENTS],
    /// Whether a year and more was on record.
    seen: bool,
    /// Days on record.
    span: i64,
    /// Kilometres per reference kilometre.
    ratio: Wave,
    /// ln reference km a day over a year, and its variance from bike to bike.
    level: Option<(f64, f64)>,
    wander: f64,
    /// What all bikes have in common of it.
    common: f64,
    /// How far months differ from the wave, for all bikes alike, in ln use.
    misfit: f64,
    /// Variance of a bike's sum of reference km over its mean, where learned.
    dispersion: Option<f64>,
}

impl Default for UsualYear {
    /// Nothing is known.
    fn default() -> Self {
        Self {
            wave: Wave::default(),
            wave_variance: diagonal(AMPLITUDE),
            seen: false,
            span: 0,
            ratio: Wave::default(),
            level: None,
            wander: WANDER,
            common: COMMON_WANDER,
            misfit: MISFIT,
            dispersion: None,
        }
    }
}

/// Variances of coefficients that are independent of each other, with these standard deviations by harmonic.
fn diagonal((first, second): (f64, f64)) -> [[f64; COEFFICIENTS]; COEFFICIENTS] {
    let variances = [first, first, second, second].map(|sd| sd * sd);
    std::array::from_fn(|i| std::array::from_fn(|j| if i == j { variances[i] } else { 0.0 }))
}

fn sum(
    a: &[[f64; COEFFICIENTS]; COEFFICIENTS],
    b: &[[f64; COEFFICIENTS]; COEFFICIENTS],
) -> [[f64; COEFFICIENTS]; COEFFICIENTS] {
    std::array::from_fn(|i| std::array::from_fn(|j| a[i][j] + b[i][j]))
}

impl UsualYear {
    /// Of a workshop.
    #[must_use]
    pub fn of(bikes: &[UseHistory]) -> Self {
        Self::fitted(&Self::default(), bikes)
    }

    /// Of a group of this workshop, whose own year is a deviation from the workshop's.
    #[must_use]
    pub fn of_group(&self, bikes: &[UseHistory]) -> Self {
        let around =
            Self { wave_variance: self.wave_variance_of_deviating(), level: None, span: 0, ..self.clone() };
        Self::fitted(&around, bikes)
    }

    fn fitted(before: &Self, bikes: &[UseHistory]) -> Self {
        let Some(days) = Days::of(bikes) else { return before.clone() };
        let mut fitted = Self { span: days.span, ..before.clone() };
        let (squares, sums) = bikes.iter().fold((0.0, 0.0), |(squares, sums), bike| {
            (squares + bike.scatter.squares, sums + bike.scatter.sums)
        });
        if sums > 0.0 && squares > 0.0 {
            fitted.dispersion = Some(squares / sums);
        }
        fitted.fit_wave(before, &days);
        fitted.learn_wander(before, bikes);
        // Once more, now that it is known how much the bikes wander.
        fitted.fit_wave(before, &days);
        fitted.wander = fitted.wander.max(fitted.common);
        fitted.fit_level(&days);
        if fitted.seen {
            fitted.fit_ratio(bikes);
        }
        fitted
    }

    fn fit_wave(&mut self, before: &Self, days: &Days) {
        self.seen = before.seen || days.span >= YEAR_ON_RECORD;
        let own = Wander::over_twelve_weeks(self.wander).variance;
        let dispersion = self.dispersion.unwrap_or(0.0);
        let after = |common: f64, misfit: f64| {
            let stretches: Vec<Stretch> = days
                .fit
                .columns()
                .map(|column| Stretch {
                    middle: middle_of(column.place),
                    rate: column.factor,
                    dispersion: dispersion / column.usual,
                    blur: WANDER_AS_NOISE * own / column.effective + misfit * misfit,
                })
                .collect();
            let known = Before {
                long_run: 0.0,
                long_run_variance: 1.0,
                wave: before.wave,
                wave_variance: before.wave_variance,
                wander: Wander::over_twelve_weeks(common),
            };
            followed(&known, &stretches)
        };
        let mut common = before.common;
        for _ in 0..2 {
            self.misfit =
                likeliest(before.misfit, MISFIT_LN_SD, |misfit| after(common, misfit).ln_likelihood());
            common =
                likeliest(before.common, COMMON_LN_SD, |common| after(common, self.misfit).ln_likelihood());
        }
        self.common = common;
        let level = after(common, self.misfit);
        self.wave = level.wave();
        self.wave_variance = level.wave_variance();
    }

    /// How far bikes wander: the likeliest on a grid, with what is known beforehand.
    fn learn_wander(&mut self, before: &Self, bikes: &[UseHistory]) {
        let every = bikes.len().div_ceil(BIKES_TO_LEARN_FROM).max(1);
        let bikes: Vec<(f64, Vec<Stretch>)> =
            bikes.iter().step_by(every).filter_map(|bike| self.stretches_of(bike)).collect();
        let likely = |wander: f64| {
            let of_bike = |(mean, stretches): &(f64, Vec<Stretch>)| {
                let mut known = self.before(*mean, 1.0);
                known.wander = Wander::over_twelve_weeks(wander);
                followed(&known, stretches).ln_likelihood()
            };
            let of_bikes: f64 = bikes.iter().map(of_bike).sum();
            of_bikes
        };
        self.wander = likeliest(before.wander, WANDER_LN_SD, likely);
    }

    fn stretches_of(&self, bike: &UseHistory) -> Option<(f64, Vec<Stretch>)> {
        let used: f64 = bike.blocks.iter().map(|block| block.used.reference_km).sum();
        let mean = used / bike.days as f64;
        let dispersion = self.dispersion_of(&bike.scatter, mean);
        let stretches = bike.blocks.iter().map(|block| Stretch {
            middle: middle_of(block.block),
            rate: block.used.reference_km / block.days,
            dispersion: dispersion / block.days,
            blur: self.blur_over(block.days),
        });
        (mean > 0.0).then(|| (mean.ln(), stretches.collect()))
    }

    fn fit_level(&mut self, days: &Days) {
        let rows: Vec<(f64, f64)> = days.fit.rows().filter(|(factor, _)| *factor > 0.0).collect();
        let count = rows.len() as f64;
        if rows.len() < 2 {
            return;
        }
        let mean = rows.iter().map(|(factor, _)| factor.ln()).sum::<f64>() / count;
        let spread = rows.iter().map(|(factor, _)| (factor.ln() - mean).powi(2)).sum::<f64>() / (count - 1.0);
        let error = rows.iter().map(|(_, usual)| self.dispersion.unwrap_or(0.0) / usual).sum::<f64>() / count;
        let variance = (spread - error).max(LEAST_LEVEL_SD * LEAST_LEVEL_SD);
        self.level =
            Some((mean + days.fit.mean_ln_over(&self.wave, middle_of), variance * (1.0 + 1.0 / count)));
    }

    fn fit_ratio(&mut self, bikes: &[UseHistory]) {
        let cells = |bike: &UseHistory, row| -> Vec<Cell> {
            let cell = |block: &BlockSum| Cell {
                row,
                column: block.block,
                offset: block.used.reference_km,
                value: block.used.km,
            };
            bike.blocks.iter().map(cell).collect()
        };
        let cells: Vec<Cell> = bikes.iter().enumerate().flat_map(|(row, bike)| cells(bike, row)).collect();
        let Some(fit) = TwoWay::of(&cells, bikes.len()) else { return };
        let scatter = fit.scatter(&cells);
        let stretches: Vec<Stretch> = fit
            .columns()
            .map(|column| Stretch {
                middle: middle_of(column.place),
                rate: column.factor,
                // Never better known than to a hundredth.
                dispersion: (scatter / column.effective + 1e-4) * column.factor,
                blur: 0.0,
            })
            .collect();
        let known = Before {
            long_run: 0.0,
            long_run_variance: 1.0,
            wave: self.ratio,
            wave_variance: diagonal(RATIO_AMPLITUDE),
            wander: Wander::over_twelve_weeks(0.25 * WANDER),
        };
        self.ratio = followed(&known, &stretches).wave();
    }

    /// Days from the first to the last on record of the bikes that it was learned from, those that it leans on left out.
    #[must_use]
    pub const fn days_on_record(&self) -> i64 {
        self.span
    }

    /// Whether a year and more is on record, of these bikes or of those that they lean on: a season is claimed.
    #[must_use]
    pub const fn is_learned(&self) -> bool {
        self.seen
    }

    /// Whether these bikes have a year and more on record themselves.
    #[must_use]
    pub const fn is_its_own(&self) -> bool {
        self.seen && self.span >= YEAR_ON_RECORD
    }

    /// Use in days from one on, counted since 1970-01-01, over the mean of a year, with the standard deviation of its
    /// logarithm: in June 1.8, known to 0.1. `None` with less than a year on record.
    #[must_use]
    pub fn share_over(&self, first_day: i64, days: u16) -> Option<(f64, f64)> {
        let rate = Rate::of(&self.wave, first_day as f64);
        let [part, year] = [f64::from(days.max(1)), YEAR].map(|days| rate.over(days, YEAR));
        let away: [f64; COEFFICIENTS] = std::array::from_fn(|i| part.basis[i] - year.basis[i]);
        let share = (part.rate / f64::from(days.max(1))) / rate.mean();
        self.seen.then(|| (share, quadratic(&self.wave_variance, &away).sqrt()))
    }

    /// Use on a day, counted since 1970-01-01, over the year's median; `None` with less than a year on record.
    #[must_use]
    pub fn factor_on(&self, day: i64) -> Option<f64> {
        self.seen.then(|| self.wave.ln_at(day as f64 + 0.5).exp())
    }

    /// Standard deviation of the logarithm of [`UsualYear::factor_on`]; without a year on record that of a wave nobody has
    /// seen.
    #[must_use]
    pub fn factor_ln_sd_on(&self, day: i64) -> f64 {
        let by = super::wave::basis(day as f64 + 0.5);
        quadratic(&self.wave_variance, &by).sqrt()
    }

    /// Kilometres per reference kilometre on a day over the year's median: below 1 in wet months. `None` with less than a
    /// year on record.
    #[must_use]
    pub fn km_per_reference_km_factor_on(&self, day: i64) -> Option<f64> {
        self.seen.then(|| self.ratio.ln_at(day as f64 + 0.5).exp())
    }

    /// Standard deviation of the logarithm of a bike's use over twelve weeks: how far habits drift.
    #[must_use]
    pub const fn drift_ln_sd(&self) -> f64 {
        self.wander
    }

    /// Median over bikes of reference km a day, over a year; `None` for fewer than two bikes.
    #[must_use]
    pub fn reference_km_per_day(&self) -> Option<f64> {
        self.level.map(|(ln, _)| ln.exp())
    }

    pub(super) const fn is_seen(&self) -> bool {
        self.seen
    }

    pub(super) const fn wave(&self) -> &Wave {
        &self.wave
    }

    pub(super) const fn ratio(&self) -> &Wave {
        &self.ratio
    }

    pub(super) const fn level(&self) -> Option<(f64, f64)> {
        self.level
    }

    /// Share of the wander's variance that all bikes have in common.
    pub(super) fn shared(&self) -> f64 {
        (self.common / self.wander).powi(2).min(0.9)
    }

    /// Variance of the same over days of record: white from month to month.
    pub(super) fn blur_over(&self, days: f64) -> f64 {
        self.misfit * self.misfit * BLOCK as f64 / days.max(1.0)
    }

    /// Variance of ln use over so many days of use that comes from months that differ from the wave, for all bikes alike.
    pub(super) fn misfit_over(&self, days: f64) -> f64 {
        self.misfit * self.misfit / (1.0 + days / BLOCK as f64)
    }

    /// Share of the wave's variance that all bikes have in common.
    pub(super) fn common_of_wave(&self) -> f64 {
        let trace =
            |of: &[[f64; COEFFICIENTS]; COEFFICIENTS]| (0..COEFFICIENTS).map(|i| of[i][i]).sum::<f64>();
        trace(&self.wave_variance) / trace(&self.wave_variance_of_deviating())
    }

    fn wave_variance_of_deviating(&self) -> [[f64; COEFFICIENTS]; COEFFICIENTS] {
        sum(&self.wave_variance, &diagonal(DEVIATION))
    }

    /// Variance of a sum of a bike's use over its mean, for one that uses `mean` a day.
    pub(super) fn dispersion_of(&self, scatter: &Scatter, mean: f64) -> f64 {
        let weekly = 7.0 * mean;
        let prior = self.dispersion.unwrap_or(USUAL_WEEK_CV * USUAL_WEEK_CV * weekly);
        scatter.dispersion(prior, 2.0 * PRIOR_WEEKS * weekly)
    }

    /// What is known of a bike beforehand; without a group's level that of its own record, and hardly that.
    pub(super) fn before(&self, long_run: f64, long_run_variance: f64) -> Before {
        Before {
            long_run,
            long_run_variance,
            wave: self.wave,
            wave_variance: self.wave_variance_of_deviating(),
            wander: Wander::over_twelve_weeks(self.wander),
        }
    }
}

/// Standard deviation of a week's use over its mean, until the bike or its group say (A).
const USUAL_WEEK_CV: f64 = 0.5;

/// Pairs of weeks that what is known beforehand counts for (A).
const PRIOR_WEEKS: f64 = 4.0;

/// Root mean square of a standard deviation under its posterior, whose prior is log-normal.
fn likeliest(median: f64, ln_sd: f64, ln_likelihood: impl Fn(f64) -> f64) -> f64 {
    let points: Vec<(f64, f64)> = (-8..=8)
        .map(|step| {
            let z = 0.375 * f64::from(step);
            let sd = median * (ln_sd * z).exp();
            (sd, ln_likelihood(sd) - 0.5 * z * z)
        })
        .collect();
    let most = points.iter().map(|point| point.1).fold(f64::NEG_INFINITY, f64::max);
    let (mut sum, mut whole) = (0.0, 0.0);
    for (sd, ln) in points {
        let weight = (ln - most).exp();
        sum += weight * sd * sd;
        whole += weight;
    }
    if whole > 0.0 { (sum / whole).sqrt() } else { median }
}

fn quadratic(of: &[[f64; COEFFICIENTS]; COEFFICIENTS], by: &[f64; COEFFICIENTS]) -> f64 {
    let times = |row: &[f64; COEFFICIENTS]| row.iter().zip(by).map(|(a, b)| a * b).sum::<f64>();
    of.iter().zip(by).map(|(row, b)| b * times(row)).sum::<f64>().max(0.0)
}

pub(super) fn followed(known: &Before, stretches: &[Stretch]) -> Level {
    let mut level = Level::before(known, stretches.first().map_or(0.0, |first| first.middle));
    stretches.iter().for_each(|stretch| level.observe(stretch));
    level
}

/// Days of use of all bikes.
struct Days {
    fit: TwoWay,
    span: i64,
}

impl Days {
    fn of(bikes: &[UseHistory]) -> Option<Self> {
        let cells: Vec<Cell> = bikes
            .iter()
            .enumerate()
            .flat_map(|(row, bike)| bike.blocks.iter().map(move |block| (row, block)))
            .map(|(row, block)| Cell {
                row,
                column: block.block,
                offset: block.days,
                value: block.used.reference_km,
            })
            .collect();
        let fit = TwoWay::of(&cells, bikes.len())?;
        let first = bikes.iter().map(|bike| bike.first).min()?;
        let end = bikes.iter().map(UseHistory::end).max()?;
        Some(Self { fit, span: end - first })
    }
}
