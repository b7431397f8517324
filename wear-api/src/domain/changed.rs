//! What was changed, in order, for whoever keeps a copy.

use std::fmt;
use std::str::FromStr;

use uuid::Uuid;

use super::{BikeId, Field, Form, Invalid};

wear_core::vocabulary! {
    /// What can be changed.
    ChangedKind, "kind" {
        /// A bench day.
        BenchDay = "bench_day",
        /// A bike.
        Bike = "bike",
        /// A kind of bike.
        BikeKind = "bike_kind",
        /// A booking.
        Booking = "booking",
        /// Care of a drivetrain.
        Care = "care",
        /// Use that was declared for a bike or a group.
        DeclaredUse = "declared_use",
        /// A delivery.
        Delivery = "delivery",
        /// A part's stay on a bike.
        Fitting = "fitting",
        /// A lubricant.
        Lubricant = "lubricant",
        /// What an odometer said.
        Odometer = "odometer",
        /// A part.
        Part = "part",
        /// A model of part.
        PartModel = "part_model",
        /// A reading.
        Reading = "reading",
        /// A ride.
        Ride = "ride",
        /// What is on the shelf of a part model.
        Stock = "stock",
        /// A swap.
        Swap = "swap",
        /// A report of a symptom.
        Symptom = "symptom",
        /// A tool.
        Tool = "tool",
        /// The workshop's settings.
        Workshop = "workshop",
    }
}

impl ChangedKind {
    /// Whether an app is told of it: what it may read.
    #[must_use]
    pub const fn is_for_apps(self) -> bool {
        matches!(
            self,
            Self::Bike
                | Self::Care
                | Self::Fitting
                | Self::Odometer
                | Self::Part
                | Self::Reading
                | Self::Ride
                | Self::Swap
                | Self::Symptom
        )
    }
}

/// One thing that was changed: entered, corrected, voided, restored or deleted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Changed {
    /// What it is.
    pub kind: ChangedKind,
    /// Its id; of stock that of the part model.
    pub id: Uuid,
    /// The bike that it is on or of, if any.
    pub bike_id: Option<BikeId>,
    /// Whether it counts no more: voided, or deleted.
    pub gone: bool,
}

/// How far somebody has followed the changes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default)]
pub struct FeedPlace {
    /// The last change that was told whole.
    pub number: i64,
    /// How many things of the next one were told.
    pub taken: usize,
}

impl fmt::Display for FeedPlace {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.taken {
            0 => write!(f, "{}", self.number),
            taken => write!(f, "{}.{taken}", self.number),
        }
    }
}

impl FromStr for FeedPlace {
    type Err = Invalid;

    fn from_str(given: &str) -> Result<Self, Invalid> {
        let (number, taken) = given.split_once('.').unwrap_or((given, "0"));
        let place = number.parse().ok().zip(taken.parse().ok()).filter(|(number, _)| *number >= 0);
        place
            .map(|(number, taken)| Self { number, taken })
            .ok_or_else(|| Invalid::unparsed(Field::Since, given, Form::FeedPlace))
    }
}

/// From where on changes are asked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Since {
    /// The oldest that is kept.
    #[default]
    Beginning,
    /// Nothing yet: only where the changes end now.
    Now,
    /// What came after a place.
    Place(FeedPlace),
}

impl FromStr for Since {
    type Err = Invalid;

    fn from_str(given: &str) -> Result<Self, Invalid> {
        if given == "now" { Ok(Self::Now) } else { given.parse().map(Self::Place) }
    }
}

/// Changes of one answer, 1 to 1,000.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct FeedSize(u16);

impl FeedSize {
    /// Most changes of one answer.
    pub const MAXIMUM: u16 = 1_000;

    /// A number of changes, 1 to 1,000.
    ///
    /// # Errors
    /// [`Invalid::WholeNumber`].
    pub fn new(given: i64) -> Result<Self, Invalid> {
        match u16::try_from(given) {
            Ok(size @ 1..=Self::MAXIMUM) => Ok(Self(size)),
            _ => Err(Invalid::WholeNumber {
                what: Field::Limit,
                given,
                minimum: 1,
                maximum: i64::from(Self::MAXIMUM),
            }),
        }
    }

    /// The number.
    #[must_use]
    pub const fn get(self) -> usize {
        self.0 as usize
    }
}

impl Default for FeedSize {
    /// 500.
    fn default() -> Self {
        Self(500)
    }
}

/// Some of the changes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FeedPage {
    /// What was changed, in order.
    pub items: Vec<Changed>,
    /// Where to go on.
    pub next: FeedPlace,
    /// Whether there is more already.
    pub more: bool,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_place_reads_back_and_nothing_else_does() {
        for place in
            [FeedPlace::default(), FeedPlace { number: 12, taken: 0 }, FeedPlace { number: 7, taken: 300 }]
        {
            assert_eq!(place.to_string().parse(), Ok(place));
        }
        assert_eq!("now".parse(), Ok(Since::Now));
        for given in ["", "-1", "x", "1.", ".1", "1.x", "1.2.3", "Now"] {
            assert!(given.parse::<Since>().is_err(), "{given}");
        }
    }
}
