//! The five instruments, and how far each is off.

use crate::bounds::{self, OutOfRange};
use crate::units::{InstrumentBias, InstrumentSd};
use crate::vocabulary::vocabulary;

vocabulary! {
    /// A way to measure a chain.
    Instrument, "instrument" {
        /// A rule along the tensioned chain, pin edge to same pin edge.
        Rule = "rule",
        /// A caliper between rollers of the tensioned chain.
        Caliper = "caliper",
        /// An electronic or dial gauge that shows a percentage.
        Dial = "dial",
        /// A gauge with a nominal mark that pushes the rollers at its ends apart: it reads early.
        DropIn = "drop_in",
        /// A gauge with a nominal mark that pushes both rollers the same way.
        DropInIsolating = "drop_in_isolating",
    }
}

impl Instrument {
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
        Calibration { bias, sd, unknown: 0.0 }
    }
}

/// How far one instrument is off: it reads `ε + bias`, with standard deviation `sd`.
///
/// The bias may itself be known only to some extent. For a gauge the same numbers describe the elongation at which it drops in: mark minus bias.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Calibration {
    bias: f64,
    sd: f64,
    unknown: f64,
}

impl Calibration {
    /// A workshop's own calibration.
    #[must_use]
    pub fn new(bias: InstrumentBias, sd: InstrumentSd) -> Self {
        Self { bias: bias.get(), sd: sd.get(), unknown: 0.0 }
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

    /// From numbers that were learned: what is outside the bounds counts as at them.
    pub(crate) fn clamped(bias: f64, sd: f64) -> Self {
        let within = |bound: &bounds::Bound, value: f64| value.clamp(bound.minimum, bound.maximum);
        Self {
            bias: within(&bounds::INSTRUMENT_BIAS, bias),
            sd: within(&bounds::INSTRUMENT_SD, sd),
            unknown: 0.0,
        }
    }

    /// The same with a bias that is known to no better than `sd`, percent elongation. It is the same at every spot of a
    /// chain, so that many spots don't average it out.
    ///
    /// # Errors
    /// [`OutOfRange`] for [`crate::bounds::UNKNOWN_BIAS`].
    pub fn with_unknown_bias(self, sd: f64) -> Result<Self, OutOfRange> {
        Ok(Self { unknown: bounds::UNKNOWN_BIAS.check(sd)?, ..self })
    }

    /// Standard deviation of one reading, percent elongation.
    #[must_use]
    pub const fn sd(self) -> f64 {
        self.sd
    }

    /// Standard deviation of what isn't known of the bias, percent elongation.
    #[must_use]
    pub const fn unknown_bias(self) -> f64 {
        self.unknown
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

    /// The workshop's own calibration of `instrument`, if it has made one.
    #[must_use]
    pub const fn own(&self, instrument: Instrument) -> Option<Calibration> {
        self.own[instrument as usize]
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
        for &instrument in Instrument::ALL {
            assert_eq!(instrument.as_str().parse(), Ok(instrument));
        }
        let error = "ruler".parse::<Instrument>().unwrap_err();
        assert!(error.to_string().contains("\"ruler\"") && error.to_string().contains("drop_in_isolating"));
    }

    #[test]
    fn own_calibration_replaces_the_default_of_one_instrument_only() {
        let own =
            InstrumentCalibrations::default().with(Instrument::Dial, Calibration::parse(0.05, 0.01).unwrap());
        assert_eq!(own.of(Instrument::Dial).bias(), 0.05);
        assert_eq!(own.of(Instrument::DropIn), Instrument::DropIn.default_calibration());
    }
}
