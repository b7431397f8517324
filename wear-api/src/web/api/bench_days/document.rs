use chrono::{DateTime, NaiveDate, Utc};
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;

use crate::domain::{BenchDay, BenchDayFacts};

/// A bench day.
#[derive(Serialize, ToSchema)]
#[schema(as = BenchDay)]
pub(super) struct BenchDayDocument {
    /// Its id.
    id: Uuid,
    /// The date.
    date: NaiveDate,
    /// Minutes that the bench works.
    #[schema(minimum = 0, maximum = 1_000_000)]
    minutes: u32,
    /// A remark; null when there is none.
    note: Option<String>,
    /// When it was entered.
    created_at: DateTime<Utc>,
    /// Counts its changes; the `ETag` is made of it.
    #[schema(minimum = 1)]
    revision: i64,
}

impl From<BenchDay> for BenchDayDocument {
    fn from(BenchDay { id, facts, created_at, revision }: BenchDay) -> Self {
        let BenchDayFacts { date, minutes, note } = facts;
        Self {
            id: id.uuid(),
            date,
            minutes: minutes.get(),
            note: note.map(|note| note.to_string()),
            created_at: created_at.datetime(),
            revision,
        }
    }
}
