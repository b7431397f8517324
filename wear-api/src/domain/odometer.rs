//! What a bike's counter showed.

use uuid::Uuid;
use wear_core::bounds::ODOMETER;

use super::{BikeId, CareId, Invalid, ReadingId, StatementId, SwapId, Timestamp, Voiding};

/// Millimetres in a kilometre.
const MM_PER_KM: f64 = 1e6;

/// A counter's total, kept in whole millimetres.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct OdometerTotal(i64);

impl OdometerTotal {
    /// From kilometres inside [`ODOMETER`].
    ///
    /// # Errors
    /// [`Invalid::OutOfRange`].
    pub fn from_km(km: f64) -> Result<Self, Invalid> {
        Ok(Self((ODOMETER.check(km)? * MM_PER_KM).round() as i64))
    }

    /// From millimetres that were stored.
    ///
    /// # Errors
    /// [`Invalid::OutOfRange`].
    pub fn from_mm(mm: i64) -> Result<Self, Invalid> {
        ODOMETER.check(mm as f64 / MM_PER_KM)?;
        Ok(Self(mm))
    }

    /// Millimetres.
    #[must_use]
    pub const fn mm(self) -> i64 {
        self.0
    }

    /// Kilometres.
    #[must_use]
    pub fn km(self) -> f64 {
        self.0 as f64 / MM_PER_KM
    }
}

/// The event that a statement was entered with.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum EnteredWith {
    /// A reading of the chain.
    Reading(ReadingId),
    /// A swap.
    Swap(SwapId),
    /// Care.
    Care(CareId),
}

wear_core::vocabulary! {
    /// The kinds of [`EnteredWith`].
    EventKind, "entered_with" {
        /// A reading of the chain.
        Reading = "reading",
        /// A swap.
        Swap = "swap",
        /// Care.
        Care = "care",
    }
}

impl EnteredWith {
    /// From a kind and an id.
    #[must_use]
    pub const fn new(kind: EventKind, id: Uuid) -> Self {
        match kind {
            EventKind::Reading => Self::Reading(ReadingId::from_uuid(id)),
            EventKind::Swap => Self::Swap(SwapId::from_uuid(id)),
            EventKind::Care => Self::Care(CareId::from_uuid(id)),
        }
    }

    /// What kind of event it is.
    #[must_use]
    pub const fn kind(self) -> EventKind {
        match self {
            Self::Reading(_) => EventKind::Reading,
            Self::Swap(_) => EventKind::Swap,
            Self::Care(_) => EventKind::Care,
        }
    }

    /// The event's id.
    #[must_use]
    pub const fn id(self) -> Uuid {
        match self {
            Self::Reading(id) => id.uuid(),
            Self::Swap(id) => id.uuid(),
            Self::Care(id) => id.uuid(),
        }
    }
}

/// A total that a bike's counter showed.
#[derive(Debug, Clone, PartialEq)]
pub struct OdometerStatement {
    /// Its id.
    pub id: StatementId,
    /// The bike.
    pub bike_id: BikeId,
    /// When it was read.
    pub read_at: Timestamp,
    /// What it showed.
    pub total: OdometerTotal,
    /// The event that it was entered with; none when by itself.
    pub entered_with: Option<EnteredWith>,
    /// When it was entered.
    pub entered_at: Timestamp,
    /// That it doesn't count.
    pub voided: Option<Voiding>,
}
