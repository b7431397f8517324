use chrono::{DateTime, Utc};
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;

use crate::domain::Care;
use crate::web::schema;

/// Care of a drivetrain.
#[derive(Serialize, ToSchema)]
#[schema(as = Care)]
pub(super) struct CareDocument {
    /// Its id.
    id: Uuid,
    /// The bike.
    bike_id: Uuid,
    /// What was done.
    #[schema(value_type = schema::CareKind)]
    kind: &'static str,
    /// When.
    done_at: DateTime<Utc>,
    /// A remark; null when there is none.
    note: Option<String>,
}

impl From<Care> for CareDocument {
    fn from(Care { id, bike_id, kind, done_at, note }: Care) -> Self {
        Self {
            id: id.uuid(),
            bike_id: bike_id.uuid(),
            kind: kind.as_str(),
            done_at: done_at.datetime(),
            note: note.map(|note| note.to_string()),
        }
    }
}
