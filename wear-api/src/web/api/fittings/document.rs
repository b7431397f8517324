use chrono::{DateTime, Utc};
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;

use crate::domain::{Fitting, Place};

/// A part's stay on a bike.
#[derive(Serialize, ToSchema)]
#[schema(as = Fitting)]
pub(super) struct FittingDocument {
    /// Its id.
    id: Uuid,
    /// The part.
    part_id: Uuid,
    /// The bike.
    bike_id: Uuid,
    /// Where on the bike.
    #[schema(value_type = Place)]
    place: &'static str,
    /// Which of several equal places: rings from the largest, cogs from the smallest, from 0.
    #[schema(minimum = 0, maximum = 15)]
    position: u8,
    /// Since when.
    fitted_at: DateTime<Utc>,
    /// Until when; null while it is on.
    removed_at: Option<DateTime<Utc>>,
}

impl From<Fitting> for FittingDocument {
    fn from(Fitting { id, part_id, bike_id, place, position, fitted_at, removed_at }: Fitting) -> Self {
        Self {
            id: id.uuid(),
            part_id: part_id.uuid(),
            bike_id: bike_id.uuid(),
            place: place.as_str(),
            position: position.get(),
            fitted_at: fitted_at.datetime(),
            removed_at: removed_at.map(|at| at.datetime()),
        }
    }
}
