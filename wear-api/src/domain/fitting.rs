//! A part's stay on a bike.

use super::{BikeId, FittingId, FittingStart, PartId, Place, Position, Timestamp};

/// A part's stay on a bike, from being fitted to being taken off.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fitting {
    /// Its id.
    pub id: FittingId,
    /// The part.
    pub part_id: PartId,
    /// The bike.
    pub bike_id: BikeId,
    /// Where on the bike; the part's own place.
    pub place: Place,
    /// Which of several equal places.
    pub position: Position,
    /// Since when.
    pub fitted_at: Timestamp,
    /// Until when; none while it is on.
    pub removed_at: Option<Timestamp>,
    /// How it begins.
    pub start: FittingStart,
}

impl Fitting {
    /// Whether the part was on the bike at `at`: from the instant it was fitted up to, but not with,
    /// the instant it was taken off.
    #[must_use]
    pub fn covers(&self, at: Timestamp) -> bool {
        self.fitted_at <= at && self.removed_at.is_none_or(|removed_at| at < removed_at)
    }
}
