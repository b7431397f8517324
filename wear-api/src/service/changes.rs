//! What was changed, for apps that keep a copy.

use std::collections::BTreeSet;

use chrono::Duration;

use super::{Actor, ServiceError, Services};
use crate::domain::{BikeId, Changed, FeedPage, FeedPlace, FeedSize, Role, Since, Timestamp, WorkshopId};
use crate::store::{StoreError, Tx};

/// How long changes are kept (A: a season without following them is a copy to be made anew).
pub const KEPT_FOR: Duration = Duration::days(90);

/// Changes after a place, in the order in which they were committed.
///
/// # Errors
/// [`ServiceError::Forgotten`] where some of them are kept no longer, [`ServiceError::Interrupted`].
pub async fn follow(
    services: &Services,
    actor: &Actor,
    since: Since,
    size: FeedSize,
) -> Result<FeedPage, ServiceError> {
    let after = match since {
        Since::Place(place) => place,
        Since::Beginning | Since::Now => FeedPlace::default(),
    };
    let (is_app, is_bound) = (actor.role == Role::App, actor.reach.is_bound());
    let is_wanted = |changed: &Changed| {
        (!is_app || changed.kind.is_for_apps()) && (!is_bound || changed.bike_id.is_some())
    };
    if since != Since::Now {
        let mut tx = services.store.begin_read(actor).await?;
        let purged = tx.purged_changes().await?;
        if matches!(since, Since::Place(_)) && after.number < purged.number {
            return Err(ServiceError::Forgotten);
        }
        let page = tx.changes(after, size.get(), is_wanted).await?;
        let page = within_reach(&mut tx, page, is_bound).await?;
        // Whoever is behind gets on without waiting for anybody.
        if page.more {
            return Ok(page);
        }
    }
    let mut tx = services.store.begin_write(actor).await?;
    while tx.number_changes().await? {}
    let page = match since {
        Since::Now => FeedPage { items: Vec::new(), next: tx.end_of_changes().await?, more: false },
        Since::Beginning | Since::Place(_) => {
            let page = tx.changes(after, size.get(), is_wanted).await?;
            within_reach(&mut tx, page, is_bound).await?
        }
    };
    tx.commit().await?;
    Ok(page)
}

/// The page without what is on bikes beyond the transaction's reach.
async fn within_reach(tx: &mut Tx, mut page: FeedPage, is_bound: bool) -> Result<FeedPage, StoreError> {
    if is_bound {
        let bikes: BTreeSet<BikeId> = page.items.iter().filter_map(|changed| changed.bike_id).collect();
        let seen = tx.bikes_by_id(&bikes.into_iter().collect::<Vec<_>>()).await?;
        page.items.retain(|changed| changed.bike_id.is_some_and(|bike| seen.contains_key(&bike)));
    }
    Ok(page)
}

/// Forgets what was changed long ago.
///
/// # Errors
/// [`ServiceError::Unavailable`], [`ServiceError::Interrupted`].
pub(super) async fn purge(
    services: &Services,
    workshop_id: WorkshopId,
    now: Timestamp,
) -> Result<(), ServiceError> {
    let mut tx = services.store.begin_write(workshop_id).await?;
    while tx.number_changes().await? {}
    tx.purge_changes(now.plus(-KEPT_FOR)).await?;
    tx.commit().await?;
    Ok(())
}
