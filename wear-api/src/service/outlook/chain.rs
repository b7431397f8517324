//! What is known of one chain: its posterior, and what it expects to have done to the sprockets.

use std::sync::OnceLock;

use wear_core::degradation::{OpenExposure, Posterior, Sight, TimedReading, WearParameters};
use wear_core::exposure::ExposureSum;
use wear_core::knock_on;
use wear_core::reading::{Content, InstrumentCalibrations, Measurement};
use wear_core::units::{LogSd, ReferenceKilometres};

use super::timeline::Accrued;
use crate::domain::{ReadingId, Timestamp, Warning};

/// A reading of the chain that counts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ChainReading {
    /// Its id.
    pub id: ReadingId,
    /// When it was taken.
    pub taken_at: Timestamp,
    /// What was read.
    pub measurement: Measurement,
}

/// A chain with its exposure and what is known of its elongation.
#[derive(Debug)]
pub struct Chain {
    /// What it went through.
    pub accrued: Accrued,
    /// What is known of it.
    pub posterior: Posterior,
    /// Its readings with their exposures, in order of time, each with its place in the caller's list.
    pub timed: Vec<(usize, TimedReading)>,
    open: OpenExposure,
    knock_on: OnceLock<ExpectedKnockOn>,
}

/// Step of the grid over elongation for expectations, percent.
const STEP: f64 = 0.02;

/// End of that grid, percent; what is beyond counts as at the end.
const END: f64 = 2.0;

impl Chain {
    /// The chain's posterior, from its readings in any order; `accrued.at_mark` holds the exposure at each.
    #[must_use]
    pub fn new(
        accrued: Accrued,
        readings: &[ChainReading],
        parameters: &WearParameters,
        calibrations: &InstrumentCalibrations,
    ) -> Self {
        let mut before = ExposureSum::default();
        let mut timed = Vec::with_capacity(readings.len());
        for mark in &accrued.at_mark {
            let Some(reading) = readings.get(mark.place) else { continue };
            let Ok(at) = ReferenceKilometres::new(mark.reference_km.max(0.0)) else { continue };
            // What a way shares with the whole of the chain's exposure is in the spread of its rate already.
            let apart = mark.mix.since(&before).ln_sd_apart_from(&accrued.mix);
            let reading = TimedReading::new(at, reading.measurement).with_exposure_ln_sd(apart);
            timed.push((mark.place, reading));
            before = mark.mix;
        }
        let since_last_reading = accrued.mix.since(&before).ln_sd_apart_from(&accrued.mix);
        let open = OpenExposure { since_last_reading, ahead: LogSd::ZERO };
        let readings: Vec<TimedReading> = timed.iter().map(|(_, reading)| *reading).collect();
        let posterior = Posterior::of(parameters, calibrations, &readings).with_open_exposure(open);
        Self { accrued, posterior, timed, open, knock_on: OnceLock::new() }
    }

    /// What lies ahead is ridden as of late: how far that may be off compared with the chain's past.
    pub fn look_ahead(&mut self, recent: &ExposureSum) {
        let mut recent = *recent;
        recent.forget_single_rides();
        self.open.ahead = recent.ln_sd_apart_from(&self.accrued.mix);
        self.posterior.set_open_exposure(self.open);
    }

    /// Exposure up to now, or up to the chain's removal.
    #[must_use]
    pub fn at(&self) -> ReferenceKilometres {
        exposure(&self.accrued)
    }

    /// Expected wear rate, percent per reference km.
    #[must_use]
    pub fn mean_rate(&self) -> f64 {
        // E θ of a log-normal θ
        let (mean, sd) = self.posterior.log_rate();
        (mean + 0.5 * sd * sd).exp()
    }

    /// What it is expected to have done by now, or by its removal.
    #[must_use]
    pub fn knock_on(&self) -> ExpectedKnockOn {
        *self.knock_on.get_or_init(|| self.knock_on_at(self.at()))
    }

    /// The same, from what was computed for other questions as well.
    #[must_use]
    pub fn knock_on_seen(&self, chain: &Sight<'_>) -> ExpectedKnockOn {
        *self.knock_on.get_or_init(|| expected_knock_on(|grid| chain.elongation_density(grid)))
    }

    /// What it was expected to have done at an earlier exposure.
    #[must_use]
    pub fn knock_on_at(&self, at: ReferenceKilometres) -> ExpectedKnockOn {
        expected_knock_on(|grid| self.posterior.elongation_density(at, grid))
    }

    /// What a person should know of the readings.
    #[must_use]
    pub fn warnings(&self, readings: &[ChainReading]) -> Vec<Warning> {
        let mut warnings: Vec<Warning> = readings
            .iter()
            .filter(|reading| {
                reading.measurement.as_spots().is_some_and(wear_core::reading::Spots::is_uneven)
            })
            .map(|reading| Warning {
                code: "uneven_chain".to_owned(),
                message: format!(
                    "The spots read on {} differ by more than {} %: look for a stiff or damaged stretch",
                    reading.taken_at.utc_date(),
                    wear_core::reading::SPREAD_THAT_WARNS
                ),
            })
            .collect();
        warnings.extend(self.posterior.contradictions().iter().map(|found| Warning {
            code: "contradictory_readings".to_owned(),
            message: match &found.earlier {
                Some(earlier) => format!(
                    "{} and {} contradict each other by {:.1} standard deviations. Either another chain was measured, or this chain was changed and nobody wrote it down: void the wrong reading, or enter the swap",
                    described(earlier),
                    described(&found.later),
                    found.deviations
                ),
                None => format!(
                    "{} is {:.1} standard deviations from what the rides explain: check the reading and the rides",
                    described(&found.later),
                    found.deviations
                ),
            },
        }));
        warnings
    }
}

/// A reading in words: `the rule reading of 0.41 % at 1200 reference km`.
fn described(reading: &TimedReading) -> String {
    let instrument = reading.measurement.instrument().as_str().replace('_', "-");
    let said = match reading.measurement.content() {
        Content::Elongation(spots) => format!("of {:.2} %", spots.mean()),
        Content::Gauge { mark, drops_in: true } => format!("that dropped in at {} %", mark.get()),
        Content::Gauge { mark, drops_in: false } => format!("that did not drop in at {} %", mark.get()),
        _ => String::new(),
    };
    format!("the {instrument} reading {said} at {:.0} reference km", reading.at.get())
}

fn exposure(accrued: &Accrued) -> ReferenceKilometres {
    ReferenceKilometres::new(accrued.reference_km.max(0.0)).unwrap_or(ReferenceKilometres::ZERO)
}

/// Expectations of [`knock_on::accrued`] and [`knock_on::slope`] over a density.
fn expected_knock_on(density: impl FnOnce(&[f64]) -> Vec<f64>) -> ExpectedKnockOn {
    let grid: Vec<f64> = (0..=(END / STEP) as u32).map(|i| f64::from(i) * STEP).collect();
    let density = density(&grid);
    let mass: f64 = density.iter().sum();
    let expected = |of: fn(f64) -> f64| {
        if mass > 0.0 {
            grid.iter().zip(&density).map(|(&e, d)| of(e) * d).sum::<f64>() / mass
        } else {
            // All of it lies outside of the grid.
            of(END)
        }
    };
    ExpectedKnockOn { accrued: expected(knock_on::accrued), slope: expected(knock_on::slope) }
}

/// What a chain is expected to have done to the sprockets, and does per percent of further elongation.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ExpectedKnockOn {
    /// Cassettes used up on the busiest sprocket.
    pub accrued: f64,
    /// Cassettes per percent.
    pub slope: f64,
}

#[cfg(test)]
mod tests {
    use chrono::{Days, NaiveDate};
    use wear_core::exposure::care::CareModel;
    use wear_core::exposure::{ExposureModel, Surface};
    use wear_core::reading::Instrument;
    use wear_core::units::{ElongationReading, Limit};

    use super::super::timeline::{Event, Stint, Stretch, accrue};
    use super::*;
    use crate::domain::{BikeDay, BikeDayKey, BikeId};

    const MM: i64 = 1_000_000;

    /// Days of 30 km and 30 reference km before context, on pavement or in mud, with power measured or nothing known.
    fn ridden(days: u32, surface: Surface, measured: bool) -> Vec<Stretch> {
        let first = NaiveDate::from_ymd_opt(2026, 1, 1).expect("a date");
        let bike_id = BikeId::generate();
        (0..days)
            .map(|n| {
                let day = first + Days::new(u64::from(n));
                let at =
                    Timestamp::new(day.and_hms_opt(8, 0, 0).expect("a time").and_utc()).expect("an instant");
                let mut sum = BikeDay::empty(BikeDayKey { bike_id, day, surface, wet: false });
                sum.rides = 1;
                sum.distance_mm = 30 * MM;
                sum.energy_j = 600_000;
                sum.base_reference_mm = 30 * MM;
                sum.measured_reference_mm = if measured { 30 * MM } else { 0 };
                Stretch { at, day, sums: vec![sum] }
            })
            .collect()
    }

    fn chain(surface: Surface, measured: bool, read: bool, ahead: Surface) -> (f64, f64) {
        let model = (ExposureModel::default(), CareModel::default());
        let days = ridden(40, surface, measured);
        let taken_at = days[39].at.plus(chrono::Duration::hours(6));
        let events = vec![(taken_at, Event::Mark(0))];
        let mut accrued = accrue(&[Stint { stretches: days, events }], &model.0, &model.1);
        let percent = ElongationReading::new(0.25).expect("a percentage");
        let measurement = Measurement::percent(Instrument::Dial, percent).expect("a number");
        if !read {
            accrued.at_mark.clear();
        }
        let parameters = WearParameters::default().with_shared_exposure_error(accrued.mix.shared_ln_sd());
        let reading = ChainReading { id: crate::domain::ReadingId::generate(), taken_at, measurement };
        let mut chain = Chain::new(accrued, &[reading], &parameters, &InstrumentCalibrations::default());
        let future = Stint { stretches: ridden(40, ahead, measured), events: Vec::new() };
        chain.look_ahead(&accrue(&[future], &model.0, &model.1).mix);
        let remaining = chain.posterior.outlook(chain.at(), Limit::new(0.75).expect("a limit")).remaining;
        (remaining.p50, (remaining.p90 / remaining.p10).ln())
    }

    #[test]
    fn a_bike_of_unknown_work_has_a_wider_outlook_until_its_chain_is_read() {
        let width = |measured, read| chain(Surface::Paved, measured, read, Surface::Paved).1;
        let (unknown, known) = (width(false, false), width(true, false));
        assert!(unknown > 1.05 * known, "unread: {unknown} against {known}");
        let (unknown_read, known_read) = (width(false, true), width(true, true));
        assert!(unknown_read < unknown && known_read < known);
        assert!(unknown_read / known_read < unknown / known, "{unknown_read} {known_read} {unknown} {known}");
    }

    #[test]
    fn a_chain_that_leaves_the_road_for_mud_has_a_wider_outlook() {
        let width = |ahead| chain(Surface::Paved, true, true, ahead).1;
        assert!(width(Surface::Mud) > 1.3 * width(Surface::Paved));
        // A chain that was measured in mud has mud's multiplier in its own rate.
        let in_mud = chain(Surface::Mud, true, true, Surface::Mud).1;
        assert!(in_mud < width(Surface::Mud), "{in_mud}");
    }
}
