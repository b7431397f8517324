//! One visit with one instrument.

use thiserror::Error;

use super::{Calibration, Instrument, InstrumentCalibrations, Likelihood, Spots};
use crate::bounds::{self, OutOfRange};
use crate::units::{ElongationReading, GaugeMark};

/// Nominal pitch, mm (ISO 9633; S, attribution M).
const PITCH_MM: f64 = 12.7;

/// A validated measurement of one chain at one time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Measurement {
    instrument: Instrument,
    content: Content,
}

/// What the instrument said.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub enum Content {
    /// A number at one or several spots.
    Elongation(Spots),
    /// Yes or no at a mark.
    Gauge {
        /// The gauge's nominal mark.
        mark: GaugeMark,
        /// Whether it dropped in.
        drops_in: bool,
    },
}

/// Why numbers make no measurement.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
#[non_exhaustive]
pub enum MeasurementError {
    /// A gauge that answers yes or no was given a number.
    #[error("{instrument} answers whether it drops in at a mark, it has no percent")]
    GaugeHasNoPercent {
        /// The instrument that was named.
        instrument: Instrument,
    },
    /// An instrument that gives a number was given a mark.
    #[error("{instrument} gives a percent, it has no mark to drop in at")]
    NotAGauge {
        /// The instrument that was named.
        instrument: Instrument,
    },
    /// A length over pitches from an instrument other than the rule.
    #[error("{instrument} gives no length over pitches, only rule does")]
    NoLength {
        /// The instrument that was named.
        instrument: Instrument,
    },
    /// No spot, or more than a chain has room for.
    #[error("{count} spots given, allowed {}", bounds::SPOTS.allowed())]
    Spots {
        /// How many were given.
        count: usize,
    },
    /// A number outside its range.
    #[error(transparent)]
    OutOfRange(#[from] OutOfRange),
}

impl Measurement {
    /// A percentage from a rule, caliper or dial gauge.
    ///
    /// # Errors
    /// [`MeasurementError::GaugeHasNoPercent`] for a drop-in gauge.
    pub fn percent(instrument: Instrument, elongation: ElongationReading) -> Result<Self, MeasurementError> {
        Self::spots(instrument, &[elongation])
    }

    /// A length in mm over a number of pitches, read from a rule: `100·(length/(12.7·pitches) − 1)`.
    ///
    /// # Errors
    /// [`MeasurementError::NoLength`] for another instrument; [`MeasurementError::OutOfRange`] when
    /// the pitches are outside [`bounds::MEASURED_PITCHES`] or no whole number, or the length scaled
    /// to 24 pitches is outside [`bounds::LENGTH_PER_24_PITCHES`]: the unit or the count is wrong.
    pub fn length(instrument: Instrument, pitches: u32, length_mm: f64) -> Result<Self, MeasurementError> {
        if instrument != Instrument::Rule {
            return Err(MeasurementError::NoLength { instrument });
        }
        let pitches = bounds::MEASURED_PITCHES.check(f64::from(pitches))?;
        let per_24 = bounds::LENGTH_PER_24_PITCHES.check(length_mm * 24.0 / pitches)?;
        Self::percent(instrument, ElongationReading::new(100.0 * (per_24 / (24.0 * PITCH_MM) - 1.0))?)
    }

    /// Percentages at several spots on the chain.
    ///
    /// # Errors
    /// [`MeasurementError::GaugeHasNoPercent`] for a drop-in gauge, [`MeasurementError::Spots`] when
    /// their number is outside [`bounds::SPOTS`].
    pub fn spots(instrument: Instrument, readings: &[ElongationReading]) -> Result<Self, MeasurementError> {
        if instrument.is_gauge() {
            return Err(MeasurementError::GaugeHasNoPercent { instrument });
        }
        let wrong = MeasurementError::Spots { count: readings.len() };
        bounds::SPOTS.check(readings.len() as f64).map_err(|_| wrong)?;
        Ok(Self { instrument, content: Content::Elongation(Spots::of(readings).ok_or(wrong)?) })
    }

    /// From spots that were written down; `None` for a gauge.
    pub(crate) fn of_spots(instrument: Instrument, spots: Spots) -> Option<Self> {
        (!instrument.is_gauge()).then_some(Self { instrument, content: Content::Elongation(spots) })
    }

    /// Whether a drop-in gauge dropped in at its mark.
    ///
    /// # Errors
    /// [`MeasurementError::NotAGauge`] for an instrument that gives a number.
    pub fn gauge(instrument: Instrument, mark: GaugeMark, drops_in: bool) -> Result<Self, MeasurementError> {
        if instrument.is_gauge() {
            Ok(Self { instrument, content: Content::Gauge { mark, drops_in } })
        } else {
            Err(MeasurementError::NotAGauge { instrument })
        }
    }

    /// The instrument.
    #[must_use]
    pub const fn instrument(&self) -> Instrument {
        self.instrument
    }

    /// What it said.
    #[must_use]
    pub const fn content(&self) -> Content {
        self.content
    }

    /// The spots, unless a gauge answered.
    #[must_use]
    pub const fn as_spots(&self) -> Option<&Spots> {
        match &self.content {
            Content::Elongation(spots) => Some(spots),
            Content::Gauge { .. } => None,
        }
    }

    /// The likelihood of this measurement as a function of the true elongation.
    #[must_use]
    pub fn likelihood(&self, calibrations: &InstrumentCalibrations) -> Likelihood {
        Likelihood::new(self, calibrations.of(self.instrument))
    }

    /// The same read with an instrument of this calibration.
    #[must_use]
    pub fn likelihood_by(&self, calibration: Calibration) -> Likelihood {
        Likelihood::new(self, calibration)
    }

    /// `ln p(measurement | ε)`, ε in percent, with the instrument's default calibration.
    #[must_use]
    pub fn log_likelihood(&self, elongation_percent: f64) -> f64 {
        let likelihood = Likelihood::new(self, self.instrument.default_calibration());
        likelihood.log_peak() + likelihood.relative(elongation_percent).ln()
    }

    /// Standard deviation of the reported number or of the drop-in point.
    pub(crate) fn sd(&self, calibration: Calibration) -> f64 {
        match self.content {
            Content::Elongation(spots) => {
                (calibration.sd() / f64::from(spots.count()).sqrt()).hypot(calibration.unknown_bias())
            }
            Content::Gauge { .. } => calibration.sd().hypot(calibration.unknown_bias()),
        }
    }

    /// A total order that sees every number, so that histories can be sorted without ties that matter.
    pub(crate) fn order(&self, other: &Self) -> std::cmp::Ordering {
        self.sort_key().partial_cmp(&other.sort_key()).unwrap_or(std::cmp::Ordering::Equal)
    }

    fn sort_key(&self) -> [f64; 5] {
        let instrument = f64::from(self.instrument as u8);
        match self.content {
            Content::Elongation(spots) => {
                [instrument, f64::from(spots.count()), spots.mean(), spots.worst(), spots.spread()]
            }
            Content::Gauge { mark, drops_in } => {
                [instrument, mark.get(), f64::from(u8::from(drops_in)), 0.0, 0.0]
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn percent(value: f64) -> ElongationReading {
        ElongationReading::new(value).unwrap()
    }

    #[test]
    fn twelve_and_an_eighth_inches_over_24_pitches() {
        let measured = Measurement::length(Instrument::Rule, 24, 307.975).unwrap();
        assert!((measured.as_spots().unwrap().mean() - 1.041_67).abs() < 1e-5);
        let over_48 = Measurement::length(Instrument::Rule, 48, 2.0 * 307.975).unwrap();
        assert_eq!(measured, over_48);
    }

    #[test]
    fn what_cannot_be_is_named() {
        let gauge = Measurement::percent(Instrument::DropIn, percent(0.4)).unwrap_err();
        assert_eq!(gauge, MeasurementError::GaugeHasNoPercent { instrument: Instrument::DropIn });
        let mark = GaugeMark::new(0.5).unwrap();
        let rule = Measurement::gauge(Instrument::Rule, mark, true).unwrap_err();
        assert_eq!(rule, MeasurementError::NotAGauge { instrument: Instrument::Rule });
        let inches = Measurement::length(Instrument::Rule, 24, 12.0625).unwrap_err();
        assert!(inches.to_string().contains("304 to 311 mm"), "{inches}");
        let caliper = Measurement::length(Instrument::Caliper, 24, 305.0).unwrap_err();
        assert_eq!(caliper, MeasurementError::NoLength { instrument: Instrument::Caliper });
        let none = Measurement::spots(Instrument::Dial, &[]).unwrap_err();
        assert_eq!(none, MeasurementError::Spots { count: 0 });
        let many = Measurement::spots(Instrument::Dial, &[percent(0.1); 33]).unwrap_err();
        assert!(many.to_string().contains("33") && many.to_string().contains("1 to 32"), "{many}");
        assert!(Measurement::length(Instrument::Rule, 3, 38.1).is_err());
    }

    #[test]
    fn spots_in_any_order_are_the_same_measurement() {
        let there = Measurement::spots(Instrument::Dial, &[0.30, 0.33, 0.31].map(percent)).unwrap();
        let back = Measurement::spots(Instrument::Dial, &[0.31, 0.33, 0.30].map(percent)).unwrap();
        assert_eq!(there, back);
        let spots = there.as_spots().unwrap();
        assert!((spots.mean() - 0.313_333_333).abs() < 1e-9);
        assert_eq!(spots.worst(), 0.33);
        assert!((spots.spread() - 0.03).abs() < 1e-12 && !spots.is_uneven());
        assert_eq!(spots.excess(0.025), 0.0);
    }

    #[test]
    fn a_damaged_stretch_shows_as_spread_and_excess() {
        let damaged = Measurement::spots(Instrument::Dial, &[0.30, 0.31, 0.55].map(percent)).unwrap();
        let spots = damaged.as_spots().unwrap();
        assert!(spots.is_uneven());
        assert!((spots.excess(0.025) - (0.55 - 1.16 / 3.0 - 0.025 * 0.8193)).abs() < 1e-4);
    }
}
