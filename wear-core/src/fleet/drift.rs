//! Wear that grows or falls over the calendar: new roads, another supplier's steel, a wash that closed.
//!
//! `ln θ(t) = ln θ + δ(t − t₀)` for every chain of a fleet, `δ ~ N(0, 0.2²)` a year (A), t₀ the latest day on record, so that
//! a group's rate is the one of that day. A slope over time is a change of clock: over the exposure
//!
//! ```text
//! s* = ∫ e^{δ(t − t₀)} ds
//! ```
//!
//! a chain is the gamma process that it would be without a drift, so filter, fit and outlook stay as they are and only
//! exposures are counted anew. Readings give day and exposure together; between two of them riding is spread evenly over the
//! days. Nobody knows whether a slope goes on. What lies ahead is taken to wear as it would 45 days on: half of what a slope
//! that goes on makes of the next half year on average (A). Of a slope that goes on and of one that ends today the shares of
//! lives outside the interval are then both near what they should be; see CALIBRATION.md.

use super::calibration::ChainHistory;
use crate::bounds;
use crate::degradation::TimedReading;
use crate::units::ReferenceKilometres;

/// Spread of the slope, in ln θ a year (A).
pub(super) const YEARLY_SD: f64 = 0.2;

/// Chains with dates that a slope is looked for from (A).
const CHAINS_TO_LEARN: usize = 10;

const DAYS_A_YEAR: f64 = 365.25;

/// What lies ahead wears as so many days later (A).
const DAYS_AHEAD: f64 = 45.0;

/// Days of riding that say how far a chain is ridden a day (A).
const DAYS_FOR_PACE: f64 = 14.0;

/// How a fleet's wear drifts.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub struct Drift {
    /// δ, the change of ln θ in a year.
    pub per_year: f64,
    /// Standard deviation of what is known of it.
    pub sd: f64,
    /// t₀, the latest day on record, as days since 1970-01-01: groups' rates are of that day.
    pub of_day: i32,
    /// Reference km that a chain is ridden a day, where the record tells: what came before a first reading without a day
    /// to begin at is spread over the days so.
    pub km_a_day: Option<f64>,
}

/// A chain's days.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[non_exhaustive]
pub struct Days<'a> {
    /// The day on which its exposure began to count; `None` when nobody knows.
    pub begun: Option<i32>,
    /// The day of each reading, in the order of the readings, as days since 1970-01-01. Fewer than there are readings: the
    /// chain has no dates.
    pub read: &'a [i32],
}

impl<'a> Days<'a> {
    /// Days of a chain of which nobody knows when its exposure began to count.
    #[must_use]
    pub const fn of_readings(read: &'a [i32]) -> Self {
        Self { begun: None, read }
    }

    /// The same of one whose exposure began to count on this day.
    #[must_use]
    pub const fn begun(self, day: i32) -> Self {
        Self { begun: Some(day), ..self }
    }
}

/// A chain's exposures by the clock of what lies ahead of a day.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Counted {
    /// The readings as they were given, at exposures counted so.
    pub readings: Vec<TimedReading>,
    /// The exposure now.
    pub now: ReferenceKilometres,
    /// What ln θ ahead of that day is over the group's.
    pub ln_rate: f64,
    /// Exposures as recorded and as counted, in order.
    points: Vec<(f64, f64)>,
}

impl Counted {
    /// Exposures as they were recorded.
    #[must_use]
    pub const fn as_recorded(readings: Vec<TimedReading>, now: ReferenceKilometres) -> Self {
        Self { readings, now, ln_rate: 0.0, points: Vec::new() }
    }

    /// The same by a clock that runs `factors` times as fast since the reading before, in order of time, the last since the last
    /// reading; ln θ ahead is more by `ln_rate`. Readings have to be in order of time.
    #[must_use]
    pub fn by_factors(self, factors: &[f64], ln_rate: f64) -> Self {
        let points = if self.points.is_empty() {
            let read = self.readings.iter().map(|reading| reading.at);
            read.chain([self.now]).map(|at| (at.get(), at.get())).collect()
        } else {
            self.points
        };
        let (mut before, mut sum) = (0.0, 0.0);
        let points: Vec<(f64, f64)> = points
            .into_iter()
            .zip(factors.iter().copied().chain(std::iter::repeat(1.0)))
            .map(|((recorded, counted), factor)| {
                sum += (counted - before) * factor;
                before = counted;
                (recorded, sum)
            })
            .collect();
        let mut readings = self.readings;
        for (reading, (_, counted)) in readings.iter_mut().zip(&points) {
            reading.at = legal(*counted);
        }
        Self { readings, now: legal(sum), ln_rate: self.ln_rate + ln_rate, points }
    }

    /// What was recorded at an exposure counted so: straight between readings, on at the same rate beyond the last.
    #[must_use]
    pub fn recorded(&self, counted: f64) -> f64 {
        let mut before = (0.0, 0.0);
        for &(recorded, at) in &self.points {
            if counted <= at && at > before.1 {
                return before.0 + (recorded - before.0) * (counted - before.1) / (at - before.1);
            }
            before = (recorded, at);
        }
        before.0 + counted - before.1
    }

    /// What counts for an exposure that was recorded so.
    #[must_use]
    pub fn counted(&self, recorded: f64) -> f64 {
        let mut before = (0.0, 0.0);
        for &(at, counted) in &self.points {
            if recorded <= at && at > before.0 {
                return before.1 + (counted - before.1) * (recorded - before.0) / (at - before.0);
            }
            before = (at, counted);
        }
        before.1 + recorded - before.0
    }
}

fn legal(km: f64) -> ReferenceKilometres {
    ReferenceKilometres::new(km.min(bounds::REFERENCE_KM.maximum)).unwrap_or(ReferenceKilometres::ZERO)
}

/// When the record of a fleet ends, and how far its chains are ridden a day.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Calendar {
    of_day: i32,
    km_a_day: Option<f64>,
}

impl Calendar {
    /// `None` when too few chains have dates.
    pub(super) fn of(chains: &[ChainHistory<'_>]) -> Option<Self> {
        let dated = || chains.iter().filter(|chain| !chain.readings.is_empty() && chain.has_days());
        if dated().count() < CHAINS_TO_LEARN {
            return None;
        }
        let of_day = dated().flat_map(|chain| chain.days.read).copied().max()?;
        let (mut days, mut km) = (0.0, 0.0);
        for chain in dated() {
            let points =
                || chain.readings.iter().zip(chain.days.read).map(|(reading, day)| (*day, reading.at.get()));
            let begun = chain.days.begun.map(|day| (day, 0.0));
            let first =
                begun.into_iter().chain(points()).min_by(|a, b| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)));
            let last = points().max_by(|a, b| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)));
            if let (Some(first), Some(last)) = (first, last) {
                days += f64::from(last.0 - first.0);
                km += (last.1 - first.1).max(0.0);
            }
        }
        Some(Self { of_day, km_a_day: (days >= DAYS_FOR_PACE && km > 0.0).then(|| km / days) })
    }

    pub(super) const fn drift(self, per_year: f64, sd: f64) -> Drift {
        Drift { per_year, sd, of_day: self.of_day, km_a_day: self.km_a_day }
    }

    /// The years after t₀ between which each exposure of a chain, in ascending order, was ridden since the one before; negative
    /// before it.
    pub(super) fn years(self, begun: Option<i32>, points: &[(i32, f64)]) -> Vec<(f64, f64)> {
        let year = |day: f64| (day - f64::from(self.of_day)) / DAYS_A_YEAR;
        let mut last = match (begun, points.first()) {
            (Some(day), _) => f64::from(day),
            (None, Some((day, km))) => f64::from(*day) - self.km_a_day.map_or(0.0, |pace| km / pace),
            (None, None) => f64::from(self.of_day),
        };
        points
            .iter()
            .map(|(day, _)| {
                let from = last;
                last = last.max(f64::from(*day));
                (year(from), year(last))
            })
            .collect()
    }
}

/// Mean of `e^{δt}` between two times in years after t₀, of which what lies beyond t₀ counts as t₀.
pub(super) fn mean_factor(per_year: f64, (from, to): (f64, f64)) -> f64 {
    if from >= 0.0 {
        return 1.0;
    }
    let until = to.min(0.0);
    let span = until - from;
    let x = per_year * span;
    // (1 − e^{−x})/x by its series where the difference would lose digits.
    let share = if x.abs() < 1e-4 { 1.0 - 0.5 * x + x * x / 6.0 } else { -(-x).exp_m1() / x };
    let before = (per_year * until).exp() * share;
    if to > 0.0 { (span * before + to) / (to - from) } else { before }
}

impl Drift {
    /// A slope that was learned before and kept.
    #[must_use]
    pub const fn kept(per_year: f64, sd: f64, of_day: i32, km_a_day: Option<f64>) -> Self {
        Self { per_year, sd, of_day, km_a_day }
    }

    /// Readings of a chain and its exposure on a day, by the clock of what lies ahead of that day or of t₀, whichever is
    /// earlier. A chain without dates is taken to have worn all along as it will.
    #[must_use]
    pub fn counted(
        &self,
        readings: &[TimedReading],
        days: Days<'_>,
        (day, at): (i32, ReferenceKilometres),
    ) -> Counted {
        let ahead = self.per_year * (f64::from((day - self.of_day).min(0)) + DAYS_AHEAD) / DAYS_A_YEAR;
        self.counted_at(readings, days, (day, at), ahead)
    }

    /// The same by the clock of a rate that is the group's times `e^ln_rate`.
    fn counted_at(
        &self,
        readings: &[TimedReading],
        days: Days<'_>,
        (day, at): (i32, ReferenceKilometres),
        ln_rate: f64,
    ) -> Counted {
        let Self { per_year, of_day, km_a_day, .. } = *self;
        if days.read.len() < readings.len() {
            return Counted { readings: readings.to_vec(), now: at, ln_rate, points: Vec::new() };
        }
        let mut order: Vec<usize> = (0..readings.len()).collect();
        order.sort_by(|a, b| readings[*a].order(&readings[*b]));
        let mut points: Vec<(i32, f64)> =
            order.iter().map(|place| (days.read[*place], readings[*place].at.get())).collect();
        points.push((day, at.get()));
        let years = Calendar { of_day, km_a_day }.years(days.begun, &points);
        let (mut recorded, mut counted) = (0.0, 0.0);
        let points: Vec<(f64, f64)> = points
            .iter()
            .zip(years)
            .map(|((_, km), years)| {
                counted += (km - recorded).max(0.0) * mean_factor(per_year, years) / ln_rate.exp();
                recorded = km.max(recorded);
                (recorded, counted)
            })
            .collect();
        let mut again = readings.to_vec();
        for (place, (_, counted)) in order.into_iter().zip(&points) {
            again[place].at = legal(*counted);
        }
        Counted { readings: again, now: legal(counted), ln_rate, points }
    }

    /// A chain's readings by the clock of t₀.
    pub(super) fn of_readings(&self, chain: &ChainHistory<'_>) -> Vec<TimedReading> {
        let last = chain.readings.iter().map(|reading| reading.at).max_by(|a, b| a.get().total_cmp(&b.get()));
        if !chain.has_days() {
            return chain.readings.to_vec();
        }
        let now = (self.of_day, last.unwrap_or(ReferenceKilometres::ZERO));
        self.counted_at(chain.readings, chain.days, now, 0.0).readings
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::reading::{Instrument, Measurement};
    use crate::units::ElongationReading;

    fn read(at: f64) -> TimedReading {
        let percent = ElongationReading::new(0.2).unwrap();
        let measurement = Measurement::percent(Instrument::Rule, percent).unwrap();
        TimedReading::new(ReferenceKilometres::new(at).unwrap(), measurement)
    }

    #[test]
    fn a_mean_over_time_is_the_integral() {
        for (slope, from, to) in [(0.3, -2.0, -0.5), (-0.4, -1.0, 0.0), (1e-7, -1.0, -0.2), (0.3, -0.5, 0.7)]
        {
            let n = 20_000;
            let width = (to - from) / f64::from(n);
            let sum: f64 =
                (0..n).map(|i| (slope * (from + (f64::from(i) + 0.5) * width).min(0.0)).exp()).sum();
            let mean = sum / f64::from(n);
            assert!((mean_factor(slope, (from, to)) - mean).abs() < 1e-8, "{slope} {from} {to}");
        }
        assert_eq!(mean_factor(0.3, (0.0, 1.0)), 1.0);
    }

    #[test]
    fn without_a_slope_exposures_stay() {
        let none = Drift::kept(0.0, 0.1, 20_000, None);
        let readings = [read(800.0), read(300.0)];
        let days = Days::of_readings(&[19_900, 19_700]).begun(19_600);
        let counted = none.counted(&readings, days, (19_950, ReferenceKilometres::new(900.0).unwrap()));
        assert!(readings.iter().zip(&counted.readings).all(|(a, b)| (a.at.get() - b.at.get()).abs() < 1e-9));
        assert!((counted.now.get() - 900.0).abs() < 1e-9 && counted.ln_rate.abs() < 1e-12);
    }

    #[test]
    fn the_clock_of_another_day_runs_slower_by_what_wear_had_grown() {
        let drift = Drift::kept(0.4, 0.1, 20_000, None);
        let readings = [read(500.0)];
        let days = Days::of_readings(&[19_600]).begun(19_500);
        let km = ReferenceKilometres::new(700.0).unwrap();
        let last = drift.counted(&readings, days, (20_000, km));
        let then = drift.counted(&readings, days, (19_650, km));
        // As much wear by either clock: rate times exposure.
        let wear = |of: &Counted| of.readings[0].at.get() * of.ln_rate.exp();
        assert!((wear(&last) / wear(&then) - 1.0).abs() < 1e-12);
        assert!((last.ln_rate - 0.4 * 45.0 / DAYS_A_YEAR).abs() < 1e-12);
        assert!(last.readings[0].at.get() < 500.0 * (-0.4 * 0.9_f64).exp());
        assert!((last.recorded(last.readings[0].at.get()) - 500.0).abs() < 1e-9);
        assert!((then.recorded(then.now.get()) - 700.0).abs() < 1e-9);
        assert!((then.recorded(then.counted(321.0)) - 321.0).abs() < 1e-9);
    }

    #[test]
    fn a_clock_of_factors_runs_on_between_readings() {
        let km = |km: f64| ReferenceKilometres::new(km).unwrap();
        let counted = Counted::as_recorded(vec![read(400.0), read(600.0)], km(1_000.0))
            .by_factors(&[1.0, 0.5, 2.0], 0.1);
        assert_eq!(counted.readings.iter().map(|it| it.at.get()).collect::<Vec<_>>(), [400.0, 500.0]);
        assert_eq!((counted.now.get(), counted.ln_rate), (1_300.0, 0.1));
        assert_eq!((counted.counted(500.0), counted.recorded(900.0)), (450.0, 800.0));
        let drift = Drift::kept(0.4, 0.1, 20_000, None);
        let days = Days::of_readings(&[19_600]).begun(19_500);
        let drifting = drift.counted(&[read(500.0)], days, (20_000, km(700.0)));
        let both = drifting.clone().by_factors(&[0.5, 0.5], 0.2);
        assert!((both.now.get() - 0.5 * drifting.now.get()).abs() < 1e-9);
        assert!((both.ln_rate - drifting.ln_rate - 0.2).abs() < 1e-12);
    }

    #[test]
    fn a_beginning_that_nobody_knows_follows_from_the_pace() {
        let calendar = Calendar { of_day: 1_000, km_a_day: Some(10.0) };
        let years = calendar.years(None, &[(900, 500.0), (950, 800.0)]);
        assert!((years[0].0 * DAYS_A_YEAR + 150.0).abs() < 1e-9);
        assert!(
            (years[1].0 * DAYS_A_YEAR + 100.0).abs() < 1e-9 && (years[1].1 * DAYS_A_YEAR + 50.0).abs() < 1e-9
        );
    }
}
