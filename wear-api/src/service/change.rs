//! A change of a workshop's records or of a bike's history, as every use case that makes one begins and ends it.

use super::{Actor, Conflict, ServiceError, Services, UnitOfWork, lock_bike, outlook, record, record_with};
use crate::domain::{Bike, BikeId, Invalid, Once, Outlook, StatementId, Timestamp, TokenId, Workshop};
use crate::store::Tx;

/// A change of a workshop's records, in the caller's unit of work.
pub(super) struct WorkshopChange<'work> {
    /// The transaction.
    pub tx: &'work mut Tx,
    /// When the change is made.
    pub now: Timestamp,
    /// Who makes it.
    pub actor: &'work Actor,
}

impl<'work> WorkshopChange<'work> {
    /// Begins the unit of work, when it hasn't begun.
    ///
    /// # Errors
    /// [`ServiceError::Unavailable`]; [`ServiceError::Repeated`] when the request's key belongs to another.
    pub async fn begin(services: &Services, work: &'work mut UnitOfWork) -> Result<Self, ServiceError> {
        let now = services.now();
        let (tx, actor) = work.begin().await?;
        Ok(Self { tx, now, actor })
    }

    /// Writes down who made the change. `subject` is the address of what was changed, below `/v1/`.
    ///
    /// # Errors
    /// [`ServiceError::Unavailable`], [`ServiceError::Interrupted`].
    pub async fn record(&mut self, action: &'static str, subject: String) -> Result<(), ServiceError> {
        Ok(record(self.tx, self.actor, self.now, action, subject).await?)
    }

    /// The same, with more to say of the change.
    ///
    /// # Errors
    /// [`ServiceError::Unavailable`], [`ServiceError::Interrupted`].
    pub async fn record_with(
        &mut self,
        action: &'static str,
        subject: String,
        detail: serde_json::Value,
    ) -> Result<(), ServiceError> {
        Ok(record_with(self.tx, self.actor, self.now, action, subject, detail).await?)
    }
}

/// A change of one bike's history: a reading, care, a swap, a fitting, a report. The bike is locked until the unit of
/// work ends.
pub(super) struct BikeChange<'work> {
    /// The transaction that holds the lock.
    pub tx: &'work mut Tx,
    /// When the change is made.
    pub now: Timestamp,
    /// The bike.
    pub bike: Bike,
    workshop: Workshop,
    actor: &'work Actor,
}

impl<'work> BikeChange<'work> {
    /// Begins the unit of work, when it hasn't begun, and locks the bike.
    ///
    /// # Errors
    /// [`ServiceError::NotFound`] for another workshop's bike; those of [`WorkshopChange::begin`].
    pub async fn begin(
        services: &Services,
        work: &'work mut UnitOfWork,
        bike_id: BikeId,
    ) -> Result<Self, ServiceError> {
        let WorkshopChange { tx, now, actor } = WorkshopChange::begin(services, work).await?;
        let (workshop, bike) = lock_bike(tx, bike_id, now).await?;
        Ok(Self { tx, now, bike, workshop, actor })
    }

    /// The token that makes the change; none when the program itself does.
    pub const fn token_id(&self) -> Option<TokenId> {
        self.actor.token_id
    }

    /// Refuses what happened after the bike had left the fleet.
    ///
    /// # Errors
    /// [`ServiceError::Invalid`] at `field`.
    pub fn in_fleet(&self, field: &'static str, at: Timestamp) -> Result<(), ServiceError> {
        match self.bike.retired_at {
            Some(retired_at) if retired_at < at => {
                Err(ServiceError::field(field, Invalid::AfterRetirement { given: at, retired_at }))
            }
            _ => Ok(()),
        }
    }

    /// Refuses what only a bike of the fleet can have, whenever that is.
    ///
    /// # Errors
    /// [`ServiceError::Conflict`].
    pub fn is_in_fleet(&self) -> Result<(), ServiceError> {
        match self.bike.retired_at {
            Some(at) => Err(ServiceError::Conflict(Conflict::BikeRetired { at: at.to_string() })),
            None => Ok(()),
        }
    }

    /// Writes down who made a step of the change that has a name of its own.
    ///
    /// # Errors
    /// [`ServiceError::Unavailable`], [`ServiceError::Interrupted`].
    pub async fn record(&mut self, action: &'static str, subject: &str) -> Result<(), ServiceError> {
        let subject = format!("bikes/{}{subject}", self.bike.id);
        Ok(record(self.tx, self.actor, self.now, action, subject).await?)
    }

    /// Ends the change: computes and stores the outlook that follows, and writes down who made the change. `subject`
    /// goes on from the bike's address.
    ///
    /// # Errors
    /// [`ServiceError::Unavailable`], [`ServiceError::Interrupted`].
    pub async fn end(&mut self, action: &'static str, subject: &str) -> Result<Outlook, ServiceError> {
        self.end_with(action, subject, serde_json::Value::Null).await
    }

    /// Ends the entering of an event. One that was there already isn't written down a second time; what else came with
    /// it is, where it is new.
    ///
    /// # Errors
    /// [`ServiceError::Unavailable`], [`ServiceError::Interrupted`].
    pub async fn end_entered(
        &mut self,
        (is_new, statement): (bool, Option<Once<StatementId>>),
        action: &'static str,
        subject: &str,
        detail: serde_json::Value,
    ) -> Result<Outlook, ServiceError> {
        if is_new {
            return self.end_with(action, subject, detail).await;
        }
        if let Some(Once::New(id)) = statement {
            self.record("odometer.create", &format!("/odometer/{id}")).await?;
        }
        Ok(outlook::refresh(self.tx, &self.workshop, &self.bike, self.now).await?)
    }

    /// The same as [`Self::end`], with more to say of the change.
    ///
    /// # Errors
    /// [`ServiceError::Unavailable`], [`ServiceError::Interrupted`].
    pub async fn end_with(
        &mut self,
        action: &'static str,
        subject: &str,
        detail: serde_json::Value,
    ) -> Result<Outlook, ServiceError> {
        let Self { tx, now, bike, workshop, actor } = self;
        let outlook = outlook::refresh(tx, workshop, bike, *now).await?;
        record_with(tx, actor, *now, action, format!("bikes/{}{subject}", bike.id), detail).await?;
        Ok(outlook)
    }
}
