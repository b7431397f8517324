use chrono::{DateTime, Utc};
use serde::Serialize;
use utoipa::ToSchema;

/// The workshop's calendar; never its address.
#[derive(Serialize, ToSchema)]
#[schema(as = Calendar)]
pub(super) struct CalendarDocument {
    /// Since when it has the address that it has.
    pub(super) created_at: DateTime<Utc>,
}
