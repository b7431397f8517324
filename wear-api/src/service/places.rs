//! Places of each workshop's own.

use std::collections::HashMap;
use std::sync::{Arc, Mutex, PoisonError};

use tokio::sync::Semaphore;

use crate::domain::WorkshopId;

/// Workshops kept before those that hold nothing get cleared out.
const KEPT: usize = 1_000;

/// As many places for each workshop. Clones are the same.
#[derive(Debug, Clone)]
pub(super) struct Places {
    each: usize,
    held: Arc<Mutex<HashMap<WorkshopId, Arc<Semaphore>>>>,
}

impl Places {
    /// So many for each.
    pub(super) fn each(each: usize) -> Self {
        Self { each, held: Arc::default() }
    }

    /// One workshop's.
    pub(super) fn of(&self, workshop: WorkshopId) -> Arc<Semaphore> {
        let mut held = self.held.lock().unwrap_or_else(PoisonError::into_inner);
        if held.len() > KEPT {
            held.retain(|_, places| Arc::strong_count(places) > 1);
        }
        Arc::clone(held.entry(workshop).or_insert_with(|| Arc::new(Semaphore::new(self.each))))
    }
}
