//! Rides together with all that follows from them: the bikes' marks and the rollup.

use chrono_tz::Tz;

use super::Tx;
use super::error::StoreError;
use crate::domain::{BikeDay, BikeId, ChangedKind, NewRide, Ride, RideId, RideLoad, RideOutcome, Timestamp};

impl Tx {
    /// Stores rides, each as if they came one by one: the same identity twice is one ride, a changed one
    /// replaces it. Marks their bikes, those that a ride was moved from too, and keeps the rollup. Outcomes
    /// come in the order of the rides.
    ///
    /// # Errors
    /// [`StoreError::NotFound`] when a bike isn't the workshop's; [`StoreError::Interrupted`] when another
    /// transaction changed one of the rides in between.
    pub async fn record_rides(
        &mut self,
        rides: &[NewRide],
        now: Timestamp,
    ) -> Result<Vec<RideOutcome>, StoreError> {
        let mut bikes: Vec<BikeId> = rides.iter().map(|ride| ride.bike_id).collect();
        bikes.sort_unstable();
        bikes.dedup();
        self.mark_bikes(&bikes, now).await?;
        let (outcomes, changed) = self.insert_new_rides(rides).await?;
        // Which bikes rides are moved from is known only now. Two transactions that move rides in opposite
        // directions may each wait for the other here: Postgres ends one of them, as `Interrupted`.
        let left: Vec<BikeId> = outcomes
            .iter()
            .filter_map(|outcome| match outcome {
                RideOutcome::Replaced { old, .. } => Some(old.bike_id),
                RideOutcome::Inserted(_) | RideOutcome::Unchanged(_) | RideOutcome::Deleted(_) => None,
            })
            .filter(|bike| bikes.binary_search(bike).is_err())
            .collect();
        self.mark_bikes(&left, now).await?;
        self.replace_rides(&changed).await?;
        let touched: Vec<BikeId> = bikes.into_iter().chain(left).collect();
        let zones = self.days_zones(&touched).await?;
        let zone_of = |bike: BikeId| zones.get(&bike).copied().unwrap_or(Tz::UTC);
        self.add_to_bike_days(outcomes.iter().flat_map(|outcome| outcome.day_changes(zone_of))).await?;
        for outcome in &outcomes {
            if let RideOutcome::Inserted(ride) | RideOutcome::Replaced { new: ride, .. } = outcome {
                self.note(ChangedKind::Ride, Some(ride.bike_id), ride.id.uuid());
            }
        }
        Ok(outcomes)
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
        let zone = self.days_zones(&[bike]).await?.remove(&bike).unwrap_or(Tz::UTC);
        self.add_to_bike_days([BikeDay::of(&ride, zone).negated()]).await?;
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
        let zone = self.days_zones(&[bike]).await?.remove(&bike).unwrap_or(Tz::UTC);
        self.add_to_bike_days([BikeDay::of(&ride, zone)]).await?;
        Ok(ride)
    }
}
