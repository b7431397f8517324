//! How much damage sprockets bear before a new chain skips on them.

use crate::bounds::{self, OutOfRange};
use crate::numeric::normal;

/// Standard deviation of ln threshold until a fleet has learned its own (A: two published accounts contradict 0.3 from
/// opposite sides, see DESIGN.md).
pub(crate) const SIGMA: f64 = 0.6;

/// Share of the variance of ln threshold that the sprockets of one cassette have in common until a fleet has learned its
/// own (A).
pub(crate) const COMMON_SHARE: f64 = 0.5;

/// Thresholds of sprockets, in cassettes of damage: ln T_j = ln median + Z + E_j, `Var Z = κσ²` common to the sprockets of a
/// cassette, `Var E_j = (1 − κ)σ²` of each its own.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SkipThreshold {
    ln_median: f64,
    ln_median_sd: f64,
    sigma: f64,
    common_share: f64,
    is_learned: bool,
}

impl Default for SkipThreshold {
    fn default() -> Self {
        Self::ASSUMED
    }
}

impl SkipThreshold {
    /// What holds until a fleet has learned its own: median 1, σ 0.6, half of the variance common to a cassette (A).
    pub const ASSUMED: Self = Self {
        ln_median: 0.0,
        ln_median_sd: 0.0,
        sigma: SIGMA,
        common_share: COMMON_SHARE,
        is_learned: false,
    };

    /// What a fleet has learned. `ln_median_sd` is how far the median isn't known; it widens what is common to a cassette.
    ///
    /// # Errors
    /// [`OutOfRange`] outside of [`bounds::LN_SKIP_MEDIAN`], [`bounds::LN_SD`], [`bounds::SKIP_SIGMA`] and
    /// [`bounds::PROBABILITY`].
    pub fn learned(
        ln_median: f64,
        ln_median_sd: f64,
        sigma: f64,
        common_share: f64,
    ) -> Result<Self, OutOfRange> {
        Ok(Self {
            ln_median: bounds::LN_SKIP_MEDIAN.check(ln_median)?,
            ln_median_sd: bounds::LN_SD.check(ln_median_sd)?,
            sigma: bounds::SKIP_SIGMA.check(sigma)?,
            common_share: bounds::PROBABILITY.check(common_share)?,
            is_learned: true,
        })
    }

    /// The same of parts that bear so many times as much.
    pub(crate) fn times(self, factor: f64) -> Self {
        Self { ln_median: self.ln_median + factor.ln(), ..self }
    }

    /// The median, in cassettes of damage.
    #[must_use]
    pub fn median(&self) -> f64 {
        self.ln_median.exp()
    }

    /// ln of the median.
    #[must_use]
    pub const fn ln_median(&self) -> f64 {
        self.ln_median
    }

    /// How far ln of the median isn't known, one standard deviation.
    #[must_use]
    pub const fn ln_median_sd(&self) -> f64 {
        self.ln_median_sd
    }

    /// Standard deviation of ln threshold from sprocket to sprocket of all cassettes.
    #[must_use]
    pub const fn sigma(&self) -> f64 {
        self.sigma
    }

    /// Share of its square that the sprockets of one cassette have in common.
    #[must_use]
    pub const fn common_share(&self) -> f64 {
        self.common_share
    }

    /// Whether a fleet has learned it.
    #[must_use]
    pub const fn is_learned(&self) -> bool {
        self.is_learned
    }

    /// Standard deviation of what the sprockets of a cassette have in common.
    pub(super) fn common_sd(&self) -> f64 {
        (self.common_share * self.sigma * self.sigma + self.ln_median_sd * self.ln_median_sd).sqrt()
    }

    /// Standard deviation of what each sprocket has of its own.
    pub(super) fn own_sd(&self) -> f64 {
        self.sigma * (1.0 - self.common_share).sqrt().max(1e-6)
    }

    /// Probability that one sprocket is used up of which nothing is known but its damage, in cassettes:
    /// `Φ((ln damage − ln median)/σ)`, the median's own spread included; 0 for a damage that isn't above zero.
    #[must_use]
    pub fn probability_used_up(&self, damage: f64) -> f64 {
        if damage > 0.0 {
            normal::distribution((damage.ln() - self.ln_median) / self.sigma.hypot(self.ln_median_sd))
        } else {
            0.0
        }
    }
}
