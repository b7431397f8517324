//! Someone signed in to the pages.

use super::{Role, SessionId, Timestamp, TokenHash, TokenId, WorkshopId};

/// A session that is in force.
#[derive(Debug, Clone, PartialEq)]
pub struct Session {
    /// Its id.
    pub id: SessionId,
    /// The workshop whose pages it opens.
    pub workshop_id: WorkshopId,
    /// The token that was used to sign in.
    pub token_id: TokenId,
    /// What that token may do.
    pub role: Role,
    /// When it began.
    pub created_at: Timestamp,
    /// When it was last used, to within a few minutes.
    pub last_seen_at: Timestamp,
}

/// A session to be stored.
#[derive(Debug, Clone, PartialEq)]
pub struct NewSession {
    /// Its id.
    pub id: SessionId,
    /// Hash of the secret in its cookie.
    pub hash: TokenHash,
    /// The token that was used to sign in.
    pub token_id: TokenId,
    /// When it begins.
    pub created_at: Timestamp,
}
