//! Care of drivetrains.

use wear_core::bike::Warning;

use super::{Actor, BikeChange, ServiceError, Services, UnitOfWork, lubricants, odometer, read_of_bike};
use crate::domain::{
    BikeId, Care, CareId, CareKind, EnteredWith, LubricantId, Note, OdometerTotal, Once, Page, PageRequest,
    Timestamp,
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
    /// What it was lubricated with.
    pub lubricant_id: Option<LubricantId>,
}

/// Enters care, and tells what doesn't fit about the odometer. The same kind at the same instant is the same event; a lubricant
/// that is named then counts from now on.
///
/// # Errors
/// [`ServiceError::NotFound`], [`ServiceError::Invalid`] for a time in the future, a lubricant that isn't the workshop's or was
/// retired by then, and one of care that lubricates nothing.
pub async fn post(
    services: &Services,
    work: &mut UnitOfWork,
    bike_id: BikeId,
    enter: EnterCare,
) -> Result<(Once<Care>, Vec<Warning>), ServiceError> {
    let mut change = BikeChange::begin(services, work, bike_id).await?;
    enter.done_at.not_after(change.now).map_err(|cause| ServiceError::field("/done_at", cause))?;
    change.in_fleet("/done_at", enter.done_at)?;
    if let Some(id) = enter.lubricant_id {
        lubricants::check(change.tx, id, (enter.kind, enter.done_at)).await?;
    }
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
    let EnterCare { kind, done_at, note, odometer, lubricant_id } = enter;
    let care = Care { id: CareId::generate(), bike_id, kind, done_at, note, lubricant_id };
    let stored = match tx.insert_care(&care).await? {
        Once::New(_) => Once::New(care),
        Once::Again(id) => {
            if let Some(lubricant) = lubricant_id {
                tx.name_lubricant(bike_id, id, lubricant).await?;
            }
            let lubricant_id = tx.one_care(bike_id, id).await?.lubricant_id;
            Once::Again(Care { id, lubricant_id, ..care })
        }
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
