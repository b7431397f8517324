//! Answers kept for requests that are sent again, and their end.

use super::unit_of_work::KEPT_FOR;
use super::{Actor, ServiceError, Services};
use crate::domain::{IdempotentRequest, StoredAnswer};

/// The answer that a request got before, if it was sent.
///
/// # Errors
/// [`ServiceError::Unavailable`].
pub async fn stored_answer(
    services: &Services,
    actor: &Actor,
    request: &IdempotentRequest,
) -> Result<Option<StoredAnswer>, ServiceError> {
    let mut tx = services.store.begin_read(actor.workshop_id).await?;
    Ok(tx.stored_answer(request, request.at.plus(-KEPT_FOR)).await?)
}

/// Deletes the keys that no longer count; how many.
///
/// # Errors
/// [`ServiceError::Unavailable`].
pub async fn sweep(services: &Services) -> Result<u64, ServiceError> {
    let mut tx = services.store.begin_system_write().await?;
    let swept = tx.purge_keys(services.now().plus(-KEPT_FOR)).await?;
    tx.commit().await?;
    Ok(swept)
}
