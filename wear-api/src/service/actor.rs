//! Who asks, and with what the answer is made.

use crate::clock::Clock;
use crate::domain::{Role, Timestamp, TokenId, WorkshopId};
use crate::store::Store;

/// Who asks.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Actor {
    /// The workshop that the token belongs to; nothing of another one is ever seen.
    pub workshop_id: WorkshopId,
    /// The token; none when the program itself acts.
    pub token_id: Option<TokenId>,
    /// What the token may do.
    pub role: Role,
}

/// What every use case works with.
#[derive(Debug, Clone)]
pub struct Services {
    /// The store.
    pub store: Store,
    /// The clock.
    pub clock: Clock,
}

impl Services {
    /// The present.
    #[must_use]
    pub fn now(&self) -> Timestamp {
        self.clock.now()
    }
}
