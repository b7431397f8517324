//! Part models: what a shop would order.

use super::{Actor, ServiceError, Services, UnitOfWork, WorkshopChange};
use crate::domain::{FieldErrors, Page, PageRequest, PartModel, PartModelFacts, PartModelId};

/// Enters a part model.
///
/// # Errors
/// [`ServiceError::Conflict`] for a name that is in use.
pub async fn create(
    services: &Services,
    work: &mut UnitOfWork,
    facts: PartModelFacts,
) -> Result<PartModel, ServiceError> {
    let mut change = WorkshopChange::begin(services, work).await?;
    let model = PartModel { id: PartModelId::generate(), facts, created_at: change.now, revision: 1 };
    change.tx.insert_part_model(&model).await?;
    change.record("part_model.create", format!("part-models/{}", model.id)).await?;
    Ok(model)
}

/// One part model.
///
/// # Errors
/// [`ServiceError::NotFound`].
pub async fn get(services: &Services, actor: &Actor, id: PartModelId) -> Result<PartModel, ServiceError> {
    let mut tx = services.store.begin_read(actor).await?;
    tx.part_model(id).await.map_err(ServiceError::or_not_found("part model"))
}

/// A page of part models.
///
/// # Errors
/// [`ServiceError::Invalid`] for another list's cursor.
pub async fn list(
    services: &Services,
    actor: &Actor,
    page: &PageRequest,
) -> Result<Page<PartModel>, ServiceError> {
    let mut tx = services.store.begin_read(actor).await?;
    Ok(tx.part_models(page).await?)
}

/// Changes a part model. Its limit and price enter outlooks, so every bike is marked for a new one.
///
/// # Errors
/// [`ServiceError::NotFound`], [`ServiceError::Stale`]; [`ServiceError::Invalid`] with what `apply` refuses.
pub async fn change(
    services: &Services,
    work: &mut UnitOfWork,
    id: PartModelId,
    revision: i64,
    apply: impl FnOnce(PartModelFacts) -> Result<PartModelFacts, FieldErrors>,
) -> Result<PartModel, ServiceError> {
    let mut change = WorkshopChange::begin(services, work).await?;
    let before = change.tx.part_model(id).await.map_err(ServiceError::or_not_found("part model"))?;
    let facts = apply(before.facts)?;
    change.tx.update_part_model(id, revision, &facts).await.map_err(ServiceError::or_stale("part model"))?;
    change.tx.mark_all_bikes(change.now).await?;
    change.record("part_model.change", format!("part-models/{id}")).await?;
    let model = change.tx.part_model(id).await?;
    Ok(model)
}
