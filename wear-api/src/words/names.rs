//! What the domain's words are called on the pages.

use wear_core::bike::Warning;
use wear_core::degradation::ExplanationKind;
use wear_core::exposure::Driver;
use wear_core::reading::Content;
use wear_core::{Moment, Reason};

use super::Words;
use crate::domain::{
    CareKind, Entry, Gearing, Instrument, Measured, Outlook, Place, SwapReason, Teeth, Timestamp, Use,
};

/// Less likely explanations aren't worth a line (A).
pub(crate) const LEAST: f64 = 0.005;

impl Words {
    /// A place on a bike.
    pub fn place(&self, place: Place) -> String {
        self.word("place", place.as_str())
    }

    /// A place on a bike, with the teeth of what is there where it has some of its own.
    pub fn place_with_teeth(&self, place: Place, teeth: Option<Teeth>) -> String {
        match teeth {
            Some(teeth) => format!("{} {}", self.place(place), teeth.get()),
            None => self.place(place),
        }
    }

    /// An instrument.
    pub fn instrument(&self, instrument: Instrument) -> String {
        self.word("instrument", instrument.as_str())
    }

    /// Why a cassette or rings came off.
    pub fn swap_reason(&self, reason: SwapReason) -> String {
        self.word("swap-reason", reason.as_str())
    }

    /// A kind of care.
    pub fn care(&self, kind: CareKind) -> String {
        self.word("care", kind.as_str())
    }

    /// A use.
    pub fn usage(&self, usage: Use) -> String {
        self.word("use", usage.as_str())
    }

    /// A kind of gearing.
    pub fn gearing(&self, gearing: Gearing) -> String {
        self.word("gearing", gearing.as_str())
    }

    /// A cause of wear.
    pub fn driver_name(&self, driver: Driver) -> String {
        match driver {
            Driver::Distance => self.driver_distance(),
            Driver::Energy => self.driver_energy(),
            Driver::Gears => self.driver_gears(),
            Driver::Surface => self.driver_surface(),
            Driver::Wet => self.driver_wet(),
            Driver::Care => self.driver_care(),
        }
    }

    fn day_of_moment(&self, moment: Moment) -> String {
        self.date(Timestamp::day_of(moment))
    }

    /// A warning.
    pub fn warning(&self, warning: &Warning) -> String {
        match warning {
            Warning::UnevenChain { .. } => self.warning_uneven(),
            Warning::ContradictoryReadings { .. } => self.warning_contradiction(),
            Warning::NoReading => self.warning_no_reading(),
            Warning::NoChain => self.warning_no_chain(),
            Warning::SkipReported { reported_at, teeth } => {
                self.warning_skip(self.day_of_moment(*reported_at), teeth)
            }
            Warning::NewCounter { between: (before, after), before_km, after_km } => self
                .warning_new_counter(
                    self.ridden(*before_km),
                    self.day_of_moment(*before),
                    self.ridden(*after_km),
                    self.day_of_moment(*after),
                ),
            Warning::RidesExceedCounter { between: (before, after), counter_km, rides_km } => self
                .warning_rides_exceed(
                    self.day_of_moment(*before),
                    self.day_of_moment(*after),
                    self.ridden(*rides_km),
                    self.ridden(*counter_km),
                ),
            Warning::CareSilent { since_km } => self.warning_care_silent(self.ridden(*since_km)),
            Warning::RecordInDoubt { explanation, probability, between } => {
                let (after, by) = (self.day_of_moment(between.0), self.day_of_moment(between.1));
                let percent = self.likely(*probability);
                match explanation {
                    ExplanationKind::UnrecordedSwap => self.warning_unrecorded_swap(percent, after, by),
                    ExplanationKind::MissingRiding => self.warning_missing_rides(percent, after, by),
                    ExplanationKind::WrongReading => self.warning_wrong_reading(percent, by),
                    // Chance is never what a record is doubted for.
                    ExplanationKind::AsRecorded => self.warning_contradiction(),
                }
            }
            other => other.to_string(),
        }
    }

    /// The probability of an explanation; nothing is ever sure.
    pub fn likely(&self, probability: f64) -> String {
        if probability > 1.0 - LEAST {
            self.doubt_nearly_sure()
        } else {
            self.percent(100.0 * probability, 0)
        }
    }

    /// An outlook's warnings, each said once, without what the page says better elsewhere: `explained` when it shows what
    /// may have happened.
    pub fn warnings(&self, outlook: &Outlook, explained: bool) -> Vec<String> {
        let mut said: Vec<String> = Vec::new();
        for warning in &outlook.warnings {
            let elsewhere = match warning {
                Warning::RecordInDoubt { .. } => explained,
                Warning::ContradictoryReadings { .. } => !outlook.explanations.is_empty(),
                Warning::NoReading => outlook.reason == Reason::AgeUnknown,
                _ => false,
            };
            let sentence = self.warning(warning);
            if !elsewhere && !said.contains(&sentence) {
                said.push(sentence);
            }
        }
        said
    }

    /// What was entered for a reading.
    pub fn measured(&self, measured: &Measured) -> String {
        let instrument = self.instrument(measured.measurement().instrument());
        match (measured.entry(), measured.measurement().content()) {
            (Entry::Length { pitches, length_mm, .. }, Content::Elongation(spots)) => self.measured_length(
                instrument,
                self.number(*length_mm, 1),
                pitches,
                self.percent(spots.mean(), 2),
            ),
            (_, Content::Elongation(spots)) if spots.count() > 1 => self.measured_spots(
                instrument,
                spots.count(),
                self.percent(spots.mean(), 2),
                self.percent(spots.worst(), 2),
            ),
            (_, Content::Elongation(spots)) => {
                self.measured_percent(instrument, self.percent(spots.mean(), 2))
            }
            (_, Content::Gauge { mark, drops_in: true }) => {
                self.measured_in(instrument, self.percent(mark.get(), 2))
            }
            (_, Content::Gauge { mark, drops_in: false }) => {
                self.measured_out(instrument, self.percent(mark.get(), 2))
            }
            _ => instrument,
        }
    }
}
