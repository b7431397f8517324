//! The likelihood of each instrument.

use super::{Calibration, Content, Measurement};
use crate::degradation::{off_beyond, still_on};
use crate::numeric::normal;

/// Share of the peak below which no likelihood falls: the chance that a reading is a blunder and says
/// nothing (A). It keeps a posterior in existence whatever is read.
pub(crate) const FLOOR: f64 = 1e-10;

/// Deviations at which the normal density has fallen to [`FLOOR`]: `√(−2 ln 10⁻¹⁰)`.
const DEVIATIONS_TO_FLOOR: f64 = 6.79;

/// `p(reading | ε)` as a function of the true elongation ε, percent.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Likelihood {
    shape: Shape,
    /// Reported number less bias, or the elongation at which the gauge drops in.
    centre: f64,
    sd: f64,
}

#[derive(Debug, Clone, Copy, PartialEq)]
enum Shape {
    Bell,
    DropsIn,
    StaysOut,
    StillOn,
}

impl Likelihood {
    pub(super) fn new(measurement: &Measurement, calibration: Calibration) -> Self {
        let sd = measurement.sd(calibration);
        match measurement.content() {
            Content::Elongation(spots) => {
                Self { shape: Shape::Bell, centre: spots.mean() - calibration.bias(), sd }
            }
            Content::Gauge { mark, drops_in } => Self {
                shape: if drops_in { Shape::DropsIn } else { Shape::StaysOut },
                centre: mark.get() - calibration.bias(),
                sd,
            },
        }
    }

    /// That nobody has taken off a chain yet whose bike's chains come off at a limit, smoothed by `sd`.
    pub(crate) const fn still_on(limit: f64, sd: f64) -> Self {
        Self { shape: Shape::StillOn, centre: limit, sd }
    }

    /// The likelihood relative to its peak, between `1e-10` and 1.
    ///
    /// A number: `exp(−½((read − bias − ε)/sd)²)`; a gauge that drops in: `Φ((ε + bias − mark)/sd)`,
    /// one that stays out: the rest to 1; each lifted by a floor.
    #[must_use]
    pub fn relative(&self, elongation_percent: f64) -> f64 {
        let deviation = (elongation_percent - self.centre) / self.sd;
        let plain = match self.shape {
            Shape::Bell => (-0.5 * deviation * deviation).exp(),
            Shape::DropsIn => normal::distribution(deviation),
            Shape::StaysOut => normal::distribution(-deviation),
            Shape::StillOn => still_on(elongation_percent, self.centre, self.sd),
        };
        FLOOR + (1.0 - FLOOR) * plain
    }

    /// `ln` of the peak: the normal density's for a number, 0 for a gauge.
    #[must_use]
    pub fn log_peak(&self) -> f64 {
        match self.shape {
            Shape::Bell => -(self.sd * std::f64::consts::TAU.sqrt()).ln(),
            Shape::DropsIn | Shape::StaysOut | Shape::StillOn => 0.0,
        }
    }

    /// Whether a number was read, not a gauge's yes or no.
    pub(crate) fn is_of_number(&self) -> bool {
        self.shape == Shape::Bell
    }

    /// Standard deviation of the number or of the drop-in point.
    #[must_use]
    pub const fn sd(&self) -> f64 {
        self.sd
    }

    /// The likelihood of a chain longer than any: 1 when a gauge dropped in, else the floor.
    pub(crate) fn at_infinity(&self) -> f64 {
        match self.shape {
            Shape::DropsIn => 1.0,
            Shape::Bell | Shape::StaysOut | Shape::StillOn => FLOOR,
        }
    }

    /// Elongation above which only the floor is left.
    pub(crate) fn reach(&self) -> f64 {
        match self.shape {
            Shape::DropsIn => f64::INFINITY,
            Shape::Bell | Shape::StaysOut => self.centre + DEVIATIONS_TO_FLOOR * self.sd,
            Shape::StillOn => off_beyond(self.centre, self.sd, -FLOOR.ln()),
        }
    }

    /// The elongation that the reading says was reached at least, if it says so.
    pub(crate) fn at_least(&self) -> Option<f64> {
        (self.shape != Shape::StaysOut).then_some(self.centre)
    }

    /// The elongation that the reading says was not passed, if it says so.
    pub(crate) fn at_most(&self) -> Option<f64> {
        (self.shape != Shape::DropsIn).then_some(self.centre)
    }

    /// Reported number less bias, or the elongation at which the gauge drops in, percent.
    pub(crate) const fn centre(&self) -> f64 {
        self.centre
    }
}

#[cfg(test)]
mod tests {
    use crate::reading::{Instrument, Measurement};
    use crate::units::{ElongationReading, GaugeMark};

    #[test]
    fn table_of_instruments() {
        let at = |instrument, read, elongation| {
            Measurement::percent(instrument, ElongationReading::new(read).unwrap())
                .unwrap()
                .log_likelihood(elongation)
        };
        // ln N(0.40; ε + bias, sd²) by hand.
        assert!((at(Instrument::Rule, 0.40, 0.34) - (-0.5 - (0.06_f64 * 2.506_628).ln())).abs() < 1e-6);
        assert!((at(Instrument::Caliper, 0.40, 0.38) + (0.03_f64 * 2.506_628).ln()).abs() < 1e-6);
        assert!((at(Instrument::Dial, 0.40, 0.45) - (-2.0 - (0.025_f64 * 2.506_628).ln())).abs() < 1e-6);

        let gauge = |instrument, drops_in, elongation| {
            Measurement::gauge(instrument, GaugeMark::new(0.5).unwrap(), drops_in)
                .unwrap()
                .log_likelihood(elongation)
                .exp()
        };
        // Φ((0.43 + 0.12 − 0.5)/0.05) = Φ(1), Φ((0.45 − 0.5)/0.05) = Φ(−1).
        assert!((gauge(Instrument::DropIn, true, 0.43) - 0.841_344_746).abs() < 1e-8);
        assert!((gauge(Instrument::DropIn, false, 0.43) - 0.158_655_254).abs() < 1e-8);
        assert!((gauge(Instrument::DropInIsolating, true, 0.45) - 0.158_655_254).abs() < 1e-8);
    }
}
