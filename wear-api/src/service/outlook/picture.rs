//! What the plots of one bike are drawn from: the posterior now, what was expected on earlier days, what lies ahead.

use chrono::{Days, NaiveDate};
use wear_core::degradation::{Posterior, TimedReading};
use wear_core::forecast::UseForecast;
use wear_core::units::ReferenceKilometres;

use super::assess::{BikeFacts, FittedChain, assess, use_forecast};
use super::gathered::Gathered;
use super::load;
use crate::domain::{Bike, BikeId, Measurement, Outlook, Timestamp, Workshop};
use crate::service::{Actor, ServiceError, Services};

/// Step of the elongation grid that densities are given on, percent.
const STEP: f64 = 0.01;

/// End of that grid, percent.
const END: f64 = 1.6;

/// Points of the expected path between two readings.
const BETWEEN: usize = 3;

/// Points of the expected path ahead.
const AHEAD: u64 = 14;

/// Days ahead when the bike isn't used or its limit is far, and the fewest and most shown (A).
const SHOWN_DAYS: (u64, u64) = (42, 540);

/// A reading as plots show it.
#[derive(Debug, Clone, PartialEq)]
pub struct PlottedReading {
    /// When it was taken.
    pub taken_at: Timestamp,
    /// What was read.
    pub measurement: Measurement,
    /// Standard deviation of one reading with its instrument, percent elongation.
    pub sd: f64,
    /// Bias of the instrument, percent elongation: read minus true.
    pub bias: f64,
    /// Whether it was taken for a blunder and set aside.
    pub set_aside: bool,
}

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

/// What a bike's plots are drawn from.
#[derive(Debug, Clone, PartialEq)]
pub struct Picture {
    /// The bike.
    pub bike: Bike,
    /// Its outlook.
    pub outlook: Outlook,
    /// The present date where the workshop is.
    pub today: NaiveDate,
    /// Elongations, percent, with their density now, per percent.
    pub density: Vec<(f64, f64)>,
    /// The expected elongation, earliest day first.
    pub path: Vec<PathPoint>,
    /// Readings of the chain that is on, earliest first.
    pub readings: Vec<PlottedReading>,
}

/// What a bike's plots are drawn from, as of now.
///
/// # Errors
/// [`ServiceError::NotFound`] when the bike isn't this workshop's.
pub async fn picture(services: &Services, actor: &Actor, bike_id: BikeId) -> Result<Picture, ServiceError> {
    let now = services.now();
    let mut tx = services.store.begin_read(actor.workshop_id).await?;
    let workshop = tx.workshop().await?;
    let bike = tx.bike(bike_id).await.map_err(ServiceError::or_not_found("bike"))?;
    let gathered = load::gather(&mut tx, &workshop, &bike, now).await?;
    drop(tx);
    Ok(draw(bike, &workshop, &gathered, now))
}

fn draw(bike: Bike, workshop: &Workshop, gathered: &Gathered, now: Timestamp) -> Picture {
    let facts = gathered.facts();
    let outlook = assess(&facts).outlook;
    let today = now.date_in(workshop.settings.time_zone);
    let empty = |bike, outlook| Picture {
        bike,
        outlook,
        today,
        density: Vec::new(),
        path: Vec::new(),
        readings: Vec::new(),
    };
    let Some(fitted) = gathered.fitted() else { return empty(bike, outlook) };
    let grid: Vec<f64> = (0..=(END / STEP).round() as u32).map(|i| f64::from(i) * STEP).collect();
    let density = fitted.chain.posterior.elongation_density(fitted.chain.at(), &grid);
    let mut path = expected_so_far(&fitted, gathered, now);
    path.extend(expected_ahead(&fitted, &facts, &outlook, today));
    Picture {
        bike,
        outlook,
        today,
        density: grid.into_iter().zip(density).collect(),
        path,
        readings: plotted(&fitted, gathered),
    }
}

fn plotted(fitted: &FittedChain<'_>, gathered: &Gathered) -> Vec<PlottedReading> {
    let predictives = fitted.chain.posterior.predictives();
    let mut readings: Vec<PlottedReading> = fitted
        .readings
        .iter()
        .map(|reading| {
            let calibration = gathered.calibrations().of(reading.measurement.instrument());
            PlottedReading {
                taken_at: reading.taken_at,
                measurement: reading.measurement,
                sd: calibration.sd(),
                bias: calibration.bias(),
                set_aside: predictives
                    .iter()
                    .any(|known| known.set_aside && known.reading.measurement == reading.measurement),
            }
        })
        .collect();
    readings.sort_by_key(|reading| reading.taken_at);
    readings
}

/// Exposure by the end of each day of the chain's life, reference km.
struct Exposure<'a> {
    fitted: &'a FittedChain<'a>,
    now: Timestamp,
}

impl Exposure<'_> {
    fn at(&self, at: Timestamp) -> f64 {
        let day = at.utc_date();
        let days = &self.fitted.chain.accrued.days;
        days.iter().take_while(|exposed| exposed.day <= day).map(|exposed| exposed.used.reference_km).sum()
    }

    fn days_from_now(&self, at: Timestamp) -> f64 {
        (at.micros() - self.now.micros()) as f64 / 86_400e6
    }
}

/// What was expected at points between readings, from the readings before: a step down at a reading is what was
/// learned from it.
fn expected_so_far(fitted: &FittedChain<'_>, gathered: &Gathered, now: Timestamp) -> Vec<PathPoint> {
    let exposure = Exposure { fitted, now };
    let mut known: Vec<(Timestamp, TimedReading)> = fitted
        .chain
        .timed
        .iter()
        .filter_map(|(place, timed)| Some((fitted.readings.get(*place)?.taken_at, *timed)))
        .collect();
    known.sort_by_key(|(at, _)| *at);
    let mut ends: Vec<Timestamp> = vec![fitted.fitted_at];
    ends.extend(known.iter().map(|(at, _)| *at));
    ends.push(now);
    let mut path = Vec::new();
    for (count, pair) in ends.windows(2).enumerate() {
        let before: Vec<TimedReading> = known[..count].iter().map(|(_, reading)| *reading).collect();
        let posterior = if count == known.len() {
            fitted.chain.posterior.clone()
        } else {
            Posterior::of(fitted.chain.posterior.parameters(), gathered.calibrations(), &before)
        };
        let span = pair[1].micros() - pair[0].micros();
        for step in 0..=BETWEEN {
            let at = pair[0].plus(chrono::Duration::microseconds(span * step as i64 / BETWEEN as i64));
            // The marks know the exposure within a day; its end does for the points in between.
            let reference_km = match step {
                0 if count > 0 => known[count - 1].1.at.get(),
                BETWEEN if count < known.len() => known[count].1.at.get(),
                _ => exposure.at(at).min(fitted.chain.at().get()),
            };
            path.push(point(exposure.days_from_now(at), &posterior, reference_km));
        }
    }
    path
}

fn point(day: f64, posterior: &Posterior, reference_km: f64) -> PathPoint {
    let at = ReferenceKilometres::new(reference_km.max(0.0)).unwrap_or(ReferenceKilometres::ZERO);
    let grid = path_grid();
    band(day, &posterior.elongation_distribution(at, &grid), &grid)
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
fn expected_ahead(
    fitted: &FittedChain<'_>,
    facts: &BikeFacts<'_>,
    outlook: &Outlook,
    today: NaiveDate,
) -> Vec<PathPoint> {
    let Some(usage) = use_forecast(facts) else { return Vec::new() };
    let days = shown_days(outlook, today);
    let grid = path_grid();
    let now = fitted.chain.at().get();
    (1..=AHEAD)
        .map(|step| {
            let day = days as f64 * step as f64 / AHEAD as f64;
            band(day, &mixture(&fitted.chain.posterior, &usage, now, day, &grid), &grid)
        })
        .collect()
}

fn mixture(posterior: &Posterior, usage: &UseForecast, now: f64, day: f64, grid: &[f64]) -> Vec<f64> {
    let mut below = vec![0.0; grid.len()];
    for (ahead, weight) in usage.exposure_nodes(day) {
        let at = ReferenceKilometres::new(now + ahead).unwrap_or(ReferenceKilometres::ZERO);
        for (sum, part) in below.iter_mut().zip(posterior.elongation_distribution(at, grid)) {
            *sum += weight * part;
        }
    }
    below
}

/// Days ahead to show: to where the limit has probably been reached.
fn shown_days(outlook: &Outlook, today: NaiveDate) -> u64 {
    let (fewest, most) = SHOWN_DAYS;
    let reached = outlook.limit_on.and_then(|on| on.p50.or(on.p10));
    let days = reached.map_or(most, |day| (day - today).num_days().max(0) as u64 * 5 / 4);
    days.clamp(fewest, most).min(
        today.checked_add_days(Days::new(most)).map_or(fewest, |end| (end - today).num_days().max(1) as u64),
    )
}
