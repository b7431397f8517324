//! Delivers messages to hooks, many at a time: most of a delivery is waiting for its receiver.

use std::collections::BTreeMap;
use std::time::{Duration, Instant};

use tokio::sync::watch;
use tokio::task::JoinSet;

use super::{IDLE, TROUBLED, stopped_within};
use crate::domain::HookId;
use crate::metrics;
use crate::service::Services;
use crate::service::hooks::deliver::{self, ClaimedDelivery};
use crate::telemetry::with_causes;
use crate::webhook::Courier;

/// Between looking again when there was some (A).
const BUSY: Duration = Duration::from_millis(50);

/// Deliveries under way at once in one process (A).
const MOST: usize = 32;

/// Of these to one hook, so that one slow receiver doesn't hold up all others (A).
const MOST_TO_ONE: usize = 4;

/// How long a message waits when its hook has the most under way (A).
const PUT_BACK: chrono::Duration = chrono::Duration::seconds(1);

/// Between forgetting what has long been done with (A).
const PRUNE_EVERY: Duration = Duration::from_secs(3_600);

pub(super) async fn run(services: Services, courier: Courier, mut stop: watch::Receiver<bool>) {
    let mut under_way: JoinSet<Option<HookId>> = JoinSet::new();
    let mut by_hook: BTreeMap<Option<HookId>, usize> = BTreeMap::new();
    let mut pruned: Option<Instant> = None;
    loop {
        while let Some(ended) = under_way.try_join_next() {
            count_down(&mut by_hook, ended);
        }
        if pruned.is_none_or(|at| at.elapsed() > PRUNE_EVERY) {
            pruned = Some(Instant::now());
            if let Err(error) = deliver::prune(&services).await {
                tracing::error!(error = with_causes(&error), "old deliveries are not forgotten");
            }
        }
        let pause = match take(&services, &courier, &mut under_way, &mut by_hook).await {
            Ok(0) => IDLE,
            Ok(_) => BUSY,
            Err(error) => {
                tracing::error!(error = with_causes(&error), "deliveries can't be taken from the store");
                TROUBLED
            }
        };
        if stopped_within(&mut stop, pause).await {
            break;
        }
    }
    // What is under way has a time limit of its own.
    while under_way.join_next().await.is_some() {}
}

/// Takes as many messages as there is room for, and starts on them; how many there were.
async fn take(
    services: &Services,
    courier: &Courier,
    under_way: &mut JoinSet<Option<HookId>>,
    by_hook: &mut BTreeMap<Option<HookId>, usize>,
) -> Result<usize, crate::service::ServiceError> {
    let room = MOST.saturating_sub(under_way.len());
    if room == 0 {
        return Ok(0);
    }
    let claimed = deliver::claim(services, courier, room as i64).await?;
    let count = claimed.len();
    for ClaimedDelivery { job, hook_id } in claimed {
        let busy = by_hook.entry(hook_id).or_default();
        if *busy >= MOST_TO_ONE {
            deliver::put_back(services, &job, PUT_BACK).await?;
            continue;
        }
        *busy += 1;
        let (services, courier) = (services.clone(), courier.clone());
        under_way.spawn(async move {
            match deliver::deliver(&services, &courier, &job).await {
                Ok(None) => {}
                Ok(Some(report)) => {
                    metrics::hook_delivery(report.outcome);
                    tracing::info!(
                        hook = hook_id.map(tracing::field::display),
                        outcome = report.outcome.as_str(),
                        status = report.status,
                        milliseconds = report.took.as_secs_f64() * 1e3,
                        "delivery"
                    );
                }
                // The lease ends, and the message is tried again.
                Err(error) => tracing::error!(
                    hook = hook_id.map(tracing::field::display),
                    error = with_causes(&error),
                    "delivery not written down"
                ),
            }
            hook_id
        });
    }
    Ok(count)
}

fn count_down(
    by_hook: &mut BTreeMap<Option<HookId>, usize>,
    ended: Result<Option<HookId>, tokio::task::JoinError>,
) {
    match ended {
        Ok(hook_id) => {
            if let Some(busy) = by_hook.get_mut(&hook_id) {
                *busy -= 1;
                if *busy == 0 {
                    by_hook.remove(&hook_id);
                }
            }
        }
        // A panic is a defect; which hook it was is lost with it, so counting starts afresh.
        Err(error) => {
            tracing::error!(error = with_causes(&error), "a delivery broke off");
            by_hook.clear();
        }
    }
}
