//! A reading, as it is written down.

use crate::bounds::OutOfRange;
use crate::reading::{Calibration, Instrument, Measurement, MeasurementError};
use crate::units::{ElongationReading, GaugeMark};

/// What one instrument said of a chain.
///
/// ```
/// use wear_core::Reading;
///
/// let rule = Reading::rule_mm(24, 306.2)?; // 24 pitches, pin edge to same pin edge, chain under tension
/// let dial = Reading::dial(&[0.30, 0.33, 0.31])?; // percent, at three places
/// let gauge = Reading::drop_in(0.5, false)?; // the 0.5 % side doesn't drop in
/// # Ok::<(), wear_core::reading::MeasurementError>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reading {
    measurement: Measurement,
    calibration: Option<Calibration>,
}

impl Reading {
    /// A length, mm, over a number of pitches by steel rule; 24 pitches of a new chain are 304.8 mm.
    ///
    /// # Errors
    /// [`MeasurementError::OutOfRange`] where count or unit must be wrong: see [`Measurement::length`].
    pub fn rule_mm(pitches: u32, length_mm: f64) -> Result<Self, MeasurementError> {
        Measurement::length(Instrument::Rule, pitches, length_mm).map(Self::from)
    }

    /// Percent elongation by steel rule.
    ///
    /// # Errors
    /// [`MeasurementError::OutOfRange`] outside [`crate::bounds::ELONGATION_READING`].
    pub fn rule(percent: f64) -> Result<Self, MeasurementError> {
        Self::percent(Instrument::Rule, &[percent])
    }

    /// Percent elongation by caliper between rollers, at one or several places.
    ///
    /// # Errors
    /// [`MeasurementError`] for no place, more than [`crate::bounds::SPOTS`], or a percent that can't be.
    pub fn caliper(percents: &[f64]) -> Result<Self, MeasurementError> {
        Self::percent(Instrument::Caliper, percents)
    }

    /// Percent elongation by dial or electronic gauge, at one or several places.
    ///
    /// # Errors
    /// As [`Reading::caliper`].
    pub fn dial(percents: &[f64]) -> Result<Self, MeasurementError> {
        Self::percent(Instrument::Dial, percents)
    }

    /// Whether a drop-in gauge drops in at its mark, percent.
    ///
    /// # Errors
    /// [`MeasurementError::OutOfRange`] outside [`crate::bounds::GAUGE_MARK`].
    pub fn drop_in(mark: f64, drops_in: bool) -> Result<Self, MeasurementError> {
        Measurement::gauge(Instrument::DropIn, GaugeMark::new(mark)?, drops_in).map(Self::from)
    }

    /// The same by a gauge that pushes both rollers the same way.
    ///
    /// # Errors
    /// [`MeasurementError::OutOfRange`] outside [`crate::bounds::GAUGE_MARK`].
    pub fn drop_in_isolating(mark: f64, drops_in: bool) -> Result<Self, MeasurementError> {
        Measurement::gauge(Instrument::DropInIsolating, GaugeMark::new(mark)?, drops_in).map(Self::from)
    }

    fn percent(instrument: Instrument, percents: &[f64]) -> Result<Self, MeasurementError> {
        let percents: Vec<ElongationReading> = percents
            .iter()
            .map(|percent| ElongationReading::new(*percent))
            .collect::<Result<_, OutOfRange>>()?;
        Measurement::spots(instrument, &percents).map(Self::from)
    }

    /// The same read with a tool and by a person that err so, in place of how the instrument errs; see
    /// [`crate::fleet::LearnedTools::calibration`].
    #[must_use]
    pub const fn with_calibration(self, calibration: Calibration) -> Self {
        Self { calibration: Some(calibration), ..self }
    }

    /// The measurement.
    #[must_use]
    pub const fn measurement(&self) -> &Measurement {
        &self.measurement
    }

    /// How its tool and its person err, where that is known.
    #[must_use]
    pub const fn calibration(&self) -> Option<Calibration> {
        self.calibration
    }
}

impl From<Measurement> for Reading {
    fn from(measurement: Measurement) -> Self {
        Self { measurement, calibration: None }
    }
}
