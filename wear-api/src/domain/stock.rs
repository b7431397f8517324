//! What lies on the shelf, and what is on its way to it.

use super::{Field, Form};
use chrono::NaiveDate;
use wear_core::units::Probability;

use super::{DeliveryId, Invalid, Label, Note, PartModelId, Place, Timestamp};

macro_rules! counts {
    ($($(#[$doc:meta])* $type:ident, $what:ident, $minimum:literal..=$maximum:literal;)+) => {$(
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub struct $type(u32);

        impl $type {
            /// Smallest legal number.
            pub const MINIMUM: i64 = $minimum;
            /// Largest legal number.
            pub const MAXIMUM: i64 = $maximum;

            /// Checks a number.
            ///
            /// # Errors
            /// [`Invalid::WholeNumber`] outside of the range.
            pub fn new(given: i64) -> Result<Self, Invalid> {
                match u32::try_from(given) {
                    Ok(number) if (Self::MINIMUM..=Self::MAXIMUM).contains(&given) => Ok(Self(number)),
                    _ => Err(Invalid::WholeNumber {
                        what: Field::$what,
                        given,
                        minimum: Self::MINIMUM,
                        maximum: Self::MAXIMUM,
                    }),
                }
            }

            /// The number.
            #[must_use]
            pub const fn get(self) -> u32 {
                self.0
            }
        }
    )+};
}

counts! {
    /// Parts of one model on the shelf.
    ShelfCount, ShelfCount, 0..=1_000_000;
    /// Parts of one model in a delivery.
    DeliveryCount, DeliveryCount, 1..=1_000_000;
    /// Parts that are sold together: orders are whole packs.
    PackSize, PackSize, 1..=10_000;
    /// Days from an order to its arrival.
    LeadTimeDays, LeadTimeDays, 0..=365;
}

impl PackSize {
    /// Single parts.
    pub const ONE: Self = Self(1);
}

impl LeadTimeDays {
    /// A week, until the workshop says otherwise (A).
    pub const WEEK: Self = Self(7);
}

/// Probability of not running out within the lead time, 0.5 to 0.999.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ServiceLevel(Probability);

impl ServiceLevel {
    /// Smallest legal level.
    pub const MINIMUM: f64 = 0.5;
    /// Largest legal level.
    pub const MAXIMUM: f64 = 0.999;
    /// Until the workshop says otherwise (A).
    pub const DEFAULT: f64 = 0.95;

    /// Checks a level.
    ///
    /// # Errors
    /// [`Invalid::Unparsed`] outside of the range.
    pub fn new(given: f64) -> Result<Self, Invalid> {
        match Probability::new(given) {
            Ok(level) if (Self::MINIMUM..=Self::MAXIMUM).contains(&given) => Ok(Self(level)),
            _ => Err(Invalid::unparsed(Field::ServiceLevel, &given.to_string(), Form::ServiceLevel)),
        }
    }

    /// The probability.
    #[must_use]
    pub const fn get(self) -> f64 {
        self.0.get()
    }
}

/// Most substitutes of one model.
pub const MOST_SUBSTITUTES: usize = 16;

/// What can be set of a model's place on the shelf.
#[derive(Debug, Clone, PartialEq)]
pub struct StockFacts {
    /// Parts on the shelf.
    pub count: ShelfCount,
    /// Parts sold together.
    pub pack_size: PackSize,
    /// Days from an order to its arrival.
    pub lead_time: LeadTimeDays,
    /// At this count or below more are ordered; worked out from the outlooks when nobody says.
    pub reorder_point: Option<ShelfCount>,
    /// The model's own service level.
    pub service_level: Option<ServiceLevel>,
    /// Models that do as well, the best first.
    pub substitutes: Vec<PartModelId>,
}

/// A model's place on the shelf.
#[derive(Debug, Clone, PartialEq)]
pub struct StockEntry {
    /// The model.
    pub part_model_id: PartModelId,
    /// What people call it.
    pub name: Label,
    /// Where on a bike it sits.
    pub place: Place,
    /// What can be set.
    pub facts: StockFacts,
    /// Parts in deliveries that haven't arrived.
    pub under_way: u32,
    /// When somebody counted last: what happened before is in the count already.
    pub counted_at: Timestamp,
    /// When it was entered.
    pub created_at: Timestamp,
    /// Counts its changes, from 1; a swap or an arrival is one too.
    pub revision: i64,
}

/// What the shelf gave for a swap.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Taken {
    /// One part; so many are left.
    One {
        /// Parts left.
        left: u32,
    },
    /// Nothing: the shelf was empty by the book.
    Empty,
    /// Nothing: nobody keeps count of that model, or it was counted after the swap.
    NotCounted,
}

/// What can be set of a delivery.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DeliveryFacts {
    /// The model.
    pub part_model_id: PartModelId,
    /// How many.
    pub count: DeliveryCount,
    /// The date on which it is expected.
    pub expected_on: NaiveDate,
    /// The date on which it arrived; none while it is under way.
    pub arrived_on: Option<NaiveDate>,
    /// A remark.
    pub note: Option<Note>,
}

/// A delivery.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Delivery {
    /// Its id.
    pub id: DeliveryId,
    /// What can be set.
    pub facts: DeliveryFacts,
    /// Whether its parts were added to the shelf's count.
    pub on_shelf: bool,
    /// When it was entered.
    pub created_at: Timestamp,
    /// Counts its changes, from 1.
    pub revision: i64,
}

/// Which deliveries a list holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct DeliveryFilter {
    /// Of one model.
    pub part_model_id: Option<PartModelId>,
    /// Arrived, or under way.
    pub arrived: Option<bool>,
}

/// Parts of one model, on a date.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct PartsUnderWay {
    /// The model.
    pub part_model_id: PartModelId,
    /// The date on which they are expected.
    pub expected_on: NaiveDate,
    /// How many.
    pub count: u32,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn counts_have_their_ranges() {
        assert_eq!(ShelfCount::new(0).map(ShelfCount::get), Ok(0));
        assert!(ShelfCount::new(-1).is_err() && ShelfCount::new(1_000_001).is_err());
        assert!(
            DeliveryCount::new(0).is_err() && PackSize::new(0).is_err() && LeadTimeDays::new(366).is_err()
        );
    }

    #[test]
    fn a_service_level_leaves_some_risk() {
        assert!(ServiceLevel::new(ServiceLevel::DEFAULT).is_ok());
        for wrong in [0.49, 1.0, f64::NAN] {
            assert!(ServiceLevel::new(wrong).is_err(), "{wrong}");
        }
    }
}
