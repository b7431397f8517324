//! What the domain's words are called on the pages.

use wear_core::reading::Content;

use super::words::Words;
use crate::domain::{CareKind, Entry, Gearing, Instrument, Measured, Place, Use, Warning};

impl Words {
    /// A place on a bike.
    pub fn place(&self, place: Place) -> String {
        self.word("place", place.as_str())
    }

    /// An instrument.
    pub fn instrument(&self, instrument: Instrument) -> String {
        self.word("instrument", instrument.as_str())
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

    /// A cause of wear, by its word.
    pub fn driver_named(&self, word: &str) -> String {
        match word {
            "distance" => self.driver_distance(),
            "energy" => self.driver_energy(),
            "gears" => self.driver_gears(),
            "surface" => self.driver_surface(),
            "wet" => self.driver_wet(),
            "care" => self.driver_care(),
            other => other.replace('_', " "),
        }
    }

    /// A warning: our own sentence where we have one, else the service's.
    pub fn warning(&self, warning: &Warning) -> String {
        match warning.code.as_str() {
            "uneven_chain" => self.warning_uneven(),
            "contradictory_readings" => self.warning_contradiction(),
            "no_reading" => self.warning_no_reading(),
            "no_chain" => self.warning_no_chain(),
            "skip_reported" => {
                self.skip_reported(&warning.message).unwrap_or_else(|| warning.message.clone())
            }
            _ => warning.message.clone(),
        }
    }

    /// The warning of a skip; its day and cog stand in the service's sentence.
    fn skip_reported(&self, said: &str) -> Option<String> {
        let (_, rest) = said.split_once(" reported on ")?;
        let (day, rest) = rest.split_once(" on the ")?;
        let (teeth, _) = rest.split_once("-tooth cog")?;
        Some(self.warning_skip(self.date(day.parse().ok()?), teeth))
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
