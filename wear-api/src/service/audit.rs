//! Who did what, for the manager.

use super::{Actor, ServiceError, Services};
use crate::domain::{AuditEntry, Cursor, Page, PageSize};

/// A page of the audit list, the latest first.
///
/// # Errors
/// [`ServiceError::Invalid`] for another list's cursor.
pub async fn list(
    services: &Services,
    actor: &Actor,
    after: Option<&Cursor>,
    size: PageSize,
) -> Result<Page<AuditEntry>, ServiceError> {
    let mut tx = services.store.begin_read(actor.workshop_id).await?;
    Ok(tx.audit(after, size).await?)
}
