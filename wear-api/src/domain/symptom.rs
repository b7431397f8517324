//! What riders report.

use wear_core::drivetrain::symptom::Symptom;

use super::{BikeId, Note, SymptomId, Teeth, Timestamp, Voiding};

/// A report.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NewReport {
    /// Its id.
    pub id: SymptomId,
    /// The bike.
    pub bike_id: BikeId,
    /// When it was reported.
    pub reported_at: Timestamp,
    /// What.
    pub symptom: Symptom,
    /// The cog that skips, where one is named.
    pub cog: Option<Teeth>,
    /// Whether the mechanic saw it with a new chain.
    pub new_chain: bool,
    /// A remark.
    pub note: Option<Note>,
}

/// A report as it stands.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Report {
    /// What was reported.
    pub facts: NewReport,
    /// That it doesn't count.
    pub voided: Option<Voiding>,
}
