//! Rides.

use std::collections::{BTreeMap, BTreeSet, HashMap};

use chrono::Duration;
use wear_core::bounds::{OutOfRange, RIDE_DISTANCE, least_seconds};
use wear_core::exposure::ExposureModel;
use wear_core::units::{RideAscent, RideDistance, RideEnergy};

use super::{
    Actor, Conflict, ServiceError, Services, UnitOfWork, WorkshopChange, days, read_of_bike, record_with,
    starts,
};
use crate::domain::{
    Bike, BikeId, ExternalId, Field, FieldError, FieldErrors, Invalid, NewRide, Page, PageRequest, Ride,
    RideFacts, RideFilter, RideId, RideIdentity, RideLoad, RideOutcome, RideSpan, RideWarning, Surface,
    Telling, Timestamp,
};
use crate::store::{Recorded, StoreError, Tx};

/// A ride as someone reports it.
#[derive(Debug, Clone, PartialEq)]
pub struct RideReport {
    /// The bike.
    pub bike_id: BikeId,
    /// Who logged it: the same twice on a bike is one ride.
    pub identity: RideIdentity,
    /// Whose the source's ids are.
    pub ids: RideIds,
    /// When it began.
    pub started_at: Timestamp,
    /// What is known of it.
    pub facts: RideFacts,
}

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

/// The bike that a ride names.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub enum NamedBike {
    /// By its id.
    Id(BikeId),
    /// By what another program calls it.
    External(ExternalId),
}

/// What is said of a ride, whichever bike it was on.
#[derive(Debug, Clone, PartialEq)]
pub struct RideSaid {
    /// Who logged it.
    pub identity: RideIdentity,
    /// Whose the source's ids are.
    pub ids: RideIds,
    /// When it began.
    pub started_at: Timestamp,
    /// What is known of it.
    pub facts: RideFacts,
}

impl RideSaid {
    /// The same of a bike.
    #[must_use]
    pub fn of_bike(self, bike_id: BikeId) -> RideReport {
        let Self { identity, ids, started_at, facts } = self;
        RideReport { bike_id, identity, ids, started_at, facts }
    }
}

/// A ride of a batch.
#[derive(Debug, Clone, PartialEq)]
pub struct BatchRide {
    /// Its place in the batch.
    pub index: usize,
    /// The bike.
    pub bike: NamedBike,
    /// The ride.
    pub said: RideSaid,
}

impl BatchRide {
    /// A ride of a bike that is known by its id.
    #[must_use]
    pub fn new(index: usize, report: RideReport) -> Self {
        let RideReport { bike_id, identity, ids, started_at, facts } = report;
        Self { index, bike: NamedBike::Id(bike_id), said: RideSaid { identity, ids, started_at, facts } }
    }
}

/// What a batch did.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct BatchOutcome {
    /// What each ride did that was taken, by its place in the batch, in order.
    pub taken: Vec<(usize, RideOutcome)>,
    /// Rides that were refused, by their place in the batch.
    pub failed: Vec<(usize, FieldErrors)>,
    /// Rides that were taken and are odd among the others of the batch, by their place in it.
    pub warnings: Vec<(usize, RideWarning)>,
}

/// Stores one ride.
///
/// # Errors
/// [`ServiceError::NotFound`] for another workshop's bike, [`ServiceError::Invalid`] for a ride in the future,
/// [`ServiceError::Conflict`] for one that another bike has, where ids are the workshop's and no move is asked for.
pub async fn post(
    services: &Services,
    work: &mut UnitOfWork,
    report: RideReport,
) -> Result<RideOutcome, ServiceError> {
    let now = services.now();
    report.started_at.not_after(now).map_err(|cause| ServiceError::field("/started_at", cause))?;
    report.facts.check().map_err(ServiceError::Invalid)?;
    let (tx, actor) = work.begin().await?;
    let bike = tx.bike(report.bike_id).await.map_err(ServiceError::or_not_found("bike"))?;
    let moved_from = match report.ids {
        RideIds::OfBike => None,
        RideIds::OfWorkshop { moves } => {
            tx.mark_bikes(&[bike.id], now).await?;
            let found = tx.find_rides_anywhere(&[&report.identity]).await?;
            let is_here = found.iter().any(|ride| ride.bike_id == bike.id);
            match (found.first(), found.len()) {
                (Some(there), 1) if !is_here && moves => Some(there.bike_id),
                (Some(there), _) if !is_here => return Err(elsewhere(there).into()),
                _ => None,
            }
        }
    };
    let ride = NewRide { moved_from, ..with_load(report, &bike) };
    let stored = tx.record_rides(std::slice::from_ref(&ride), now).await?;
    audit_moves(tx, actor, now, std::slice::from_ref(&ride), &stored).await?;
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
async fn audit_moves(
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

/// Stores many rides in one transaction; those that can't be are named, the rest is stored.
///
/// # Errors
/// [`ServiceError::Unavailable`].
pub async fn post_batch(
    services: &Services,
    work: &mut UnitOfWork,
    sent: Vec<BatchRide>,
) -> Result<BatchOutcome, ServiceError> {
    let now = services.now();
    let (tx, actor) = work.begin().await?;
    let named = Named::load(tx, &sent).await?;
    let mut outcome = BatchOutcome::default();
    let mut rides = Vec::with_capacity(sent.len());
    let mut places = Vec::with_capacity(sent.len());
    for BatchRide { index, bike, said } in sent {
        let mut errors = FieldErrors::new();
        errors.keep("/started_at", said.started_at.not_after(now));
        if let Err(more) = said.facts.check() {
            errors.extend_under("", more);
        }
        match named.bike(&bike) {
            Ok(bike) if errors.is_empty() => {
                places.push(index);
                let ids = said.ids;
                rides.push((with_load(said.of_bike(bike.id), bike), ids));
            }
            Ok(_) => {}
            Err(error) => errors.push(error),
        }
        if !errors.is_empty() {
            outcome.failed.push((index, errors));
        }
    }
    let mut told_again = Vec::new();
    for part in parts(tx, now, rides, places, &mut outcome.failed).await? {
        let (places, rides): (Vec<usize>, Vec<NewRide>) = part.into_iter().unzip();
        let stored = tx.record_rides(&rides, now).await?;
        audit_moves(tx, actor, now, &rides, &stored).await?;
        let said = starts::after_rides(tx, &named.bikes, &stored.outcomes).await?;
        for (place, said) in places.iter().zip(said) {
            outcome.warnings.extend(said.into_iter().map(|warning| (*place, warning)));
        }
        told_again.extend(stored.told_again);
        outcome.taken.extend(places.into_iter().zip(stored.outcomes));
    }
    outcome.taken.sort_by_key(|(place, _)| *place);
    outcome.failed.sort_by_key(|(place, _)| *place);
    outcome.warnings.extend(told_twice(&outcome.taken, told_again));
    outcome.warnings.extend(overlaps(&outcome.taken));
    outcome.warnings.sort_by_key(|(place, _)| *place);
    Ok(outcome)
}

/// The bikes that a batch names.
struct Named {
    bikes: HashMap<BikeId, Bike>,
    external: HashMap<ExternalId, BikeId>,
}

impl Named {
    async fn load(tx: &mut Tx, sent: &[BatchRide]) -> Result<Self, StoreError> {
        let mut ids = BTreeSet::new();
        let mut called = BTreeSet::new();
        for ride in sent {
            match &ride.bike {
                NamedBike::Id(id) => drop(ids.insert(*id)),
                NamedBike::External(id) => drop(called.insert(id.clone())),
            }
        }
        let external = tx.bikes_by_external_id(&called.into_iter().collect::<Vec<_>>()).await?;
        ids.extend(external.values());
        let bikes = tx.bikes_by_id(&ids.into_iter().collect::<Vec<_>>()).await?;
        Ok(Self { bikes, external })
    }

    fn bike(&self, named: &NamedBike) -> Result<&Bike, FieldError> {
        let (id, pointer, what) = match named {
            NamedBike::Id(id) => (Some(id), "/bike_id", Field::Bike),
            NamedBike::External(id) => (self.external.get(id), "/bike_external_id", Field::BikeOfExternalId),
        };
        id.and_then(|id| self.bikes.get(id)).ok_or_else(|| Invalid::NoSuch { what }.at(pointer))
    }
}

/// Rides with their places in the batch, to be stored one part after the other: within a part a ride that is moved comes
/// once. Those that another bike has are refused where nobody asks for a move.
async fn parts(
    tx: &mut Tx,
    now: Timestamp,
    rides: Vec<(NewRide, RideIds)>,
    places: Vec<usize>,
    failed: &mut Vec<(usize, FieldErrors)>,
) -> Result<Vec<Vec<(usize, NewRide)>>, ServiceError> {
    let of_workshop = |ids: &RideIds| matches!(ids, RideIds::OfWorkshop { .. });
    let mut on: BTreeMap<RideIdentity, Vec<BikeId>> = BTreeMap::new();
    if rides.iter().any(|(_, ids)| of_workshop(ids)) {
        let bikes: Vec<BikeId> = rides.iter().map(|(ride, _)| ride.bike_id).collect();
        tx.mark_bikes(&bikes, now).await?;
        let asked: BTreeSet<&RideIdentity> =
            rides.iter().filter(|(_, ids)| of_workshop(ids)).map(|(ride, _)| &ride.identity).collect();
        for ride in tx.find_rides_anywhere(&asked.into_iter().collect::<Vec<_>>()).await? {
            on.entry(ride.identity).or_default().push(ride.bike_id);
        }
    }
    let mut parts = vec![Vec::with_capacity(rides.len())];
    let mut in_part = BTreeSet::new();
    for (place, (mut ride, ids)) in places.into_iter().zip(rides) {
        if let RideIds::OfWorkshop { moves } = ids {
            let bikes = on.entry(ride.identity.clone()).or_default();
            match bikes.as_mut_slice() {
                [] => bikes.push(ride.bike_id),
                there if there.contains(&ride.bike_id) => {}
                [there] if moves => {
                    ride.moved_from = Some(std::mem::replace(there, ride.bike_id));
                    if in_part.contains(&ride.identity) {
                        parts.push(Vec::new());
                        in_part.clear();
                    }
                }
                [there, ..] => {
                    let error = Invalid::RideElsewhere { bike: *there }.at("/source_id");
                    failed.push((place, error.into()));
                    continue;
                }
            }
            in_part.insert(ride.identity.clone());
        }
        if let Some(part) = parts.last_mut() {
            part.push((place, ride));
        }
    }
    Ok(parts)
}

/// Rides of a batch that another source told of, now or before.
fn told_twice(
    taken: &[(usize, RideOutcome)],
    told_again: Vec<(RideId, RideId)>,
) -> Vec<(usize, RideWarning)> {
    let mut again: BTreeMap<RideId, BTreeSet<RideId>> = BTreeMap::new();
    for (ride, counted) in told_again {
        again.entry(counted).or_default().insert(ride);
    }
    let mut warnings = Vec::new();
    for (place, outcome) in taken {
        let ride = outcome.ride();
        match ride.telling.same_as() {
            Some(counted) => warnings.push((*place, RideWarning::CountedWith { ride: counted })),
            None => {
                let others = again.get(&ride.id).into_iter().flatten();
                warnings.extend(others.map(|other| (*place, RideWarning::CountsFor { ride: *other })));
            }
        }
    }
    warnings
}

/// Rides of a batch that no bike can have been on, as another of its rides is at the same time and isn't the same ride.
fn overlaps(taken: &[(usize, RideOutcome)]) -> Vec<(usize, RideWarning)> {
    let mut of_bike: BTreeMap<BikeId, Vec<(RideSpan, &Ride, usize)>> = BTreeMap::new();
    for (place, outcome) in taken {
        let ride = outcome.ride();
        of_bike.entry(ride.bike_id).or_default().push((ride.span(), ride, *place));
    }
    let mut warnings = Vec::new();
    for spans in of_bike.values_mut() {
        // By when they began: a ride overlaps those right after it, as long as they begin before it can have ended.
        spans.sort_by_key(|(span, ..)| span.started_at());
        let mut others = vec![0; spans.len()];
        for (i, (span, ride, _)) in spans.iter().enumerate() {
            for (k, (later, other, _)) in spans.iter().enumerate().skip(i + 1) {
                if !span.overlaps(*later) {
                    break;
                }
                if counted(ride) != counted(other) {
                    others[i] += 1;
                    others[k] += 1;
                }
            }
        }
        let odd = spans.iter().zip(others).filter(|(_, others)| *others > 0);
        warnings.extend(odd.map(|((.., place), others)| (*place, RideWarning::Overlaps { others })));
    }
    warnings
}

/// The ride that counts, this one or the one in its place.
fn counted(ride: &Ride) -> RideId {
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
    let ids = RideIds::OfBike;
    let report = RideReport { bike_id: target, identity: ride.identity, ids, started_at, facts };
    let new = NewRide { moved_from, ..with_load(report, &bike) };
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
pub fn with_load(report: RideReport, bike: &Bike) -> NewRide {
    let RideReport { bike_id, identity, ids: _, started_at, facts } = report;
    NewRide { bike_id, identity, started_at, facts, load: load_of(&facts, bike), moved_from: None }
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
