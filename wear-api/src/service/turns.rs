//! Whose turn it was last, for each kind of work that workshops take turns at.

use std::collections::HashMap;
use std::sync::{Arc, Mutex, PoisonError};

use crate::store::Turn;

/// Turns by kind of work. Clones are the same; each process has its own.
#[derive(Debug, Clone, Default)]
pub struct Turns(Arc<Mutex<HashMap<&'static str, Turn>>>);

impl Turns {
    /// Whose turn it was last.
    pub(super) fn last(&self, kind: &'static str) -> Turn {
        self.0.lock().unwrap_or_else(PoisonError::into_inner).get(kind).copied().unwrap_or_default()
    }

    /// Goes on from here the next time.
    pub(super) fn go_on(&self, kind: &'static str, turn: Turn) {
        self.0.lock().unwrap_or_else(PoisonError::into_inner).insert(kind, turn);
    }
}
