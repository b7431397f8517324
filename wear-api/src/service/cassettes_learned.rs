//! What a night teaches of cassettes: how much damage they bear before a new chain skips on them.

use wear_core::fleet::cassettes::fit;
use wear_core::knock_on::{CassetteLife, SkipThreshold};

use super::outlook::bikes_with_removed_cassettes;
use super::{ServiceError, Services};
use crate::domain::{Bike, LearnedCassettes, Timestamp, Workshop};
use crate::store::{StoreError, Tx};

/// Bikes whose lives are told at once.
const TOGETHER: usize = 200;

/// How much damage cassettes bear, as the last night learned it; assumed before.
///
/// # Errors
/// [`StoreError`].
pub(super) async fn threshold(tx: &mut Tx) -> Result<SkipThreshold, StoreError> {
    Ok(tx.cassette_fit().await?.map_or(SkipThreshold::ASSUMED, |learned| learned.fit.threshold()))
}

/// Fits thresholds to all cassettes of a workshop; none while none of them has told anything.
///
/// What was to be expected of each new chain is scored by the thresholds that were in use until now.
///
/// # Errors
/// [`ServiceError`].
pub(super) async fn learn(
    services: &Services,
    workshop: &Workshop,
    now: Timestamp,
) -> Result<Option<LearnedCassettes>, ServiceError> {
    let mut tx = services.store.begin_read(workshop.id).await?;
    let used = threshold(&mut tx).await?;
    let bikes = tx.all_bikes().await?;
    let mut lives: Vec<CassetteLife> = Vec::new();
    for together in bikes.chunks(TOGETHER) {
        lives.extend(lives_of(services, &mut tx, workshop, together, now).await?);
    }
    drop(tx);
    let fitting = move || {
        let fit = fit(&lives);
        let told: Vec<_> = lives.iter().flat_map(|life| life.told(&used)).collect();
        (fit.cassettes > 0).then(|| LearnedCassettes { fit, told: told.iter().collect(), learned_at: now })
    };
    services.background.compute(fitting).await
}

async fn lives_of(
    services: &Services,
    tx: &mut Tx,
    workshop: &Workshop,
    bikes: &[Bike],
    now: Timestamp,
) -> Result<Vec<CassetteLife>, ServiceError> {
    let loaded = bikes_with_removed_cassettes(tx, workshop, bikes.to_vec(), now).await?;
    let telling =
        move || loaded.iter().flat_map(|bike| bike.cassette_lives()).filter(CassetteLife::tells).collect();
    services.background.compute(telling).await
}
