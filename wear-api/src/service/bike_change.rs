//! What a reading, care, a swap, a fitting and a report have in common: each changes the history of one bike.

use super::{Actor, ServiceError, Services, UnitOfWork, lock_bike, outlook, record};
use crate::domain::{Bike, BikeId, Outlook, Timestamp, Workshop};
use crate::store::Tx;

/// A bike whose history is being changed, locked until the unit of work ends.
pub(super) struct BikeChange<'work> {
    /// The transaction that holds the lock.
    pub tx: &'work mut Tx,
    /// The bike.
    pub bike: Bike,
    /// When it is changed.
    pub now: Timestamp,
    workshop: Workshop,
    actor: &'work Actor,
}

impl<'work> BikeChange<'work> {
    /// Locks the bike.
    ///
    /// # Errors
    /// [`ServiceError::NotFound`] for another workshop's bike.
    pub async fn begin(
        services: &Services,
        work: &'work mut UnitOfWork,
        bike_id: BikeId,
    ) -> Result<Self, ServiceError> {
        let now = services.now();
        let (tx, actor) = work.begin().await?;
        let (workshop, bike) = lock_bike(tx, bike_id, now).await?;
        Ok(Self { tx, bike, now, workshop, actor })
    }

    /// Ends the change: the bike's outlook with it, and who made it. `subject` goes on from the bike's address.
    ///
    /// # Errors
    /// [`ServiceError::Unavailable`], [`ServiceError::Interrupted`].
    pub async fn end(&mut self, action: &'static str, subject: &str) -> Result<Outlook, ServiceError> {
        let Self { tx, bike, now, workshop, actor } = self;
        let outlook = outlook::refresh(tx, workshop, bike, *now).await?;
        record(tx, actor, *now, action, format!("bikes/{}{subject}", bike.id)).await?;
        Ok(outlook)
    }
}
