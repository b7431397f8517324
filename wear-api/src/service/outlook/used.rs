//! How bikes were used, kept for the night that learns of it.

use std::collections::{BTreeMap, HashMap};

use wear_core::bike::{RideTotals, km_per_reference_km};
use wear_core::exposure::Conditions;
use wear_core::forecast::{DailyUse, UseHistory};

use super::Computed;
use super::ridden::{date_of, totals};
use crate::domain::{BikeId, Timestamp};
use crate::service::by;
use crate::store::{StoreError, Tx};

/// Keeps what outlooks saw. What was ridden on chains that came off before the present sprockets were fitted is known from
/// outlooks of that time, or else from the rides themselves.
pub(super) async fn remember(tx: &mut Tx, computed: &[Computed]) -> Result<(), StoreError> {
    let cut: Vec<(BikeId, i64)> = computed
        .iter()
        .filter_map(|it| {
            Some((it.bike.id, it.assessed.others_before.filter(|_| it.assessed.used.is_some())?))
        })
        .collect();
    let mut earlier = HashMap::new();
    if !cut.is_empty() {
        let ids: Vec<BikeId> = cut.iter().map(|(bike, _)| *bike).collect();
        earlier.extend(tx.use_histories_of(&ids).await?.into_iter().map(|used| (used.bike_id, used.history)));
        let is_new = |(bike, first_day): &&(BikeId, i64)| {
            earlier.get(bike).is_none_or(|known: &UseHistory| known.first_day() >= *first_day)
        };
        let unknown: Vec<(BikeId, i64)> = cut.iter().filter(is_new).copied().collect();
        if !unknown.is_empty() {
            let conditions = tx.wear_effects().await?.conditions();
            earlier.extend(ridden_before(tx, &unknown, &conditions).await?);
        }
    }
    let first_days: HashMap<BikeId, i64> = cut.into_iter().collect();
    let used = computed.iter().filter_map(|it| {
        let used = it.assessed.used.clone()?;
        let before = first_days.get(&it.bike.id).zip(earlier.get(&it.bike.id));
        let whole = before.map(|(first_day, earlier)| used.clone().continuing(earlier, *first_day));
        Some((it.bike.id, whole.unwrap_or(used)))
    });
    tx.save_use_histories(&used.collect::<Vec<_>>()).await
}

/// What bikes were ridden before a day each, with care as it usually is.
async fn ridden_before(
    tx: &mut Tx,
    bikes: &[(BikeId, i64)],
    conditions: &Conditions,
) -> Result<HashMap<BikeId, UseHistory>, StoreError> {
    let spans = bikes.iter().filter_map(|(bike, first_day)| {
        Some((*bike, Timestamp::EPOCH.utc_date(), date_of(first_day.checked_sub(1)?)?))
    });
    let sums = by(tx.bike_days_of(&spans.collect::<Vec<_>>()).await?, |sum| sum.key.bike_id);
    let history = |(bike, first_day): &(BikeId, i64)| {
        let mut days: BTreeMap<i64, Vec<RideTotals>> = BTreeMap::new();
        for sum in sums.get(bike)? {
            let day = (sum.key.day - Timestamp::EPOCH.utc_date()).num_days();
            days.entry(day).or_default().push(totals(sum));
        }
        let oldest = *days.keys().next()?;
        let used = |day| {
            let rides = days.get(&day).map_or(&[][..], Vec::as_slice);
            let km = rides.iter().map(|sum| sum.distance_mm as f64 * 1e-6).sum::<f64>();
            let ratio = km_per_reference_km(rides.iter().copied(), conditions);
            ratio.map_or(DailyUse::default(), |ratio| DailyUse { km, reference_km: km / ratio })
        };
        Some((*bike, UseHistory::of(oldest, &(oldest..*first_day).map(used).collect::<Vec<_>>())?))
    };
    Ok(bikes.iter().filter_map(history).collect())
}
