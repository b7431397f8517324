//! What a part went through on the bikes it was on.

use std::collections::BTreeSet;

use wear_core::exposure::ExposureModel;
use wear_core::exposure::care::CareModel;

use super::ridden::{Ridden, stretches};
use super::timeline::{Event, Stint, accrue};
use crate::domain::{BikeId, CLOCK_SKEW, Fitting, PartId, Timestamp};
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
    let events: Vec<Vec<(Timestamp, Event)>> = fittings
        .iter()
        .map(|fitting| {
            let to = fitting.removed_at.unwrap_or(horizon);
            care.iter()
                .filter(|care| care.bike_id == fitting.bike_id)
                .filter(|care| fitting.fitted_at <= care.done_at && care.done_at < to)
                .map(|care| (care.done_at, Event::Care(care.kind)))
                .collect()
        })
        .collect();
    let asked: Vec<Ridden<'_>> =
        fittings.iter().zip(&events).map(|(stay, events)| Ridden::of(stay, horizon, events)).collect();
    let stretches = stretches(tx, &asked).await?;
    let stays = fittings.into_iter().zip(stretches).zip(events).map(|((fitting, stretches), events)| {
        let stint = Stint { stretches, events };
        let accrued = accrue(&[stint], &ExposureModel::default(), &CareModel::default());
        Stay { fitting, distance_km: accrued.km, reference_km: accrued.reference_km }
    });
    Ok(stays.collect())
}
