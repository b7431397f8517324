//! A workshop's lubricants, and what care was done with.

use super::{Actor, Conflict, ServiceError, Services, UnitOfWork, WorkshopChange};
use crate::domain::{
    CareKind, Field, FieldErrors, Lubricant, LubricantFacts, LubricantId, Page, PageRequest, Timestamp,
};
use crate::store::Tx;

/// Enters a lubricant.
///
/// # Errors
/// [`ServiceError::Conflict`] when a lubricant in use has the name.
pub async fn create(
    services: &Services,
    work: &mut UnitOfWork,
    facts: LubricantFacts,
) -> Result<Lubricant, ServiceError> {
    let mut change = WorkshopChange::begin(services, work).await?;
    let lubricant = Lubricant {
        id: LubricantId::generate(),
        facts,
        created_at: change.now,
        retired_at: None,
        revision: 1,
    };
    change
        .tx
        .insert_lubricant(&lubricant)
        .await
        .map_err(ServiceError::or_conflict(Conflict::LubricantNamed))?;
    change.record("lubricant.create", format!("lubricants/{}", lubricant.id)).await?;
    Ok(lubricant)
}

/// One lubricant.
///
/// # Errors
/// [`ServiceError::NotFound`].
pub async fn get(services: &Services, actor: &Actor, id: LubricantId) -> Result<Lubricant, ServiceError> {
    let mut tx = services.store.begin_read(actor).await?;
    tx.lubricant(id).await.map_err(ServiceError::or_not_found("lubricant"))
}

/// A page of lubricants, retired ones too, in the order they were entered.
///
/// # Errors
/// [`ServiceError::Invalid`] for another list's cursor.
pub async fn list(
    services: &Services,
    actor: &Actor,
    page: &PageRequest,
) -> Result<Page<Lubricant>, ServiceError> {
    let mut tx = services.store.begin_read(actor).await?;
    Ok(tx.lubricants(page).await?)
}

/// Every lubricant in use.
///
/// # Errors
/// [`ServiceError::Unavailable`].
pub async fn in_use(services: &Services, actor: &Actor) -> Result<Vec<Lubricant>, ServiceError> {
    let mut tx = services.store.begin_read(actor).await?;
    Ok(tx.all_lubricants().await?.into_iter().filter(|lubricant| lubricant.retired_at.is_none()).collect())
}

/// Changes what can be set of a lubricant, retires it or takes it into use again; `retired_at` stays where it is none. Bikes
/// keep their outlooks: what a lubricant is called changes nothing.
///
/// # Errors
/// [`ServiceError::NotFound`], [`ServiceError::Stale`]; [`ServiceError::Conflict`] when another lubricant in use has the name;
/// [`ServiceError::Invalid`] for a time in the future, and what the change is refused for.
pub async fn change(
    services: &Services,
    work: &mut UnitOfWork,
    id: LubricantId,
    revision: i64,
    apply: impl FnOnce(LubricantFacts) -> Result<LubricantFacts, FieldErrors>,
    retired_at: Option<Option<Timestamp>>,
) -> Result<Lubricant, ServiceError> {
    let mut change = WorkshopChange::begin(services, work).await?;
    let before = change.tx.lubricant(id).await.map_err(ServiceError::or_not_found("lubricant"))?;
    let facts = apply(before.facts)?;
    let retired_at = retired_at.unwrap_or(before.retired_at);
    if let Some(at) = retired_at {
        at.not_after(change.now).map_err(|cause| ServiceError::field("/retired_at", cause))?;
    } else if change.tx.is_lubricant_name_taken(&facts.name, id).await? {
        return Err(ServiceError::Conflict(Conflict::LubricantNamed));
    }
    let updated = change.tx.update_lubricant(id, revision, &facts, retired_at).await;
    updated.map_err(ServiceError::or_stale("lubricant"))?;
    let lubricant = change.tx.lubricant(id).await?;
    change.record("lubricant.change", format!("lubricants/{id}")).await?;
    Ok(lubricant)
}

/// Refuses a lubricant that isn't the workshop's, or can't have been put on by that care.
pub(super) async fn check(
    tx: &mut Tx,
    id: LubricantId,
    (kind, done_at): (CareKind, Timestamp),
) -> Result<(), ServiceError> {
    let pointer = "/lubricant_id";
    let lubricant = tx.lubricant(id).await.map_err(ServiceError::or_no_such(pointer, Field::Lubricant))?;
    lubricant.fits(kind, done_at).map_err(|cause| ServiceError::field(pointer, cause))
}
