use chrono::{DateTime, NaiveDate, Utc};
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;

use crate::domain::{Booking, BookingFacts};

/// A time at which a bike is away.
#[derive(Serialize, ToSchema)]
#[schema(as = Booking)]
pub(super) struct BookingDocument {
    /// Its id.
    id: Uuid,
    /// The bike.
    bike_id: Uuid,
    /// First day that it is away.
    from: NaiveDate,
    /// Last day that it is away.
    to: NaiveDate,
    /// A remark; null when there is none.
    note: Option<String>,
    /// When it was entered.
    created_at: DateTime<Utc>,
    /// Counts its changes; the `ETag` is made of it.
    #[schema(minimum = 1)]
    revision: i64,
}

impl From<Booking> for BookingDocument {
    fn from(Booking { id, facts, created_at, revision }: Booking) -> Self {
        let BookingFacts { bike_id, from, to, note } = facts;
        Self {
            id: id.uuid(),
            bike_id: bike_id.uuid(),
            from,
            to,
            note: note.map(|note| note.to_string()),
            created_at: created_at.datetime(),
            revision,
        }
    }
}
