//! What a part went through on the bikes it was on.

use std::collections::BTreeSet;

use super::ridden::{Ridden, rides};
use super::unlogged::{Told, care_habit, since_first};
use crate::domain::{Bike, BikeId, CLOCK_SKEW, Fitting, PartId, Timestamp};
use crate::service::by;
use crate::store::{StoreError, Tx};

/// One stay of a part on a bike.
#[derive(Debug, Clone, PartialEq)]
pub struct Stay {
    /// Where it was, from when to when.
    pub fitting: Fitting,
    /// Distance, km.
    pub distance_km: f64,
    /// Exposure, reference km: what chains are judged by. For other parts the drivetrain counts as looked after
    /// when the part was fitted.
    pub reference_km: f64,
}

/// The stays of a part on bikes within reach, in order of time.
///
/// # Errors
/// [`StoreError`].
pub async fn stays_of_part(tx: &mut Tx, part_id: PartId, now: Timestamp) -> Result<Vec<Stay>, StoreError> {
    let mut fittings = tx.fittings_of_part(part_id).await?;
    fittings.sort_by_key(|fitting| (fitting.fitted_at, fitting.id));
    let horizon = now.plus(CLOCK_SKEW);
    let bikes: BTreeSet<BikeId> = fittings.iter().map(|fitting| fitting.bike_id).collect();
    let ids: Vec<BikeId> = bikes.into_iter().collect();
    let workshop = tx.workshop().await?;
    let care = by(tx.care_of_bikes(&ids).await?, |care| care.bike_id);
    let bikes = tx.bikes_by_id(&ids).await?;
    // Where else it was is nobody's business whose bike that isn't.
    fittings.retain(|fitting| bikes.contains_key(&fitting.bike_id));
    let known: Vec<&Bike> = bikes.values().collect();
    let told = Told::load(tx, &workshop, &since_first(&known, &fittings, now), now).await?;
    let asked = fittings.iter().filter_map(|fitting| {
        let bike = bikes.get(&fitting.bike_id)?;
        let care = care.get(&bike.id).map_or(&[][..], Vec::as_slice);
        let horizon = bike.counts_until(horizon);
        let ridden = Ridden::of(fitting, horizon, care, workshop.settings.time_zone)
            .with_care_habit(care_habit(&workshop, bike, care));
        Some(ridden.with_unlogged(told.of(bike.id)))
    });
    let conditions = tx.wear_effects().await?.conditions();
    let stays = rides(tx, &asked.collect::<Vec<_>>()).await?;
    let told = fittings.into_iter().zip(stays).map(|(fitting, stay)| {
        let accrued = stay.accrued(&conditions);
        Stay { fitting, distance_km: accrued.km, reference_km: accrued.reference_km }
    });
    Ok(told.collect())
}
