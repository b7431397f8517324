//! Bookings: when bikes are away and can't be on the bench.

use chrono::NaiveDate;

use super::{Actor, Conflict, ServiceError, Services, UnitOfWork, WorkshopChange};
use crate::domain::{
    Booking, BookingFacts, BookingFilter, BookingId, Field, Form, Invalid, Note, Page, PageRequest,
};

/// What to change of a booking; what is `None` stays.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct BookingPatch {
    /// First day.
    pub from: Option<NaiveDate>,
    /// Last day.
    pub to: Option<NaiveDate>,
    /// A remark; `Some(None)` takes it away.
    pub note: Option<Option<Note>>,
}

fn check(facts: &BookingFacts) -> Result<(), ServiceError> {
    if facts.to < facts.from {
        let cause = Invalid::Together { what: Field::FromAndTo, allowed: Form::LastNotBeforeFirst };
        return Err(ServiceError::field("/to", cause));
    }
    Ok(())
}

/// Enters a booking.
///
/// # Errors
/// [`ServiceError::Invalid`] when there is no such bike or the last day comes before the first; [`ServiceError::Conflict`]
/// for a bike that left the fleet.
pub async fn create(
    services: &Services,
    work: &mut UnitOfWork,
    facts: BookingFacts,
) -> Result<Booking, ServiceError> {
    check(&facts)?;
    let mut change = WorkshopChange::begin(services, work).await?;
    let bike = change.tx.bike(facts.bike_id).await;
    let bike = bike.map_err(ServiceError::or_no_such("/bike_id", Field::Bike))?;
    if let Some(retired_at) = bike.retired_at {
        return Err(ServiceError::Conflict(Conflict::BikeRetired { at: retired_at.to_string() }));
    }
    let booking = Booking { id: BookingId::generate(), facts, created_at: change.now, revision: 1 };
    change.tx.insert_booking(&booking).await?;
    change.record("booking.create", format!("bookings/{}", booking.id)).await?;
    Ok(booking)
}

/// One booking.
///
/// # Errors
/// [`ServiceError::NotFound`].
pub async fn get(services: &Services, actor: &Actor, id: BookingId) -> Result<Booking, ServiceError> {
    let mut tx = services.store.begin_read(actor).await?;
    tx.booking(id).await.map_err(ServiceError::or_not_found("booking"))
}

/// A page of bookings, by first day.
///
/// # Errors
/// [`ServiceError::Invalid`] for another list's cursor.
pub async fn list(
    services: &Services,
    actor: &Actor,
    filter: &BookingFilter,
    page: &PageRequest,
) -> Result<Page<Booking>, ServiceError> {
    let mut tx = services.store.begin_read(actor).await?;
    Ok(tx.bookings(filter, page).await?)
}

/// Changes a booking.
///
/// # Errors
/// [`ServiceError::NotFound`], [`ServiceError::Stale`], [`ServiceError::Invalid`].
pub async fn change(
    services: &Services,
    work: &mut UnitOfWork,
    id: BookingId,
    revision: i64,
    patch: BookingPatch,
) -> Result<Booking, ServiceError> {
    let mut change = WorkshopChange::begin(services, work).await?;
    let before = change.tx.booking(id).await.map_err(ServiceError::or_not_found("booking"))?;
    let BookingPatch { from, to, note } = patch;
    let facts = BookingFacts {
        bike_id: before.facts.bike_id,
        from: from.unwrap_or(before.facts.from),
        to: to.unwrap_or(before.facts.to),
        note: note.unwrap_or_else(|| before.facts.note.clone()),
    };
    check(&facts)?;
    let was = told(&before.facts);
    change.tx.update_booking(id, revision, &facts).await.map_err(ServiceError::or_stale("booking"))?;
    let booking = change.tx.booking(id).await?;
    let detail = serde_json::json!({"from": was});
    change.record_with("booking.change", format!("bookings/{id}"), detail).await?;
    Ok(booking)
}

/// Removes a booking.
///
/// # Errors
/// [`ServiceError::NotFound`], [`ServiceError::Stale`].
pub async fn remove(
    services: &Services,
    work: &mut UnitOfWork,
    id: BookingId,
    revision: i64,
) -> Result<(), ServiceError> {
    let mut change = WorkshopChange::begin(services, work).await?;
    let booking = change.tx.booking(id).await.map_err(ServiceError::or_not_found("booking"))?;
    change.tx.delete_booking(id, revision).await.map_err(ServiceError::or_stale("booking"))?;
    let detail = serde_json::json!({"was": told(&booking.facts)});
    change.record_with("booking.remove", format!("bookings/{id}"), detail).await
}

/// What a booking said, for the audit.
fn told(facts: &BookingFacts) -> serde_json::Value {
    let BookingFacts { bike_id, from, to, note } = facts;
    let note = note.as_ref().map(ToString::to_string);
    serde_json::json!({"bike_id": bike_id, "from": from, "to": to, "note": note})
}
