//! The shelf: what is there of each part model, and how more is ordered.

use super::{Actor, Conflict, ServiceError, Services, UnitOfWork, WorkshopChange};
use crate::domain::{
    Field, FieldErrors, Form, Invalid, LeadTimeDays, MOST_SUBSTITUTES, PackSize, Page, PageRequest,
    PartModelId, Place, ServiceLevel, ShelfCount, StockEntry, StockFacts, Taken, Timestamp,
};
use crate::store::{NewStock, StoreError, Tx};

/// A change of a model's place on the shelf: what is `None` stays.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct StockPatch {
    /// What somebody counted.
    pub count: Option<ShelfCount>,
    /// Parts sold together.
    pub pack_size: Option<PackSize>,
    /// Days from an order to its arrival.
    pub lead_time: Option<LeadTimeDays>,
    /// At this count or below more are ordered; `Some(None)` leaves it to the outlooks.
    pub reorder_point: Option<Option<ShelfCount>>,
    /// The model's own service level; `Some(None)` takes it away.
    pub service_level: Option<Option<ServiceLevel>>,
    /// Models that do as well, the best first.
    pub substitutes: Option<Vec<PartModelId>>,
}

/// Begins to keep count of a model.
///
/// # Errors
/// [`ServiceError::Invalid`] for an unknown model or substitutes that won't do; [`ServiceError::Conflict`] when count
/// of it is kept already.
pub async fn create(
    services: &Services,
    work: &mut UnitOfWork,
    model_id: PartModelId,
    facts: StockFacts,
) -> Result<StockEntry, ServiceError> {
    let mut change = WorkshopChange::begin(services, work).await?;
    let place = place_of(change.tx, model_id, "/part_model_id").await?;
    check_substitutes(change.tx, model_id, place, &facts.substitutes).await?;
    let stock =
        NewStock { part_model_id: model_id, facts: &facts, counted_at: change.now, created_at: change.now };
    change.tx.insert_stock(&stock).await.map_err(ServiceError::or_conflict(Conflict::StockKept))?;
    change.record("stock.create", format!("stock/{model_id}")).await?;
    let entry = change.tx.stock(model_id).await?;
    Ok(entry)
}

/// A model's place on the shelf.
///
/// # Errors
/// [`ServiceError::NotFound`].
pub async fn get(
    services: &Services,
    actor: &Actor,
    model_id: PartModelId,
) -> Result<StockEntry, ServiceError> {
    let mut tx = services.store.begin_read(actor).await?;
    tx.stock(model_id).await.map_err(ServiceError::or_not_found("stock of that part model"))
}

/// A page of the shelf.
///
/// # Errors
/// [`ServiceError::Invalid`] for another list's cursor.
pub async fn list(
    services: &Services,
    actor: &Actor,
    page: &PageRequest,
) -> Result<Page<StockEntry>, ServiceError> {
    let mut tx = services.store.begin_read(actor).await?;
    Ok(tx.stocks(page).await?)
}

/// Changes a model's place on the shelf. A count is what somebody counted now.
///
/// # Errors
/// [`ServiceError::NotFound`], [`ServiceError::Stale`], [`ServiceError::Invalid`] for substitutes that won't do.
pub async fn change(
    services: &Services,
    work: &mut UnitOfWork,
    model_id: PartModelId,
    revision: i64,
    patch: StockPatch,
) -> Result<StockEntry, ServiceError> {
    let mut change = WorkshopChange::begin(services, work).await?;
    let named = ServiceError::or_stale("stock of that part model");
    let StockEntry { place, facts, counted_at, .. } = change.tx.stock(model_id).await.map_err(&named)?;
    let StockPatch { count, pack_size, lead_time, reorder_point, service_level, substitutes } = patch;
    if let Some(substitutes) = &substitutes {
        check_substitutes(change.tx, model_id, place, substitutes).await?;
    }
    let counted_at = if count.is_some() { change.now } else { counted_at };
    let facts = StockFacts {
        count: count.unwrap_or(facts.count),
        pack_size: pack_size.unwrap_or(facts.pack_size),
        lead_time: lead_time.unwrap_or(facts.lead_time),
        reorder_point: reorder_point.unwrap_or(facts.reorder_point),
        service_level: service_level.unwrap_or(facts.service_level),
        substitutes: substitutes.unwrap_or(facts.substitutes),
    };
    change.tx.update_stock(model_id, revision, &facts, counted_at).await.map_err(named)?;
    change.record("stock.change", format!("stock/{model_id}")).await?;
    let entry = change.tx.stock(model_id).await?;
    Ok(entry)
}

/// Keeps count of a model no longer.
///
/// # Errors
/// [`ServiceError::NotFound`], [`ServiceError::Stale`].
pub async fn delete(
    services: &Services,
    work: &mut UnitOfWork,
    model_id: PartModelId,
    revision: i64,
) -> Result<(), ServiceError> {
    let mut change = WorkshopChange::begin(services, work).await?;
    change
        .tx
        .delete_stock(model_id, revision)
        .await
        .map_err(ServiceError::or_stale("stock of that part model"))?;
    change.record("stock.delete", format!("stock/{model_id}")).await
}

/// Takes the part of a swap off the shelf, in the swap's transaction.
///
/// # Errors
/// [`StoreError`].
pub(super) async fn take(
    tx: &mut Tx,
    model_id: Option<PartModelId>,
    swapped_at: Timestamp,
) -> Result<Taken, StoreError> {
    match model_id {
        Some(model_id) => tx.take_from_shelf(model_id, swapped_at).await,
        None => Ok(Taken::NotCounted),
    }
}

/// The place of a model that a field names.
///
/// # Errors
/// [`ServiceError::Invalid`] when there is no such model.
pub(super) async fn place_of(
    tx: &mut Tx,
    model_id: PartModelId,
    pointer: &str,
) -> Result<Place, ServiceError> {
    let wrong = ServiceError::or_no_such(pointer, Field::PartModel);
    Ok(tx.part_model(model_id).await.map_err(wrong)?.facts.geometry.place())
}

async fn check_substitutes(
    tx: &mut Tx,
    model_id: PartModelId,
    place: Place,
    substitutes: &[PartModelId],
) -> Result<(), ServiceError> {
    if substitutes.len() > MOST_SUBSTITUTES {
        let cause = Invalid::Count {
            what: Field::Substitutes,
            found: substitutes.len(),
            minimum: 0,
            maximum: MOST_SUBSTITUTES,
        };
        return Err(ServiceError::field("/substitutes", cause));
    }
    let mut errors = FieldErrors::new();
    for (index, substitute) in substitutes.iter().enumerate() {
        let pointer = format!("/substitutes/{index}");
        if *substitute == model_id || substitutes[..index].contains(substitute) {
            let what = Field::ModelAndSubstitutes;
            errors.push(Invalid::Together { what, allowed: Form::OtherModelsOnce }.at(pointer));
            continue;
        }
        match place_of(tx, *substitute, &pointer).await {
            Ok(theirs) if theirs == place => {}
            Ok(_) => {
                let what = Field::SubstituteAndModel;
                errors.push(Invalid::Together { what, allowed: Form::ModelOfSamePlace }.at(pointer));
            }
            Err(ServiceError::Invalid(wrong)) => errors.extend_under("", wrong),
            Err(other) => return Err(other),
        }
    }
    if errors.is_empty() { Ok(()) } else { Err(errors.into()) }
}
