//! How far bikes are said to go.

use super::{Actor, BikeChange, ServiceError, Services, UnitOfWork, WorkshopChange, read_of_bike};
use crate::domain::{
    BikeId, DaysOfUse, DeclaredUse, DeclaredUseId, DistanceAWeek, GroupName, Once, Page, PageRequest,
    Timestamp, UseOf,
};

/// How far, and for which days.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Declare {
    /// For which days.
    pub days: DaysOfUse,
    /// How far.
    pub per_week: DistanceAWeek,
}

impl Declare {
    fn of(self, of: UseOf, now: Timestamp) -> DeclaredUse {
        let Self { days, per_week } = self;
        DeclaredUse { id: DeclaredUseId::generate(), of, days, per_week, entered_at: now }
    }
}

/// Declares how far a bike goes. It goes before what is declared of the bike's group; the same said twice is said once.
///
/// # Errors
/// [`ServiceError::NotFound`] for another workshop's bike; [`ServiceError::Conflict`] for one that left the fleet.
pub async fn post_of_bike(
    services: &Services,
    work: &mut UnitOfWork,
    bike_id: BikeId,
    declare: Declare,
) -> Result<Once<DeclaredUse>, ServiceError> {
    let mut change = BikeChange::begin(services, work, bike_id).await?;
    change.is_in_fleet()?;
    let declared = declare.of(UseOf::Bike(bike_id), change.now);
    let stored = change.tx.insert_declared_use(&declared).await?;
    let stored = named(stored, declared);
    change.end("declared_use.create", "").await?;
    Ok(stored)
}

/// Declares how far each bike of a group goes; the group's bikes are marked for new outlooks.
///
/// # Errors
/// [`ServiceError::Unavailable`].
pub async fn post_of_group(
    services: &Services,
    work: &mut UnitOfWork,
    group: GroupName,
    declare: Declare,
) -> Result<Once<DeclaredUse>, ServiceError> {
    let mut change = WorkshopChange::begin(services, work).await?;
    let declared = declare.of(UseOf::Group(group.clone()), change.now);
    let stored = change.tx.insert_declared_use(&declared).await?;
    let stored = named(stored, declared);
    if let Once::New(declared) = &stored {
        change.tx.mark_group(&group, change.now).await?;
        change.record("declared_use.create", format!("declared-use/{}", declared.id)).await?;
    }
    Ok(stored)
}

fn named(stored: Once<DeclaredUseId>, declared: DeclaredUse) -> Once<DeclaredUse> {
    match stored {
        Once::New(_) => Once::New(declared),
        Once::Again(id) => Once::Again(DeclaredUse { id, ..declared }),
    }
}

/// A page of what is declared of a bike itself, in the order it was entered.
///
/// # Errors
/// [`ServiceError::NotFound`].
pub async fn list_of_bike(
    services: &Services,
    actor: &Actor,
    bike_id: BikeId,
    page: &PageRequest,
) -> Result<Page<DeclaredUse>, ServiceError> {
    let of = UseOf::Bike(bike_id);
    read_of_bike(services, actor, bike_id, async |tx| tx.declared_use(&of, page).await).await
}

/// A page of what is declared of a group, or of all groups, in the order it was entered.
///
/// # Errors
/// [`ServiceError::Invalid`] for another list's cursor.
pub async fn list_of_groups(
    services: &Services,
    actor: &Actor,
    group: Option<GroupName>,
    page: &PageRequest,
) -> Result<Page<DeclaredUse>, ServiceError> {
    let mut tx = services.store.begin_read(actor).await?;
    Ok(match group {
        Some(group) => tx.declared_use(&UseOf::Group(group), page).await?,
        None => tx.declared_use_of_groups(page).await?,
    })
}

/// Takes back what was declared of a bike.
///
/// # Errors
/// [`ServiceError::NotFound`].
pub async fn remove_of_bike(
    services: &Services,
    work: &mut UnitOfWork,
    bike_id: BikeId,
    id: DeclaredUseId,
) -> Result<(), ServiceError> {
    let mut change = BikeChange::begin(services, work, bike_id).await?;
    let removed = change.tx.remove_declared_use(bike_id, id).await;
    removed.map_err(ServiceError::or_not_found("declared use"))?;
    change.end("declared_use.remove", &format!("/declared-use/{id}")).await?;
    Ok(())
}

/// Takes back what was declared of a group; the group's bikes are marked for new outlooks.
///
/// # Errors
/// [`ServiceError::NotFound`].
pub async fn remove_of_group(
    services: &Services,
    work: &mut UnitOfWork,
    id: DeclaredUseId,
) -> Result<(), ServiceError> {
    let mut change = WorkshopChange::begin(services, work).await?;
    let removed = change.tx.remove_declared_use_of_group(id).await;
    let group = removed.map_err(ServiceError::or_not_found("declared use"))?;
    change.tx.mark_group(&group, change.now).await?;
    change.record("declared_use.remove", format!("declared-use/{id}")).await
}
