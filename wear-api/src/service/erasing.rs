//! Erasing for good: a workshop, a rider's rides, and what is older than it is kept.

use chrono::Duration;
use serde_json::json;

use super::{Actor, ServiceError, Services, record_with, sessions};
use crate::domain::{CODE_REMEMBERED, RiderId, Timestamp, WorkshopId};
use crate::store::Before;

/// How long things are kept; what is none is kept for ever.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Keeping {
    /// Entries of the audit list.
    pub audit: Option<Duration>,
    /// Forecasts.
    pub forecasts: Option<Duration>,
    /// Bench plans.
    pub plans: Option<Duration>,
}

impl Keeping {
    fn before(&self, now: Timestamp) -> Before {
        let since = |kept: Option<Duration>| kept.map(|kept| now.plus(-kept));
        let Self { audit, forecasts, plans } = *self;
        Before { audit: since(audit), forecasts: since(forecasts), plans: since(plans) }
    }
}

/// Erases a workshop and everything of it. Its tokens open nothing from then on; in other processes a second later.
///
/// # Errors
/// [`ServiceError::Unavailable`], [`ServiceError::Interrupted`].
pub async fn workshop(services: &Services, workshop_id: WorkshopId) -> Result<(), ServiceError> {
    let mut tx = services.store.begin_write(workshop_id).await?;
    tx.erase_workshop().await?;
    Ok(tx.commit().await?)
}

/// Erases the rides of the bikes that are a rider's, and what was made of them bike by bike; how many rides there were.
/// The bikes stay, with their readings, care and swaps, and get outlooks that know no rides.
///
/// # Errors
/// [`ServiceError::NotFound`] when the workshop has no such rider; [`ServiceError::Unavailable`],
/// [`ServiceError::Interrupted`].
pub async fn rides(
    services: &Services,
    workshop_id: WorkshopId,
    rider_id: RiderId,
) -> Result<usize, ServiceError> {
    let now = services.now();
    let mut tx = services.store.begin_write(workshop_id).await?;
    tx.rider(rider_id).await.map_err(ServiceError::or_not_found("rider"))?;
    let bikes = tx.bikes_of_rider(rider_id).await?;
    tx.mark_bikes(&bikes, now).await?;
    let count = tx.erase_rides(rider_id).await?;
    let program = Actor::program(workshop_id);
    let detail = json!({"rides": count});
    record_with(&mut tx, &program, now, "ride.erase", format!("riders/{rider_id}"), detail).await?;
    tx.commit().await?;
    Ok(count)
}

/// Erases what a workshop has kept for long enough.
///
/// # Errors
/// [`ServiceError::Unavailable`], [`ServiceError::Interrupted`].
pub(super) async fn old(
    services: &Services,
    workshop_id: WorkshopId,
    now: Timestamp,
) -> Result<(), ServiceError> {
    let before = services.keeping.before(now);
    if before == Before::default() {
        return Ok(());
    }
    let mut tx = services.store.begin_write(workshop_id).await?;
    tx.erase_before(&before).await?;
    Ok(tx.commit().await?)
}

/// Erases sessions that are over and codes that have expired, of every workshop.
///
/// # Errors
/// [`ServiceError::Unavailable`], [`ServiceError::Interrupted`].
pub async fn expired(services: &Services) -> Result<(), ServiceError> {
    let now = services.now();
    let mut tx = services.store.begin_system_write().await?;
    tx.erase_expired(sessions::over(now), now, now.plus(-CODE_REMEMBERED)).await?;
    Ok(tx.commit().await?)
}
