//! The five instruments, and how far each is off.

use std::fmt;
use std::str::FromStr;

use thiserror::Error;

use crate::bounds::OutOfRange;
use crate::units::{InstrumentBias, InstrumentSd};

/// A way to measure a chain.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
#[non_exhaustive]
pub enum Instrument {
    /// A rule along the tensioned chain, pin edge to same pin edge.
    Rule,
    /// A caliper between rollers of the tensioned chain.
    Caliper,
    /// An electronic or dial gauge that shows a percentage.
    Dial,
    /// A gauge with a nominal mark that pushes the rollers at its ends apart: it reads early.
    DropIn,
    /// A gauge with a nominal mark that pushes both rollers the same way.
    DropInIsolating,
}

impl Instrument {
    /// All instruments.
    pub const ALL: [Self; 5] = [Self::Rule, Self::Caliper, Self::Dial, Self::DropIn, Self::DropInIsolating];

    /// The name in snake case, as the service spells it.
    #[must_use]
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Rule => "rule",
            Self::Caliper => "caliper",
            Self::Dial => "dial",
            Self::DropIn => "drop_in",
            Self::DropInIsolating => "drop_in_isolating",
        }
    }

    /// Whether the instrument answers yes or no at a mark instead of giving a number.
    #[must_use]
    pub const fn is_gauge(self) -> bool {
        matches!(self, Self::DropIn | Self::DropInIsolating)
    }

    /// Bias and standard deviation when the workshop has not calibrated its own (A; early reading of
    /// the drop-in gauge also T).
    #[must_use]
    pub const fn default_calibration(self) -> Calibration {
        let (bias, sd) = match self {
            Self::Rule => (0.0, 0.06),
            Self::Caliper => (0.02, 0.03),
            Self::Dial => (0.0, 0.025),
            Self::DropIn => (0.12, 0.05),
            Self::DropInIsolating => (0.0, 0.05),
        };
        Calibration { bias, sd }
    }
}

impl fmt::Display for Instrument {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.as_str())
    }
}

/// A name that is no instrument's.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[error("instrument is {name:?}, allowed rule, caliper, dial, drop_in, drop_in_isolating")]
pub struct UnknownInstrument {
    /// What was given.
    pub name: String,
}

impl FromStr for Instrument {
    type Err = UnknownInstrument;

    fn from_str(name: &str) -> Result<Self, UnknownInstrument> {
        Self::ALL
            .into_iter()
            .find(|instrument| instrument.as_str() == name)
            .ok_or_else(|| UnknownInstrument { name: name.to_owned() })
    }
}

/// How far one instrument is off: it reads `ε + bias`, with standard deviation `sd`.
///
/// For a gauge the same two numbers describe the elongation at which it drops in: mark minus bias.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Calibration {
    bias: f64,
    sd: f64,
}

impl Calibration {
    /// A workshop's own calibration.
    #[must_use]
    pub fn new(bias: InstrumentBias, sd: InstrumentSd) -> Self {
        Self { bias: bias.get(), sd: sd.get() }
    }

    /// Parses both numbers, percent elongation.
    ///
    /// # Errors
    /// [`OutOfRange`] naming the number that is outside [`crate::bounds::INSTRUMENT_BIAS`] or
    /// [`crate::bounds::INSTRUMENT_SD`].
    pub fn parse(bias: f64, sd: f64) -> Result<Self, OutOfRange> {
        Ok(Self::new(InstrumentBias::new(bias)?, InstrumentSd::new(sd)?))
    }

    /// Read minus true, percent elongation.
    #[must_use]
    pub const fn bias(self) -> f64 {
        self.bias
    }

    /// Standard deviation of one reading, percent elongation.
    #[must_use]
    pub const fn sd(self) -> f64 {
        self.sd
    }
}

/// The calibrations a workshop has made, over the defaults.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct InstrumentCalibrations {
    own: [Option<Calibration>; Instrument::ALL.len()],
}

impl InstrumentCalibrations {
    /// The same set with one instrument's calibration replaced.
    #[must_use]
    pub fn with(mut self, instrument: Instrument, calibration: Calibration) -> Self {
        self.own[instrument as usize] = Some(calibration);
        self
    }

    /// The calibration in force for `instrument`.
    #[must_use]
    pub fn of(&self, instrument: Instrument) -> Calibration {
        self.own[instrument as usize].unwrap_or_else(|| instrument.default_calibration())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_go_there_and_back() {
        for instrument in Instrument::ALL {
            assert_eq!(instrument.as_str().parse(), Ok(instrument));
        }
        let error = "ruler".parse::<Instrument>().unwrap_err();
        assert!(error.to_string().contains("\"ruler\"") && error.to_string().contains("drop_in_isolating"));
    }

    #[test]
    fn own_calibration_replaces_the_default_of_one_instrument_only() {
        let own = InstrumentCalibrations::default()
            .with(Instrument::Dial, Calibration::parse(0.05, 0.01).unwrap());
        assert_eq!(own.of(Instrument::Dial).bias(), 0.05);
        assert_eq!(own.of(Instrument::DropIn), Instrument::DropIn.default_calibration());
    }
}
