use chrono::{DateTime, Utc};
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;

use crate::domain::{NewSwap, Place, Swap, Voiding};

/// A swap.
#[derive(Serialize, ToSchema)]
#[schema(as = Swap)]
pub(super) struct SwapDocument {
    /// Its id.
    id: Uuid,
    /// The bike.
    bike_id: Uuid,
    /// When.
    swapped_at: DateTime<Utc>,
    /// Where on the bike.
    #[schema(value_type = Place)]
    place: &'static str,
    /// Which of several equal places: rings from the largest, cogs from the smallest, from 0.
    #[schema(minimum = 0, maximum = 15)]
    position: u8,
    /// The part that came off; null when the place was empty.
    off_part_id: Option<Uuid>,
    /// The part that went on.
    on_part_id: Uuid,
    /// Its model; null when nobody said.
    part_model_id: Option<Uuid>,
    /// The reading of the chain that came off; null when there is none.
    reading_id: Option<Uuid>,
    /// A remark; null when there is none.
    note: Option<String>,
    /// Since when it doesn't count; null when it does.
    voided_at: Option<DateTime<Utc>>,
    /// Why it doesn't count.
    voided_reason: Option<String>,
}

impl From<Swap> for SwapDocument {
    fn from(Swap { facts, voided }: Swap) -> Self {
        let NewSwap {
            id,
            bike_id,
            swapped_at,
            place,
            position,
            off_part_id,
            on_part_id,
            model_id,
            reading_id,
            note,
        } = facts;
        let (voided_at, voided_reason) = match voided {
            Some(Voiding { at, reason }) => (Some(at.datetime()), Some(reason.to_string())),
            None => (None, None),
        };
        Self {
            id: id.uuid(),
            bike_id: bike_id.uuid(),
            swapped_at: swapped_at.datetime(),
            place: place.as_str(),
            position: position.get(),
            off_part_id: off_part_id.map(|id| id.uuid()),
            on_part_id: on_part_id.uuid(),
            part_model_id: model_id.map(|id| id.uuid()),
            reading_id: reading_id.map(|id| id.uuid()),
            note: note.map(|note| note.to_string()),
            voided_at,
            voided_reason,
        }
    }
}
