//! Which rides count, where two sources told of them, kept up to date round those that change.
//!
//! Only bikes with rides of several sources are looked at, and of these only the time round what was written.

use std::collections::{BTreeMap, BTreeSet, HashMap};

use chrono::Duration;
use chrono_tz::Tz;

use super::Tx;
use super::bikes::{LoggedBy, RideKeeping};
use super::error::StoreError;
use crate::domain::{BikeDay, BikeId, ChangedKind, Ride, RideId, Telling, Timestamp, tellings};

/// Spans of one bike that are no further apart are read as one (A): less is asked for rides of every day.
const TOGETHER: Duration = Duration::days(2);

type Span = (BikeId, Timestamp, Timestamp);

/// Rides that were compared.
#[derive(Debug, Default)]
pub(super) struct Compared {
    /// As they are now.
    pub(super) rides: Vec<Ride>,
    /// Those that count since, and those that don't any more.
    changed: Vec<(Ride, bool)>,
}

impl Compared {
    /// What the rollup has to add.
    pub(super) fn day_changes<'a>(
        &'a self,
        zone_of: impl Fn(BikeId) -> Tz + 'a,
    ) -> impl Iterator<Item = BikeDay> + 'a {
        self.changed.iter().map(move |(ride, counts)| {
            let day = BikeDay::of(ride, zone_of(ride.bike_id));
            if *counts { day } else { day.negated() }
        })
    }

    /// Each ride that doesn't count, and the one that counts in its place.
    pub(super) fn told_again(&self) -> Vec<(RideId, RideId)> {
        self.rides.iter().filter_map(|ride| Some((ride.id, ride.telling.same_as()?))).collect()
    }
}

impl Tx {
    /// Compares what is near rides that were written, as they were and as they are, where their bike has several sources.
    pub(super) async fn compare_rides<'a>(
        &mut self,
        keeping: &HashMap<BikeId, RideKeeping>,
        written: impl IntoIterator<Item = &'a Ride>,
    ) -> Result<Compared, StoreError> {
        let mut sources: BTreeMap<BikeId, LoggedBy> =
            keeping.iter().map(|(bike, kept)| (*bike, kept.logged_by.clone())).collect();
        let written: Vec<&Ride> = written.into_iter().collect();
        for ride in &written {
            if let Some(logged_by) = sources.get_mut(&ride.bike_id) {
                logged_by.and(&ride.identity.source);
            }
        }
        for (bike, now) in &sources {
            if keeping.get(bike).is_some_and(|kept| kept.logged_by != *now) {
                self.set_logged_by(*bike, now).await?;
            }
        }
        let several = |ride: &&&Ride| sources.get(&ride.bike_id) == Some(&LoggedBy::Several);
        let near: Vec<&Ride> = written.iter().filter(several).copied().collect();
        if near.is_empty() {
            return Ok(Compared::default());
        }
        let ids: BTreeSet<RideId> = near.iter().map(|ride| ride.id).collect();
        let rides = self.rides_that_reach(near.into_iter().map(reach).collect()).await?;
        self.tell_rides(rides, &ids).await
    }

    /// The rides in these spans, and those that may be the same as one of them, and so on.
    async fn rides_that_reach(&mut self, spans: Vec<Span>) -> Result<Vec<Ride>, StoreError> {
        let mut found: BTreeMap<RideId, Ride> = BTreeMap::new();
        let mut asked = merged(spans);
        while !asked.is_empty() {
            let mut rides = self.rides_near(&asked).await?;
            rides.sort_unstable_by_key(|ride| (ride.bike_id, ride.started_at));
            let mut wider = Vec::new();
            for &(bike, from, to) in &asked {
                let first = rides.partition_point(|ride| (ride.bike_id, ride.started_at) < (bike, from));
                let last = rides.partition_point(|ride| (ride.bike_id, ride.started_at) <= (bike, to));
                let within = rides.get(first..last).unwrap_or_default();
                let reached = within
                    .iter()
                    .map(reach)
                    .fold((from, to), |(from, to), (_, first, last)| (from.min(first), to.max(last)));
                if reached == (from, to) {
                    found.extend(within.iter().map(|ride| (ride.id, ride.clone())));
                } else {
                    wider.push((bike, reached.0, reached.1));
                }
            }
            asked = merged(wider);
        }
        Ok(found.into_values().collect())
    }

    /// Stores of rides whether they count. They are all that are near each other, of one bike or several. `written` have
    /// their new revision already.
    pub(super) async fn tell_rides(
        &mut self,
        rides: Vec<Ride>,
        written: &BTreeSet<RideId>,
    ) -> Result<Compared, StoreError> {
        let mut of_bike: BTreeMap<BikeId, Vec<Ride>> = BTreeMap::new();
        for ride in rides {
            of_bike.entry(ride.bike_id).or_default().push(ride);
        }
        let mut compared = Compared::default();
        for mut rides in of_bike.into_values() {
            let told: Vec<Telling> = tellings(&rides);
            for (ride, telling) in rides.iter_mut().zip(told) {
                if ride.telling == telling {
                    continue;
                }
                let revision = ride.revision + i64::from(!written.contains(&ride.id));
                self.tell_ride(ride, telling, revision).await?;
                self.note(ChangedKind::Ride, Some(ride.bike_id), ride.id.uuid());
                let (before, now) = (ride.telling.counts(), telling.counts());
                (ride.telling, ride.revision) = (telling, revision);
                if before != now {
                    compared.changed.push((ride.clone(), now));
                }
            }
            compared.rides.append(&mut rides);
        }
        Ok(compared)
    }
}

fn reach(ride: &Ride) -> Span {
    let (from, to) = ride.reach();
    (ride.bike_id, from, to)
}

/// The same spans, those of a bike that are near each other as one.
fn merged(mut spans: Vec<Span>) -> Vec<Span> {
    spans.sort_unstable();
    let mut merged: Vec<Span> = Vec::with_capacity(spans.len());
    for (bike, from, to) in spans {
        match merged.last_mut() {
            Some((last, _, end)) if *last == bike && from <= end.plus(TOGETHER) => *end = (*end).max(to),
            _ => merged.push((bike, from, to)),
        }
    }
    merged
}
