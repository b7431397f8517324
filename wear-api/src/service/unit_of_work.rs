//! What one request changes, as one value.
//!
//! Whoever makes a [`UnitOfWork`] lends it to use cases and commits it: for requests of the API that is the middleware
//! `web::once`, elsewhere [`Services::change`]. A use case has it as `&mut`, [begins](UnitOfWork::begin), and can't
//! commit. So however many use cases a request goes through, what they change lasts as a whole, and with a key lasts
//! together with the answer.

use super::idempotency::KEPT_FOR;
use super::{Actor, ServiceError, Services};
use crate::domain::{IdempotentRequest, Reservation, StoredAnswer};
use crate::store::{Store, Tx};

/// One request's changes: one transaction at most. Dropped, it changes nothing.
pub struct UnitOfWork {
    store: Store,
    actor: Actor,
    key: Option<IdempotentRequest>,
    state: State,
    after_commit: Vec<Box<dyn FnOnce() + Send>>,
}

enum State {
    /// No transaction is open.
    Idle,
    /// Everything changed so far; with a key, its reservation first.
    Open(Tx),
    /// The key belongs to another request. Nothing can be changed.
    Repeated(Reservation),
}

/// How a request with a key ended.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Kept {
    /// Its changes and its answer last.
    Stored,
    /// Its key belongs to another request; nothing of this one is left.
    Repeated(Reservation),
}

impl UnitOfWork {
    /// Changes that last once they are [committed](Self::commit).
    #[must_use]
    pub fn new(services: &Services, actor: Actor) -> Self {
        let store = services.store.clone();
        Self { store, actor, key: None, state: State::Idle, after_commit: Vec::new() }
    }

    /// Changes that last once they are [committed with their answer](Self::commit_with). The first one reserves
    /// the key.
    #[must_use]
    pub fn with_key(services: &Services, actor: Actor, request: IdempotentRequest) -> Self {
        Self { key: Some(request), ..Self::new(services, actor) }
    }

    /// Who changes something.
    #[must_use]
    pub const fn actor(&self) -> &Actor {
        &self.actor
    }

    /// The transaction, begun when it isn't yet, and who acts in it.
    ///
    /// # Errors
    /// [`ServiceError::Unavailable`]; [`ServiceError::Repeated`] when the key belongs to another request.
    pub async fn begin(&mut self) -> Result<(&mut Tx, &Actor), ServiceError> {
        if matches!(self.state, State::Idle) {
            let mut tx = self.store.begin_write(&self.actor).await?;
            let reservation = match &self.key {
                Some(request) => tx.reserve_key(request, request.at.plus(-KEPT_FOR)).await?,
                None => Reservation::Fresh,
            };
            self.state = match reservation {
                Reservation::Fresh => State::Open(tx),
                taken => State::Repeated(taken),
            };
        }
        let State::Open(tx) = &mut self.state else { return Err(ServiceError::Repeated) };
        Ok((tx, &self.actor))
    }

    /// The request that has the key, when it is another one.
    #[must_use]
    pub const fn repeated(&self) -> Option<&Reservation> {
        match &self.state {
            State::Repeated(taken) => Some(taken),
            State::Idle | State::Open(_) => None,
        }
    }

    /// Has something done once the changes last, such as forgetting what was known before. It doesn't happen when
    /// they are undone.
    pub fn after_commit(&mut self, then: impl FnOnce() + Send + 'static) {
        self.after_commit.push(Box::new(then));
    }

    /// Undoes everything so far, and waits until it is: key and rows are free again. The unit is as new. A store that
    /// can't be reached undoes it by itself.
    pub async fn undo(&mut self) {
        self.after_commit.clear();
        if let State::Open(tx) = std::mem::replace(&mut self.state, State::Idle)
            && let Err(error) = tx.rollback().await
        {
            tracing::warn!(%error, "the store undoes a change by itself");
        }
    }

    /// Undoes what was [tried](Tx::begin_trying), or everything so far where the store can't do less, and lets others have what
    /// it held.
    ///
    /// # Errors
    /// [`ServiceError::Unavailable`].
    pub async fn give_way(&mut self) -> Result<(), ServiceError> {
        if let State::Open(tx) = &mut self.state
            && tx.undo_tried().await?
        {
            return Ok(());
        }
        self.undo().await;
        Ok(())
    }

    /// Makes the changes last.
    ///
    /// # Errors
    /// [`ServiceError::Interrupted`], [`ServiceError::Unavailable`]; [`ServiceError::Unanswered`] when there is a key.
    /// Nothing was changed then.
    pub async fn commit(self) -> Result<(), ServiceError> {
        if self.key.is_some() {
            return Err(ServiceError::Unanswered);
        }
        self.end().await
    }

    /// Makes the changes last, and the answer with them for when the request is sent again. A request that changed
    /// nothing has its answer kept too.
    ///
    /// # Errors
    /// [`ServiceError::Interrupted`], [`ServiceError::Unavailable`]. Nothing was changed then.
    pub async fn commit_with(mut self, answer: &StoredAnswer) -> Result<Kept, ServiceError> {
        match self.store_answer(answer).await {
            Ok(()) => {}
            Err(ServiceError::Repeated) => {
                let State::Repeated(taken) = self.state else { return Err(ServiceError::Repeated) };
                return Ok(Kept::Repeated(taken));
            }
            Err(error) => {
                self.undo().await;
                return Err(error);
            }
        }
        self.end().await?;
        Ok(Kept::Stored)
    }

    async fn end(self) -> Result<(), ServiceError> {
        if let State::Open(tx) = self.state {
            tx.commit().await?;
        }
        self.after_commit.into_iter().for_each(|then| then());
        Ok(())
    }

    async fn store_answer(&mut self, answer: &StoredAnswer) -> Result<(), ServiceError> {
        let Some(request) = self.key.clone() else { return Ok(()) };
        let (tx, _) = self.begin().await?;
        Ok(tx.store_answer(&request, answer).await?)
    }
}

impl Services {
    /// Makes one change and commits it, where no middleware does: for pages, commands and the demonstration.
    ///
    /// # Errors
    /// Those of `change`; [`ServiceError::Interrupted`], [`ServiceError::Unavailable`]. Nothing was changed then.
    pub async fn change<T>(
        &self,
        actor: &Actor,
        change: impl AsyncFnOnce(&mut UnitOfWork) -> Result<T, ServiceError>,
    ) -> Result<T, ServiceError> {
        let mut work = UnitOfWork::new(self, *actor);
        match change(&mut work).await {
            Ok(done) => {
                work.commit().await?;
                Ok(done)
            }
            Err(error) => {
                work.undo().await;
                Err(error)
            }
        }
    }
}
