//! How long answers to requests with a key are kept, and their end.

use chrono::Duration;

use super::{Actor, ServiceError, Services};
use crate::domain::{IdempotentRequest, StoredAnswer};

/// How long a key counts (A: a day, so that what failed in the evening can be sent again in the morning).
pub const KEPT_FOR: Duration = Duration::days(1);

/// The answer that a request got before, if it was sent.
///
/// # Errors
/// [`ServiceError::Unavailable`].
pub async fn stored_answer(
    services: &Services,
    actor: &Actor,
    request: &IdempotentRequest,
) -> Result<Option<StoredAnswer>, ServiceError> {
    let mut tx = services.store.begin_read(actor).await?;
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
