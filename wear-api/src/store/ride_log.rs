//! Rides together with all that follows from them: the bikes' marks and the rollup.

use std::collections::BTreeSet;

use super::Tx;
use super::error::StoreError;
use crate::domain::{BikeDay, BikeId, NewRide, Ride, RideId, RideIdentity, RideOutcome, Timestamp};

impl Tx {
    /// Marks the bikes, stores the rides and adds them to the rollup; see [`Tx::upsert_rides`].
    ///
    /// # Errors
    /// [`StoreError::NotFound`] when a bike isn't the workshop's; [`StoreError::Interrupted`] when another
    /// transaction changed one of the rides in between.
    pub async fn record_rides(
        &mut self,
        rides: &[NewRide],
        now: Timestamp,
    ) -> Result<Vec<RideOutcome>, StoreError> {
        let identities: BTreeSet<&RideIdentity> = rides.iter().map(|ride| &ride.identity).collect();
        let identities: Vec<RideIdentity> = identities.into_iter().cloned().collect();
        let known = self.find_rides(&identities).await?;
        let mut bikes: Vec<BikeId> = rides.iter().map(|ride| ride.bike_id).collect();
        bikes.extend(known.iter().map(|ride| ride.bike_id));
        bikes.sort_unstable();
        bikes.dedup();
        self.mark_bikes(&bikes, now).await?;
        let outcomes = self.upsert_rides(rides).await?;
        for outcome in &outcomes {
            if let RideOutcome::Replaced { old, .. } = outcome
                && bikes.binary_search(&old.bike_id).is_err()
            {
                // It was moved after we looked, to a bike that we haven't locked.
                return Err(StoreError::Interrupted);
            }
        }
        self.add_to_bike_days(outcomes.iter().flat_map(RideOutcome::day_changes)).await?;
        Ok(outcomes)
    }

    /// Marks the bike, deletes a ride and takes it out of the rollup; see [`Tx::delete_ride`].
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
        let ride = self.delete_ride(bike, id, revision).await?;
        self.add_to_bike_days([BikeDay::of(&ride).negated()]).await?;
        Ok(ride)
    }
}
