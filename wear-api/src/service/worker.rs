//! What the worker does: outlooks of bikes on which something happened.

use chrono::Duration;

use super::{ServiceError, Services, outlook};
use crate::domain::{Claim, ClaimedBike, Finished};
use crate::metrics;
use crate::store::StoreError;

/// After this long another worker may take a bike over (A).
const LEASE: Duration = Duration::seconds(30);

/// A bike whose outlook could not be computed is tried again after this long, doubled each time (A).
const FIRST_PAUSE: Duration = Duration::seconds(2);

/// Bikes taken at once.
const HANDFUL: i64 = 64;

/// Computes the outlooks of a handful of marked bikes; how many there were.
///
/// # Errors
/// [`ServiceError::Unavailable`] when the store can't be reached.
pub async fn refresh_some(services: &Services) -> Result<usize, ServiceError> {
    let now = services.now();
    let claimed = {
        let mut tx = services.store.begin_system_write().await?;
        let claimed = tx.claim_bikes(&Claim { now, lease: LEASE, most: HANDFUL }).await?;
        tx.commit().await?;
        claimed
    };
    for bike in &claimed {
        if let Err(error) = refresh_one(services, bike).await {
            tracing::error!(bike = %bike.bike_id, attempts = bike.attempts, error = %error, "outlook not computed");
            let doubled = 1_i32 << u32::try_from(bike.attempts.clamp(0, 10)).unwrap_or(0);
            let mut tx = services.store.begin_write(bike.workshop_id).await?;
            tx.pause_bike(bike, services.now().plus(FIRST_PAUSE * doubled)).await?;
            tx.commit().await?;
        }
    }
    Ok(claimed.len())
}

async fn refresh_one(services: &Services, claimed: &ClaimedBike) -> Result<(), StoreError> {
    let now = services.now();
    let mut tx = services.store.begin_write(claimed.workshop_id).await?;
    let workshop = tx.workshop().await?;
    let bike = tx.bike(claimed.bike_id).await?;
    // First, as it shows whether the lease is still ours and locks the bike against new events.
    if tx.finish_bike(claimed, now).await? == Finished::Lost {
        return Ok(());
    }
    outlook::compute_and_save(&mut tx, &workshop, &bike, now).await?;
    tx.commit().await?;
    let delay = services.now().micros() - claimed.marked_at.micros();
    metrics::outlook_made(Duration::microseconds(delay.max(0)).to_std().unwrap_or_default());
    Ok(())
}

/// Computes every marked outlook; how many there were.
///
/// # Errors
/// [`ServiceError::Unavailable`].
pub async fn drain(services: &Services) -> Result<usize, ServiceError> {
    let mut done = 0;
    loop {
        match refresh_some(services).await? {
            0 => return Ok(done),
            some => done += some,
        }
    }
}
