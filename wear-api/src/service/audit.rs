//! Who did what, for the manager.

use super::{Actor, ServiceError, Services};
use crate::domain::{AuditEntry, NamedEntry, Page, PageRequest};

/// A page of the audit list, the latest first.
///
/// # Errors
/// [`ServiceError::Invalid`] for another list's cursor.
pub async fn list(
    services: &Services,
    actor: &Actor,
    page: &PageRequest,
) -> Result<Page<NamedEntry>, ServiceError> {
    let mut tx = services.store.begin_read(actor).await?;
    let page = tx.audit(page).await?;
    let mut ids: Vec<_> = page.items.iter().flat_map(AuditEntry::named_ids).collect();
    ids.sort_unstable();
    ids.dedup();
    let labels = tx.labels(&ids).await?;
    Ok(page.map(|entry| NamedEntry {
        label: entry.subject_ids().filter_map(|id| labels.get(&id).cloned()).last(),
        token_label: entry.token_id.and_then(|id| labels.get(&id.uuid()).cloned()),
        entry,
    }))
}
