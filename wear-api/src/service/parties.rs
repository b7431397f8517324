//! Apps that work with the workshop, and riders.

use std::collections::HashMap;

use super::{Actor, Conflict, ServiceError, Services, UnitOfWork, WorkshopChange};
use crate::domain::{App, AppId, Field, Label, Page, PageRequest, Reach, RedirectUri, Rider, RiderId};
use crate::store::{StoreError, Tx};

/// Refuses a reach that names an app or a rider that the workshop doesn't have.
pub(super) async fn are_there(tx: &mut Tx, reach: Reach) -> Result<(), ServiceError> {
    if let Some(app) = reach.app() {
        tx.app(app).await.map_err(ServiceError::or_no_such("/app_id", Field::App))?;
    }
    if let Some(rider) = reach.rider() {
        tx.rider(rider).await.map_err(ServiceError::or_no_such("/rider_id", Field::Rider))?;
    }
    Ok(())
}

/// What apps and riders are called.
#[derive(Debug, Default)]
pub struct Names {
    /// Apps by id.
    pub apps: HashMap<AppId, Label>,
    /// Riders by id.
    pub riders: HashMap<RiderId, Label>,
}

/// The names of those that reaches are bound to. Whoever was deleted has none.
///
/// # Errors
/// [`ServiceError::Unavailable`].
pub async fn names(
    services: &Services,
    actor: &Actor,
    reaches: impl IntoIterator<Item = Reach>,
) -> Result<Names, ServiceError> {
    let mut tx = services.store.begin_read(actor).await?;
    let mut names = Names::default();
    for reach in reaches {
        if let Some(id) = reach.app().filter(|id| !names.apps.contains_key(id)) {
            match tx.app(id).await {
                Ok(app) => drop(names.apps.insert(id, app.name)),
                Err(StoreError::NotFound) => {}
                Err(other) => return Err(other.into()),
            }
        }
        if let Some(id) = reach.rider().filter(|id| !names.riders.contains_key(id)) {
            match tx.rider(id).await {
                Ok(rider) => drop(names.riders.insert(id, rider.name)),
                Err(StoreError::NotFound) => {}
                Err(other) => return Err(other.into()),
            }
        }
    }
    Ok(names)
}

/// Enters an app.
///
/// # Errors
/// [`ServiceError::Conflict`] when another one has the name.
pub async fn enter_app(
    services: &Services,
    work: &mut UnitOfWork,
    name: Label,
    redirect_uris: Vec<RedirectUri>,
) -> Result<App, ServiceError> {
    let mut change = WorkshopChange::begin(services, work).await?;
    let app = App { id: AppId::generate(), name, redirect_uris, created_at: change.now, revision: 1 };
    let named = ServiceError::or_conflict(Conflict::AppNamed);
    change.tx.insert_app(&app).await.map_err(named)?;
    change.record("app.create", format!("apps/{}", app.id)).await?;
    Ok(app)
}

/// One app.
///
/// # Errors
/// [`ServiceError::NotFound`].
pub async fn app(services: &Services, actor: &Actor, id: AppId) -> Result<App, ServiceError> {
    let mut tx = services.store.begin_read(actor).await?;
    tx.app(id).await.map_err(ServiceError::or_not_found("app"))
}

/// A page of apps.
///
/// # Errors
/// [`ServiceError::Invalid`] for another list's cursor.
pub async fn apps(services: &Services, actor: &Actor, page: &PageRequest) -> Result<Page<App>, ServiceError> {
    let mut tx = services.store.begin_read(actor).await?;
    Ok(tx.apps(page).await?)
}

/// Changes an app; what is none stays.
///
/// # Errors
/// [`ServiceError::NotFound`], [`ServiceError::Stale`]; [`ServiceError::Conflict`] when another one has the name.
pub async fn change_app(
    services: &Services,
    work: &mut UnitOfWork,
    id: AppId,
    revision: i64,
    (name, redirect_uris): (Option<Label>, Option<Vec<RedirectUri>>),
) -> Result<App, ServiceError> {
    let mut change = WorkshopChange::begin(services, work).await?;
    let mut app = change.tx.app(id).await.map_err(ServiceError::or_not_found("app"))?;
    app.name = name.unwrap_or(app.name);
    app.redirect_uris = redirect_uris.unwrap_or(app.redirect_uris);
    app.revision = revision;
    if change.tx.is_app_name_taken(&app.name, id).await? {
        return Err(ServiceError::Conflict(Conflict::AppNamed));
    }
    app.revision = change.tx.update_app(&app).await.map_err(ServiceError::or_stale("app"))?;
    change.record("app.change", format!("apps/{id}")).await?;
    Ok(app)
}

/// Deletes an app that has no bikes and no tokens in force. Codes that wait to be redeemed for it go with it.
///
/// # Errors
/// [`ServiceError::NotFound`], [`ServiceError::Stale`]; [`ServiceError::Conflict`] while it is in use.
pub async fn delete_app(
    services: &Services,
    work: &mut UnitOfWork,
    id: AppId,
    revision: i64,
) -> Result<(), ServiceError> {
    let mut change = WorkshopChange::begin(services, work).await?;
    let tx = &mut *change.tx;
    tx.delete_links_of_app(id).await?;
    tx.delete_app(id, revision, change.now).await.map_err(ServiceError::or_stale("app"))?;
    if tx.has_bikes_of_app(id).await? || tx.has_tokens_of_app(id).await? {
        return Err(ServiceError::Conflict(Conflict::AppInUse));
    }
    change.record("app.delete", format!("apps/{id}")).await
}

/// Enters a rider. The audit keeps the id alone.
///
/// # Errors
/// [`ServiceError::Unavailable`].
pub async fn enter_rider(
    services: &Services,
    work: &mut UnitOfWork,
    name: Label,
) -> Result<Rider, ServiceError> {
    let mut change = WorkshopChange::begin(services, work).await?;
    let rider = Rider { id: RiderId::generate(), name, created_at: change.now, revision: 1 };
    change.tx.insert_rider(&rider).await?;
    change.record("rider.create", format!("riders/{}", rider.id)).await?;
    Ok(rider)
}

/// One rider.
///
/// # Errors
/// [`ServiceError::NotFound`].
pub async fn rider(services: &Services, actor: &Actor, id: RiderId) -> Result<Rider, ServiceError> {
    let mut tx = services.store.begin_read(actor).await?;
    tx.rider(id).await.map_err(ServiceError::or_not_found("rider"))
}

/// A page of riders.
///
/// # Errors
/// [`ServiceError::Invalid`] for another list's cursor.
pub async fn riders(
    services: &Services,
    actor: &Actor,
    page: &PageRequest,
) -> Result<Page<Rider>, ServiceError> {
    let mut tx = services.store.begin_read(actor).await?;
    Ok(tx.riders(page).await?)
}

/// Gives a rider another name.
///
/// # Errors
/// [`ServiceError::NotFound`], [`ServiceError::Stale`].
pub async fn rename_rider(
    services: &Services,
    work: &mut UnitOfWork,
    id: RiderId,
    revision: i64,
    name: Option<Label>,
) -> Result<Rider, ServiceError> {
    let mut change = WorkshopChange::begin(services, work).await?;
    let rider = change.tx.rider(id).await.map_err(ServiceError::or_not_found("rider"))?;
    let name = name.unwrap_or(rider.name);
    change.tx.rename_rider(id, revision, &name).await.map_err(ServiceError::or_stale("rider"))?;
    change.record("rider.change", format!("riders/{id}")).await?;
    Ok(change.tx.rider(id).await?)
}

/// Deletes a rider who has no bikes and no tokens in force: the name is gone. Codes that wait to be redeemed for them go
/// too.
///
/// # Errors
/// [`ServiceError::NotFound`], [`ServiceError::Stale`]; [`ServiceError::Conflict`] while there are bikes or tokens.
pub async fn delete_rider(
    services: &Services,
    work: &mut UnitOfWork,
    id: RiderId,
    revision: i64,
) -> Result<(), ServiceError> {
    let mut change = WorkshopChange::begin(services, work).await?;
    let tx = &mut *change.tx;
    tx.delete_links_of_rider(id).await?;
    tx.delete_rider(id, revision, change.now).await.map_err(ServiceError::or_stale("rider"))?;
    if tx.has_bikes_of_rider(id).await? || tx.has_tokens_of_rider(id).await? {
        return Err(ServiceError::Conflict(Conflict::RiderInUse));
    }
    change.record("rider.delete", format!("riders/{id}")).await
}
