//! What the worker does: outlooks of bikes on which something happened.

use chrono::Duration;
use futures_util::{StreamExt as _, stream};

use super::outlook::{self, Computed, load_bikes};
use super::{ServiceError, Services, days};
use crate::domain::{Bike, Claim, ClaimedBike, Finished, Timestamp, Workshop, WorkshopId};
use crate::metrics;
use crate::store::{StoreError, Tx};
use crate::telemetry::with_causes;

/// After this long another worker may take a bike over (A).
const LEASE: Duration = Duration::seconds(30);

/// A bike whose outlook could not be computed is tried again after this long, doubled each time (A).
const FIRST_PAUSE: Duration = Duration::seconds(2);

/// What workshops take turns at.
const OUTLOOKS: &str = "outlooks";

/// Bikes taken at once: what is told meanwhile waits until these are done (A).
const HANDFUL: i64 = 100;

/// Bikes whose outlooks are stored in one transaction, by one statement: they are locked while it lasts (A).
const STORED_TOGETHER: usize = 20;

/// Computes the outlooks of a handful of marked bikes; how many there were.
///
/// Computed on a snapshot, which nobody waits for, and stored afterwards: an event that came in between has counted up
/// its bike's mark, which then stays.
///
/// # Errors
/// [`ServiceError::Unavailable`] when the store can't be reached.
pub async fn refresh_some(services: &Services) -> Result<usize, ServiceError> {
    let mut claimed = {
        let mut tx = services.store.begin_system_write().await?;
        let claim = Claim { now: services.now(), lease: LEASE, most: HANDFUL };
        let mut turn = services.turns.last(OUTLOOKS);
        let claimed = tx.claim_bikes(&claim, &mut turn).await?;
        tx.commit().await?;
        services.turns.go_on(OUTLOOKS, turn);
        claimed
    };
    let count = claimed.len();
    // In the order in which everyone locks bikes.
    claimed.sort_unstable_by_key(|bike| (bike.workshop_id, bike.bike_id));
    let of_workshops = claimed.chunk_by(|a, b| a.workshop_id == b.workshop_id);
    // Each workshop's first group before any one's second.
    let mut groups: Vec<(usize, Vec<ClaimedBike>)> =
        of_workshops.flat_map(|bikes| bikes.chunks(STORED_TOGETHER).map(<[_]>::to_vec).enumerate()).collect();
    groups.sort_by_key(|(place, _)| *place);
    // While one group waits for the store another one computes.
    let at_once = 2 * std::thread::available_parallelism().map_or(1, usize::from);
    // Requests find connections too.
    let at_once = at_once.min(services.store.connections().most.div_ceil(2) as usize);
    let mut ends = stream::iter(groups)
        .map(|(_, group)| {
            let services = services.clone();
            tokio::spawn(async move { refresh_group(&services, group[0].workshop_id, &group).await })
        })
        .buffer_unordered(at_once);
    while let Some(end) = ends.next().await {
        match end {
            Ok(ended) => ended?,
            // A defect; the group's leases end.
            Err(error) => tracing::error!(error = with_causes(&error), "outlooks of a group broke off"),
        }
    }
    Ok(count)
}

/// Bikes of one workshop.
async fn refresh_group(
    services: &Services,
    workshop_id: WorkshopId,
    group: &[ClaimedBike],
) -> Result<(), ServiceError> {
    let mut made = Vec::with_capacity(group.len());
    let stored = match compute(services, workshop_id, group).await {
        Ok(computed) => store(services, workshop_id, computed, &mut made).await,
        Err(error) => Err(error),
    };
    if let Err(error) = stored {
        // Nothing of the group is stored; one by one, only the bike that it was has to wait. What others hold, or a store
        // that doesn't answer, is no bike's fault: the group's leases end by themselves.
        match group {
            _ if matches!(error, ServiceError::Busy(_)) => {
                tracing::debug!(%error, "outlooks of a group wait");
            }
            _ if matches!(error, ServiceError::Unavailable(_)) => return Err(error),
            [claimed] => pause(services, claimed, &error).await?,
            _ => {
                for claimed in group {
                    Box::pin(refresh_group(services, workshop_id, std::slice::from_ref(claimed))).await?;
                }
            }
        }
        return Ok(());
    }
    let now = services.now();
    for marked_at in made {
        let delay = Duration::microseconds(now.micros() - marked_at.micros()).to_std();
        metrics::outlook_made(delay.unwrap_or_default());
    }
    Ok(())
}

/// On a snapshot and on threads that give way: nobody waits for it.
async fn compute(
    services: &Services,
    workshop_id: WorkshopId,
    group: &[ClaimedBike],
) -> Result<Vec<(ClaimedBike, Computed)>, ServiceError> {
    let (mut tx, workshop, mut bikes) = read(services, workshop_id, group).await?;
    if days::are_to_settle(&workshop, &bikes) {
        drop(tx);
        days::settle_all(services, &workshop, &bikes).await?;
        (tx, _, bikes) = read(services, workshop_id, group).await?;
    }
    let loaded = load_bikes(&mut tx, &workshop, bikes, services.now()).await?;
    drop(tx);
    let computing = move || loaded.iter().map(Computed::of).collect::<Result<_, _>>();
    let computed: Vec<Computed> = services.background.compute(computing).await??;
    Ok(group.iter().cloned().zip(computed).collect())
}

/// The bikes of a group, on a snapshot.
async fn read(
    services: &Services,
    workshop_id: WorkshopId,
    group: &[ClaimedBike],
) -> Result<(Tx, Workshop, Vec<Bike>), ServiceError> {
    let mut tx = services.store.begin_read_by_key(workshop_id).await?;
    let workshop = tx.workshop().await?;
    let mut bikes = tx.bikes_by_id(&group.iter().map(|claimed| claimed.bike_id).collect::<Vec<_>>()).await?;
    let here = group.iter().map(|claimed| bikes.remove(&claimed.bike_id).ok_or(StoreError::NotFound));
    Ok((tx, workshop, here.collect::<Result<_, _>>()?))
}

/// Stores those of which the lease is still ours; `made` gets since when they waited.
async fn store(
    services: &Services,
    workshop_id: WorkshopId,
    computed: Vec<(ClaimedBike, Computed)>,
    made: &mut Vec<Timestamp>,
) -> Result<(), ServiceError> {
    let mut tx = services.store.begin_write(workshop_id).await?;
    let mut ours = Vec::with_capacity(computed.len());
    for (claimed, computed) in computed {
        // First, as it shows whether the lease is still ours and locks the bike against new events.
        if tx.finish_bike(&claimed, services.now()).await? != Finished::Lost {
            made.push(claimed.marked_at);
            ours.push(computed);
        }
    }
    outlook::save(&mut tx, &ours).await?;
    Ok(tx.commit().await?)
}

/// Lets a bike wait whose outlook was not computed or not stored.
async fn pause(services: &Services, claimed: &ClaimedBike, error: &ServiceError) -> Result<(), ServiceError> {
    tracing::error!(bike = %claimed.bike_id, attempts = claimed.attempts, error = with_causes(&error), "outlook not refreshed");
    let doubled = 1_i32 << u32::try_from(claimed.attempts.clamp(0, 10)).unwrap_or(0);
    let mut tx = services.store.begin_write(claimed.workshop_id).await?;
    tx.pause_bike(claimed, services.now().plus(FIRST_PAUSE * doubled)).await?;
    tx.commit().await?;
    Ok(())
}

/// Computes every marked outlook; how many there were.
///
/// # Errors
/// [`ServiceError::Unavailable`].
pub async fn drain(services: &Services) -> Result<usize, ServiceError> {
    let services = &services.in_background();
    let mut done = 0;
    loop {
        match Box::pin(refresh_some(services)).await? {
            0 => return Ok(done),
            some => done += some,
        }
    }
}
