//! Bodies that are waited for: each has a time limit, and when too many are waited for at once the one that has kept us waiting
//! longest makes room. So slow senders take descriptors from each other, not from everyone else.

use std::collections::VecDeque;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use tokio::sync::Notify;

/// How long a body may take: a sender that drips holds a place as long as it likes otherwise (A).
pub const READ_WITHIN: Duration = Duration::from_secs(60);

/// The bodies that this process waits for. Clones are the same.
#[derive(Debug, Clone)]
pub struct Bodies {
    most: usize,
    waiting: Arc<Mutex<VecDeque<Arc<Notify>>>>,
}

/// A body that is waited for, until it is dropped.
struct Place {
    among: Bodies,
    gives_way: Arc<Notify>,
}

/// Why a body isn't waited for any longer.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum GivenUp {
    /// It took longer than a body may.
    TooSlow,
    /// Too many others were waited for, and it was the slowest.
    Crowded,
}

impl Bodies {
    /// At most so many at once.
    #[must_use]
    pub fn at_most(most: usize) -> Self {
        Self { most: most.max(1), waiting: Arc::default() }
    }

    /// Reads a body for as long as it may take.
    ///
    /// # Errors
    /// [`GivenUp`].
    pub async fn read<T>(&self, within: Duration, reading: impl Future<Output = T>) -> Result<T, GivenUp> {
        let place = self.begin();
        tokio::select! {
            biased;
            read = reading => Ok(read),
            () = place.gives_way.notified() => Err(GivenUp::Crowded),
            () = tokio::time::sleep(within) => Err(GivenUp::TooSlow),
        }
    }

    fn begin(&self) -> Place {
        let gives_way = Arc::new(Notify::new());
        let mut waiting = self.waiting.lock().unwrap_or_else(PoisonError::into_inner);
        waiting.push_back(Arc::clone(&gives_way));
        if waiting.len() > self.most
            && let Some(slowest) = waiting.pop_front()
        {
            slowest.notify_one();
        }
        Place { among: self.clone(), gives_way }
    }
}

impl Drop for Place {
    fn drop(&mut self) {
        let mut waiting = self.among.waiting.lock().unwrap_or_else(PoisonError::into_inner);
        // Most bodies are here before others that came earlier: from the end.
        if let Some(place) = waiting.iter().rposition(|other| Arc::ptr_eq(other, &self.gives_way)) {
            waiting.remove(place);
        }
    }
}

#[cfg(test)]
mod tests {
    use std::future::{pending, ready};

    use super::*;

    #[tokio::test]
    async fn the_slowest_makes_room_and_each_has_its_time() {
        let bodies = Bodies::at_most(2);
        let slow = |bodies: &Bodies| {
            let bodies = bodies.clone();
            tokio::spawn(async move { bodies.read(Duration::from_millis(200), pending::<()>()).await })
        };
        let first = slow(&bodies);
        tokio::task::yield_now().await;
        let second = slow(&bodies);
        tokio::task::yield_now().await;
        assert_eq!(bodies.read(READ_WITHIN, ready(7)).await, Ok(7));
        // Even one that is here at once was one too many while it was read.
        assert_eq!(first.await.expect("an end"), Err(GivenUp::Crowded));
        assert_eq!(second.await.expect("an end"), Err(GivenUp::TooSlow));
        assert!(bodies.waiting.lock().expect("nobody panicked").is_empty());
    }
}
