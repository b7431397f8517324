//! Care of drivetrains.

use super::{Actor, BikeChange, ServiceError, Services, UnitOfWork, read_of_bike};
use crate::domain::{BikeId, Care, CareId, CareKind, Note, Once, Page, PageRequest, Timestamp};

/// Care to be entered.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct EnterCare {
    /// What was done.
    pub kind: CareKind,
    /// When.
    pub done_at: Timestamp,
    /// A remark.
    pub note: Option<Note>,
}

/// Enters care. The same kind at the same instant is the same event.
///
/// # Errors
/// [`ServiceError::NotFound`], [`ServiceError::Invalid`] for a time in the future.
pub async fn post(
    services: &Services,
    work: &mut UnitOfWork,
    bike_id: BikeId,
    enter: EnterCare,
) -> Result<Once<Care>, ServiceError> {
    let mut change = BikeChange::begin(services, work, bike_id).await?;
    enter.done_at.not_after(change.now).map_err(|cause| ServiceError::field("/done_at", cause))?;
    change.in_fleet("/done_at", enter.done_at)?;
    let enter_at = enter.done_at;
    let care = entered(bike_id, enter);
    let stored = match change.tx.insert_care(&care).await? {
        Once::New(_) => Once::New(care),
        Once::Again(id) => Once::Again(Care { id, ..care }),
    };
    change.tx.reach_back(bike_id, enter_at).await?;
    change.end("care.create", "").await?;
    Ok(stored)
}

/// Care with an id of its own.
#[must_use]
pub fn entered(bike_id: BikeId, enter: EnterCare) -> Care {
    let EnterCare { kind, done_at, note } = enter;
    Care { id: CareId::generate(), bike_id, kind, done_at, note }
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
