//! A swap: one part off, one on.

use super::{
    BikeId, Checklist, Note, PartId, PartModelId, Place, Position, ReadingId, SwapId, SwapReason, Timestamp,
    Voiding,
};

/// What was swapped, when.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NewSwap {
    /// Its id.
    pub id: SwapId,
    /// The bike.
    pub bike_id: BikeId,
    /// When.
    pub swapped_at: Timestamp,
    /// Where on the bike.
    pub place: Place,
    /// Which of several equal places.
    pub position: Position,
    /// The part taken off, if there was one.
    pub off_part_id: Option<PartId>,
    /// The part put on.
    pub on_part_id: PartId,
    /// Model of the part put on, where known.
    pub model_id: Option<PartModelId>,
    /// The reading taken of the old part at the swap.
    pub reading_id: Option<ReadingId>,
    /// A remark.
    pub note: Option<Note>,
    /// Whether the part was taken off the shelf's count.
    pub from_shelf: bool,
    /// Steps that were ticked; none where nobody kept a list.
    pub checklist: Option<Checklist>,
    /// Why the old part came off; none where nobody said, and for a chain.
    pub reason: Option<SwapReason>,
}

/// A swap as it stands.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Swap {
    /// What was swapped, when.
    pub facts: NewSwap,
    /// That it doesn't count.
    pub voided: Option<Voiding>,
}
