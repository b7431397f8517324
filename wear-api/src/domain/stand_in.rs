//! Types that belong to `wear-core` and stand here until it has them.

use wear_core::bounds::{self, OutOfRange};
use wear_core::units::{ElongationReading, GaugeMark};

use super::Invalid;

super::word::words! {
    /// What a ride was on.
    Surface, "surface" {
        /// Tarmac, concrete.
        Paved = "paved",
        /// Gravel, dust.
        Gravel = "gravel",
        /// Mud or sand.
        Mud = "mud",
        /// A trainer.
        Indoor = "indoor",
    }
}

super::word::words! {
    /// What a bike is used for.
    Use, "use" {
        /// Everyday rides in town.
        Town = "town",
        /// Road rides.
        Road = "road",
        /// Off road.
        Mountain = "mountain",
    }
}

/// A drivetrain as someone wrote it down, not yet checked.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct DrivetrainFacts {
    /// Teeth of each ring, in any order.
    pub rings: Vec<u32>,
    /// Teeth of each cog, in any order.
    pub cogs: Vec<u32>,
    /// Chain length in pitches.
    pub links: u32,
}

/// A checked drivetrain.
#[derive(Debug, Clone, PartialEq)]
pub struct Drivetrain(DrivetrainFacts);

impl Drivetrain {
    /// Checks facts.
    ///
    /// # Errors
    /// [`OutOfRange`].
    pub fn new(facts: &DrivetrainFacts) -> Result<Self, OutOfRange> {
        bounds::LINKS.check(f64::from(facts.links))?;
        for &teeth in facts.rings.iter().chain(&facts.cogs) {
            bounds::TEETH.check(f64::from(teeth))?;
        }
        Ok(Self(facts.clone()))
    }

    /// The facts.
    #[must_use]
    pub fn facts(&self) -> DrivetrainFacts {
        self.0.clone()
    }
}

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
