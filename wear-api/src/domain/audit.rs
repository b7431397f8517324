//! Who did what, when.

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
    /// To what: a resource and its id, `readings/0190…`.
    pub subject: String,
    /// What else is worth knowing; no secrets.
    pub detail: serde_json::Value,
}
