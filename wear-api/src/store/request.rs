//! One request, one transaction: what a request with an idempotency key commits is held back until its answer
//! can be stored with it, so that the two last or vanish together.
//!
//! [`RequestWork::during`] marks the task; from then on each transaction that the task begins on the workshop is the
//! same one. The first that writes reserves the key. A use case that commits hands the open transaction back,
//! a later one gets it lent, and [`Store::finish_request`] commits it with the answer. Use cases don't know.
//!
//! A request without a key only gets noted whether it committed anything, which tells whether it may be tried
//! again from its beginning.

use std::mem;
use std::sync::{Arc, Mutex, PoisonError};

use super::connection::{Connection, Lease};
use super::{SEE_ALL, SEE_ONE, Store, StoreError, Tx, see};
use crate::domain::{IdempotentRequest, Reservation, StoredAnswer, Timestamp, WorkshopId};

tokio::task_local! {
    static CURRENT: RequestWork;
}

/// What one request does in the store. Clones are the same one.
#[derive(Clone)]
pub struct RequestWork(Arc<Inner>);

struct Inner {
    key: Option<Key>,
    state: Mutex<State>,
}

struct Key {
    request: IdempotentRequest,
    expired_before: Timestamp,
}

enum State {
    /// Nothing is committed and nothing under way.
    Idle,
    /// A transaction is under way.
    Lent,
    /// Committed as far as the use case knows, and open.
    Held(Connection),
    /// Committed for good: the request had no key.
    Committed,
    /// The key belongs to another request.
    Refused(Reservation),
    /// The use case gave up: what it did is to be undone.
    GivenUp(Connection),
    /// A later use case gave up in the transaction that held an earlier one's work: both are to be undone.
    Lost(Connection),
}

/// Where a lent connection goes back to.
pub(super) struct Home {
    work: RequestWork,
    kind: Kind,
}

enum Kind {
    /// The request's own transaction, lent to write.
    Write { holds_work: bool },
    /// The request's own transaction, lent to look at.
    Read,
    /// A transaction of a request without a key.
    Noted,
}

/// How a request with a key ended in the store.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Finish {
    /// Its work and its answer are committed.
    Stored,
    /// Its key belongs to another request; nothing of this one is left.
    Refused(Reservation),
}

impl RequestWork {
    /// A request that carries a key. Keys reserved before `expired_before` count as new.
    #[must_use]
    pub fn with_key(request: IdempotentRequest, expired_before: Timestamp) -> Self {
        let key = Some(Key { request, expired_before });
        Self(Arc::new(Inner { key, state: Mutex::new(State::Idle) }))
    }

    /// A request without a key.
    #[must_use]
    pub fn without_key() -> Self {
        Self(Arc::new(Inner { key: None, state: Mutex::new(State::Idle) }))
    }

    /// Runs `work` as this request.
    pub async fn during<F: Future>(&self, work: F) -> F::Output {
        CURRENT.scope(self.clone(), work).await
    }

    /// Whether something that the request did lasts already.
    #[must_use]
    pub fn has_committed(&self) -> bool {
        matches!(*self.state(), State::Committed)
    }

    /// The request whose key this one has, when the store found one on the way.
    #[must_use]
    pub fn refusal(&self) -> Option<Reservation> {
        match &*self.state() {
            State::Refused(reservation) => Some(reservation.clone()),
            _ => None,
        }
    }

    /// Undoes what was given up, and waits until it is: the next request finds the key and the rows free.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`]; the store undoes it then when it notices that nobody is there.
    pub async fn undo(&self) -> Result<(), StoreError> {
        let ended = mem::replace(&mut *self.state(), State::Idle);
        match ended {
            State::Held(connection) | State::GivenUp(connection) | State::Lost(connection) => {
                connection.rollback().await
            }
            other => {
                self.set(other);
                Ok(())
            }
        }
    }

    fn state(&self) -> std::sync::MutexGuard<'_, State> {
        self.0.state.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn set(&self, state: State) {
        *self.state() = state;
    }

    /// Notes that the request's transaction begins; whether there was none under way.
    fn begins(&self) -> Result<bool, StoreError> {
        let mut state = self.state();
        match *state {
            State::Idle | State::GivenUp(_) => {
                *state = State::Lent;
                Ok(true)
            }
            // The earlier work is undone: nothing may be added as if it weren't.
            State::Lost(_) | State::Refused(_) => Err(StoreError::Repeated),
            State::Lent | State::Held(_) | State::Committed => Ok(false),
        }
    }

    /// The held connection, lent.
    fn lend(&self, kind: Kind) -> Option<Lease> {
        let mut state = self.state();
        match mem::replace(&mut *state, State::Lent) {
            State::Held(connection) => {
                let home = Home { work: self.clone(), kind };
                Some(Lease::new(connection, Some(home)))
            }
            other => {
                *state = other;
                None
            }
        }
    }
}

fn current() -> Option<RequestWork> {
    CURRENT.try_with(RequestWork::clone).ok()
}

impl Home {
    /// The transaction's work is to last.
    pub(super) async fn take_back(self, connection: Connection) -> Result<(), StoreError> {
        match self.kind {
            Kind::Write { .. } | Kind::Read => self.work.set(State::Held(connection)),
            Kind::Noted => {
                // Noted before it is known: a commit whose answer got lost may have happened.
                self.work.set(State::Committed);
                connection.commit().await?;
            }
        }
        Ok(())
    }

    /// The transaction was dropped.
    pub(super) fn dropped(self, connection: Connection) {
        match self.kind {
            Kind::Read => self.work.set(State::Held(connection)),
            Kind::Write { holds_work: true } => self.work.set(State::Lost(connection)),
            Kind::Write { holds_work: false } => {
                let mut state = self.work.state();
                if matches!(*state, State::Lent) {
                    *state = State::GivenUp(connection);
                }
            }
            Kind::Noted => {}
        }
    }
}

impl Store {
    /// A lease to look at things with; the request's own transaction when it holds work.
    pub(super) async fn lease_to_read(&self) -> Result<(Lease, bool), StoreError> {
        if let Some(lease) = current().and_then(|work| work.lend(Kind::Read)) {
            return Ok((lease, true));
        }
        Ok((Lease::new(self.read().await?, None), false))
    }

    /// A lease across workshops to write with.
    pub(super) async fn lease_to_write_anywhere(&self) -> Result<Lease, StoreError> {
        let work = current();
        if let Some(lease) = work.as_ref().and_then(|work| work.lend(Kind::Write { holds_work: true })) {
            return Ok(lease);
        }
        let home = work.filter(|work| work.0.key.is_none()).map(|work| Home { work, kind: Kind::Noted });
        Ok(Lease::new(self.write().await?, home))
    }

    /// A transaction to write with, the key of the request reserved.
    pub(super) async fn write_within_request(&self, workshop: WorkshopId) -> Result<Tx, StoreError> {
        let Some(work) = current() else {
            return Tx::over(Lease::new(self.write().await?, None), workshop).await;
        };
        let Some(Key { request, expired_before }) = &work.0.key else {
            let home = Home { work: work.clone(), kind: Kind::Noted };
            return Tx::over(Lease::new(self.write().await?, Some(home)), workshop).await;
        };
        if let Some(mut lease) = work.lend(Kind::Write { holds_work: true }) {
            see(lease.held(), SEE_ONE, workshop).await?;
            return Ok(Tx { connection: lease, workshop });
        }
        if !work.begins()? {
            // Two at once in one request: the second is a transaction of its own.
            return Tx::over(Lease::new(self.write().await?, None), workshop).await;
        }
        let home = Home { work: work.clone(), kind: Kind::Write { holds_work: false } };
        let connection = match self.write().await {
            Ok(connection) => connection,
            Err(error) => {
                work.set(State::Idle);
                return Err(error);
            }
        };
        let mut tx = Tx::over(Lease::new(connection, Some(home)), workshop).await?;
        match tx.reserve_key(request, *expired_before).await? {
            Reservation::Fresh => Ok(tx),
            taken => {
                work.set(State::Refused(taken));
                Err(StoreError::Repeated)
            }
        }
    }

    /// Commits what a request with a key has done together with its answer.
    ///
    /// # Errors
    /// [`StoreError::Interrupted`] when a part of the work is undone, [`StoreError::Unavailable`]. Nothing of
    /// the request lasts then.
    pub async fn finish_request(
        &self,
        work: &RequestWork,
        workshop: WorkshopId,
        answer: &StoredAnswer,
    ) -> Result<Finish, StoreError> {
        let Some(Key { request, .. }) = &work.0.key else { return Ok(Finish::Stored) };
        if let Some(taken) = work.refusal() {
            return Ok(Finish::Refused(taken));
        }
        if matches!(*work.state(), State::Lost(_)) {
            return Err(StoreError::Interrupted);
        }
        // A request that wrote nothing reserves its key now.
        let mut tx = match work.during(self.begin_write(workshop)).await {
            Ok(tx) => tx,
            Err(StoreError::Repeated) => {
                return work.refusal().map(Finish::Refused).ok_or(StoreError::Interrupted);
            }
            Err(error) => return Err(error),
        };
        tx.store_answer(request, answer).await?;
        tx.commit().await?;
        let held = mem::replace(&mut *work.state(), State::Committed);
        let State::Held(connection) = held else { return Err(StoreError::Interrupted) };
        connection.commit().await?;
        Ok(Finish::Stored)
    }
}

/// Lets a lease see all workshops, or one again.
pub(super) async fn see_all(lease: &mut Lease) -> Result<(), StoreError> {
    if let Connection::Postgres(transaction) = lease.held() {
        sqlx::query(SEE_ALL).execute(&mut **transaction).await?;
    }
    Ok(())
}
