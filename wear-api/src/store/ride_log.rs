//! Rides together with all that follows from them: the bikes' marks, the rollup, and which of them count.

use std::collections::{BTreeMap, BTreeSet};

use super::Tx;
use super::error::StoreError;
use super::rides::ChangedRide;
use crate::domain::{BikeDay, BikeId, ChangedKind, NewRide, Ride, RideId, RideLoad, RideOutcome, Timestamp};

/// What storing rides did.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Recorded {
    /// What each ride did, in the order of the rides.
    pub outcomes: Vec<RideOutcome>,
    /// Rides near those that were new or changed which don't count, each with the one that counts in its place.
    pub told_again: Vec<(RideId, RideId)>,
}

impl Tx {
    /// Stores rides, each as if they came one by one: the same identity on the same bike twice is one ride, a changed one
    /// replaces it. Marks their bikes, those that a ride was moved from too, keeps the rollup, and compares rides of
    /// different sources: those that are one count once.
    ///
    /// # Errors
    /// [`StoreError::NotFound`] when a bike isn't the workshop's; [`StoreError::Interrupted`] when another
    /// transaction changed one of the rides in between; [`StoreError::Conflict`] when a ride is moved to a bike that has
    /// one of the same identity.
    pub async fn record_rides(&mut self, rides: &[NewRide], now: Timestamp) -> Result<Recorded, StoreError> {
        let mut bikes: Vec<BikeId> = rides.iter().map(|ride| ride.bike_id).collect();
        bikes.extend(rides.iter().filter_map(|ride| ride.moved_from));
        bikes.sort_unstable();
        bikes.dedup();
        self.mark_bikes(&bikes, now).await?;
        let (mut outcomes, changed): (_, Vec<ChangedRide>) = self.insert_new_rides(rides).await?;
        self.replace_rides(changed).await?;
        let keeping = self.ride_keeping(&bikes).await?;
        let zone_of = |bike: BikeId| super::bikes::zone_of(&keeping, bike);
        let mut days: Vec<BikeDay> =
            outcomes.iter().flat_map(|outcome| outcome.day_changes(zone_of)).collect();
        let written = outcomes.iter().flat_map(|outcome| match outcome {
            RideOutcome::Inserted(new) => [Some(new), None],
            RideOutcome::Replaced { old, new } => [Some(old), Some(new)],
            RideOutcome::Unchanged(_) | RideOutcome::Deleted(_) => [None, None],
        });
        let compared = self.compare_rides(&keeping, written.flatten()).await?;
        days.extend(compared.day_changes(zone_of));
        let now: BTreeMap<RideId, &Ride> = compared.rides.iter().map(|ride| (ride.id, ride)).collect();
        for ride in outcomes.iter_mut().map(RideOutcome::ride_mut) {
            if let Some(now) = now.get(&ride.id) {
                (ride.telling, ride.revision) = (now.telling, now.revision);
            }
        }
        self.add_to_bike_days(days).await?;
        for outcome in &outcomes {
            if let RideOutcome::Inserted(ride) | RideOutcome::Replaced { new: ride, .. } = outcome {
                self.note(ChangedKind::Ride, Some(ride.bike_id), ride.id.uuid());
            }
        }
        Ok(Recorded { outcomes, told_again: compared.told_again() })
    }

    /// Marks the bike, deletes a ride, which leaves a tombstone, and takes it out of the rollup.
    ///
    /// # Errors
    /// [`StoreError::NotFound`]; [`StoreError::Conflict`] when the revision is stale.
    pub async fn erase_ride(
        &mut self,
        bike: BikeId,
        id: RideId,
        revision: i64,
        now: Timestamp,
    ) -> Result<Ride, StoreError> {
        self.mark_bikes(&[bike], now).await?;
        let ride = self.delete_ride(bike, id, revision, now).await?;
        self.note_gone(ChangedKind::Ride, Some(bike), id.uuid());
        let keeping = self.ride_keeping(&[bike]).await?;
        let zone_of = |bike: BikeId| super::bikes::zone_of(&keeping, bike);
        let gone = ride.telling.counts().then(|| BikeDay::of(&ride, zone_of(bike)).negated());
        let compared = self.compare_rides(&keeping, [&ride]).await?;
        self.add_to_bike_days(gone.into_iter().chain(compared.day_changes(zone_of))).await?;
        Ok(ride)
    }

    /// Takes a ride's deletion back and adds it to the rollup. The bike's mark is the caller's.
    ///
    /// # Errors
    /// [`StoreError::NotFound`] when there is no such ride that was deleted.
    pub async fn restore_ride(
        &mut self,
        bike: BikeId,
        id: RideId,
        load: RideLoad,
    ) -> Result<Ride, StoreError> {
        let ride = self.undelete_ride(bike, id, load).await?;
        self.note(ChangedKind::Ride, Some(bike), id.uuid());
        let keeping = self.ride_keeping(&[bike]).await?;
        let zone_of = |bike: BikeId| super::bikes::zone_of(&keeping, bike);
        let back = BikeDay::of(&ride, zone_of(bike));
        let compared = self.compare_rides(&keeping, [&ride]).await?;
        self.add_to_bike_days([back].into_iter().chain(compared.day_changes(zone_of))).await?;
        Ok(compared.rides.into_iter().find(|other| other.id == id).unwrap_or(ride))
    }

    /// Says that a ride is one by itself, whatever it looks like, or takes that back. The bike's mark is the caller's.
    ///
    /// # Errors
    /// [`StoreError::NotFound`].
    pub async fn separate_ride(
        &mut self,
        bike: BikeId,
        id: RideId,
        is_separate: bool,
    ) -> Result<(), StoreError> {
        let before = self.ride(bike, id).await?;
        if !self.set_separate(bike, id, is_separate).await? {
            return Ok(());
        }
        let after = self.ride(bike, id).await?;
        self.note(ChangedKind::Ride, Some(bike), id.uuid());
        let keeping = self.ride_keeping(&[bike]).await?;
        let zone_of = |bike: BikeId| super::bikes::zone_of(&keeping, bike);
        let counts_now = (!before.telling.counts()).then(|| BikeDay::of(&after, zone_of(bike)));
        let compared = self.compare_rides(&keeping, [&after]).await?;
        self.add_to_bike_days(counts_now.into_iter().chain(compared.day_changes(zone_of))).await
    }

    /// Compares all rides of a bike, whatever was found before, and returns them. The caller replaces the bike's rollup.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn compare_all_rides(&mut self, bike: BikeId) -> Result<Vec<Ride>, StoreError> {
        let rides = self.rides_between(bike, Timestamp::EPOCH, Timestamp::LAST).await?;
        let compared = self.tell_rides(rides, &BTreeSet::new()).await?;
        self.set_rides_compared(bike).await?;
        Ok(compared.rides)
    }
}
