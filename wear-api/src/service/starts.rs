//! How bikes' records begin, and what falls outside of them.

use std::collections::{BTreeSet, HashMap};

use super::{ServiceError, bikes, by, parts_of_bike};
use crate::domain::{
    Bike, BikeId, BikeStart, Field, Fitting, FittingStart, Form, Invalid, Place, Ride, RideOutcome,
    RideWarning, StartPatch, Timestamp, Workshop,
};
use crate::store::{StoreError, Tx};

/// Lets the records of bikes as found begin with these rides where they are earlier, and later again where such a ride
/// was moved away; says of each ride why it counts for nothing, where it does.
///
/// # Errors
/// [`StoreError`].
pub(super) async fn after_rides(
    tx: &mut Tx,
    bikes: &HashMap<BikeId, Bike>,
    outcomes: &[RideOutcome],
) -> Result<Vec<Vec<RideWarning>>, StoreError> {
    let mut ids: BTreeSet<BikeId> = outcomes.iter().map(|outcome| outcome.ride().bike_id).collect();
    ids.extend(outcomes.iter().filter_map(|outcome| match outcome {
        RideOutcome::Replaced { old, .. } => Some(old.bike_id),
        RideOutcome::Inserted(_) | RideOutcome::Unchanged(_) | RideOutcome::Deleted(_) => None,
    }));
    let ids: Vec<BikeId> = ids.into_iter().collect();
    let mut fittings = by(tx.fittings_of_bikes(&ids).await?, |fitting| fitting.bike_id);
    let begin = |fittings: &HashMap<BikeId, Vec<Fitting>>, id: BikeId| {
        let found = fittings.get(&id).into_iter().flatten().filter(|fitting| fitting.start.is_as_found());
        found.map(|fitting| fitting.fitted_at).max()
    };
    let mut moved = BTreeSet::new();
    for outcome in outcomes.iter().filter(|outcome| outcome.ride().deleted_at.is_none()) {
        let ride = outcome.ride();
        if begin(&fittings, ride.bike_id).is_some_and(|begin| ride.started_at < begin) {
            moved.insert(ride.bike_id);
        }
        if let RideOutcome::Replaced { old, .. } = outcome
            && begin(&fittings, old.bike_id).is_some_and(|begin| old.started_at <= begin)
        {
            moved.insert(old.bike_id);
        }
    }
    for &id in &moved {
        tx.settle_start(id).await?;
    }
    let moved: Vec<BikeId> = moved.into_iter().collect();
    if !moved.is_empty() {
        fittings.extend(by(tx.fittings_of_bikes(&moved).await?, |fitting| fitting.bike_id));
    }
    let said = outcomes.iter().map(|outcome| {
        let ride = outcome.ride();
        if let Some(deleted_at) = ride.deleted_at {
            return vec![RideWarning::Deleted { deleted_at }];
        }
        let fittings = fittings.get(&ride.bike_id).map_or(&[][..], Vec::as_slice);
        let retired_at = bikes.get(&ride.bike_id).and_then(|bike| bike.retired_at);
        outside(fittings, retired_at, ride.started_at)
    });
    Ok(said.collect())
}

/// Why a ride at that time counts for nothing.
pub(super) fn outside(
    fittings: &[Fitting],
    retired_at: Option<Timestamp>,
    at: Timestamp,
) -> Vec<RideWarning> {
    let mut warnings = Vec::new();
    let chains = || fittings.iter().filter(|fitting| fitting.place == Place::Chain);
    if !chains().any(|chain| chain.covers(at)) {
        warnings.push(match chains().map(|chain| chain.fitted_at).min() {
            Some(fitted_at) if at < fitted_at => RideWarning::BeforeFitting { fitted_at },
            _ => RideWarning::NoChain,
        });
    }
    if let Some(retired_at) = retired_at.filter(|retired_at| *retired_at <= at) {
        warnings.push(RideWarning::AfterRetirement { retired_at });
    }
    warnings
}

/// How the records of these bikes begin: by the chain that came first. A bike that never had one isn't in it.
///
/// # Errors
/// [`StoreError`].
pub(super) async fn of_bikes(
    tx: &mut Tx,
    workshop: &Workshop,
    ids: &[BikeId],
) -> Result<HashMap<BikeId, BikeStart>, StoreError> {
    let fittings = by(tx.fittings_of_bikes(ids).await?, |fitting| fitting.bike_id);
    let starts = fittings.into_iter().filter_map(|(id, fittings)| {
        let first = first_at_places(&fittings).into_iter().find(|fitting| fitting.place == Place::Chain)?;
        Some((id, start_of(workshop, first)))
    });
    Ok(starts.collect())
}

fn start_of(workshop: &Workshop, first: &Fitting) -> BikeStart {
    match first.start {
        FittingStart::New => {
            BikeStart::New { fitted_on: first.fitted_at.date_in(workshop.settings.time_zone) }
        }
        FittingStart::AsFound { ridden } => BikeStart::AsFound { since: first.fitted_at, ridden },
    }
}

/// What was first at each place.
fn first_at_places(fittings: &[Fitting]) -> Vec<&Fitting> {
    let is_first = |fitting: &&Fitting| {
        fittings.iter().all(|other| {
            (other.place, other.position) != (fitting.place, fitting.position)
                || (fitting.fitted_at, fitting.id) <= (other.fitted_at, other.id)
        })
    };
    fittings.iter().filter(is_first).collect()
}

/// Corrects how a bike's record begins. Its chain, cassette and rings that came first become new on a day, or as found
/// again. A bike that never had any part gets them. Returns the rides that fall outside of the chain's record since.
///
/// # Errors
/// [`ServiceError::Invalid`] for a day in the future, after the first reading of that chain, or after one of the parts
/// was taken off; for a distance before the record of a chain that was new; and for a bike that has parts but never had
/// a chain.
pub(super) async fn correct(
    tx: &mut Tx,
    workshop: &Workshop,
    bike: &Bike,
    patch: StartPatch,
    now: Timestamp,
) -> Result<Vec<Ride>, ServiceError> {
    if patch.is_empty() {
        return Ok(Vec::new());
    }
    let fittings = tx.fittings_of_bike(bike.id).await?;
    let new_from = match patch.fitted_on.flatten() {
        Some(day) => {
            let at = bikes::start_of(workshop, day).and_then(|at| at.not_after(now));
            Some(at.map_err(|cause| ServiceError::field("/fitted_on", cause))?)
        }
        None => None,
    };
    let of_new = || {
        let cause = Invalid::Together { what: Field::ChainKmAndNew, allowed: Form::ChainKmAsFound };
        ServiceError::field("/chain_km", cause)
    };
    if new_from.is_some() && patch.ridden.flatten().is_some() {
        return Err(of_new());
    }
    let first = first_at_places(&fittings);
    let Some(chain) = first.iter().find(|fitting| fitting.place == Place::Chain).copied() else {
        if !fittings.is_empty() || patch.fitted_on.is_none() {
            let cause = Invalid::NoSuch { what: Field::ChainOnThisBike };
            let field = if patch.fitted_on.is_some() { "/fitted_on" } else { "/chain_km" };
            return Err(ServiceError::field(field, cause));
        }
        let start = new_from.map_or_else(
            || (bike.created_at, FittingStart::AsFound { ridden: patch.ridden.flatten() }),
            |at| (at, FittingStart::New),
        );
        parts_of_bike::fit_all(tx, bike.id, &bike.facts.drivetrain, None, start, now).await?;
        tx.settle_start(bike.id).await?;
        return Ok(Vec::new());
    };
    // Those that began with the chain: a ring that was added later is no part of the beginning.
    let together =
        |fitting: &&&Fitting| fitting.fitted_at == chain.fitted_at && fitting.place != Place::JockeyWheels;
    let together: Vec<&Fitting> = first.iter().filter(together).copied().collect();
    match new_from {
        Some(at) => {
            allow(tx, chain, &together, at).await?;
            for fitting in together {
                tx.correct_fitting(bike.id, fitting.id, at, FittingStart::New).await?;
            }
            if at > chain.fitted_at {
                return Ok(tx.rides_of(&[(bike.id, chain.fitted_at, at)]).await?);
            }
        }
        None => {
            let as_found = patch.fitted_on.is_some() || chain.start.is_as_found();
            if !as_found && patch.ridden.flatten().is_some() {
                return Err(of_new());
            }
            let ridden = patch.ridden.unwrap_or(chain.start.ridden());
            for fitting in together {
                let start = match fitting.place {
                    Place::Chain if as_found => FittingStart::AsFound { ridden },
                    _ if patch.fitted_on.is_some() => FittingStart::AS_FOUND,
                    _ => fitting.start,
                };
                tx.correct_fitting(bike.id, fitting.id, fitting.fitted_at, start).await?;
            }
            tx.settle_start(bike.id).await?;
        }
    }
    Ok(Vec::new())
}

/// Whether the parts may count as fitted at that time.
async fn allow(tx: &mut Tx, chain: &Fitting, parts: &[&Fitting], at: Timestamp) -> Result<(), ServiceError> {
    let refused = |cause| Err(ServiceError::field("/fitted_on", cause));
    if let Some(removed_at) = parts.iter().filter_map(|part| part.removed_at).min()
        && at >= removed_at
    {
        return refused(Invalid::AfterRemoval { given: at, removed_at });
    }
    let readings = tx.readings_of_parts(&[chain.part_id]).await?;
    if let Some(taken_at) = readings.iter().map(|reading| reading.taken_at).min()
        && at > taken_at
    {
        return refused(Invalid::AfterReading { given: at, taken_at });
    }
    for part in parts {
        let before = tx.fittings_of_part(part.part_id).await?;
        let elsewhere = before.iter().filter(|stay| stay.id != part.id && stay.fitted_at < part.fitted_at);
        if let Some(fitted_at) = elsewhere.filter_map(|stay| stay.removed_at).filter(|end| *end > at).max() {
            return refused(Invalid::BeforeFitting { given: at, fitted_at });
        }
    }
    Ok(())
}
