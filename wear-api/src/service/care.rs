//! Care of drivetrains.

use wear_core::bike::Warning;

use super::{Actor, BikeChange, ServiceError, Services, UnitOfWork, odometer, read_of_bike};
use crate::domain::{
    BikeId, Care, CareId, CareKind, EnteredWith, Note, OdometerTotal, Once, Page, PageRequest, Timestamp,
};
use crate::store::{StoreError, Tx};

/// Care to be entered.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct EnterCare {
    /// What was done.
    pub kind: CareKind,
    /// When.
    pub done_at: Timestamp,
    /// A remark.
    pub note: Option<Note>,
    /// What the odometer showed.
    pub odometer: Option<OdometerTotal>,
}

/// Enters care, and tells what doesn't fit about the odometer. The same kind at the same instant is the same event.
///
/// # Errors
/// [`ServiceError::NotFound`], [`ServiceError::Invalid`] for a time in the future.
pub async fn post(
    services: &Services,
    work: &mut UnitOfWork,
    bike_id: BikeId,
    enter: EnterCare,
) -> Result<(Once<Care>, Vec<Warning>), ServiceError> {
    let mut change = BikeChange::begin(services, work, bike_id).await?;
    enter.done_at.not_after(change.now).map_err(|cause| ServiceError::field("/done_at", cause))?;
    change.in_fleet("/done_at", enter.done_at)?;
    let (done_at, shown) = (enter.done_at, enter.odometer.is_some());
    let stored = save(change.tx, bike_id, enter, change.now).await?;
    change.tx.reach_back(bike_id, done_at).await?;
    let outlook = change.end("care.create", "").await?;
    let notices = if shown { odometer::notices(&outlook, done_at) } else { Vec::new() };
    Ok((stored, notices))
}

/// Stores care in the caller's transaction, with what the odometer showed.
///
/// # Errors
/// [`StoreError::NotFound`] when there is no such bike.
pub async fn save(
    tx: &mut Tx,
    bike_id: BikeId,
    enter: EnterCare,
    now: Timestamp,
) -> Result<Once<Care>, StoreError> {
    let EnterCare { kind, done_at, note, odometer } = enter;
    let care = Care { id: CareId::generate(), bike_id, kind, done_at, note };
    let stored = match tx.insert_care(&care).await? {
        Once::New(_) => Once::New(care),
        Once::Again(id) => Once::Again(Care { id, ..care }),
    };
    if let Some(total) = odometer {
        let (Once::New(care) | Once::Again(care)) = &stored;
        odometer::save_with(tx, bike_id, (EnteredWith::Care(care.id), done_at), total, now).await?;
    }
    Ok(stored)
}

/// A page of a bike's care, newest first.
///
/// # Errors
/// [`ServiceError::NotFound`].
pub async fn list(
    services: &Services,
    actor: &Actor,
    bike_id: BikeId,
    page: &PageRequest,
) -> Result<Page<Care>, ServiceError> {
    read_of_bike(services, actor, bike_id, async |tx| tx.care(bike_id, page).await).await
}
