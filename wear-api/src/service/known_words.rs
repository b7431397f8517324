//! In which words workshops are answered, looked up a moment ago.
//!
//! Nearly every answer may hold a sentence, and none should cost a look-up for it: language and units of a workshop are looked up
//! once in `KEPT_FOR` by each process. What changes them in this process is followed at once, in another one after that.

use std::collections::HashMap;
use std::fmt;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

use super::{ServiceError, Services};
use crate::domain::WorkshopId;
use crate::words::Words;

/// How long the words of a workshop are taken as known (A).
const KEPT_FOR: Duration = Duration::from_secs(5);

/// Workshops kept before those that are over get cleared out (A).
const MOST: usize = 10_000;

/// Words of workshops. Clones share them.
#[derive(Clone, Default)]
pub struct KnownWords(Arc<Mutex<Kept>>);

#[derive(Default)]
struct Kept {
    words: HashMap<WorkshopId, (Words, Instant)>,
    /// Counts what was forgotten: an answer of the store's from before is out of date.
    forgotten: u64,
}

impl KnownWords {
    pub(super) fn forget(&self, id: WorkshopId) {
        let mut kept = self.lock();
        kept.forgotten = kept.forgotten.wrapping_add(1);
        kept.words.remove(&id);
    }

    fn lock(&self) -> MutexGuard<'_, Kept> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl fmt::Debug for KnownWords {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("KnownWords").field("kept", &self.lock().words.len()).finish_non_exhaustive()
    }
}

impl Services {
    /// In which words a workshop is answered.
    ///
    /// # Errors
    /// [`ServiceError::Unavailable`].
    pub(crate) async fn words_of(&self, id: WorkshopId) -> Result<Words, ServiceError> {
        let began = Instant::now();
        let is_fresh = |since: &Instant| began.saturating_duration_since(*since) < KEPT_FOR;
        let forgotten = {
            let kept = self.known_words.lock();
            if let Some((words, _)) = kept.words.get(&id).filter(|(_, since)| is_fresh(since)) {
                return Ok(*words);
            }
            kept.forgotten
        };
        let workshop = self.store.begin_read(id).await?.workshop().await?;
        let words = Words::for_workshop(&workshop, None);
        let mut kept = self.known_words.lock();
        if kept.words.len() >= MOST {
            kept.words.retain(|_, (_, since)| is_fresh(since));
        }
        if kept.forgotten == forgotten && kept.words.len() < MOST {
            kept.words.insert(id, (words, began));
        }
        Ok(words)
    }
}
