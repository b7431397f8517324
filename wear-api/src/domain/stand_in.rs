//! Types that belong to `wear-core` and stand here until it has them.

use wear_core::bounds;
use wear_core::units::{ElongationReading, GaugeMark};

use super::Invalid;

super::word::words! {
    /// What a chain was measured with.
    Instrument, "instrument" {
        /// A rule.
        Rule = "rule",
        /// A caliper between rollers.
        Caliper = "caliper",
        /// An electronic or dial gauge.
        Dial = "dial",
        /// A gauge that drops in or doesn't.
        DropIn = "drop_in",
        /// The same, pushing both rollers the same way.
        DropInIsolating = "drop_in_isolating",
    }
}

/// A validated measurement.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Measurement(Instrument);

impl Measurement {
    /// Percentages at several spots on the chain.
    ///
    /// # Errors
    /// [`Invalid`].
    pub fn spots(instrument: Instrument, readings: &[ElongationReading]) -> Result<Self, Invalid> {
        bounds::SPOTS.check(readings.len() as f64)?;
        Ok(Self(instrument))
    }

    /// A length over a number of pitches.
    ///
    /// # Errors
    /// [`Invalid`].
    pub fn length(instrument: Instrument, pitches: u32, length_mm: f64) -> Result<Self, Invalid> {
        let pitches = bounds::MEASURED_PITCHES.check(f64::from(pitches))?;
        bounds::LENGTH_PER_24_PITCHES.check(length_mm * 24.0 / pitches)?;
        Ok(Self(instrument))
    }

    /// Whether a gauge dropped in.
    ///
    /// # Errors
    /// [`Invalid`].
    pub fn gauge(instrument: Instrument, _mark: GaugeMark, _drops_in: bool) -> Result<Self, Invalid> {
        Ok(Self(instrument))
    }

    /// The instrument.
    #[must_use]
    pub const fn instrument(&self) -> Instrument {
        self.0
    }
}
