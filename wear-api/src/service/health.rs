//! Whether the service can do its work.

use super::{ServiceError, Services};

/// Whether the store answers and its tables are this program's.
///
/// # Errors
/// [`ServiceError::Unavailable`] when the store doesn't answer.
pub async fn is_ready(services: &Services) -> Result<bool, ServiceError> {
    Ok(services.store.is_ready().await?)
}
