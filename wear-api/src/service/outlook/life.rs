//! What a part went through on the bikes it was on.

use std::collections::BTreeSet;

use super::ridden::{Ridden, rides};
use crate::domain::{BikeId, CLOCK_SKEW, Care, Fitting, PartId, Timestamp};
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

/// The stays of a part, in order of time.
///
/// # Errors
/// [`StoreError`].
pub async fn stays_of_part(tx: &mut Tx, part_id: PartId, now: Timestamp) -> Result<Vec<Stay>, StoreError> {
    let mut fittings = tx.fittings_of_part(part_id).await?;
    fittings.sort_by_key(|fitting| (fitting.fitted_at, fitting.id));
    let horizon = now.plus(CLOCK_SKEW);
    let bikes: BTreeSet<BikeId> = fittings.iter().map(|fitting| fitting.bike_id).collect();
    let care = tx.care_of_bikes(&bikes.into_iter().collect::<Vec<_>>()).await?;
    let asked = fittings.iter().map(|fitting| {
        let of_bike = care.iter().filter(|care| care.bike_id == fitting.bike_id).cloned();
        Ridden::of(fitting, horizon, &of_bike.collect::<Vec<Care>>())
    });
    let stays = rides(tx, &asked.collect::<Vec<_>>()).await?;
    let told = fittings.into_iter().zip(stays).map(|(fitting, stay)| {
        let accrued = stay.accrued();
        Stay { fitting, distance_km: accrued.km, reference_km: accrued.reference_km }
    });
    Ok(told.collect())
}
