//! Physical parts and their lives.

use super::outlook::{Stay, stays_of_part};
use super::{Actor, Conflict, ServiceError, Services, UnitOfWork, WorkshopChange, stock};
use crate::domain::{
    Field, Form, Invalid, Label, NewPart, Page, PageRequest, Part, PartFacts, PartId, PartModelId, Place,
};
use crate::store::{StoreError, Tx};

/// A part with what it went through.
#[derive(Debug, Clone, PartialEq)]
pub struct PartWithLife {
    /// The part.
    pub part: Part,
    /// The bikes it was on, in order of time.
    pub stays: Vec<Stay>,
}

/// A part to be entered: of a model, or just for a place.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct EnterPart {
    /// The place it fits; the model's when it isn't said.
    pub place: Option<Place>,
    /// Its model, where known.
    pub model_id: Option<PartModelId>,
    /// What people call it.
    pub label: Option<Label>,
}

/// What to change of a part; what is left out stays.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct ChangePart {
    /// Its model; `Some(None)` says that it is not known.
    pub model_id: Option<Option<PartModelId>>,
    /// What people call it; `Some(None)` takes that away.
    pub label: Option<Option<Label>>,
    /// Whether it is done with.
    pub retired: Option<bool>,
}

/// Enters a part that is on no bike.
///
/// # Errors
/// [`ServiceError::Invalid`] for an unknown model, one for another place, or neither model nor place.
pub async fn create(
    services: &Services,
    work: &mut UnitOfWork,
    enter: EnterPart,
) -> Result<Part, ServiceError> {
    let EnterPart { place, model_id, label } = enter;
    let mut change = WorkshopChange::begin(services, work).await?;
    let place = match model_id {
        Some(model_id) => {
            let fits = stock::place_of(change.tx, model_id, "/part_model_id").await?;
            if place.is_some_and(|place| place != fits) {
                let what = Field::ModelAndPlace;
                let cause = Invalid::Together { what, allowed: Form::ModelForPlace };
                return Err(ServiceError::field("/part_model_id", cause));
            }
            fits
        }
        None => place.ok_or_else(|| {
            let cause = Invalid::Missing { what: Field::Place, allowed: Form::PlaceOrModel };
            ServiceError::field("/place", cause)
        })?,
    };
    let new = NewPart {
        id: PartId::generate(),
        facts: PartFacts { model_id, place, label },
        created_at: change.now,
    };
    change.tx.insert_part(&new).await?;
    let part = change.tx.part(new.id).await?;
    change.record("part.create", format!("parts/{}", part.id)).await?;
    Ok(part)
}

/// One part with its life.
///
/// # Errors
/// [`ServiceError::NotFound`].
pub async fn get(services: &Services, actor: &Actor, id: PartId) -> Result<PartWithLife, ServiceError> {
    let mut tx = services.store.begin_read(actor).await?;
    let part = tx.part(id).await.map_err(ServiceError::or_not_found("part"))?;
    Ok(with_life(&mut tx, services, part).await?)
}

/// A page of parts with their lives, in the order they were entered.
///
/// # Errors
/// [`ServiceError::Invalid`] for another list's cursor.
pub async fn list(
    services: &Services,
    actor: &Actor,
    place: Option<Place>,
    page: &PageRequest,
) -> Result<Page<PartWithLife>, ServiceError> {
    let mut tx = services.store.begin_read(actor).await?;
    let Page { items, next } = tx.parts(place, page).await?;
    let mut with = Vec::with_capacity(items.len());
    for part in items {
        with.push(with_life(&mut tx, services, part).await?);
    }
    Ok(Page { items: with, next })
}

/// Changes a part. Its model's limit and price enter outlooks, so the bike that it is on is marked for a new one.
///
/// # Errors
/// [`ServiceError::NotFound`], [`ServiceError::Stale`]; [`ServiceError::Invalid`] for an unknown model or one for
/// another place; [`ServiceError::Conflict`] for retiring a part that is on a bike.
pub async fn change(
    services: &Services,
    work: &mut UnitOfWork,
    id: PartId,
    revision: i64,
    wanted: ChangePart,
) -> Result<PartWithLife, ServiceError> {
    let mut change = WorkshopChange::begin(services, work).await?;
    let named = ServiceError::or_stale("part");
    let on: Vec<_> = change
        .tx
        .fittings_of_part(id)
        .await?
        .into_iter()
        .filter(|stay| stay.removed_at.is_none())
        .map(|stay| stay.bike_id)
        .collect();
    change.tx.mark_bikes(&on, change.now).await?;
    let part = change.tx.part(id).await.map_err(&named)?;
    let ChangePart { model_id, label, retired } = wanted;
    if let Some(Some(model_id)) = model_id
        && stock::place_of(change.tx, model_id, "/part_model_id").await? != part.facts.place
    {
        let what = Field::ModelAndPartPlace;
        let cause = Invalid::Together { what, allowed: Form::ModelForPartPlace };
        return Err(ServiceError::field("/part_model_id", cause));
    }
    if retired == Some(true) && !on.is_empty() {
        return Err(ServiceError::Conflict(Conflict::PartOnBike));
    }
    let retired_at = match retired {
        Some(true) => part.retired_at.or(Some(change.now)),
        Some(false) => None,
        None => part.retired_at,
    };
    let model_id = model_id.unwrap_or(part.facts.model_id);
    let label = label.unwrap_or(part.facts.label);
    change.tx.update_part(id, revision, model_id, label.as_ref(), retired_at).await.map_err(&named)?;
    let part = change.tx.part(id).await?;
    let changed = with_life(change.tx, services, part).await?;
    change.record("part.change", format!("parts/{id}")).await?;
    Ok(changed)
}

async fn with_life(tx: &mut Tx, services: &Services, part: Part) -> Result<PartWithLife, StoreError> {
    let stays = stays_of_part(tx, part.id, services.now()).await?;
    Ok(PartWithLife { part, stays })
}
