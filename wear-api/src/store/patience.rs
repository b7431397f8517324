//! How long anyone waits for the store, and how much of it one workshop may hold at once.

use std::collections::HashMap;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, Instant};

use tokio::sync::{OwnedSemaphorePermit, Semaphore};

use super::error::{Busy, StoreError};
use crate::domain::WorkshopId;

/// How long a transaction waits for others before it gives up. On SQLite, where nothing locks but the one writer, only
/// the longest wait for one counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Patience {
    /// For a connection, or for SQLite's one writer; at most a minute.
    pub turn: Duration,
    /// For a row or table that another transaction holds.
    pub lock: Duration,
    /// For one statement, the wait for locks counted.
    pub statement: Duration,
}

impl Patience {
    /// Of what somebody waits for (A).
    pub const OF_REQUESTS: Self = Self {
        turn: Duration::from_secs(5),
        lock: Duration::from_secs(2),
        statement: Duration::from_secs(10),
    };

    /// Of what nobody waits for: large fleets are learned from with statements that take long, and a job that gave up is done
    /// again only when its lease is over (A).
    pub const OF_BACKGROUND: Self =
        Self { turn: LONGEST_TURN, lock: Duration::from_secs(2), statement: Duration::from_secs(300) };

    /// The settings of a transaction, as Postgres reads them.
    pub(super) fn in_milliseconds(self) -> (String, String) {
        (self.lock.as_millis().to_string(), self.statement.as_millis().to_string())
    }

    /// How long this side waits for the answer to a statement. The server breaks it off before, unless it stands still.
    pub(super) const fn of_this_side(self) -> Duration {
        self.statement.saturating_add(BEYOND)
    }
}

/// How long anyone waits for a connection or for SQLite's one writer (A).
pub(super) const LONGEST_TURN: Duration = Duration::from_secs(60);

/// How long a request waits for one of its workshop's connections (A).
const SHARED_WITHIN: Duration = Duration::from_secs(3);

/// What this side waits longer than the server does (A).
const BEYOND: Duration = Duration::from_secs(2);

/// How long a transaction that failed may take to be undone, before it is left to the server (A).
pub(super) const UNDONE_WITHIN: Duration = Duration::from_secs(2);

/// After a server fell silent connections are looked at for so long before they are used again (A).
const DISTRUSTED_FOR: Duration = Duration::from_secs(60);

/// How long such a connection has to answer (A).
const ANSWERS_WITHIN: Duration = Duration::from_secs(2);

/// When the server last left this side without an answer. Clones are the same one.
#[derive(Debug, Clone, Default)]
pub(super) struct Silence(Arc<Mutex<Option<Instant>>>);

impl Silence {
    /// Waits for the server's answer, at most so long.
    ///
    /// # Errors
    /// Those of the answer, and [`sqlx::Error::Io`] when there is none.
    pub(super) async fn broken_within<T>(
        &self,
        limit: Duration,
        answer: impl Future<Output = Result<T, sqlx::Error>>,
    ) -> Result<T, sqlx::Error> {
        if let Ok(answered) = tokio::time::timeout(limit, answer).await {
            return answered;
        }
        *self.0.lock().unwrap_or_else(PoisonError::into_inner) = Some(Instant::now());
        let cause = format!("no answer in {} s", limit.as_secs());
        Err(sqlx::Error::Io(std::io::Error::new(std::io::ErrorKind::TimedOut, cause)))
    }

    /// Whether a connection that comes back may be used again: it answers, where the server was silent of late. One that
    /// doesn't would keep its place for as long as the network lets it hang.
    pub(super) async fn trusts(&self, connection: &mut impl sqlx::Connection) -> Result<bool, sqlx::Error> {
        let since = *self.0.lock().unwrap_or_else(PoisonError::into_inner);
        if since.is_none_or(|since| since.elapsed() > DISTRUSTED_FOR) {
            return Ok(true);
        }
        match tokio::time::timeout(ANSWERS_WITHIN, connection.ping()).await {
            Ok(answered) => answered.map(|()| true),
            Err(_) => Err(sqlx::Error::Io(std::io::ErrorKind::TimedOut.into())),
        }
    }
}

/// Workshops kept before those that hold nothing get cleared out.
const KEPT: usize = 1_000;

/// What each workshop holds of the connections, so that one whose transactions wait doesn't take all. Clones are the same
/// one.
#[derive(Debug, Clone)]
pub(super) struct Shares {
    most: u32,
    within: Duration,
    held: Arc<Mutex<HashMap<WorkshopId, Arc<Semaphore>>>>,
}

/// A connection of a workshop's share, given back when it is dropped.
#[derive(Debug)]
pub(super) struct Share {
    _place: OwnedSemaphorePermit,
}

impl Shares {
    /// So many connections for each workshop.
    pub(super) fn of(most: u32) -> Self {
        Self { most: most.max(1), within: SHARED_WITHIN, held: Arc::default() }
    }

    /// The same for others, who hold nothing yet.
    pub(super) fn apart(&self) -> Self {
        Self { held: Arc::default(), within: LONGEST_TURN, ..self.clone() }
    }

    /// Waits for one that the workshop has free.
    ///
    /// # Errors
    /// [`Busy::Share`].
    pub(super) async fn take(&self, workshop: WorkshopId) -> Result<Share, StoreError> {
        let places = {
            let mut held = self.held.lock().unwrap_or_else(PoisonError::into_inner);
            if held.len() > KEPT {
                held.retain(|_, places| Arc::strong_count(places) > 1);
            }
            let whole = || Arc::new(Semaphore::new(self.most as usize));
            Arc::clone(held.entry(workshop).or_insert_with(whole))
        };
        match tokio::time::timeout(self.within, places.acquire_owned()).await {
            Ok(Ok(place)) => Ok(Share { _place: place }),
            _ => Err(StoreError::Busy(Busy::Share)),
        }
    }
}

/// Since when SQLite's one writer is at work. Clones are the same one.
#[derive(Debug, Clone, Default)]
pub(super) struct Writing(Arc<Mutex<Option<Instant>>>);

/// A transaction of SQLite's writer.
#[derive(Debug)]
pub(super) struct Turn(Writing);

impl Writing {
    pub(super) fn begin(&self) -> Turn {
        *self.0.lock().unwrap_or_else(PoisonError::into_inner) = Some(Instant::now());
        Turn(self.clone())
    }

    /// What it means that no turn came.
    pub(super) fn taken(&self, error: sqlx::Error) -> StoreError {
        let since = *self.0.lock().unwrap_or_else(PoisonError::into_inner);
        match (error, since) {
            (sqlx::Error::PoolTimedOut, Some(since)) => {
                StoreError::Busy(Busy::Writer { for_so_long: since.elapsed() })
            }
            (error, _) => error.into(),
        }
    }
}

impl Drop for Turn {
    fn drop(&mut self) {
        *self.0.0.lock().unwrap_or_else(PoisonError::into_inner) = None;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const AT_ONCE: Duration = Duration::from_millis(5);

    #[tokio::test]
    async fn a_workshop_takes_no_more_than_its_share_and_leaves_others_theirs() {
        let shares = Shares { within: AT_ONCE, ..Shares::of(2) };
        let (one, other) = (WorkshopId::generate(), WorkshopId::generate());
        let first = shares.take(one).await.expect("free");
        let _second = shares.take(one).await.expect("free");
        assert!(matches!(shares.take(one).await, Err(StoreError::Busy(Busy::Share))));
        let _others = shares.take(other).await.expect("another workshop's");
        let _apart = shares.apart().take(one).await.expect("the background's");
        drop(first);
        let _again = shares.take(one).await.expect("given back");
    }

    #[tokio::test]
    async fn an_answer_that_doesn_t_come_is_an_error() {
        let silence = Silence::default();
        let never = std::future::pending::<Result<(), sqlx::Error>>();
        let error = silence.broken_within(AT_ONCE, never).await.expect_err("no answer");
        assert!(matches!(StoreError::from(error), StoreError::Unavailable(_)));
    }
}
