//! The workshop's own settings.

use super::{Actor, ServiceError, Services, UnitOfWork, WorkshopChange};
use crate::domain::{FieldErrors, Workshop, WorkshopSettings};

/// The workshop.
///
/// # Errors
/// [`ServiceError::Unavailable`].
pub async fn get(services: &Services, actor: &Actor) -> Result<Workshop, ServiceError> {
    let mut tx = services.store.begin_read(actor).await?;
    Ok(tx.workshop().await?)
}

/// Changes the settings. Every outlook rests on them, so every bike is marked for a new one.
///
/// # Errors
/// [`ServiceError::Stale`] when `revision` isn't the present one; [`ServiceError::Conflict`] for a name in use;
/// [`ServiceError::Invalid`] with what `apply` refuses.
pub async fn change(
    services: &Services,
    work: &mut UnitOfWork,
    revision: i64,
    apply: impl FnOnce(WorkshopSettings) -> Result<WorkshopSettings, FieldErrors>,
) -> Result<Workshop, ServiceError> {
    let mut change = WorkshopChange::begin(services, work).await?;
    let before = change.tx.workshop().await?;
    let settings = apply(before.settings)?;
    if before.revision != revision {
        return Err(ServiceError::Stale);
    }
    change.tx.update_workshop(revision, &settings).await?;
    change.tx.mark_all_bikes(change.now).await?;
    change.record("workshop.change", "workshop".to_owned()).await?;
    let workshop = change.tx.workshop().await?;
    let (known, id) = (services.known_words.clone(), workshop.id);
    work.after_commit(move || known.forget(id));
    Ok(workshop)
}
