use chrono::{DateTime, NaiveDate, Utc};
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;

use crate::domain::{Delivery, DeliveryFacts};
use crate::service::deliveries::Booked;

/// A delivery.
#[derive(Serialize, ToSchema)]
#[schema(as = Delivery)]
pub(super) struct DeliveryDocument {
    /// Its id.
    id: Uuid,
    /// The part model.
    part_model_id: Uuid,
    /// How many parts.
    #[schema(minimum = 1, maximum = 1_000_000)]
    count: u32,
    /// The date on which it is expected.
    expected_on: NaiveDate,
    /// The date on which it arrived; null while it is under way.
    arrived_on: Option<NaiveDate>,
    /// Whether its parts were added to the shelf's count. They weren't when the shelf was counted on a later day.
    on_shelf: bool,
    /// A remark; null when there is none.
    note: Option<String>,
    /// When it was entered.
    created_at: DateTime<Utc>,
    /// Counts its changes; the `ETag` is made of it.
    #[schema(minimum = 1)]
    revision: i64,
}

impl From<Delivery> for DeliveryDocument {
    fn from(Delivery { id, facts, on_shelf, created_at, revision }: Delivery) -> Self {
        let DeliveryFacts { part_model_id, count, expected_on, arrived_on, note } = facts;
        Self {
            id: id.uuid(),
            part_model_id: part_model_id.uuid(),
            count: count.get(),
            expected_on,
            arrived_on,
            on_shelf,
            note: note.map(|note| note.to_string()),
            created_at: created_at.datetime(),
            revision,
        }
    }
}

/// Something that a person should know.
#[derive(Serialize, ToSchema)]
#[schema(as = DeliveryWarning)]
struct WarningDocument {
    /// A stable word for programs.
    #[schema(example = "shelf_short")]
    code: &'static str,
    /// A sentence for people.
    message: String,
}

/// A delivery after a change.
#[derive(Serialize, ToSchema)]
#[schema(as = ChangedDelivery)]
pub(super) struct ChangedDocument {
    #[serde(flatten)]
    delivery: DeliveryDocument,
    /// What a person should know: `shelf_short` when an arrival was taken back or made smaller and the shelf had less
    /// than that.
    warnings: Vec<WarningDocument>,
}

impl From<Booked> for ChangedDocument {
    fn from(Booked { delivery, missing }: Booked) -> Self {
        let warnings = (missing > 0).then(|| WarningDocument {
            code: "shelf_short",
            message: format!(
                "The shelf lacked {missing} of the parts that were taken back; its count stays at nil. Count the shelf"
            ),
        });
        Self { delivery: delivery.into(), warnings: warnings.into_iter().collect() }
    }
}
