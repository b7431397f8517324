//! Whether the service can do its work.

use super::{ServiceError, Services};
use crate::domain::Backlog;
use crate::store::Connections;

/// Whether the store answers and its tables are this program's.
///
/// # Errors
/// [`ServiceError::Unavailable`] when the store doesn't answer.
pub async fn is_ready(services: &Services) -> Result<bool, ServiceError> {
    Ok(services.store.is_ready().await?)
}

/// What waits for the worker, over all workshops.
///
/// # Errors
/// [`ServiceError::Unavailable`].
pub async fn backlog(services: &Services) -> Result<Backlog, ServiceError> {
    let mut tx = services.store.begin_system_read().await?;
    Ok(tx.backlog(services.now()).await?)
}

/// How many connections to the store this process holds.
#[must_use]
pub fn connections(services: &Services) -> Connections {
    services.store.connections()
}
