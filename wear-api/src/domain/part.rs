//! One physical part.

use super::{Label, PartId, PartModelId, Place, Timestamp};

/// One physical part with its life; fittings say where it has been.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Part {
    /// Its id.
    pub id: PartId,
    /// Its model, where known. The model's place is this part's place.
    pub model_id: Option<PartModelId>,
    /// The place it fits.
    pub place: Place,
    /// What people call it.
    pub label: Option<Label>,
    /// When it was entered.
    pub created_at: Timestamp,
    /// When it was done with.
    pub retired_at: Option<Timestamp>,
    /// Counts its changes, from 1.
    pub revision: i64,
}

/// A part to be stored.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NewPart {
    /// Its id.
    pub id: PartId,
    /// Its model, where known.
    pub model_id: Option<PartModelId>,
    /// The place it fits.
    pub place: Place,
    /// What people call it.
    pub label: Option<Label>,
    /// When it is entered.
    pub created_at: Timestamp,
}
