//! Rides.

use std::collections::{BTreeSet, HashMap};

use chrono::Duration;
use wear_core::bounds::{OutOfRange, RIDE_DISTANCE, least_seconds};
use wear_core::exposure::ExposureModel;
use wear_core::units::{RideAscent, RideDistance, RideEnergy};

use super::{
    Actor, Conflict, ServiceError, Services, UnitOfWork, WorkshopChange, days, read_of_bike, record_with,
    starts,
};
use crate::domain::{
    Bike, BikeId, Field, NewRide, Page, PageRequest, Ride, RideFacts, RideFilter, RideId, RideIdentity,
    RideLoad, RideOutcome, RideWarning, Surface, Telling, Timestamp,
};
use crate::store::{Recorded, StoreError, Tx};

/// Whose the ids of a source are, and what follows where another bike has the ride.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum RideIds {
    /// They tell rides of one bike apart.
    #[default]
    OfBike,
    /// They tell rides of the workshop apart: a ride that another bike has is refused, or moved where that is asked for.
    OfWorkshop {
        /// Whether it is moved.
        moves: bool,
    },
}

/// What is said of a ride, whichever bike it was on.
#[derive(Debug, Clone, PartialEq)]
pub struct RideSaid {
    /// Who logged it: the same twice on a bike is one ride.
    pub identity: RideIdentity,
    /// Whose the source's ids are.
    pub ids: RideIds,
    /// When it began.
    pub started_at: Timestamp,
    /// What is known of it.
    pub facts: RideFacts,
}

/// Stores one ride.
///
/// # Errors
/// [`ServiceError::NotFound`] for another workshop's bike, [`ServiceError::Invalid`] for a ride in the future,
/// [`ServiceError::Conflict`] for one that another bike has, where ids are the workshop's and no move is asked for.
pub async fn post(
    services: &Services,
    work: &mut UnitOfWork,
    bike_id: BikeId,
    said: RideSaid,
) -> Result<RideOutcome, ServiceError> {
    let now = services.now();
    said.started_at.not_after(now).map_err(|cause| ServiceError::field("/started_at", cause))?;
    said.facts.check().map_err(ServiceError::Invalid)?;
    let (tx, actor) = work.begin().await?;
    let bike = tx.bike(bike_id).await.map_err(ServiceError::or_not_found("bike"))?;
    let moved_from = match said.ids {
        RideIds::OfBike => None,
        RideIds::OfWorkshop { moves } => {
            tx.mark_bikes(&[bike.id], now).await?;
            let found = tx.find_rides_anywhere(&[&said.identity]).await?;
            let is_here = found.iter().any(|ride| ride.bike_id == bike.id);
            match (found.first(), found.len()) {
                (Some(there), 1) if !is_here && moves => Some(there.bike_id),
                (Some(there), _) if !is_here => return Err(elsewhere(there).into()),
                _ => None,
            }
        }
    };
    let ride = NewRide { moved_from, ..with_load(said, &bike) };
    let stored = tx.record_rides(std::slice::from_ref(&ride), now).await?;
    audit_moves(tx, actor, now, std::slice::from_ref(&ride), &stored).await?;
    let written = match &stored.outcomes[..] {
        [RideOutcome::Inserted(new)] => Some(("ride.create", new, serde_json::Value::Null)),
        [RideOutcome::Replaced { old, new }] => {
            Some(("ride.replace", new, serde_json::json!({"from": told(old), "to": told(new)})))
        }
        _ => None,
    };
    if let Some((action, ride, detail)) = written {
        let subject = format!("bikes/{}/rides/{}", ride.bike_id, ride.id);
        record_with(tx, actor, now, action, subject, detail).await?;
    }
    starts::after_rides(tx, &HashMap::new(), &stored.outcomes).await?;
    stored.outcomes.into_iter().next().ok_or_else(|| {
        ServiceError::Internal(StoreError::Corrupt {
            table: "rides",
            column: "ride_id",
            reason: "a stored ride has no outcome".to_owned(),
        })
    })
}

fn elsewhere(ride: &Ride) -> Conflict {
    Conflict::RideElsewhere { bike: ride.bike_id.to_string(), ride: ride.id.to_string() }
}

/// Writes down which rides were moved from one bike to another.
pub(super) async fn audit_moves(
    tx: &mut Tx,
    actor: &Actor,
    now: Timestamp,
    sent: &[NewRide],
    stored: &Recorded,
) -> Result<(), ServiceError> {
    for (new, outcome) in sent.iter().zip(&stored.outcomes) {
        if let Some(from) = new.moved_from {
            let subject = format!("bikes/{}/rides/{}", new.bike_id, outcome.ride().id);
            let detail = serde_json::json!({"from_bike_id": from.to_string()});
            record_with(tx, actor, now, "ride.move", subject, detail).await?;
        }
    }
    Ok(())
}

/// The ride that counts, this one or the one in its place.
pub(super) fn counted(ride: &Ride) -> RideId {
    ride.telling.same_as().unwrap_or(ride.id)
}

/// What is odd about a ride among those of its bike, and why it counts for nothing where it does.
///
/// # Errors
/// [`ServiceError::Unavailable`].
pub async fn warnings(work: &mut UnitOfWork, ride: &Ride) -> Result<Vec<RideWarning>, ServiceError> {
    if let Some(deleted_at) = ride.deleted_at {
        return Ok(vec![RideWarning::Deleted { deleted_at }]);
    }
    let span = ride.span();
    // The longest ride that there is may have begun so much earlier.
    let longest = Duration::seconds(least_seconds(RIDE_DISTANCE.maximum) as i64);
    let (tx, _) = work.begin().await?;
    let until = ride.started_at.plus(longest);
    let near = tx.rides_between(ride.bike_id, ride.started_at.plus(-longest), until).await?;
    let mut warnings: Vec<RideWarning> =
        ride.telling.same_as().map(|ride| RideWarning::CountedWith { ride }).into_iter().collect();
    let again = near.iter().filter(|other| other.telling.same_as() == Some(ride.id));
    warnings.extend(again.map(|other| RideWarning::CountsFor { ride: other.id }));
    let at_once = |other: &&Ride| counted(other) != counted(ride) && span.overlaps(other.span());
    let others = near.iter().filter(at_once).count();
    if others > 0 {
        warnings.push(RideWarning::Overlaps { others });
    }
    let bike = tx.bike(ride.bike_id).await?;
    let fittings = tx.fittings_of_bike(ride.bike_id).await?;
    warnings.extend(starts::outside(&fittings, bike.retired_at, ride.started_at));
    Ok(warnings)
}

/// A page of a bike's rides, newest first.
///
/// # Errors
/// [`ServiceError::NotFound`].
pub async fn list(
    services: &Services,
    actor: &Actor,
    bike_id: BikeId,
    page: &PageRequest,
) -> Result<Page<Ride>, ServiceError> {
    read_of_bike(services, actor, bike_id, async |tx| tx.rides(bike_id, page).await).await
}

/// A page of the workshop's rides, newest first.
///
/// # Errors
/// [`ServiceError::Invalid`] for another list's cursor.
pub async fn list_all(
    services: &Services,
    actor: &Actor,
    filter: &RideFilter,
    page: &PageRequest,
) -> Result<Page<Ride>, ServiceError> {
    let mut tx = services.store.begin_read(actor).await?;
    Ok(tx.workshop_rides(filter, page).await?)
}

/// One ride.
///
/// # Errors
/// [`ServiceError::NotFound`].
pub async fn get(
    services: &Services,
    actor: &Actor,
    bike_id: BikeId,
    id: RideId,
) -> Result<Ride, ServiceError> {
    let mut tx = services.store.begin_read(actor).await?;
    tx.ride(bike_id, id).await.map_err(ServiceError::or_not_found("ride"))
}

/// What to change of a ride; what is left out stays.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct ChangeRide {
    /// The bike that it is moved to.
    pub bike: Option<BikeId>,
    /// Whether it is a ride by itself, though another source told of one that looks the same.
    pub is_separate: Option<bool>,
    /// When it began.
    pub started_at: Option<Timestamp>,
    /// How far.
    pub distance: Option<RideDistance>,
    /// What it was on.
    pub surface: Option<Surface>,
    /// Whether it was wet.
    pub wet: Option<bool>,
    /// How far uphill; `Some(None)` says that nobody knows.
    pub climb: Option<Option<RideAscent>>,
    /// Work at the pedals; `Some(None)` says that it wasn't measured.
    pub energy: Option<Option<RideEnergy>>,
}

impl ChangeRide {
    fn apply(self, started_at: Timestamp, facts: &RideFacts) -> Result<(Timestamp, RideFacts), OutOfRange> {
        let distance = match self.distance {
            Some(distance) => distance,
            None => RideDistance::new(facts.distance_mm() as f64 / 1e6)?,
        };
        let climb = match self.climb {
            Some(climb) => climb,
            None => facts.climb_mm().map(|mm| RideAscent::new(mm as f64 / 1e3)).transpose()?,
        };
        let energy = match self.energy {
            Some(energy) => energy,
            None => facts.energy_j().map(|joules| RideEnergy::new(joules as f64 / 1e3)).transpose()?,
        };
        let surface = self.surface.unwrap_or(facts.surface);
        let changed = RideFacts::new(distance, climb, energy, surface, self.wet.unwrap_or(facts.wet));
        Ok((self.started_at.unwrap_or(started_at), changed))
    }
}

/// Changes a ride, as if it had been so from the start, also on another bike.
///
/// # Errors
/// [`ServiceError::NotFound`], [`ServiceError::Stale`]; [`ServiceError::Invalid`] for a time in the future and a bike that
/// isn't there; [`ServiceError::Conflict`] where the other bike has a ride of the same identity.
pub async fn change(
    services: &Services,
    work: &mut UnitOfWork,
    bike_id: BikeId,
    id: RideId,
    revision: i64,
    wanted: ChangeRide,
) -> Result<Ride, ServiceError> {
    let mut change = WorkshopChange::begin(services, work).await?;
    let target = wanted.bike.unwrap_or(bike_id);
    change.tx.mark_bikes(&[bike_id], change.now).await.map_err(ServiceError::or_not_found("bike"))?;
    let ride = change.tx.ride(bike_id, id).await.map_err(ServiceError::or_not_found("ride"))?;
    if ride.revision != revision {
        return Err(ServiceError::Stale);
    }
    let bike = change.tx.bike(target).await;
    let bike = bike.map_err(ServiceError::or_no_such("/bike_id", Field::Bike))?;
    let moved_from = (target != bike_id).then_some(bike_id);
    if moved_from.is_some() {
        // Two that move rides in opposite directions may each wait for the other: Postgres ends one of them.
        change.tx.mark_bikes(&[target], change.now).await?;
        if let Some(there) = change.tx.find_rides(&[(target, &ride.identity)]).await?.first() {
            let (bike, ride) = (target.to_string(), there.id.to_string());
            return Err(Conflict::RideThere { bike, ride }.into());
        }
    }
    let before = told(&ride);
    let (started_at, facts) =
        wanted.apply(ride.started_at, &ride.facts).map_err(|cause| ServiceError::field("", cause))?;
    started_at.not_after(change.now).map_err(|cause| ServiceError::field("/started_at", cause))?;
    facts.check().map_err(ServiceError::Invalid)?;
    let said = RideSaid { identity: ride.identity, ids: RideIds::OfBike, started_at, facts };
    let new = NewRide { moved_from, ..with_load(said, &bike) };
    change.tx.record_rides(&[new], change.now).await?;
    if let Some(is_separate) = wanted.is_separate {
        change.tx.separate_ride(target, id, is_separate).await?;
    }
    for touched in BTreeSet::from([bike_id, target]) {
        change.tx.settle_start(touched).await?;
    }
    let ride = change.tx.ride(target, id).await?;
    let detail = serde_json::json!({"from": before, "to": told(&ride)});
    let subject = format!("bikes/{bike_id}/rides/{id}");
    change.record_with("ride.change", subject, detail).await?;
    Ok(ride)
}

/// What a ride said, for the audit.
fn told(ride: &Ride) -> serde_json::Value {
    serde_json::json!({
        "bike_id": ride.bike_id.to_string(), "separate": ride.telling == Telling::Separate,
        "started_at": ride.started_at.to_string(), "distance_km": ride.facts.distance_mm() as f64 / 1e6,
        "surface": ride.facts.surface.as_str(), "wet": ride.facts.wet,
        "climb_m": ride.facts.climb_mm().map(|mm| mm as f64 / 1e3),
        "energy_kj": ride.facts.energy_j().map(|joules| joules as f64 / 1e3),
    })
}

/// Takes a ride away. It stays as a tombstone: the same ride sent again doesn't bring it back.
///
/// # Errors
/// [`ServiceError::NotFound`], [`ServiceError::Stale`].
pub async fn delete(
    services: &Services,
    work: &mut UnitOfWork,
    bike_id: BikeId,
    id: RideId,
    revision: i64,
) -> Result<(), ServiceError> {
    let mut change = WorkshopChange::begin(services, work).await?;
    change.tx.erase_ride(bike_id, id, revision, change.now).await.map_err(ServiceError::or_stale("ride"))?;
    change.tx.settle_start(bike_id).await?;
    change.record("ride.delete", format!("bikes/{bike_id}/rides/{id}")).await
}

/// Takes a ride's deletion back.
///
/// # Errors
/// [`ServiceError::NotFound`] for another workshop's bike or ride; [`ServiceError::Conflict`] for one that wasn't deleted.
pub async fn restore(
    services: &Services,
    work: &mut UnitOfWork,
    bike_id: BikeId,
    id: RideId,
) -> Result<Ride, ServiceError> {
    let mut change = WorkshopChange::begin(services, work).await?;
    change.tx.mark_bikes(&[bike_id], change.now).await.map_err(ServiceError::or_not_found("bike"))?;
    let bike = change.tx.bike(bike_id).await.map_err(ServiceError::or_not_found("bike"))?;
    let deleted = match change.tx.deleted_ride(bike_id, id).await {
        Err(StoreError::NotFound) => {
            change.tx.ride(bike_id, id).await.map_err(ServiceError::or_not_found("ride"))?;
            return Err(ServiceError::Conflict(Conflict::CountsAlready { what: "ride" }));
        }
        found => found?,
    };
    // The bike's drivetrain may have been corrected meanwhile.
    let ride = change.tx.restore_ride(bike_id, id, load_of(&deleted.facts, &bike)).await?;
    change.tx.settle_start(bike_id).await?;
    change.record("ride.restore", format!("bikes/{bike_id}/rides/{id}")).await?;
    Ok(ride)
}

/// The ride with what it is worth on the bike.
#[must_use]
pub fn with_load(said: RideSaid, bike: &Bike) -> NewRide {
    let RideSaid { identity, ids: _, started_at, facts } = said;
    NewRide { bike_id: bike.id, identity, started_at, facts, load: load_of(&facts, bike), moved_from: None }
}

fn load_of(facts: &RideFacts, bike: &Bike) -> RideLoad {
    let totals = facts.ride().totals(&bike.facts.drivetrain, bike.facts.usage, &ExposureModel::default());
    RideLoad { base_reference_mm: totals.base_reference_mm, energy_j: totals.energy_j }
}

/// Counts all of a bike's rides anew, after its drivetrain or use was corrected.
///
/// # Errors
/// [`StoreError`].
pub async fn recount(tx: &mut Tx, bike: &Bike) -> Result<(), StoreError> {
    let mut rides = tx.rides_between(bike.id, Timestamp::EPOCH, Timestamp::LAST).await?;
    for ride in &mut rides {
        ride.load = load_of(&ride.facts, bike);
    }
    let loads: Vec<(RideId, RideLoad)> = rides.iter().map(|ride| (ride.id, ride.load)).collect();
    tx.set_ride_loads(bike.id, &loads).await?;
    days::sum(tx, bike.id, &rides, bike.days_zone).await
}
