//! What an exposure is made of.

use std::ops::{Add, AddAssign};

use crate::vocabulary::vocabulary;

vocabulary! {
    /// A cause of wear.
    Driver, "driver" {
        /// The kilometres themselves, as if each were a reference kilometre.
        Distance = "distance",
        /// More or less work per kilometre than the reference.
        Energy = "energy",
        /// Gears, chain length and wheel other than the reference's.
        Gears = "gears",
        /// Surface.
        Surface = "surface",
        /// Water.
        Wet = "wet",
        /// Distance since the chain was last cleaned and lubricated.
        Care = "care",
    }
}

/// Reference kilometres by cause. A part is negative where its cause spared the chain; parts sum to the exposure.
///
/// The first five come from the logarithmic-mean split of the chain of products distance → work → gears → surface →
/// water. For a ride of exposure s, distance d and factors f_k with s = d·Πf_k, cause k gets
/// `(s − d)/ln(s/d) · ln f_k`: exact, the same in whichever order the factors are taken, and additive over rides.
/// Care comes on top, as it depends on the path: exposure with care minus exposure without.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct DriverParts {
    /// Reference kilometres by [`Driver`], in the order of [`Driver::ALL`].
    by_driver: [f64; Driver::ALL.len()],
}

impl DriverParts {
    /// Reference kilometres of one cause.
    #[must_use]
    pub const fn get(&self, driver: Driver) -> f64 {
        self.by_driver[driver as usize]
    }

    /// The exposure: the sum of the parts.
    #[must_use]
    pub fn total(&self) -> f64 {
        self.by_driver.iter().sum()
    }

    /// The same with what care added: exposure with care minus exposure before it, reference kilometres.
    #[must_use]
    pub fn with_care(mut self, added_by_care: f64) -> Self {
        self.by_driver[Driver::Care as usize] += added_by_care;
        self
    }

    /// Each cause's share of the exposure in percent, in the order of [`Driver::ALL`]; they sum to 100.
    /// `None` while there is no exposure.
    #[must_use]
    pub fn shares_percent(&self) -> Option<[(Driver, f64); Driver::ALL.len()]> {
        let total = self.total();
        (total > 0.0).then(|| {
            let mut shares = [(Driver::Distance, 0.0); Driver::ALL.len()];
            for (share, &driver) in shares.iter_mut().zip(Driver::ALL) {
                *share = (driver, 100.0 * self.get(driver) / total);
            }
            shares
        })
    }
}

impl DriverParts {
    /// What is left when an earlier state of the same sum is taken off.
    pub(crate) fn less(mut self, earlier: Self) -> Self {
        for (sum, part) in self.by_driver.iter_mut().zip(earlier.by_driver) {
            *sum -= part;
        }
        self
    }
}

impl AddAssign for DriverParts {
    fn add_assign(&mut self, other: Self) {
        for (sum, part) in self.by_driver.iter_mut().zip(other.by_driver) {
            *sum += part;
        }
    }
}

impl Add for DriverParts {
    type Output = Self;

    fn add(mut self, other: Self) -> Self {
        self += other;
        self
    }
}

/// Logarithmic mean of two positive numbers.
fn logarithmic_mean(a: f64, b: f64) -> f64 {
    // L(a, b) = (a − b)/ln(a/b)
    let ln = (a / b).ln();
    if ln.abs() < 1e-6 {
        // Series, where the quotient would lose its digits.
        (a * b).sqrt() * (1.0 + ln * ln / 24.0)
    } else {
        (a - b) / ln
    }
}

/// Splits the last of `running` among the causes, given what the exposure is after distance, work, gears, surface and
/// water in turn.
pub(super) fn split_by_logarithm(running: [f64; 5]) -> DriverParts {
    let mut parts = DriverParts::default();
    let [distance, .., exposure] = running;
    parts.by_driver[0] = distance;
    if running.iter().all(|&step| step > f64::MIN_POSITIVE) {
        let mean = logarithmic_mean(exposure, distance);
        let mut rest = exposure - distance;
        for (k, pair) in running.windows(2).enumerate().skip(1) {
            let part = mean * (pair[1] / pair[0]).ln();
            parts.by_driver[k + 1] = part;
            rest -= part;
        }
        parts.by_driver[Driver::Energy as usize] = rest;
    } else {
        // Work without distance: ln f is infinite for work, and its limit takes the whole exposure.
        parts.by_driver[Driver::Energy as usize] = exposure - distance;
    }
    parts
}
