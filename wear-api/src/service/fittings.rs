//! Fittings: putting a part on a bike and taking it off, where that isn't a swap.

use super::{
    Actor, BikeChange, Conflict, ServiceError, Services, UnitOfWork, parts_of_bike, read_of_bike, stock,
};
use crate::domain::{
    BikeId, Field, Fitting, FittingId, FittingStart, Invalid, PartId, PartModelId, Place, Position, Timestamp,
};

/// What goes on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum WhatGoesOn {
    /// A part that is on record.
    Part(PartId),
    /// A new part.
    New {
        /// Where it fits.
        place: Place,
        /// Its model, where known.
        model_id: Option<PartModelId>,
    },
}

/// A bike's fittings, in order of time.
///
/// # Errors
/// [`ServiceError::NotFound`].
pub async fn list(services: &Services, actor: &Actor, bike_id: BikeId) -> Result<Vec<Fitting>, ServiceError> {
    read_of_bike(services, actor, bike_id, async |tx| tx.fittings_of_bike(bike_id).await).await
}

/// Puts a part on an empty place.
///
/// # Errors
/// [`ServiceError::NotFound`]; [`ServiceError::Invalid`] for a time in the future or an unknown part or model;
/// [`ServiceError::Conflict`] when the place isn't empty or the part is on a bike.
pub async fn fit(
    services: &Services,
    work: &mut UnitOfWork,
    bike_id: BikeId,
    what: WhatGoesOn,
    position: Position,
    fitted_at: Timestamp,
) -> Result<Fitting, ServiceError> {
    fitted_at.not_after(services.now()).map_err(|cause| ServiceError::field("/fitted_at", cause))?;
    let mut change = BikeChange::begin(services, work, bike_id).await?;
    let tx = &mut *change.tx;
    let place = match what {
        WhatGoesOn::Part(part_id) => {
            tx.part(part_id).await.map_err(ServiceError::or_no_such("/part_id", Field::Part))?.facts.place
        }
        WhatGoesOn::New { place, .. } => place,
    };
    let taken = |stay: &Fitting| stay.removed_at.is_none_or(|removed_at| removed_at > fitted_at);
    let here = tx.fittings_of_bike(bike_id).await?;
    if here.iter().any(|stay| stay.place == place && stay.position == position && taken(stay)) {
        return Err(ServiceError::Conflict(Conflict::PlaceTaken {
            place: place.to_string(),
            at: fitted_at.to_string(),
        }));
    }
    let fitting = match what {
        WhatGoesOn::Part(part_id) => {
            if tx.fittings_of_part(part_id).await?.iter().any(taken) {
                return Err(ServiceError::Conflict(Conflict::PartOnBikeThen));
            }
            let fitting = Fitting {
                id: FittingId::generate(),
                part_id,
                bike_id,
                place,
                position,
                fitted_at,
                removed_at: None,
                start: FittingStart::New,
            };
            tx.insert_fitting(&fitting).await?;
            fitting
        }
        WhatGoesOn::New { model_id, .. } => {
            if let Some(model_id) = model_id {
                stock::place_of(tx, model_id, "/part_model_id").await?;
            }
            let stay = (fitted_at, None);
            let start = FittingStart::New;
            parts_of_bike::fit_new(tx, bike_id, (place, position), model_id, stay, start, change.now).await?
        }
    };
    change.end("fitting.create", &format!("/fittings/{}", fitting.id)).await?;
    Ok(fitting)
}

/// Takes a part off and leaves its place empty.
///
/// # Errors
/// [`ServiceError::NotFound`]; [`ServiceError::Invalid`] for a time in the future or before the fitting;
/// [`ServiceError::Conflict`] when it is off already.
pub async fn remove(
    services: &Services,
    work: &mut UnitOfWork,
    bike_id: BikeId,
    id: FittingId,
    removed_at: Timestamp,
) -> Result<Fitting, ServiceError> {
    removed_at.not_after(services.now()).map_err(|cause| ServiceError::field("/removed_at", cause))?;
    let mut change = BikeChange::begin(services, work, bike_id).await?;
    change.tx.fitting(bike_id, id).await.map_err(ServiceError::or_not_found("fitting"))?;
    change.tx.reach_back(bike_id, removed_at).await?;
    let fitting = change.tx.fitting(bike_id, id).await?;
    if fitting.removed_at.is_some() {
        return Err(ServiceError::Conflict(Conflict::PartOff));
    }
    let is_as_found = fitting.start.is_as_found() && removed_at == fitting.fitted_at;
    if removed_at <= fitting.fitted_at && !is_as_found {
        let cause = Invalid::BeforeFitting { given: removed_at, fitted_at: fitting.fitted_at };
        return Err(ServiceError::field("/removed_at", cause));
    }
    change.tx.close_fitting(bike_id, id, removed_at).await?;
    change.end("fitting.remove", &format!("/fittings/{id}")).await?;
    Ok(Fitting { removed_at: Some(removed_at), ..fitting })
}
