//! Bikes.

use chrono::NaiveDate;

use super::{
    Actor, BikeChange, Conflict, Mismatch, ServiceError, Services, UnitOfWork, WorkshopChange, bike_kinds,
    fit_check, hooks, outlook, parties, parts_of_bike, starts,
};
use crate::domain::{
    Bike, BikeFacts, BikeFilter, BikeId, BikeKind, BikePatch, BikeSort, BikeStart, CareSetting,
    DrivetrainChoice, ExternalId, Field, FittingStart, Form, GroupName, Invalid, KindChoice, KmBefore, Label,
    NewBike, OwnersPatch, Page, PageRequest, Reach, Ride, Teeth, Timestamp, Use, Workshop,
};
use crate::store::Tx;
use wear_core::units::Limit;

/// A bike to be entered.
#[derive(Debug, Clone, PartialEq)]
pub struct EnterBike {
    /// What people call it.
    pub label: Label,
    /// Its group; by its kind, else by its use, where it isn't said.
    pub group: Option<GroupName>,
    /// What it is used for; by its kind, else in town, where it isn't said.
    pub usage: Option<Use>,
    /// Its drivetrain; by its kind, else the usual one, where it isn't said.
    pub drivetrain: Option<DrivetrainChoice>,
    /// Its own limit; by its kind where it isn't said.
    pub limit: Option<Limit>,
    /// How far its care is told; as the workshop says where it isn't said.
    pub care: Option<CareSetting>,
    /// Its kind.
    pub kind: Option<KindChoice>,
    /// What another program calls it.
    pub external_id: Option<ExternalId>,
    /// How its record begins.
    pub start: EnterStart,
    /// Whether a chain that is shorter or longer than geometry allows is meant so.
    pub mismatch: Mismatch,
}

/// How the record of a bike that is entered begins.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum EnterStart {
    /// With chain, cassette and rings fitted on that day, new.
    New(NaiveDate),
    /// With those that are on it, from today or from the bike's first event, whichever is earlier.
    AsFound {
        /// About so far the chain has run, where somebody says so.
        ridden: Option<KmBefore>,
    },
}

impl EnterStart {
    /// From what is said of it.
    ///
    /// # Errors
    /// [`Invalid`] for a distance of a chain that was new.
    pub fn new(fitted_on: Option<NaiveDate>, ridden: Option<KmBefore>) -> Result<Self, Invalid> {
        match (fitted_on, ridden) {
            (Some(day), None) => Ok(Self::New(day)),
            (None, ridden) => Ok(Self::AsFound { ridden }),
            (Some(_), Some(_)) => {
                Err(Invalid::Together { what: Field::ChainKmAndNew, allowed: Form::ChainKmAsFound })
            }
        }
    }
}

/// The instant at which a date begins where the workshop is.
///
/// # Errors
/// [`Invalid`] when the date is out of range.
pub(super) fn start_of(workshop: &Workshop, date: NaiveDate) -> Result<Timestamp, Invalid> {
    Timestamp::start_of(date, workshop.settings.time_zone)
}

/// Enters a bike with chain, cassette and rings on it, new or as found.
///
/// # Errors
/// [`ServiceError::Invalid`] when the parts were fitted in the future.
pub async fn create(
    services: &Services,
    work: &mut UnitOfWork,
    enter: EnterBike,
) -> Result<(Bike, Option<BikeStart>), ServiceError> {
    let mut change = WorkshopChange::begin(services, work).await?;
    let workshop = change.tx.workshop().await?;
    let start = match enter.start {
        EnterStart::New(date) => start_of(&workshop, date)
            .and_then(|at| at.not_after(change.now))
            .map(|at| (at, FittingStart::New))
            .map_err(|cause| ServiceError::field("/fitted_on", cause))?,
        EnterStart::AsFound { ridden } => (change.now, FittingStart::AsFound { ridden }),
    };
    let kind = match &enter.kind {
        Some(choice) => Some(bike_kinds::chosen(change.tx, choice).await?),
        None => None,
    };
    label_free(change.tx, &enter.label, None).await?;
    external_id_free(change.tx, enter.external_id.as_ref()).await?;
    let mismatch = enter.mismatch;
    let facts = facts_of(change.tx, enter, kind.as_ref()).await?;
    let kind = kind.map(|kind| kind.facts);
    let bike = NewBike { id: BikeId::generate(), facts, created_at: change.now };
    // Somebody else may have entered the label since it was looked for.
    let taken = ServiceError::or_conflict(Conflict::BikeLabelledNow);
    change.tx.insert_bike(&bike).await.map_err(taken)?;
    let reach = change.actor.reach;
    if reach.is_bound() {
        change.tx.set_owners(bike.id, reach.app(), reach.rider()).await?;
    }
    parts_of_bike::fit_all(change.tx, bike.id, &bike.facts.drivetrain, kind.as_ref(), start, change.now)
        .await?;
    let bike = change.tx.bike(bike.id).await?;
    outlook::refresh(change.tx, &workshop, &bike, change.now).await?;
    let start = starts::of_bikes(change.tx, &workshop, &[bike.id]).await?.remove(&bike.id);
    change.record_with("bike.create", format!("bikes/{}", bike.id), mismatch.detail()).await?;
    Ok((bike, start))
}

/// The bike of the fleet with a label, if there is one.
///
/// # Errors
/// [`ServiceError::Unavailable`].
pub async fn labelled(
    services: &Services,
    actor: &Actor,
    label: &Label,
) -> Result<Option<BikeId>, ServiceError> {
    let mut tx = services.store.begin_read(actor).await?;
    Ok(tx.bike_labelled(label).await?)
}

/// Whether no other bike of the fleet has the label.
async fn label_free(tx: &mut Tx, label: &Label, own: Option<BikeId>) -> Result<(), ServiceError> {
    match tx.bike_labelled(label).await?.filter(|found| Some(*found) != own) {
        // A bike beyond reach isn't named.
        Some(bike) if tx.bikes_by_id(&[bike]).await?.is_empty() => Err(Conflict::LabelTaken.into()),
        Some(bike) => {
            let (label, bike) = (label.to_string(), bike.to_string());
            Err(ServiceError::Conflict(Conflict::BikeLabelled { label, bike }))
        }
        None => Ok(()),
    }
}

/// Whether no bike of the workshop is called so, in the fleet or not.
async fn external_id_free(tx: &mut Tx, external_id: Option<&ExternalId>) -> Result<(), ServiceError> {
    let Some(external_id) = external_id else { return Ok(()) };
    match tx.bikes_called(std::slice::from_ref(external_id)).await?.remove(external_id) {
        // A bike beyond reach isn't named.
        Some(bike) if tx.bikes_by_id(&[bike]).await?.is_empty() => Err(Conflict::ExternalIdTaken.into()),
        Some(bike) => {
            let (external_id, bike) = (external_id.to_string(), bike.to_string());
            Err(Conflict::BikeExternalId { external_id, bike }.into())
        }
        None => Ok(()),
    }
}

/// What a bike has by what is said of it, by its kind, or by default, in this order.
async fn facts_of(tx: &mut Tx, enter: EnterBike, kind: Option<&BikeKind>) -> Result<BikeFacts, ServiceError> {
    let EnterBike { label, group, usage, drivetrain, limit, care, kind: _, external_id, start: _, mismatch } =
        enter;
    if let Some(DrivetrainChoice::Whole(drivetrain)) = &drivetrain {
        fit_check::links_go(drivetrain, mismatch)?;
    }
    let of_kind = kind.map(|kind| &kind.facts);
    let usage = usage.or(of_kind.map(|kind| kind.usage)).unwrap_or(Use::Town);
    let group = match group.or_else(|| of_kind?.group_of_bikes()) {
        Some(group) => group,
        None => GroupName::new(usage.as_str()).map_err(|cause| ServiceError::field("/group", cause))?,
    };
    let (drivetrain, is_assumed) = match (drivetrain, of_kind) {
        (Some(choice), _) => bike_kinds::drivetrain_of(tx, choice, usage).await?,
        (None, Some(kind)) => (kind.drivetrain.clone(), kind.is_assumed),
        (None, None) => bike_kinds::drivetrain_of(tx, DrivetrainChoice::Usual(None), usage).await?,
    };
    Ok(BikeFacts {
        label,
        group,
        usage,
        drivetrain,
        is_assumed,
        limit: limit.or(of_kind.and_then(|kind| kind.limit)),
        care,
        kind: kind.map(|kind| kind.id),
        external_id,
    })
}

/// One bike.
///
/// # Errors
/// [`ServiceError::NotFound`].
pub async fn get(services: &Services, actor: &Actor, id: BikeId) -> Result<Bike, ServiceError> {
    let mut tx = services.store.begin_read(actor).await?;
    tx.bike(id).await.map_err(ServiceError::or_not_found("bike"))
}

/// One bike, and how its record begins.
///
/// # Errors
/// [`ServiceError::NotFound`].
pub async fn get_with_start(
    services: &Services,
    actor: &Actor,
    id: BikeId,
) -> Result<(Bike, Option<BikeStart>), ServiceError> {
    let mut tx = services.store.begin_read(actor).await?;
    let bike = tx.bike(id).await.map_err(ServiceError::or_not_found("bike"))?;
    let workshop = tx.workshop().await?;
    let start = starts::of_bikes(&mut tx, &workshop, &[id]).await?.remove(&id);
    Ok((bike, start))
}

/// A page of bikes, and how their records begin.
///
/// # Errors
/// [`ServiceError::Invalid`] for another list's cursor.
pub async fn list_with_starts(
    services: &Services,
    actor: &Actor,
    filter: &BikeFilter,
    sort: BikeSort,
    page: &PageRequest,
) -> Result<Page<(Bike, Option<BikeStart>)>, ServiceError> {
    let mut tx = services.store.begin_read(actor).await?;
    let Page { items, next } = tx.bikes(filter, sort, page).await?;
    let workshop = tx.workshop().await?;
    let ids: Vec<BikeId> = items.iter().map(|bike| bike.id).collect();
    let mut starts = starts::of_bikes(&mut tx, &workshop, &ids).await?;
    let items = items.into_iter().map(|bike| {
        let start = starts.remove(&bike.id);
        (bike, start)
    });
    Ok(Page { items: items.collect(), next })
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
    let mut tx = services.store.begin_read(actor).await?;
    Ok(tx.bikes(filter, sort, page).await?)
}

/// A bike after a change.
#[derive(Debug)]
pub struct ChangedBike {
    /// The bike.
    pub bike: Bike,
    /// How its record begins.
    pub start: Option<BikeStart>,
    /// Rides that fall outside of the chain's record since its beginning was corrected.
    pub outside: Vec<Ride>,
}

/// Changes a bike. Another drivetrain or use changes what its rides were worth, so they are counted anew. Another
/// beginning of its record counts as if it had been so from the start.
///
/// # Errors
/// [`ServiceError::NotFound`], [`ServiceError::Stale`] when `revision` isn't the present one; [`ServiceError::Invalid`]
/// for a kind, an app or a rider that the workshop doesn't have, and a beginning that what is on record rules out;
/// [`ServiceError::Conflict`] for a label that another bike of the fleet has, and an external id that another bike has.
pub async fn patch(
    services: &Services,
    work: &mut UnitOfWork,
    id: BikeId,
    revision: i64,
    patch: BikePatch,
) -> Result<ChangedBike, ServiceError> {
    let mut change = BikeChange::begin(services, work, id).await?;
    let before = change.bike.facts.clone();

    let start = patch.start;
    if let Some(Some(kind)) = patch.kind {
        bike_kinds::chosen(change.tx, &KindChoice::Id(kind)).await?;
    }
    let retired = patch.retired;
    let owners = (change.bike.app, change.bike.rider);
    let OwnersPatch { app, rider } = patch.owners;
    let owners_after = (app.unwrap_or(owners.0), rider.unwrap_or(owners.1));
    if owners_after != owners {
        parties::are_there(change.tx, Reach::of(app.flatten(), rider.flatten())).await?;
        change.tx.set_owners(id, owners_after.0, owners_after.1).await?;
    }
    if let Some(drivetrain) = &patch.drivetrain {
        fit_check::links_go(drivetrain, Mismatch::of(patch.accept_mismatch))?;
    }
    let mismatch = Mismatch::of(patch.accept_mismatch);
    let facts = patch.apply(before.clone());
    if change.bike.revision != revision {
        return Err(ServiceError::Stale);
    }
    let stays = change.bike.retired_at.is_none();
    if facts.label.folded() != before.label.folded() && stays && retired != Some(true) {
        label_free(change.tx, &facts.label, Some(id)).await?;
    }
    if facts.external_id != before.external_id {
        external_id_free(change.tx, facts.external_id.as_ref()).await?;
    }
    let taken = ServiceError::or_conflict(Conflict::BikeLabelledNow);
    let revision = change.tx.update_bike(id, revision, &facts).await.map_err(taken)?;
    change.bike = change.tx.bike(id).await?;
    match (retired, change.bike.retired_at) {
        (Some(true), None) => leave(&mut change, revision).await?,
        (Some(false), Some(_)) => come_back(&mut change, revision).await?,
        _ => {}
    }
    if facts.drivetrain != before.drivetrain || facts.usage != before.usage {
        super::rides::recount(change.tx, &change.bike).await?;
    }
    let bike = change.bike.clone();
    let workshop = change.tx.workshop().await?;
    let outside = starts::correct(change.tx, &workshop, &bike, start, change.now).await?;
    let mut detail = serde_json::json!({"from": told(&before), "to": told(&facts)});
    if owners_after != owners {
        for (side, (app, rider)) in [("from", owners), ("to", owners_after)] {
            (detail[side]["app_id"], detail[side]["rider_id"]) =
                (serde_json::json!(app), serde_json::json!(rider));
        }
    }
    if mismatch == Mismatch::Accepted {
        detail["accept_mismatch"] = true.into();
    }
    change.end_with("bike.change", "", detail).await?;
    let start = starts::of_bikes(change.tx, &workshop, &[id]).await?.remove(&id);
    Ok(ChangedBike { bike, start, outside })
}

/// What can be set of a bike, for the audit.
fn told(facts: &BikeFacts) -> serde_json::Value {
    let BikeFacts { label, group, usage, drivetrain, is_assumed, limit, care, kind, external_id } = facts;
    let teeth = |all: &[Teeth]| all.iter().map(|teeth| teeth.get()).collect::<Vec<_>>();
    serde_json::json!({
        "label": label.as_str(), "group": group.as_str(), "use": usage.as_str(),
        "rings": teeth(drivetrain.rings()), "cogs": teeth(drivetrain.cogs()), "links": drivetrain.links().get(),
        "gearing": drivetrain.gearing().as_str(), "drivetrain_assumed": is_assumed,
        "limit_percent": limit.map(Limit::get), "care": care.map(|care| care.to_string()), "kind_id": kind,
        "external_id": external_id.as_ref().map(ExternalId::as_str),
    })
}

/// Takes a bike out of the fleet; its history stays. Hooks are told.
///
/// # Errors
/// [`ServiceError::NotFound`], [`ServiceError::Stale`]; [`ServiceError::Conflict`] when it is out already.
pub async fn retire(
    services: &Services,
    work: &mut UnitOfWork,
    id: BikeId,
    revision: i64,
) -> Result<(), ServiceError> {
    let mut change = BikeChange::begin(services, work, id).await?;
    if change.bike.revision != revision {
        return Err(ServiceError::Stale);
    }
    if let Some(retired_at) = change.bike.retired_at {
        return Err(ServiceError::Conflict(Conflict::BikeRetired { at: retired_at.to_string() }));
    }
    leave(&mut change, revision).await
}

async fn leave(change: &mut BikeChange<'_>, revision: i64) -> Result<(), ServiceError> {
    let id = change.bike.id;
    change.tx.retire_bike(id, revision, change.now).await.map_err(ServiceError::or_stale("bike"))?;
    change.bike = change.tx.bike(id).await?;
    hooks::bike_left(change.tx, &change.bike, change.now).await?;
    change.record("bike.retire", "").await
}

/// Brings a bike back into the fleet: what was sent of it meanwhile counts as if it had never left.
async fn come_back(change: &mut BikeChange<'_>, revision: i64) -> Result<(), ServiceError> {
    let id = change.bike.id;
    label_free(change.tx, &change.bike.facts.label, Some(id)).await?;
    change.tx.return_bike(id, revision).await.map_err(ServiceError::or_stale("bike"))?;
    change.bike = change.tx.bike(id).await?;
    hooks::bike_returned(change.tx, &change.bike, change.now).await?;
    change.record("bike.return", "").await
}

/// The groups of the fleet, with the number of bikes in each.
///
/// # Errors
/// [`ServiceError::Unavailable`].
pub async fn groups(services: &Services, actor: &Actor) -> Result<Vec<(GroupName, i64)>, ServiceError> {
    let mut tx = services.store.begin_read(actor).await?;
    Ok(tx.groups().await?)
}

/// The names of the fleet's groups: quicker than [`groups`], which counts bikes.
///
/// # Errors
/// [`ServiceError::Unavailable`].
pub async fn group_names(services: &Services, actor: &Actor) -> Result<Vec<GroupName>, ServiceError> {
    let mut tx = services.store.begin_read(actor).await?;
    Ok(tx.group_names().await?)
}
