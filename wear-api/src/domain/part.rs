//! One physical part.

use super::{Label, PartId, PartModelId, Place, Timestamp};

/// What is known of a part.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PartFacts {
    /// Its model, where known. The model's place is this part's place.
    pub model_id: Option<PartModelId>,
    /// The place it fits.
    pub place: Place,
    /// What people call it.
    pub label: Option<Label>,
}

/// One physical part with its life; fittings say where it has been.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Part {
    /// Its id.
    pub id: PartId,
    /// What is known of it.
    pub facts: PartFacts,
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
    /// What is known of it.
    pub facts: PartFacts,
    /// When it is entered.
    pub created_at: Timestamp,
}
