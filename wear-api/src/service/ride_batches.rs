//! Many rides at once, of any of the workshop's bikes.

use std::collections::{BTreeMap, BTreeSet, HashMap};

use super::rides::{RideIds, RideSaid, audit_moves, counted, with_load};
use super::{Actor, ServiceError, Services, UnitOfWork, record_with, starts};
use crate::domain::{
    Bike, BikeId, ExternalId, Field, FieldError, FieldErrors, Invalid, NewRide, Ride, RideId, RideIdentity,
    RideOutcome, RideSpan, RideWarning, Timestamp,
};
use crate::store::{StoreError, Tx};

/// The bike that a ride names.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub enum NamedBike {
    /// By its id.
    Id(BikeId),
    /// By what another program calls it.
    External(ExternalId),
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
    pub const fn new(index: usize, bike_id: BikeId, said: RideSaid) -> Self {
        Self { index, bike: NamedBike::Id(bike_id), said }
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

/// Stores many rides in one transaction; those that can't be are named, the rest is stored.
///
/// # Errors
/// [`ServiceError::Unavailable`].
pub async fn post(
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
                rides.push((with_load(said, bike), ids));
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
    audit(tx, actor, now, &outcome).await?;
    outcome.taken.sort_by_key(|(place, _)| *place);
    outcome.failed.sort_by_key(|(place, _)| *place);
    outcome.warnings.extend(told_twice(&outcome.taken, told_again));
    outcome.warnings.extend(overlaps(&outcome.taken));
    outcome.warnings.sort_by_key(|(place, _)| *place);
    Ok(outcome)
}

/// Writes down that rides were sent, and what became of them; a batch that changed nothing isn't told.
async fn audit(
    tx: &mut Tx,
    actor: &Actor,
    now: Timestamp,
    outcome: &BatchOutcome,
) -> Result<(), ServiceError> {
    let count = |is: fn(&RideOutcome) -> bool| outcome.taken.iter().filter(|(_, taken)| is(taken)).count();
    let new = count(|taken| matches!(taken, RideOutcome::Inserted(_)));
    let replaced = count(|taken| matches!(taken, RideOutcome::Replaced { .. }));
    if new + replaced > 0 {
        let detail = serde_json::json!({
            "new": new,
            "replaced": replaced,
            "unchanged": outcome.taken.len() - new - replaced,
        });
        record_with(tx, actor, now, "ride.batch", "rides".to_owned(), detail).await?;
    }
    Ok(())
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
