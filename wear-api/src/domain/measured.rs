//! What was entered for a reading, and the measurement that the core makes of it.

use wear_core::units::{ElongationReading, GaugeMark};

use super::{Instrument, Invalid, Measurement};

/// What a person or a device entered. Kept as it was entered: the core's measurement keeps only what
/// the likelihood needs.
#[derive(Debug, Clone, PartialEq)]
pub enum Entry {
    /// A percentage.
    Percent {
        /// Rule, caliper or dial.
        instrument: Instrument,
        /// What it showed.
        percent: ElongationReading,
    },
    /// Percentages at several places on the chain.
    Spots {
        /// Rule, caliper or dial.
        instrument: Instrument,
        /// What it showed at each.
        spots: Vec<ElongationReading>,
    },
    /// A length over a number of pitches.
    Length {
        /// The rule.
        instrument: Instrument,
        /// Pitches measured over.
        pitches: u32,
        /// Length, mm.
        length_mm: f64,
    },
    /// Whether a gauge dropped in.
    Gauge {
        /// One of the two drop-in gauges.
        instrument: Instrument,
        /// Its nominal mark.
        mark: GaugeMark,
        /// Whether it dropped in.
        drops_in: bool,
    },
}

/// An entry that makes a measurement.
#[derive(Debug, Clone, PartialEq)]
pub struct Measured {
    entry: Entry,
    measurement: Measurement,
}

impl Measured {
    /// Checks an entry.
    ///
    /// # Errors
    /// [`Invalid`] when the instrument doesn't give what was entered, or a number is out of range.
    pub fn new(entry: Entry) -> Result<Self, Invalid> {
        let measurement = match &entry {
            Entry::Percent { instrument, percent } => Measurement::spots(*instrument, &[*percent])?,
            Entry::Spots { instrument, spots } => Measurement::spots(*instrument, spots)?,
            Entry::Length { instrument, pitches, length_mm } => {
                Measurement::length(*instrument, *pitches, *length_mm)?
            }
            Entry::Gauge { instrument, mark, drops_in } => Measurement::gauge(*instrument, *mark, *drops_in)?,
        };
        Ok(Self { entry, measurement })
    }

    /// What was entered.
    #[must_use]
    pub const fn entry(&self) -> &Entry {
        &self.entry
    }

    /// What the core makes of it.
    #[must_use]
    pub const fn measurement(&self) -> &Measurement {
        &self.measurement
    }
}
