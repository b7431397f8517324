//! Someone signed in to the pages, and the codes that sign somebody in.

use super::{Label, Role, SessionId, Timestamp, TokenHash, TokenId, WorkshopId, WorkshopName};

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
    /// What the token is called: mostly a person's name.
    pub label: Label,
    /// When it began.
    pub created_at: Timestamp,
    /// When it was last used, to within a few minutes.
    pub last_seen_at: Timestamp,
}

/// On what somebody signs in, which says how long it lasts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Device {
    /// The person's own, such as a phone.
    Own,
    /// One that others use as well, or may.
    Shared,
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
    /// On what.
    pub device: Device,
    /// When it begins.
    pub created_at: Timestamp,
}

/// A one-time code for signing in that is to be stored.
#[derive(Debug, Clone, PartialEq)]
pub struct NewSignIn {
    /// Hash of the code.
    pub hash: TokenHash,
    /// The token whose holder it signs in.
    pub token_id: TokenId,
    /// When it was made.
    pub created_at: Timestamp,
    /// Up to when it can be used.
    pub expires_at: Timestamp,
}

/// Whom a code signs in, and where.
#[derive(Debug, Clone, PartialEq)]
pub struct Invited {
    /// The workshop.
    pub workshop_id: WorkshopId,
    /// Its name.
    pub workshop: WorkshopName,
    /// The token.
    pub token_id: TokenId,
    /// What that token may do.
    pub role: Role,
    /// What the token is called.
    pub label: Label,
}
