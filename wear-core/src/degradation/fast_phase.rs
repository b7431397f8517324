//! Worn chains wear faster.

use crate::bounds::{self, OutOfRange};

/// The fast phase: beyond an elongation e a chain wears faster, `rate × (1 + g(ε − e)₊)`. Handbooks describe such a phase
/// (S) and give no numbers for it.
///
/// Every jump grows by the factor that holds where it happens. Jumps are small against the distance over which the
/// factor changes, so ε is the slow process X seen through `dε/dX = 1 + g(ε − e)₊`:
/// `ε = e + (exp(g(X − e)) − 1)/g` above e. A map of the elongation leaves the process a gamma process; only what
/// looks at ε changes. How far that is from letting the rate of jumps grow is tested.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FastPhase {
    onset: f64,
    gain: f64,
}

impl FastPhase {
    /// A chain that wears at one pace to its end.
    pub const NONE: Self = Self { onset: f64::INFINITY, gain: 0.0 };

    /// From 1.0 percent on, `rate × (1 + 2(ε − 1)₊)` (A).
    pub const ASSUMED: Self = Self { onset: 1.0, gain: 2.0 };

    /// From `onset` percent on, faster by `gain` per percent.
    ///
    /// # Errors
    /// [`OutOfRange`] for [`bounds::FAST_PHASE_ONSET`] or [`bounds::FAST_PHASE_GAIN`].
    pub fn new(onset: f64, gain: f64) -> Result<Self, OutOfRange> {
        Ok(Self { onset: bounds::FAST_PHASE_ONSET.check(onset)?, gain: bounds::FAST_PHASE_GAIN.check(gain)? })
    }

    /// Elongation at which it begins, percent; infinite when there is none.
    #[must_use]
    pub const fn onset(self) -> f64 {
        self.onset
    }

    /// How much faster a chain wears per percent beyond that; 0 when there is none.
    #[must_use]
    pub const fn gain(self) -> f64 {
        self.gain
    }

    /// ε at slow elongation X.
    pub(crate) fn elongation(self, x: f64) -> f64 {
        if x > self.onset { self.onset + (self.gain * (x - self.onset)).exp_m1() / self.gain } else { x }
    }

    /// X at elongation ε.
    pub(crate) fn slow(self, elongation: f64) -> f64 {
        if elongation > self.onset {
            self.onset + (self.gain * (elongation - self.onset)).ln_1p() / self.gain
        } else {
            elongation
        }
    }

    /// `dε/dX` at elongation ε.
    pub(crate) fn slope(self, elongation: f64) -> f64 {
        1.0 + self.gain * (elongation - self.onset).max(0.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn it_is_a_map_that_begins_at_its_onset() {
        let early = FastPhase::new(0.5, 3.0).unwrap();
        for fast in [FastPhase::ASSUMED, early] {
            for elongation in [-0.2, 0.4, 1.0, 1.3, 2.0, 5.0] {
                assert!((fast.elongation(fast.slow(elongation)) - elongation).abs() < 1e-12);
                assert_eq!(FastPhase::NONE.elongation(elongation), elongation);
                let slope = (fast.elongation(fast.slow(elongation) + 1e-6) - elongation) / 1e-6;
                assert!((slope - fast.slope(elongation)).abs() < 2e-4, "{elongation} {slope}");
            }
        }
        assert_eq!(FastPhase::ASSUMED.slope(1.25), 1.5);
        assert_eq!((FastPhase::NONE.slope(1.25), FastPhase::NONE.slow(1.25)), (1.0, 1.25));
    }
}
