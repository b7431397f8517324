//! Who asks, and with what the answer is made.

use crate::clock::Clock;
use crate::domain::{Reach, Role, Timestamp, TokenId, WorkshopId};
use crate::store::{Store, View};

use super::erasing::Keeping;
use super::known_tokens::KnownTokens;
use super::known_words::KnownWords;
use super::{Background, Heavy, Memory, Turns};

/// Who asks.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Actor {
    /// The workshop that the token belongs to; nothing of another one is ever seen.
    pub workshop_id: WorkshopId,
    /// The token; none when the program itself acts.
    pub token_id: Option<TokenId>,
    /// What the token may do.
    pub role: Role,
    /// Which bikes it sees.
    pub reach: Reach,
}

impl Actor {
    /// The program itself, which may do all there is in the workshop.
    #[must_use]
    pub const fn program(workshop_id: WorkshopId) -> Self {
        Self { workshop_id, token_id: None, role: Role::Manager, reach: Reach::Workshop }
    }
}

impl From<&Actor> for View {
    fn from(actor: &Actor) -> Self {
        Self::within(actor.workshop_id, actor.reach)
    }
}

/// What every use case works with.
#[derive(Debug, Clone)]
pub struct Services {
    /// The store.
    pub store: Store,
    /// The clock.
    pub clock: Clock,
    /// Tokens that were looked up a moment ago.
    pub known_tokens: KnownTokens,
    /// Words of workshops that were looked up a moment ago.
    pub known_words: KnownWords,
    /// How long things are kept.
    pub keeping: Keeping,
    /// Threads for what nobody waits for.
    pub background: Background,
    /// Threads for large requests.
    pub heavy: Heavy,
    /// Memory for what large requests need.
    pub memory: Memory,
    /// Whose turn it was last at what the worker does.
    pub turns: Turns,
}

impl Services {
    /// Services over a store, which know no token yet.
    #[must_use]
    pub fn new(store: Store, clock: Clock) -> Self {
        Self {
            store,
            clock,
            known_tokens: KnownTokens::default(),
            known_words: KnownWords::default(),
            keeping: Keeping::default(),
            background: Background::new(),
            heavy: Heavy::new(),
            memory: Memory::default(),
            turns: Turns::default(),
        }
    }

    /// The same with so much memory for what large requests need.
    #[must_use]
    pub fn with_memory(self, memory: Memory) -> Self {
        Self { memory, ..self }
    }

    /// The same for what nobody waits for.
    #[must_use]
    pub fn in_background(&self) -> Self {
        Self { store: self.store.in_background(), ..self.clone() }
    }

    /// The present.
    #[must_use]
    pub fn now(&self) -> Timestamp {
        self.clock.now()
    }
}
