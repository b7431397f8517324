//! What a part went through on the bikes it was on.

use wear_core::exposure::ExposureModel;
use wear_core::exposure::care::CareModel;

use super::load::stretches;
use super::timeline::{Event, Stint, accrue};
use crate::domain::{CLOCK_SKEW, Fitting, PartId, Timestamp};
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
    let mut stays = Vec::with_capacity(fittings.len());
    for fitting in fittings {
        let to = fitting.removed_at.unwrap_or_else(|| now.plus(CLOCK_SKEW));
        let events: Vec<(Timestamp, Event)> = tx
            .care_of_bike(fitting.bike_id)
            .await?
            .into_iter()
            .filter(|care| fitting.fitted_at <= care.done_at && care.done_at < to)
            .map(|care| (care.done_at, Event::Care(care.kind)))
            .collect();
        let stint = Stint { stretches: stretches(tx, &fitting, to, &events).await?, events };
        let accrued = accrue(&[stint], &ExposureModel::default(), &CareModel::default());
        stays.push(Stay { fitting, distance_km: accrued.km, reference_km: accrued.reference_km });
    }
    Ok(stays)
}
