//! What plots of one chain are drawn from: the posterior now, what was expected on earlier days, what lies ahead.

use super::Moment;
use super::assess::Assessment;
use super::chain::KnownChain;
use crate::degradation::{Posterior, TimedReading};
use crate::forecast::UseForecast;
use crate::units::ReferenceKilometres;

/// Step of the elongation grid that densities are given on, percent.
const STEP: f64 = 0.01;

/// End of that grid, percent.
const END: f64 = 1.6;

/// Points of the expected path between two readings.
const BETWEEN: usize = 3;

/// Points of the expected path ahead.
const AHEAD: u32 = 14;

/// Days ahead when the bike isn't used or its limit is far, and the fewest and most shown (A).
const SHOWN_DAYS: (u32, u32) = (42, 540);

/// The elongation expected on a day, percent, from the readings known by then.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PathPoint {
    /// Days from today; negative in the past.
    pub day: f64,
    /// Tenth percentile.
    pub p10: f64,
    /// Median.
    pub p50: f64,
    /// Ninetieth percentile.
    pub p90: f64,
}

/// What plots of the chain that is on are drawn from.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Picture {
    /// Elongations, percent, with their density now, per percent.
    pub density: Vec<(f64, f64)>,
    /// The expected elongation, earliest day first.
    pub path: Vec<PathPoint>,
    /// For each of the chain's readings, in the order of its record, whether it was taken for a blunder and set aside.
    pub set_aside: Vec<bool>,
}

impl Assessment {
    /// What plots are drawn from; empty without a chain.
    #[must_use]
    pub fn picture(&self) -> Picture {
        let Some(chain) = self.on() else { return Picture::default() };
        let grid: Vec<f64> = (0..=(END / STEP).round() as u32).map(|i| f64::from(i) * STEP).collect();
        let density = chain.elongation_density(chain.at(), &grid);
        let mut path = expected_so_far(chain, self.now());
        if let Some(usage) = self.usage() {
            path.extend(expected_ahead(chain, usage, self.shown_days()));
        }
        Picture { density: grid.into_iter().zip(density).collect(), path, set_aside: chain.set_aside() }
    }

    /// Days ahead to show: to where the limit has probably been reached.
    fn shown_days(&self) -> u32 {
        let (fewest, most) = SHOWN_DAYS;
        let reached = self.outlook().limit_in_days.and_then(|days| days.p50.or(days.p10));
        reached.map_or(most, |days| days * 5 / 4).clamp(fewest, most)
    }
}

/// Exposure by the end of the day of `at`, reference km.
fn exposure_by(chain: &KnownChain, at: Moment) -> f64 {
    let days = chain.accrued.days.iter();
    days.take_while(|exposed| exposed.day <= at.day()).map(|exposed| exposed.used.reference_km).sum()
}

/// What was expected at points between readings, from the readings before: a step down at a reading is what was
/// learned from it.
fn expected_so_far(chain: &KnownChain, now: Moment) -> Vec<PathPoint> {
    let readings = chain.record.readings();
    let mut known: Vec<(Moment, TimedReading)> =
        chain.timed.iter().filter_map(|(place, timed)| Some((readings.get(*place)?.0, *timed))).collect();
    known.sort_by_key(|(at, _)| *at);
    let mut ends: Vec<Moment> = vec![chain.record.fitted_at().unwrap_or(now)];
    ends.extend(known.iter().map(|(at, _)| *at));
    ends.push(now);
    let calibrations = chain.posterior.calibrations();
    let mut path = Vec::new();
    for (count, pair) in ends.windows(2).enumerate() {
        let before: Vec<TimedReading> = known[..count].iter().map(|(_, reading)| *reading).collect();
        let known_then =
            (count < known.len()).then(|| Posterior::of(chain.posterior.parameters(), calibrations, &before));
        let span = pair[1].micros() - pair[0].micros();
        for step in 0..=BETWEEN {
            let at = Moment::from_micros(pair[0].micros() + span * step as i64 / BETWEEN as i64);
            // The marks know the exposure within a day; its end does for the points in between.
            let reference_km = match step {
                0 if count > 0 => known[count - 1].1.at.get(),
                BETWEEN if count < known.len() => known[count].1.at.get(),
                _ => chain.counted(exposure_by(chain, at)).min(chain.at().get()),
            };
            let below = |at, grid: &[f64]| match &known_then {
                Some(posterior) => posterior.elongation_distribution(at, grid),
                None => chain.elongation_distribution(at, grid),
            };
            path.push(point(at.days_since(now), below, reference_km));
        }
    }
    path
}

fn point(day: f64, below: impl Fn(ReferenceKilometres, &[f64]) -> Vec<f64>, reference_km: f64) -> PathPoint {
    let at = ReferenceKilometres::new(reference_km.max(0.0)).unwrap_or(ReferenceKilometres::ZERO);
    let grid = path_grid();
    band(day, &below(at, &grid), &grid)
}

/// Elongations that the path is sought on, percent: from a chain shorter than nominal to far beyond any limit.
fn path_grid() -> Vec<f64> {
    (-8..=125).map(|i| f64::from(i) * 0.02).collect()
}

/// Quantiles of a distribution given on a grid, linear in between.
fn band(day: f64, below: &[f64], grid: &[f64]) -> PathPoint {
    let quantile = |p: f64| {
        let above = below.partition_point(|b| *b < p).clamp(1, grid.len() - 1);
        let (b0, b1) = (below[above - 1], below[above]);
        let share = if b1 > b0 { ((p - b0) / (b1 - b0)).clamp(0.0, 1.0) } else { 0.0 };
        grid[above - 1] + share * (grid[above] - grid[above - 1])
    };
    PathPoint { day, p10: quantile(0.1), p50: quantile(0.5), p90: quantile(0.9) }
}

/// What is expected on days ahead, over all that the bike may be used.
fn expected_ahead(chain: &KnownChain, usage: &UseForecast, days: u32) -> Vec<PathPoint> {
    let grid = path_grid();
    let now = chain.at().get();
    (1..=AHEAD)
        .map(|step| {
            let day = f64::from(days) * f64::from(step) / f64::from(AHEAD);
            band(day, &mixture(chain, usage, now, day, &grid), &grid)
        })
        .collect()
}

fn mixture(chain: &KnownChain, usage: &UseForecast, now: f64, day: f64, grid: &[f64]) -> Vec<f64> {
    let mut below = vec![0.0; grid.len()];
    for (ahead, weight) in usage.exposure_nodes(day) {
        let at = ReferenceKilometres::new(now + ahead).unwrap_or(ReferenceKilometres::ZERO);
        for (sum, part) in below.iter_mut().zip(chain.elongation_distribution(at, grid)) {
            *sum += weight * part;
        }
    }
    below
}
