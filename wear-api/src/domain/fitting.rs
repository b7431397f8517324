//! A part's stay on a bike.

use super::{BikeId, FittingId, Invalid, PartId, Place, Position, Timestamp};

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
}

impl Fitting {
    /// Whether the part was on the bike at `at`: from the instant it was fitted up to, but not with,
    /// the instant it was taken off.
    #[must_use]
    pub fn covers(&self, at: Timestamp) -> bool {
        self.fitted_at <= at && self.removed_at.is_none_or(|removed_at| at < removed_at)
    }

    /// Checks an event on this part; one at the very instant of removal still counts.
    ///
    /// # Errors
    /// [`Invalid::BeforeFitting`], [`Invalid::AfterRemoval`].
    pub fn admit(&self, given: Timestamp) -> Result<Timestamp, Invalid> {
        match self.removed_at {
            _ if given < self.fitted_at => Err(Invalid::BeforeFitting { given, fitted_at: self.fitted_at }),
            Some(removed_at) if given > removed_at => Err(Invalid::AfterRemoval { given, removed_at }),
            _ => Ok(given),
        }
    }
}
