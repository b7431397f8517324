use chrono::{DateTime, Utc};
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;

use crate::domain::{NewSwap, Once, Place, Swap, Taken, Voiding};
use crate::service::swaps::Entered;

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
    /// Whether the part was taken off the shelf's count.
    from_shelf: bool,
    /// Steps that were ticked; null where nobody kept a list.
    checklist: Option<Vec<&'static str>>,
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
            from_shelf,
            checklist,
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
            checklist: checklist.map(|list| list.words().to_vec()),
            from_shelf,
            voided_at,
            voided_reason,
        }
    }
}

/// Something that a person should know.
#[derive(Serialize, ToSchema)]
#[schema(as = SwapWarning)]
struct WarningDocument {
    /// A stable word for programs.
    #[schema(example = "shelf_empty")]
    code: &'static str,
    /// A sentence for people.
    message: String,
}

/// A swap as it was entered.
#[derive(Serialize, ToSchema)]
#[schema(as = EnteredSwap)]
pub(super) struct EnteredDocument {
    #[serde(flatten)]
    swap: SwapDocument,
    /// What a person should know: `shelf_empty` when the book says that the shelf had no such part, `shelf_last`
    /// when it was the last one.
    warnings: Vec<WarningDocument>,
}

impl From<Entered> for EnteredDocument {
    fn from(Entered { swap, shelf }: Entered) -> Self {
        let (Once::New(swap) | Once::Again(swap)) = swap;
        let warning = match shelf {
            Taken::Empty => Some((
                "shelf_empty",
                "The shelf had no part of this model by the book; the count stays at nil. Count the shelf",
            )),
            Taken::One { left: 0 } => {
                Some(("shelf_last", "This was the last part of its model on the shelf"))
            }
            Taken::One { .. } | Taken::NotCounted => None,
        };
        let warnings = warning
            .into_iter()
            .map(|(code, message)| WarningDocument { code, message: message.to_owned() })
            .collect();
        Self { swap: swap.into(), warnings }
    }
}
