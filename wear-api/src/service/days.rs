//! Days of riding are those of the workshop: rides are summed anew where its clock was another when they came, and where
//! a store from earlier has never compared those of several sources.

use std::collections::BTreeMap;

use chrono_tz::Tz;

use super::{ServiceError, Services};
use crate::domain::{Bike, BikeDay, BikeDayKey, BikeId, Ride, Workshop};
use crate::store::{StoreError, Tx};

/// Sums all rides of a bike that count by days in `zone`.
///
/// # Errors
/// [`StoreError`].
pub(super) async fn sum(tx: &mut Tx, bike: BikeId, rides: &[Ride], zone: Tz) -> Result<(), StoreError> {
    let mut sums: BTreeMap<BikeDayKey, BikeDay> = BTreeMap::new();
    for ride in rides.iter().filter(|ride| ride.telling.counts()) {
        let day = BikeDay::of(ride, zone);
        sums.entry(day.key).or_insert_with(|| BikeDay::empty(day.key)).add(&day);
    }
    tx.replace_bike_days(bike, sums.into_values()).await
}

fn are_of(workshop: &Workshop, bike: &Bike) -> bool {
    bike.rides_compared && bike.days_zone == workshop.settings.time_zone
}

/// Sums a bike's rides by the workshop's days, each once that two sources told of, in a transaction that holds the bike.
///
/// # Errors
/// [`StoreError`].
pub(super) async fn settle(tx: &mut Tx, workshop: &Workshop, bike: &Bike) -> Result<(), StoreError> {
    if !are_of(workshop, bike) {
        let rides = tx.compare_all_rides(bike.id).await?;
        let zone = workshop.settings.time_zone;
        sum(tx, bike.id, &rides, zone).await?;
        tx.set_days_zone(bike.id, zone).await?;
    }
    Ok(())
}

/// Whether any of the bikes' rides are summed by other days than the workshop's, or were never compared.
pub(super) fn are_to_settle(workshop: &Workshop, bikes: &[Bike]) -> bool {
    !bikes.iter().all(|bike| are_of(workshop, bike))
}

/// The same for several that are marked, each in a transaction of its own.
///
/// # Errors
/// [`ServiceError::Unavailable`].
pub(super) async fn settle_all(
    services: &Services,
    workshop: &Workshop,
    bikes: &[Bike],
) -> Result<(), ServiceError> {
    for bike in bikes.iter().filter(|bike| !are_of(workshop, bike)) {
        let mut tx = services.store.begin_write(workshop.id).await?;
        tx.hold_bike(bike.id).await?;
        let bike = tx.bike(bike.id).await?;
        settle(&mut tx, workshop, &bike).await?;
        tx.commit().await?;
    }
    Ok(())
}
