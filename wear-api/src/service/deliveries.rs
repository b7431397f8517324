//! Deliveries: parts on their way to the shelf.

use chrono::NaiveDate;

use super::{Actor, Conflict, ServiceError, Services, UnitOfWork, WorkshopChange, stock};
use crate::domain::{
    Delivery, DeliveryCount, DeliveryFacts, DeliveryFilter, DeliveryId, Field, FieldErrors, Form, Invalid,
    LeadTimeDays, Note, PackSize, Page, PageRequest, PartModelId, ShelfCount, StockFacts, Timestamp,
    Workshop,
};
use crate::store::{NewStock, Tx};

/// A change of a delivery: what is `None` stays.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct DeliveryPatch {
    /// How many.
    pub count: Option<DeliveryCount>,
    /// The date on which it is expected.
    pub expected_on: Option<NaiveDate>,
    /// The date on which it arrived; `Some(None)` takes the arrival back.
    pub arrived_on: Option<Option<NaiveDate>>,
    /// A remark; `Some(None)` takes it away.
    pub note: Option<Option<Note>>,
}

/// A delivery as it stands after a change, and what a person should know of the shelf.
#[derive(Debug, Clone, PartialEq)]
pub struct Booked {
    /// The delivery.
    pub delivery: Delivery,
    /// Parts that the shelf should have given up and hadn't, when an arrival was taken back or made smaller.
    pub missing: u32,
}

/// Enters a delivery. One that has arrived is on the shelf at once.
///
/// # Errors
/// [`ServiceError::Invalid`] for an unknown model and for an arrival in the future.
pub async fn create(
    services: &Services,
    work: &mut UnitOfWork,
    facts: DeliveryFacts,
) -> Result<Delivery, ServiceError> {
    let mut change = WorkshopChange::begin(services, work).await?;
    let workshop = change.tx.workshop().await?;
    check_arrival(&workshop, facts.arrived_on, change.now)?;
    stock::place_of(change.tx, facts.part_model_id, "/part_model_id").await?;
    let on_shelf = match facts.arrived_on {
        Some(day) => put_on_shelf(change.tx, &workshop, &facts, day, change.now).await?,
        None => false,
    };
    let delivery =
        Delivery { id: DeliveryId::generate(), facts, on_shelf, created_at: change.now, revision: 1 };
    change.tx.insert_delivery(&delivery).await?;
    change.record("delivery.create", format!("deliveries/{}", delivery.id)).await?;
    Ok(delivery)
}

/// A delivery.
///
/// # Errors
/// [`ServiceError::NotFound`].
pub async fn get(services: &Services, actor: &Actor, id: DeliveryId) -> Result<Delivery, ServiceError> {
    let mut tx = services.store.begin_read(actor).await?;
    tx.delivery(id).await.map_err(ServiceError::or_not_found("delivery"))
}

/// A page of deliveries, by the date on which they are expected.
///
/// # Errors
/// [`ServiceError::Invalid`] for another list's cursor.
pub async fn list(
    services: &Services,
    actor: &Actor,
    filter: &DeliveryFilter,
    page: &PageRequest,
) -> Result<Page<Delivery>, ServiceError> {
    let mut tx = services.store.begin_read(actor).await?;
    Ok(tx.deliveries(filter, page).await?)
}

/// Changes a delivery. Its arrival adds its parts to the shelf; taking the arrival back, or correcting its count,
/// corrects the shelf too, unless somebody has counted since.
///
/// # Errors
/// [`ServiceError::NotFound`], [`ServiceError::Stale`], [`ServiceError::Invalid`] for an arrival in the future.
pub async fn change(
    services: &Services,
    work: &mut UnitOfWork,
    id: DeliveryId,
    revision: i64,
    patch: DeliveryPatch,
) -> Result<Booked, ServiceError> {
    let mut change = WorkshopChange::begin(services, work).await?;
    let workshop = change.tx.workshop().await?;
    let before = change.tx.delivery(id).await.map_err(ServiceError::or_not_found("delivery"))?;
    let DeliveryPatch { count, expected_on, arrived_on, note } = patch;
    check_arrival(&workshop, arrived_on.flatten(), change.now)?;
    let facts = DeliveryFacts {
        part_model_id: before.facts.part_model_id,
        count: count.unwrap_or(before.facts.count),
        expected_on: expected_on.unwrap_or(before.facts.expected_on),
        arrived_on: arrived_on.unwrap_or(before.facts.arrived_on),
        note: note.unwrap_or_else(|| before.facts.note.clone()),
    };
    let mut missing = 0;
    let on_shelf = match (before.facts.arrived_on, facts.arrived_on) {
        (None, None) => false,
        (None, Some(day)) => put_on_shelf(change.tx, &workshop, &facts, day, change.now).await?,
        (Some(was), after) => {
            let had = if before.on_shelf { i64::from(before.facts.count.get()) } else { 0 };
            let has = if before.on_shelf && after.is_some() { i64::from(facts.count.get()) } else { 0 };
            missing = correct_shelf(change.tx, &workshop, facts.part_model_id, was, has - had).await?;
            before.on_shelf && after.is_some()
        }
    };
    change
        .tx
        .update_delivery(id, revision, &facts, on_shelf)
        .await
        .map_err(ServiceError::or_stale("delivery"))?;
    let detail = serde_json::json!({"from": told(&before.facts)});
    change.record_with("delivery.change", format!("deliveries/{id}"), detail).await?;
    let delivery = change.tx.delivery(id).await?;
    Ok(Booked { delivery, missing })
}

/// Takes a delivery that won't come off the list.
///
/// # Errors
/// [`ServiceError::NotFound`], [`ServiceError::Stale`]; [`ServiceError::Conflict`] when it has arrived.
pub async fn delete(
    services: &Services,
    work: &mut UnitOfWork,
    id: DeliveryId,
    revision: i64,
) -> Result<(), ServiceError> {
    let mut change = WorkshopChange::begin(services, work).await?;
    let delivery = change.tx.delivery(id).await.map_err(ServiceError::or_not_found("delivery"))?;
    if delivery.revision != revision {
        return Err(ServiceError::Stale);
    }
    if delivery.facts.arrived_on.is_some() {
        return Err(ServiceError::Conflict(Conflict::DeliveryArrived));
    }
    change.tx.delete_delivery(id, revision).await.map_err(ServiceError::or_stale("delivery"))?;
    let detail = serde_json::json!({"was": told(&delivery.facts)});
    change.record_with("delivery.delete", format!("deliveries/{id}"), detail).await
}

/// What a delivery said, for the audit.
fn told(facts: &DeliveryFacts) -> serde_json::Value {
    let DeliveryFacts { part_model_id, count, expected_on, arrived_on, note } = facts;
    let note = note.as_ref().map(ToString::to_string);
    serde_json::json!({
        "part_model_id": part_model_id, "count": count.get(), "expected_on": expected_on,
        "arrived_on": arrived_on, "note": note,
    })
}

fn check_arrival(
    workshop: &Workshop,
    arrived_on: Option<NaiveDate>,
    now: Timestamp,
) -> Result<(), FieldErrors> {
    let today = now.date_in(workshop.settings.time_zone);
    match arrived_on.filter(|day| *day > today) {
        None => Ok(()),
        Some(day) => {
            let allowed = Form::NotAfterToday;
            Err(Invalid::unparsed(Field::Arrival, &day.to_string(), allowed).at("/arrived_on").into())
        }
    }
}

/// Adds the parts to the shelf, unless somebody has counted on a later day; whether they were added. The first
/// arrival of a model begins its count.
async fn put_on_shelf(
    tx: &mut Tx,
    workshop: &Workshop,
    facts: &DeliveryFacts,
    day: NaiveDate,
    now: Timestamp,
) -> Result<bool, ServiceError> {
    let model_id = facts.part_model_id;
    let parts = i64::from(facts.count.get());
    if let Some((_, counted_at)) = tx.counted(model_id).await? {
        if day < counted_at.date_in(workshop.settings.time_zone) {
            return Ok(false);
        }
        tx.move_shelf(model_id, parts).await?;
        return Ok(true);
    }
    let stock = StockFacts {
        count: ShelfCount::new(parts).map_err(|cause| ServiceError::field("/count", cause))?,
        pack_size: PackSize::ONE,
        lead_time: LeadTimeDays::WEEK,
        reorder_point: None,
        service_level: None,
        substitutes: Vec::new(),
    };
    let new = NewStock { part_model_id: model_id, facts: &stock, counted_at: now, created_at: now };
    tx.insert_stock(&new).await?;
    Ok(true)
}

/// Corrects the shelf by `by`, unless somebody has counted on a later day than `since`; how many parts it lacked.
async fn correct_shelf(
    tx: &mut Tx,
    workshop: &Workshop,
    model_id: PartModelId,
    since: NaiveDate,
    by: i64,
) -> Result<u32, ServiceError> {
    let Some((count, counted_at)) = tx.counted(model_id).await? else { return Ok(0) };
    if by == 0 || since < counted_at.date_in(workshop.settings.time_zone) {
        return Ok(0);
    }
    tx.move_shelf(model_id, by).await?;
    Ok(u32::try_from(-(i64::from(count) + by)).unwrap_or(0))
}
