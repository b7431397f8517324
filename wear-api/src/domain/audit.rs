//! Who did what, when.

use uuid::Uuid;

use super::{AuditId, Timestamp, TokenId};

/// One entry of the audit list, which only grows.
#[derive(Debug, Clone, PartialEq)]
pub struct AuditEntry {
    /// Its id.
    pub id: AuditId,
    /// When.
    pub at: Timestamp,
    /// By whom; none when the program itself did it.
    pub token_id: Option<TokenId>,
    /// What was done: `reading.void`.
    pub action: String,
    /// To what: its address below `/v1/`, `bikes/0190…/readings/0190…`.
    pub subject: String,
    /// What else is worth knowing; no secrets.
    pub detail: serde_json::Value,
}

impl AuditEntry {
    /// The ids in the subject's address, the outermost first.
    pub fn subject_ids(&self) -> impl Iterator<Item = Uuid> {
        self.subject.split('/').filter_map(|part| part.parse().ok())
    }

    /// The subject's ids and the token's.
    pub fn named_ids(&self) -> impl Iterator<Item = Uuid> {
        self.subject_ids().chain(self.token_id.map(TokenId::uuid))
    }
}

/// An entry with the names that people gave to what it is about.
#[derive(Debug, Clone, PartialEq)]
pub struct NamedEntry {
    /// The entry.
    pub entry: AuditEntry,
    /// Label or name, as it is now, of the innermost thing of the subject that has one; none when it is gone.
    pub label: Option<String>,
    /// Label of the token that did it, be it revoked or not.
    pub token_label: Option<String>,
}
