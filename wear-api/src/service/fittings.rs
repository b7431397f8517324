//! Fittings: putting a part on a bike and taking it off, where that isn't a swap.

use super::{
    Actor, BikeChange, Conflict, Mismatch, ServiceError, Services, UnitOfWork, fit_check, parts_of_bike,
    read_of_bike, stock,
};
use crate::domain::{
    BikeId, Field, Fitting, FittingId, FittingStart, Invalid, Note, Outlook, PartId, PartModelId, Place,
    Position, Ride, Timestamp,
};
use crate::store::Tx;

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

/// A fitting whose beginning was corrected, and what follows from it.
#[derive(Debug)]
pub struct Corrected {
    /// The fitting after the change.
    pub fitting: Fitting,
    /// Its revision.
    pub revision: i64,
    /// Rides that its part was taken for being on, and no longer is.
    pub outside: Vec<Ride>,
    /// The bike's outlook after the change.
    pub outlook: Outlook,
}

/// A fitting, with its revision.
///
/// # Errors
/// [`ServiceError::NotFound`].
pub async fn get(
    services: &Services,
    actor: &Actor,
    bike_id: BikeId,
    id: FittingId,
) -> Result<(Fitting, i64), ServiceError> {
    let mut tx = services.store.begin_read(actor).await?;
    let fitting = tx.fitting(bike_id, id).await.map_err(ServiceError::or_not_found("fitting"))?;
    let revision = tx.fitting_revision(bike_id, id).await?;
    Ok((fitting, revision))
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
/// [`ServiceError::NotFound`]; [`ServiceError::Invalid`] for a time in the future, an unknown part or model, a place that
/// the bike lacks and a part that doesn't go with it; [`ServiceError::Conflict`] when the place isn't empty or the part is on a bike.
pub async fn fit(
    services: &Services,
    work: &mut UnitOfWork,
    bike_id: BikeId,
    what: WhatGoesOn,
    (position, mismatch): (Position, Mismatch),
    fitted_at: Timestamp,
) -> Result<Fitting, ServiceError> {
    fitted_at.not_after(services.now()).map_err(|cause| ServiceError::field("/fitted_at", cause))?;
    let mut change = BikeChange::begin(services, work, bike_id).await?;
    change.in_fleet("/fitted_at", fitted_at)?;
    let tx = &mut *change.tx;
    let (place, model, named) = match what {
        WhatGoesOn::Part(part_id) => {
            let part = tx.part(part_id).await.map_err(ServiceError::or_no_such("/part_id", Field::Part))?;
            (part.facts.place, part.facts.model_id, "/part_id")
        }
        WhatGoesOn::New { place, model_id } => (place, model_id, "/part_model_id"),
    };
    let taken = |stay: &Fitting| stay.removed_at.is_none_or(|removed_at| removed_at > fitted_at);
    let here = tx.fittings_of_bike(bike_id).await?;
    let drivetrain = &change.bike.facts.drivetrain;
    fit_check::place_is_there(tx, drivetrain, &here, (place, position), fitted_at).await?;
    if let Some(model) = model {
        stock::place_of(tx, model, named).await?;
        fit_check::model_goes(tx, drivetrain, (model, position), mismatch, named).await?;
    }
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
            let stay = (fitted_at, None);
            let start = FittingStart::New;
            parts_of_bike::fit_new(tx, bike_id, (place, position), model_id, stay, start, change.now).await?
        }
    };
    let subject = format!("/fittings/{}", fitting.id);
    change.end_with("fitting.create", &subject, mismatch.detail()).await?;
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

/// What to correct of a fitting; what is left out stays.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct CorrectFitting {
    /// Since when the part has been on.
    pub fitted_at: Option<Timestamp>,
    /// When it came off; `Some(None)` says that it is still on.
    pub removed_at: Option<Option<Timestamp>>,
}

/// Corrects since when and until when a part has been on the bike. With another beginning it counts as new from then on,
/// whatever was known of it before.
///
/// # Errors
/// [`ServiceError::NotFound`]; [`ServiceError::Stale`] when `seen` isn't the present revision; [`ServiceError::Invalid`]
/// for a time in the future, after the bike's retirement, the part's removal or its first reading on the bike;
/// [`ServiceError::Conflict`] when another part was in the place, or this one on a bike, at that time, and for what a
/// swap put on.
pub async fn correct(
    services: &Services,
    work: &mut UnitOfWork,
    bike_id: BikeId,
    id: FittingId,
    seen: i64,
    wanted: CorrectFitting,
) -> Result<Corrected, ServiceError> {
    let mut change = BikeChange::begin(services, work, bike_id).await?;
    let mut before = change.tx.fitting(bike_id, id).await.map_err(ServiceError::or_not_found("fitting"))?;
    if change.tx.fitting_revision(bike_id, id).await? != seen {
        return Err(ServiceError::Stale);
    }
    let mut outside = Vec::new();
    let mut detail = serde_json::json!({"place": before.place.as_str()});
    if let Some(removed_at) = wanted.removed_at {
        let (was, is) = (before.removed_at, removed_at);
        let until = |at: Option<Timestamp>| at.map_or_else(|| "on".to_owned(), |at| at.to_string());
        correct_removal(&mut change, &before, removed_at).await?;
        detail["removed_at"] = serde_json::json!({"from": until(was), "to": until(is)});
        if let Some(is) = is.filter(|is| was.is_none_or(|was| *is < was)) {
            outside.extend(change.tx.rides_of(&[(bike_id, is, was.unwrap_or(change.now))]).await?);
        }
        before.removed_at = removed_at;
    }
    if let Some(fitted_at) = wanted.fitted_at {
        fitted_at.not_after(change.now).map_err(|cause| ServiceError::field("/fitted_at", cause))?;
        change.in_fleet("/fitted_at", fitted_at)?;
        allow(change.tx, &before, fitted_at).await?;
        if fitted_at > before.fitted_at {
            outside.extend(change.tx.rides_of(&[(bike_id, before.fitted_at, fitted_at)]).await?);
        }
        change.tx.correct_fitting(bike_id, id, fitted_at, FittingStart::New).await?;
        detail["fitted_at"] =
            serde_json::json!({"from": before.fitted_at.to_string(), "to": fitted_at.to_string()});
        detail["start"] =
            serde_json::json!({"from": before.start.as_str(), "to": FittingStart::New.as_str()});
    }
    change.tx.settle_start(bike_id).await?;
    let outlook = change.end_with("fitting.change", &format!("/fittings/{id}"), detail).await?;
    let fitting = change.tx.fitting(bike_id, id).await?;
    let revision = change.tx.fitting_revision(bike_id, id).await?;
    Ok(Corrected { fitting, revision, outside, outlook })
}

/// Corrects when a part came off, or that it didn't.
async fn correct_removal(
    change: &mut BikeChange<'_>,
    stay: &Fitting,
    removed_at: Option<Timestamp>,
) -> Result<(), ServiceError> {
    let refused = |cause| Err(ServiceError::field("/removed_at", cause));
    not_by_swap(change.tx, stay).await?;
    if let Some(at) = removed_at {
        at.not_after(change.now).map_err(|cause| ServiceError::field("/removed_at", cause))?;
        let is_as_found = stay.start.is_as_found() && at == stay.fitted_at;
        if at <= stay.fitted_at && !is_as_found {
            return refused(Invalid::BeforeFitting { given: at, fitted_at: stay.fitted_at });
        }
        let readings = change.tx.readings_of_parts(&[stay.part_id]).await?;
        let of_stay = readings.iter().filter(|reading| reading.bike_id == stay.bike_id);
        let last = of_stay.map(|reading| reading.taken_at).filter(|taken_at| stay.covers(*taken_at)).max();
        if last.is_some_and(|taken_at| at <= taken_at) {
            return Err(ServiceError::Conflict(Conflict::ReadingsCount));
        }
    }
    let until = removed_at.unwrap_or(Timestamp::LAST);
    let is_then = |other: &Fitting| {
        other.id != stay.id
            && other.fitted_at < until
            && other.removed_at.is_none_or(|removed_at| removed_at > stay.fitted_at)
    };
    let here = change.tx.fittings_of_bike(stay.bike_id).await?;
    let at_place = |other: &Fitting| (other.place, other.position) == (stay.place, stay.position);
    if let Some(other) = here.iter().find(|other| at_place(other) && is_then(other)) {
        let (place, at) = (stay.place.to_string(), other.fitted_at.to_string());
        return Err(ServiceError::Conflict(Conflict::PlaceTaken { place, at }));
    }
    if change.tx.fittings_of_part(stay.part_id).await?.iter().any(is_then) {
        return Err(ServiceError::Conflict(Conflict::PartOnBikeThen));
    }
    let span = (stay.fitted_at, removed_at);
    Ok(change.tx.move_fitting(stay.bike_id, stay.id, span.0, span.1).await?)
}

/// Refuses a stay that a swap ended.
async fn not_by_swap(tx: &mut Tx, stay: &Fitting) -> Result<(), ServiceError> {
    let Some(removed_at) = stay.removed_at else { return Ok(()) };
    let swap = tx.swap_at(stay.bike_id, stay.place, stay.position, removed_at).await?;
    match swap.filter(|swap| swap.facts.off_part_id == Some(stay.part_id)) {
        Some(_) => Err(ServiceError::Conflict(Conflict::TakenOffBySwap { at: removed_at.to_string() })),
        None => Ok(()),
    }
}

/// Voids a fitting that never was: the part was not on the bike then. The audit keeps what it said, with the reason.
///
/// # Errors
/// [`ServiceError::NotFound`]; [`ServiceError::Stale`] when `seen` isn't the present revision; [`ServiceError::Conflict`] for
/// what a swap put on or took off, and when readings were taken of the part meanwhile.
pub async fn void(
    services: &Services,
    work: &mut UnitOfWork,
    bike_id: BikeId,
    id: FittingId,
    seen: i64,
    reason: Note,
) -> Result<Outlook, ServiceError> {
    let mut change = BikeChange::begin(services, work, bike_id).await?;
    let stay = change.tx.fitting(bike_id, id).await.map_err(ServiceError::or_not_found("fitting"))?;
    if change.tx.fitting_revision(bike_id, id).await? != seen {
        return Err(ServiceError::Stale);
    }
    let swap = change.tx.swap_at(bike_id, stay.place, stay.position, stay.fitted_at).await?;
    if swap.is_some_and(|swap| swap.facts.on_part_id == stay.part_id) {
        return Err(ServiceError::Conflict(Conflict::FittedBySwap { at: stay.fitted_at.to_string() }));
    }
    not_by_swap(change.tx, &stay).await?;
    let readings = change.tx.readings_of_parts(&[stay.part_id]).await?;
    if readings.iter().any(|reading| reading.bike_id == bike_id && stay.covers(reading.taken_at)) {
        return Err(ServiceError::Conflict(Conflict::ReadingsCount));
    }
    change.tx.delete_fitting(bike_id, id).await?;
    change.tx.settle_start(bike_id).await?;
    let detail = serde_json::json!({
        "reason": reason.as_str(), "part_id": stay.part_id, "place": stay.place.as_str(),
        "position": stay.position.get(), "fitted_at": stay.fitted_at.to_string(),
        "removed_at": stay.removed_at.map(|at| at.to_string()), "start": stay.start.as_str(),
    });
    change.end_with("fitting.void", &format!("/fittings/{id}"), detail).await
}

/// Whether a part may count as fitted at that time.
async fn allow(tx: &mut Tx, stay: &Fitting, at: Timestamp) -> Result<(), ServiceError> {
    let refused = |cause| Err(ServiceError::field("/fitted_at", cause));
    let swap = tx.swap_at(stay.bike_id, stay.place, stay.position, stay.fitted_at).await?;
    if swap.is_some_and(|swap| swap.facts.on_part_id == stay.part_id) {
        return Err(ServiceError::Conflict(Conflict::FittedBySwap { at: stay.fitted_at.to_string() }));
    }
    if let Some(removed_at) = stay.removed_at.filter(|removed_at| at >= *removed_at) {
        return refused(Invalid::AfterRemoval { given: at, removed_at });
    }
    let readings = tx.readings_of_parts(&[stay.part_id]).await?;
    let of_stay = readings.iter().filter(|reading| reading.bike_id == stay.bike_id);
    let first = of_stay.map(|reading| reading.taken_at).filter(|taken_at| stay.covers(*taken_at)).min();
    if let Some(taken_at) = first.filter(|taken_at| at > *taken_at) {
        return refused(Invalid::AfterReading { given: at, taken_at });
    }
    let is_then = |other: &Fitting| {
        other.id != stay.id
            && other.removed_at.is_none_or(|removed_at| removed_at > at)
            && stay.removed_at.is_none_or(|removed_at| other.fitted_at < removed_at)
    };
    let here = tx.fittings_of_bike(stay.bike_id).await?;
    let at_place = |other: &Fitting| (other.place, other.position) == (stay.place, stay.position);
    if here.iter().any(|other| at_place(other) && is_then(other)) {
        let place = stay.place.to_string();
        return Err(ServiceError::Conflict(Conflict::PlaceTaken { place, at: at.to_string() }));
    }
    if tx.fittings_of_part(stay.part_id).await?.iter().any(is_then) {
        return Err(ServiceError::Conflict(Conflict::PartOnBikeThen));
    }
    Ok(())
}
