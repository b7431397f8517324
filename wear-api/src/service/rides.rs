//! Rides.

use std::collections::{BTreeMap, BTreeSet, HashMap};

use chrono::Duration;
use wear_core::bounds::{OutOfRange, RIDE_DISTANCE, least_seconds};
use wear_core::exposure::ExposureModel;
use wear_core::units::{RideAscent, RideDistance, RideEnergy};

use super::{
    Actor, Conflict, ServiceError, Services, UnitOfWork, WorkshopChange, days, read_of_bike, starts,
};
use crate::domain::{
    Bike, BikeId, Field, FieldError, FieldErrors, Form, Invalid, NewRide, Page, PageRequest, Ride, RideFacts,
    RideId, RideIdentity, RideLoad, RideOutcome, RideSpan, RideWarning, Surface, Timestamp,
};
use crate::store::{StoreError, Tx};

/// A ride as someone reports it.
#[derive(Debug, Clone, PartialEq)]
pub struct RideReport {
    /// The bike.
    pub bike_id: BikeId,
    /// Who logged it: the same twice is one ride.
    pub identity: RideIdentity,
    /// When it began.
    pub started_at: Timestamp,
    /// What is known of it.
    pub facts: RideFacts,
}

/// What a batch did.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct BatchOutcome {
    /// Rides that are new.
    pub accepted: u64,
    /// Rides that say something else than before.
    pub replaced: u64,
    /// Rides that were there and say the same.
    pub unchanged: u64,
    /// Rides that were refused, by their place in the batch.
    pub failed: Vec<(usize, FieldErrors)>,
    /// Rides that were taken and are odd among the others of the batch, by their place in it.
    pub warnings: Vec<(usize, RideWarning)>,
}

/// Stores one ride.
///
/// # Errors
/// [`ServiceError::NotFound`] for another workshop's bike, [`ServiceError::Invalid`] for a ride in the future.
pub async fn post(
    services: &Services,
    work: &mut UnitOfWork,
    report: RideReport,
) -> Result<RideOutcome, ServiceError> {
    let now = services.now();
    report.started_at.not_after(now).map_err(|cause| ServiceError::field("/started_at", cause))?;
    report.facts.check().map_err(ServiceError::Invalid)?;
    let (tx, _) = work.begin().await?;
    let bike = tx.bike(report.bike_id).await.map_err(ServiceError::or_not_found("bike"))?;
    let ride = with_load(report, &bike);
    if tx.taken_beyond_reach(std::slice::from_ref(&ride)).await?.contains(&ride.identity) {
        return Err(taken(&ride.identity).into());
    }
    let outcomes = tx.record_rides(std::slice::from_ref(&ride), now).await?;
    starts::after_rides(tx, &HashMap::new(), &outcomes).await?;
    outcomes.into_iter().next().ok_or_else(|| {
        ServiceError::Internal(StoreError::Corrupt {
            table: "rides",
            column: "ride_id",
            reason: "a stored ride has no outcome".to_owned(),
        })
    })
}

/// Stores many rides in one transaction; those that can't be are named, the rest is stored.
///
/// # Errors
/// [`ServiceError::Unavailable`].
pub async fn post_batch(
    services: &Services,
    work: &mut UnitOfWork,
    reports: Vec<(usize, RideReport)>,
) -> Result<BatchOutcome, ServiceError> {
    let now = services.now();
    let (tx, _) = work.begin().await?;
    let ids: BTreeSet<BikeId> = reports.iter().map(|(_, report)| report.bike_id).collect();
    let bikes = tx.bikes_by_id(&ids.into_iter().collect::<Vec<_>>()).await?;
    let mut outcome = BatchOutcome::default();
    let mut rides = Vec::with_capacity(reports.len());
    let mut places = Vec::with_capacity(reports.len());
    for (index, report) in reports {
        let mut errors = FieldErrors::new();
        errors.keep("/started_at", report.started_at.not_after(now));
        if let Err(more) = report.facts.check() {
            errors.extend_under("", more);
        }
        match bikes.get(&report.bike_id) {
            Some(bike) if errors.is_empty() => {
                places.push(index);
                rides.push(with_load(report, bike));
            }
            Some(_) => {}
            None => errors.push(Invalid::NoSuch { what: Field::Bike }.at("/bike_id")),
        }
        if !errors.is_empty() {
            outcome.failed.push((index, errors));
        }
    }
    let beyond = tx.taken_beyond_reach(&rides).await?;
    if !beyond.is_empty() {
        (rides, places) = rides
            .into_iter()
            .zip(places)
            .filter(|(ride, place)| {
                let is_taken = beyond.contains(&ride.identity);
                if is_taken {
                    outcome.failed.push((*place, taken(&ride.identity).into()));
                }
                !is_taken
            })
            .unzip();
    }
    outcome.warnings = overlaps(&rides, &places);
    let stored = tx.record_rides(&rides, now).await?;
    for (place, said) in places.iter().zip(starts::after_rides(tx, &bikes, &stored).await?) {
        outcome.warnings.extend(said.into_iter().map(|warning| (*place, warning)));
    }
    outcome.warnings.sort_by_key(|(place, _)| *place);
    for stored in stored {
        match stored {
            RideOutcome::Inserted(_) => outcome.accepted += 1,
            RideOutcome::Replaced { .. } => outcome.replaced += 1,
            RideOutcome::Unchanged(_) | RideOutcome::Deleted(_) => outcome.unchanged += 1,
        }
    }
    Ok(outcome)
}

/// Why a ride is refused whose identity is that of a ride beyond reach: it would be moved away from there.
fn taken(identity: &RideIdentity) -> FieldError {
    let what = Field::Named { name: "source_id" };
    let given = identity.source_id.to_string();
    Invalid::Unparsed { what, given, allowed: Form::FreeSourceId }.at("/source_id")
}

/// Rides of a batch that no bike can have been on, as another of its rides is at the same time.
fn overlaps(rides: &[NewRide], places: &[usize]) -> Vec<(usize, RideWarning)> {
    let mut of_bike: BTreeMap<BikeId, Vec<(RideSpan, &RideIdentity, usize)>> = BTreeMap::new();
    for (ride, place) in rides.iter().zip(places) {
        let span = RideSpan::of(ride.started_at, &ride.facts);
        of_bike.entry(ride.bike_id).or_default().push((span, &ride.identity, *place));
    }
    let mut warnings = Vec::new();
    for spans in of_bike.values_mut() {
        // By when they began: a ride overlaps those right after it, as long as they begin before it can have ended.
        spans.sort_by_key(|(span, ..)| span.started_at());
        let mut others = vec![0; spans.len()];
        for (i, (span, identity, _)) in spans.iter().enumerate() {
            for (k, (later, other, _)) in spans.iter().enumerate().skip(i + 1) {
                if !span.overlaps(*later) {
                    break;
                }
                if identity != other {
                    others[i] += 1;
                    others[k] += 1;
                }
            }
        }
        let odd = spans.iter().zip(others).filter(|(_, others)| *others > 0);
        warnings.extend(odd.map(|((.., place), others)| (*place, RideWarning::Overlaps { others })));
    }
    warnings.sort_by_key(|(place, _)| *place);
    warnings
}

/// What is odd about a ride among those of its bike, and why it counts for nothing where it does.
///
/// # Errors
/// [`ServiceError::Unavailable`].
pub async fn warnings(work: &mut UnitOfWork, ride: &Ride) -> Result<Vec<RideWarning>, ServiceError> {
    if let Some(deleted_at) = ride.deleted_at {
        return Ok(vec![RideWarning::Deleted { deleted_at }]);
    }
    let span = RideSpan::of(ride.started_at, &ride.facts);
    // The longest ride that there is may have begun so much earlier.
    let longest = Duration::seconds(least_seconds(RIDE_DISTANCE.maximum) as i64);
    let (tx, _) = work.begin().await?;
    let until = ride.started_at.plus(longest);
    let near = tx.rides_between(ride.bike_id, ride.started_at.plus(-longest), until).await?;
    let at_once =
        |other: &&Ride| other.id != ride.id && span.overlaps(RideSpan::of(other.started_at, &other.facts));
    let others = near.iter().filter(at_once).count();
    let mut warnings = if others > 0 { vec![RideWarning::Overlaps { others }] } else { Vec::new() };
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

/// Changes a ride, as if it had been so from the start.
///
/// # Errors
/// [`ServiceError::NotFound`], [`ServiceError::Stale`]; [`ServiceError::Invalid`] for a time in the future.
pub async fn change(
    services: &Services,
    work: &mut UnitOfWork,
    bike_id: BikeId,
    id: RideId,
    revision: i64,
    wanted: ChangeRide,
) -> Result<Ride, ServiceError> {
    let mut change = WorkshopChange::begin(services, work).await?;
    change.tx.mark_bikes(&[bike_id], change.now).await.map_err(ServiceError::or_not_found("bike"))?;
    let bike = change.tx.bike(bike_id).await.map_err(ServiceError::or_not_found("bike"))?;
    let ride = change.tx.ride(bike_id, id).await.map_err(ServiceError::or_not_found("ride"))?;
    if ride.revision != revision {
        return Err(ServiceError::Stale);
    }
    let before = told(&ride);
    let (started_at, facts) =
        wanted.apply(ride.started_at, &ride.facts).map_err(|cause| ServiceError::field("", cause))?;
    started_at.not_after(change.now).map_err(|cause| ServiceError::field("/started_at", cause))?;
    facts.check().map_err(ServiceError::Invalid)?;
    let report = RideReport { bike_id, identity: ride.identity, started_at, facts };
    change.tx.record_rides(&[with_load(report, &bike)], change.now).await?;
    change.tx.settle_start(bike_id).await?;
    let detail = serde_json::json!({"from": before});
    let ride = change.tx.ride(bike_id, id).await?;
    let subject = format!("bikes/{bike_id}/rides/{id}");
    change.record_with("ride.change", subject, detail).await?;
    Ok(ride)
}

/// What a ride said, for the audit.
fn told(ride: &Ride) -> serde_json::Value {
    serde_json::json!({
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
pub fn with_load(report: RideReport, bike: &Bike) -> NewRide {
    let RideReport { bike_id, identity, started_at, facts } = report;
    NewRide { bike_id, identity, started_at, facts, load: load_of(&facts, bike) }
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
