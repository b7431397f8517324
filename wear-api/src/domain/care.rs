//! Care of a drivetrain.

use super::{BikeId, CareId, CareKind, LubricantId, Note, Timestamp, Voiding};

/// Care of one bike's drivetrain at one time. The same kind at the same instant is the same event.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Care {
    /// Its id.
    pub id: CareId,
    /// The bike.
    pub bike_id: BikeId,
    /// What was done.
    pub kind: CareKind,
    /// When.
    pub done_at: Timestamp,
    /// A remark.
    pub note: Option<Note>,
    /// Since when and why it doesn't count.
    pub voided: Option<Voiding>,
    /// What it was lubricated with; none where nobody named it.
    pub lubricant_id: Option<LubricantId>,
}
