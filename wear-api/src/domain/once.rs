//! Events that count once, however often they are sent.

/// What storing an event did.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Once<T> {
    /// It is new.
    New(T),
    /// The same event was there; this is its id.
    Again(T),
}

impl<T> Once<T> {
    /// What names the event, new or not.
    #[must_use]
    pub fn get(self) -> T {
        match self {
            Self::New(value) | Self::Again(value) => value,
        }
    }

    /// Whether it is new.
    #[must_use]
    pub const fn is_new(&self) -> bool {
        matches!(self, Self::New(_))
    }
}
