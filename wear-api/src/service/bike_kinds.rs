//! Kinds of bike: what bikes of a kind have in common, kept once.

use std::collections::HashMap;

use super::{
    Actor, Conflict, Mismatch, ServiceError, Services, UnitOfWork, WorkshopChange, fit_check, rides, stock,
};
use crate::domain::{
    Bike, BikeId, BikeKind, BikeKindFacts, BikeKindId, Drivetrain, DrivetrainChoice, Field, FieldErrors,
    Form, GroupName, Invalid, KindChoice, Label, ModelsOfKind, Page, PageRequest, PartModelId, Place, Use,
};
use crate::store::Tx;
use wear_core::units::Limit;

/// A kind of bike to be entered.
#[derive(Debug, Clone, PartialEq)]
pub struct EnterKind {
    /// What people call it.
    pub name: Label,
    /// What its bikes are used for.
    pub usage: Use,
    /// Their drivetrain.
    pub drivetrain: DrivetrainChoice,
    /// Their own limit.
    pub limit: Option<Limit>,
    /// Their group.
    pub group: Option<GroupName>,
    /// The models of their parts.
    pub models: ModelsOfKind,
    /// Whether parts or a chain's length that don't go together are meant so.
    pub mismatch: Mismatch,
}

/// A change of a kind of bike: what is `None` stays.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct KindPatch {
    /// New name.
    pub name: Option<Label>,
    /// New use.
    pub usage: Option<Use>,
    /// New drivetrain.
    pub drivetrain: Option<DrivetrainChoice>,
    /// New own limit; `Some(None)` takes it away.
    pub limit: Option<Option<Limit>>,
    /// New group; `Some(None)` takes it away.
    pub group: Option<Option<GroupName>>,
    /// New model of the chain; `Some(None)` takes it away.
    pub chain: Option<Option<PartModelId>>,
    /// New model of the cassette; `Some(None)` takes it away.
    pub cassette: Option<Option<PartModelId>>,
    /// New model of the rings; `Some(None)` takes it away.
    pub ring: Option<Option<PartModelId>>,
    /// Whether the bikes of the kind follow, where their own value is the kind's old one.
    pub apply_to_bikes: Option<bool>,
    /// Whether parts or a chain's length that don't go together are meant so.
    pub mismatch: Mismatch,
}

/// The drivetrain that is said, and whether it is assumed.
///
/// # Errors
/// [`ServiceError::Invalid`] for a number of cogs that there isn't, and a bike that the workshop doesn't have.
pub(super) async fn drivetrain_of(
    tx: &mut Tx,
    choice: DrivetrainChoice,
    usage: Use,
) -> Result<(Drivetrain, bool), ServiceError> {
    match choice {
        DrivetrainChoice::Whole(drivetrain) => Ok((drivetrain, false)),
        DrivetrainChoice::Usual(speeds) => Drivetrain::typical(usage, speeds)
            .map(|drivetrain| (drivetrain, true))
            .map_err(|cause| ServiceError::field("/drivetrain/speeds", cause)),
        DrivetrainChoice::LikeBike(id) => {
            let like = tx.bike(id).await;
            let facts =
                like.map_err(ServiceError::or_no_such("/drivetrain/like_bike_id", Field::Bike))?.facts;
            Ok((facts.drivetrain, facts.is_assumed))
        }
    }
}

/// The kind that is named.
///
/// # Errors
/// [`ServiceError::Invalid`] when the workshop has none of that id or name.
pub(super) async fn chosen(tx: &mut Tx, choice: &KindChoice) -> Result<BikeKind, ServiceError> {
    match choice {
        KindChoice::Id(id) => {
            tx.bike_kind(*id).await.map_err(ServiceError::or_no_such("/kind_id", Field::BikeKind))
        }
        KindChoice::Named(name) => {
            tx.bike_kind_named(name).await.map_err(ServiceError::or_no_such("/kind", Field::BikeKind))
        }
    }
}

/// Enters a kind of bike.
///
/// # Errors
/// [`ServiceError::Conflict`] for a name that another kind has; [`ServiceError::Invalid`] for a drivetrain, bike or part
/// model that there isn't.
pub async fn create(
    services: &Services,
    work: &mut UnitOfWork,
    enter: EnterKind,
) -> Result<BikeKind, ServiceError> {
    let mut change = WorkshopChange::begin(services, work).await?;
    let EnterKind { name, usage, drivetrain, limit, group, models, mismatch } = enter;
    let is_said = matches!(drivetrain, DrivetrainChoice::Whole(_));
    let (drivetrain, is_assumed) = drivetrain_of(change.tx, drivetrain, usage).await?;
    let facts = BikeKindFacts { name, usage, drivetrain, is_assumed, limit, group, models };
    check_models(change.tx, &facts).await?;
    check_fit(change.tx, &facts, is_said, mismatch).await?;
    let kind = BikeKind { id: BikeKindId::generate(), facts, created_at: change.now, revision: 1 };
    change.tx.insert_bike_kind(&kind).await.map_err(ServiceError::or_conflict(Conflict::KindNamed))?;
    change.record_with("bike_kind.create", format!("bike-kinds/{}", kind.id), mismatch.detail()).await?;
    Ok(kind)
}

/// Refuses parts that don't go together, unless that is accepted.
async fn check_fit(
    tx: &mut Tx,
    facts: &BikeKindFacts,
    is_said: bool,
    mismatch: Mismatch,
) -> Result<(), ServiceError> {
    if mismatch == Mismatch::Accepted {
        return Ok(());
    }
    if is_said {
        fit_check::links_go(&facts.drivetrain, mismatch)?;
    }
    fit_check::models_of_kind_go(tx, facts).await
}

async fn check_models(tx: &mut Tx, facts: &BikeKindFacts) -> Result<(), ServiceError> {
    let sprockets = if facts.drivetrain.cogs().len() == 1 { Place::Cog } else { Place::Cassette };
    for (model, pointer, place) in [
        (facts.models.chain, "/chain_model_id", Place::Chain),
        (facts.models.cassette, "/cassette_model_id", sprockets),
        (facts.models.ring, "/ring_model_id", Place::Ring),
    ] {
        let Some(model) = model else { continue };
        if stock::place_of(tx, model, pointer).await? != place {
            let cause = Invalid::Together { what: Field::ModelAndPlace, allowed: Form::ModelForPlace };
            return Err(ServiceError::field(pointer, cause));
        }
    }
    Ok(())
}

/// One kind of bike.
///
/// # Errors
/// [`ServiceError::NotFound`].
pub async fn get(services: &Services, actor: &Actor, id: BikeKindId) -> Result<BikeKind, ServiceError> {
    let mut tx = services.store.begin_read(actor).await?;
    tx.bike_kind(id).await.map_err(ServiceError::or_not_found("kind of bike"))
}

/// A page of kinds of bike.
///
/// # Errors
/// [`ServiceError::Invalid`] for another list's cursor.
pub async fn list(
    services: &Services,
    actor: &Actor,
    page: &PageRequest,
) -> Result<Page<BikeKind>, ServiceError> {
    let mut tx = services.store.begin_read(actor).await?;
    Ok(tx.bike_kinds(page).await?)
}

/// Every kind of bike of the workshop, in the order they were entered.
///
/// # Errors
/// [`ServiceError::Unavailable`].
pub async fn all(services: &Services, actor: &Actor) -> Result<Vec<BikeKind>, ServiceError> {
    let mut tx = services.store.begin_read(actor).await?;
    Ok(tx.all_bike_kinds().await?)
}

/// The same, each with how many bikes are of it, retired ones too.
///
/// # Errors
/// [`ServiceError::Unavailable`].
pub async fn all_with_counts(
    services: &Services,
    actor: &Actor,
) -> Result<Vec<(BikeKind, i64)>, ServiceError> {
    let mut tx = services.store.begin_read(actor).await?;
    let mut kinds = Vec::new();
    for kind in tx.all_bike_kinds().await? {
        let bikes = tx.count_of_kind(kind.id).await?;
        kinds.push((kind, bikes));
    }
    Ok(kinds)
}

/// One kind of bike, with how many bikes are of it, retired ones too.
///
/// # Errors
/// [`ServiceError::NotFound`].
pub async fn get_with_count(
    services: &Services,
    actor: &Actor,
    id: BikeKindId,
) -> Result<(BikeKind, i64), ServiceError> {
    let mut tx = services.store.begin_read(actor).await?;
    let kind = tx.bike_kind(id).await.map_err(ServiceError::or_not_found("kind of bike"))?;
    Ok((kind, tx.count_of_kind(id).await?))
}

/// Changes a kind of bike. Where bikes are of it, it has to be said whether they follow: those whose own value is the
/// kind's old one get the new one, as if they were changed one by one.
///
/// # Errors
/// [`ServiceError::NotFound`], [`ServiceError::Stale`]; [`ServiceError::Conflict`] for a name that another kind has;
/// [`ServiceError::Invalid`] for a drivetrain, bike or part model that there isn't, and where it isn't said whether
/// bikes follow.
pub async fn change(
    services: &Services,
    work: &mut UnitOfWork,
    id: BikeKindId,
    revision: i64,
    patch: KindPatch,
) -> Result<BikeKind, ServiceError> {
    let mut change = WorkshopChange::begin(services, work).await?;
    let bikes = change.tx.bikes_of_kind(id).await?;
    if patch.apply_to_bikes == Some(true) {
        // The bikes' marks are their locks: taken before anything is read.
        change.tx.mark_bikes(&bikes, change.now).await?;
    }
    let before = change.tx.bike_kind(id).await.map_err(ServiceError::or_not_found("kind of bike"))?;
    if before.revision != revision {
        return Err(ServiceError::Stale);
    }
    let KindPatch { name, usage, drivetrain, limit, group, chain, cassette, ring, apply_to_bikes, mismatch } =
        patch;
    let is_said = matches!(drivetrain, Some(DrivetrainChoice::Whole(_)));
    let old = before.facts;
    let usage = usage.unwrap_or(old.usage);
    let (drivetrain, is_assumed) = match drivetrain {
        Some(choice) => drivetrain_of(change.tx, choice, usage).await?,
        None => (old.drivetrain.clone(), old.is_assumed),
    };
    let new = BikeKindFacts {
        name: name.unwrap_or_else(|| old.name.clone()),
        usage,
        drivetrain,
        is_assumed,
        limit: limit.unwrap_or(old.limit),
        group: group.unwrap_or_else(|| old.group.clone()),
        models: ModelsOfKind {
            chain: chain.unwrap_or(old.models.chain),
            cassette: cassette.unwrap_or(old.models.cassette),
            ring: ring.unwrap_or(old.models.ring),
        },
    };
    check_models(change.tx, &new).await?;
    if (&new.drivetrain, new.models) != (&old.drivetrain, old.models) {
        check_fit(change.tx, &new, is_said, mismatch).await?;
    }
    if concerns_bikes(&old, &new) && !bikes.is_empty() {
        match apply_to_bikes {
            None => {
                let cause = Invalid::BikesOfKind { count: bikes.len() };
                return Err(FieldErrors::from(cause.at("/apply_to_bikes")).into());
            }
            Some(false) => {}
            Some(true) => follow(change.tx, &bikes, &old, &new).await?,
        }
    }
    change
        .tx
        .update_bike_kind(id, revision, &new)
        .await
        .map_err(ServiceError::or_conflict(Conflict::KindNamed))?;
    change.record_with("bike_kind.change", format!("bike-kinds/{id}"), mismatch.detail()).await?;
    Ok(change.tx.bike_kind(id).await?)
}

fn concerns_bikes(old: &BikeKindFacts, new: &BikeKindFacts) -> bool {
    let of = |facts: &BikeKindFacts| (facts.usage, facts.is_assumed, facts.limit, facts.models);
    of(old) != of(new) || old.drivetrain != new.drivetrain
}

async fn follow(
    tx: &mut Tx,
    bikes: &[BikeId],
    old: &BikeKindFacts,
    new: &BikeKindFacts,
) -> Result<(), ServiceError> {
    let of_kind: HashMap<BikeId, Bike> = tx.bikes_by_id(bikes).await?;
    for mut bike in of_kind.into_values() {
        let before = bike.facts.clone();
        let facts = &mut bike.facts;
        if facts.usage == old.usage {
            facts.usage = new.usage;
        }
        if (&facts.drivetrain, facts.is_assumed) == (&old.drivetrain, old.is_assumed) {
            facts.drivetrain = new.drivetrain.clone();
            facts.is_assumed = new.is_assumed;
        }
        if facts.limit == old.limit {
            facts.limit = new.limit;
        }
        if bike.facts != before {
            tx.update_bike(bike.id, bike.revision, &bike.facts).await?;
        }
        if (&bike.facts.drivetrain, bike.facts.usage) != (&before.drivetrain, before.usage) {
            rides::recount(tx, &bike).await?;
        }
    }
    if old.models == new.models {
        return Ok(());
    }
    for fitting in tx.fittings_of_bikes(bikes).await?.iter().filter(|fitting| fitting.removed_at.is_none()) {
        let (was, is) = (old.model_at(fitting.place), new.model_at(fitting.place));
        if was == is {
            continue;
        }
        let part = tx.part(fitting.part_id).await?;
        if part.facts.model_id == was {
            tx.update_part(part.id, part.revision, is, part.facts.label.as_ref(), part.retired_at).await?;
        }
    }
    Ok(())
}

/// Takes a kind of bike away that no bike is of.
///
/// # Errors
/// [`ServiceError::NotFound`], [`ServiceError::Stale`]; [`ServiceError::Conflict`] when bikes are of it.
pub async fn delete(
    services: &Services,
    work: &mut UnitOfWork,
    id: BikeKindId,
    revision: i64,
) -> Result<(), ServiceError> {
    let mut change = WorkshopChange::begin(services, work).await?;
    change.tx.bike_kind(id).await.map_err(ServiceError::or_not_found("kind of bike"))?;
    let bikes = change.tx.count_of_kind(id).await?;
    if bikes > 0 {
        return Err(ServiceError::Conflict(Conflict::KindInUse {
            bikes: u32::try_from(bikes).unwrap_or(u32::MAX),
        }));
    }
    change.tx.delete_bike_kind(id, revision).await.map_err(ServiceError::or_stale("kind of bike"))?;
    change.record("bike_kind.delete", format!("bike-kinds/{id}")).await
}
