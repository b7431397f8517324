//! Where on a bike a part sits.

use super::Field;
use super::Invalid;

wear_core::vocabulary! {
    /// Where on a bike a part sits; a part's kind is the place it fits.
    Place, "place" {
        /// The chain.
        Chain = "chain",
        /// The sprockets of the rear wheel as one part.
        Cassette = "cassette",
        /// One sprocket that is a part of its own.
        Cog = "cog",
        /// One chain ring.
        Ring = "ring",
        /// The derailleur's pair of jockey wheels.
        JockeyWheels = "jockey_wheels",
    }
}

/// Which of several equal places: rings from the largest, cogs from the smallest, counted from 0.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct Position(u8);

impl Position {
    /// Largest position.
    pub const MAXIMUM: u8 = 15;

    /// A position, 0 to 15.
    ///
    /// # Errors
    /// [`Invalid::WholeNumber`].
    pub fn new(given: i64) -> Result<Self, Invalid> {
        let maximum = i64::from(Self::MAXIMUM);
        match u8::try_from(given) {
            Ok(position) if position <= Self::MAXIMUM => Ok(Self(position)),
            _ => Err(Invalid::WholeNumber { what: Field::Position, given, minimum: 0, maximum }),
        }
    }

    /// Counted from 0.
    #[must_use]
    pub const fn get(self) -> u8 {
        self.0
    }
}
