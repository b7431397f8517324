//! The workshop's own settings.

use super::{Actor, ServiceError, Services, UnitOfWork, record};
use crate::domain::{FieldErrors, Workshop, WorkshopSettings};

/// The workshop.
///
/// # Errors
/// [`ServiceError::Unavailable`].
pub async fn get(services: &Services, actor: &Actor) -> Result<Workshop, ServiceError> {
    let mut tx = services.store.begin_read(actor.workshop_id).await?;
    Ok(tx.workshop().await?)
}

/// Changes the settings. Every outlook rests on them, so every bike is marked for a new one.
///
/// # Errors
/// [`ServiceError::Stale`] when `revision` isn't the present one; [`ServiceError::Conflict`] for a name in use;
/// [`ServiceError::Invalid`] with what `change` refuses.
pub async fn change(
    services: &Services,
    work: &mut UnitOfWork,
    revision: i64,
    change: impl FnOnce(WorkshopSettings) -> Result<WorkshopSettings, FieldErrors>,
) -> Result<Workshop, ServiceError> {
    let now = services.now();
    let (tx, actor) = work.begin().await?;
    let before = tx.workshop().await?;
    let settings = change(before.settings)?;
    if before.revision != revision {
        return Err(ServiceError::Stale);
    }
    tx.update_workshop(revision, &settings).await?;
    tx.mark_all_bikes(now).await?;
    record(tx, actor, now, "workshop.change", "workshop".to_owned()).await?;
    let workshop = tx.workshop().await?;
    Ok(workshop)
}
