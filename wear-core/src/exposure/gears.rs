//! Which gears a ride's distance was pedalled in.

use thiserror::Error;

use super::Use;
use crate::drivetrain::{Drivetrain, Teeth};

/// Spread of ln development round the one a rider likes best (A).
const DEVELOPMENT_LN_SD: f64 = 0.30;

/// A share that does not belong to a gear of the drivetrain.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
#[non_exhaustive]
pub enum GearShareError {
    /// The drivetrain has no such ring or cog.
    #[error("gear {ring}/{cog}: the drivetrain has no such ring or cog")]
    NoSuchGear {
        /// Teeth of the ring given.
        ring: u16,
        /// Teeth of the cog given.
        cog: u16,
    },
    /// A share is negative, NaN or infinite.
    #[error("gear {ring}/{cog}: a share is a finite number, zero or more")]
    NotAShare {
        /// Teeth of the ring given.
        ring: u16,
        /// Teeth of the cog given.
        cog: u16,
    },
    /// No share is above zero.
    #[error("gear shares: at least one is above zero")]
    AllZero,
}

/// One gear and its share of the pedalled distance.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Gear {
    pub(crate) ring: Teeth,
    pub(crate) cog: Teeth,
    pub(crate) share: f64,
}

/// Shares of the pedalled distance by gear; they sum to 1.
///
/// The work is taken to be shared as the distance is (A).
#[derive(Debug, Clone, PartialEq)]
pub struct GearShare {
    gears: Vec<Gear>,
    measured: bool,
}

impl GearShare {
    /// Measured shares by (ring, cog), in any unit that adds up: km, minutes, percent.
    ///
    /// # Errors
    /// [`GearShareError`] when a gear is not on the drivetrain, a share is negative or not finite, or all are zero.
    pub fn measured(drivetrain: &Drivetrain, shares: &[(Teeth, Teeth, f64)]) -> Result<Self, GearShareError> {
        for &(ring, cog, share) in shares {
            if !drivetrain.rings().contains(&ring) || !drivetrain.cogs().contains(&cog) {
                return Err(GearShareError::NoSuchGear { ring: ring.get(), cog: cog.get() });
            }
            if !share.is_finite() || share < 0.0 {
                return Err(GearShareError::NotAShare { ring: ring.get(), cog: cog.get() });
            }
        }
        let largest = shares.iter().map(|&(.., share)| share).fold(0.0, f64::max);
        if largest == 0.0 {
            return Err(GearShareError::AllZero);
        }
        // Divided by the largest first, so that the sum of huge shares stays finite.
        let gears =
            shares.iter().map(|&(ring, cog, share)| Gear { ring, cog, share: share / largest }).collect();
        Ok(Self::normalised(gears, true))
    }

    /// The usual shares for a use (A): a bell curve over the logarithm of the distance per turn of the crank, centred on
    /// what riders of that use like best.
    #[must_use]
    pub fn usual(drivetrain: &Drivetrain, usage: Use) -> Self {
        let favourite = usage.profile().development_m.ln();
        let wheel_m = drivetrain.wheel().get() / 1000.0;
        let mut gears = Vec::with_capacity(drivetrain.rings().len() * drivetrain.cogs().len());
        for &ring in drivetrain.rings() {
            for &cog in drivetrain.cogs() {
                let away = (ring.as_f64() / cog.as_f64() * wheel_m).ln() - favourite;
                gears.push(Gear { ring, cog, share: -0.5 * (away / DEVELOPMENT_LN_SD).powi(2) });
            }
        }
        let best = gears.iter().map(|gear| gear.share).fold(f64::NEG_INFINITY, f64::max);
        for gear in &mut gears {
            gear.share = (gear.share - best).exp();
        }
        Self::normalised(gears, false)
    }

    fn normalised(mut gears: Vec<Gear>, measured: bool) -> Self {
        let sum: f64 = gears.iter().map(|gear| gear.share).sum();
        for gear in &mut gears {
            gear.share /= sum;
        }
        Self { gears, measured }
    }

    pub(crate) fn gears(&self) -> &[Gear] {
        &self.gears
    }

    /// Whether the shares were measured.
    #[must_use]
    pub fn is_measured(&self) -> bool {
        self.measured
    }

    /// Share of each of `cogs`, in their order.
    #[must_use]
    pub fn by_cog(&self, cogs: &[Teeth]) -> Vec<f64> {
        self.by_teeth(cogs, |gear| gear.cog)
    }

    /// Share of each of `rings`, in their order.
    #[must_use]
    pub fn by_ring(&self, rings: &[Teeth]) -> Vec<f64> {
        self.by_teeth(rings, |gear| gear.ring)
    }

    fn by_teeth(&self, sprockets: &[Teeth], teeth: impl Fn(&Gear) -> Teeth) -> Vec<f64> {
        // Equal sprockets share alike; the last place of a sum may exceed 1.
        let equal_to = |count: Teeth| sprockets.iter().filter(|&&other| other == count).count() as f64;
        sprockets
            .iter()
            .map(|&count| {
                let share: f64 =
                    self.gears.iter().filter(|gear| teeth(gear) == count).map(|gear| gear.share).sum();
                share.min(1.0) / equal_to(count)
            })
            .collect()
    }
}
