//! Bikes.

use chrono::NaiveDate;

use super::{Actor, BikeChange, ServiceError, Services, UnitOfWork, WorkshopChange, outlook, parts_of_bike};
use crate::domain::{
    Bike, BikeFacts, BikeFilter, BikeId, BikePatch, BikeSort, GroupName, Invalid, NewBike, Page, PageRequest,
    Timestamp, Workshop,
};

/// A bike to be entered.
#[derive(Debug, Clone, PartialEq)]
pub struct EnterBike {
    /// What can be set.
    pub facts: BikeFacts,
    /// When its chain, cassette and rings were fitted, new; today when it isn't said.
    pub fitted_on: Option<NaiveDate>,
}

/// The instant at which a date begins where the workshop is.
///
/// # Errors
/// [`Invalid`] when the date is out of range.
pub(super) fn start_of(workshop: &Workshop, date: NaiveDate) -> Result<Timestamp, Invalid> {
    let midnight = date.and_time(chrono::NaiveTime::MIN);
    // Where summer time begins at midnight, the day starts an hour late; ask for the instant after the gap.
    let local = midnight.and_local_timezone(workshop.settings.time_zone).earliest().or_else(|| {
        (midnight + chrono::Duration::hours(1)).and_local_timezone(workshop.settings.time_zone).earliest()
    });
    Timestamp::new(local.map_or_else(|| midnight.and_utc(), |local| local.to_utc()))
}

/// Enters a bike with a new chain, cassette and rings on it.
///
/// # Errors
/// [`ServiceError::Invalid`] when the parts were fitted in the future.
pub async fn create(
    services: &Services,
    work: &mut UnitOfWork,
    enter: EnterBike,
) -> Result<Bike, ServiceError> {
    let mut change = WorkshopChange::begin(services, work).await?;
    let workshop = change.tx.workshop().await?;
    let fitted_at = match enter.fitted_on {
        Some(date) => start_of(&workshop, date)
            .and_then(|at| at.not_after(change.now))
            .map_err(|cause| ServiceError::field("/fitted_on", cause))?,
        None => change.now,
    };
    let bike = NewBike { id: BikeId::generate(), facts: enter.facts, created_at: change.now };
    change.tx.insert_bike(&bike).await?;
    parts_of_bike::fit_all(change.tx, bike.id, &bike.facts.drivetrain, fitted_at, change.now).await?;
    let bike = change.tx.bike(bike.id).await?;
    outlook::refresh(change.tx, &workshop, &bike, change.now).await?;
    change.record("bike.create", format!("bikes/{}", bike.id)).await?;
    Ok(bike)
}

/// One bike.
///
/// # Errors
/// [`ServiceError::NotFound`].
pub async fn get(services: &Services, actor: &Actor, id: BikeId) -> Result<Bike, ServiceError> {
    let mut tx = services.store.begin_read(actor.workshop_id).await?;
    tx.bike(id).await.map_err(ServiceError::or_not_found("bike"))
}

/// A page of bikes.
///
/// # Errors
/// [`ServiceError::Invalid`] for another list's cursor.
pub async fn list(
    services: &Services,
    actor: &Actor,
    filter: &BikeFilter,
    sort: BikeSort,
    page: &PageRequest,
) -> Result<Page<Bike>, ServiceError> {
    let mut tx = services.store.begin_read(actor.workshop_id).await?;
    Ok(tx.bikes(filter, sort, page).await?)
}

/// Changes a bike. Another drivetrain or use changes what its rides were worth, so they are counted anew.
///
/// # Errors
/// [`ServiceError::NotFound`], [`ServiceError::Stale`] when `revision` isn't the present one.
pub async fn patch(
    services: &Services,
    work: &mut UnitOfWork,
    id: BikeId,
    revision: i64,
    patch: BikePatch,
) -> Result<Bike, ServiceError> {
    let mut change = BikeChange::begin(services, work, id).await?;
    let before = change.bike.facts.clone();
    let facts = patch.apply(before.clone());
    change.tx.update_bike(id, revision, &facts).await.map_err(ServiceError::or_stale("bike"))?;
    change.bike = change.tx.bike(id).await?;
    if facts.drivetrain != before.drivetrain || facts.usage != before.usage {
        super::rides::recount(change.tx, &change.bike).await?;
    }
    change.end("bike.change", "").await?;
    Ok(change.bike)
}

/// Takes a bike out of the fleet; its history stays.
///
/// # Errors
/// [`ServiceError::NotFound`], [`ServiceError::Stale`].
pub async fn retire(
    services: &Services,
    work: &mut UnitOfWork,
    id: BikeId,
    revision: i64,
) -> Result<(), ServiceError> {
    let mut change = WorkshopChange::begin(services, work).await?;
    change.tx.retire_bike(id, revision, change.now).await.map_err(ServiceError::or_stale("bike"))?;
    change.record("bike.retire", format!("bikes/{id}")).await
}

/// The groups of the fleet, with the number of bikes in each.
///
/// # Errors
/// [`ServiceError::Unavailable`].
pub async fn groups(services: &Services, actor: &Actor) -> Result<Vec<(GroupName, i64)>, ServiceError> {
    let mut tx = services.store.begin_read(actor.workshop_id).await?;
    Ok(tx.groups().await?)
}

/// The names of the fleet's groups: quicker than [`groups`], which counts bikes.
///
/// # Errors
/// [`ServiceError::Unavailable`].
pub async fn group_names(services: &Services, actor: &Actor) -> Result<Vec<GroupName>, ServiceError> {
    let mut tx = services.store.begin_read(actor.workshop_id).await?;
    Ok(tx.group_names().await?)
}
