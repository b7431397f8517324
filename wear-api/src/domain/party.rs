//! Who is at the other end of a token: apps that work with the workshop, and riders.

use super::{AppId, Label, RedirectUri, RiderId, Timestamp};

/// An app that works with the workshop.
#[derive(Debug, Clone, PartialEq)]
pub struct App {
    /// Its id.
    pub id: AppId,
    /// What people call it. No other app of the workshop has the name.
    pub name: Label,
    /// Where browsers may be sent with its codes.
    pub redirect_uris: Vec<RedirectUri>,
    /// When it was entered.
    pub created_at: Timestamp,
    /// Counts its changes, from 1.
    pub revision: i64,
}

/// A rider. The name is all that is kept of them, and goes when they are deleted.
#[derive(Clone, PartialEq)]
pub struct Rider {
    /// Their id.
    pub id: RiderId,
    /// What people call them.
    pub name: Label,
    /// When they were entered.
    pub created_at: Timestamp,
    /// Counts changes, from 1.
    pub revision: i64,
}

/// Without the name: it is personal, and logs are kept.
impl std::fmt::Debug for Rider {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Rider").field("id", &self.id).finish_non_exhaustive()
    }
}
