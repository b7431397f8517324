//! Delivers messages to hooks, many at a time: most of a delivery is waiting for its receiver.

use std::collections::BTreeMap;
use std::time::{Duration, Instant};

use tokio::sync::watch;
use tokio::task::JoinSet;

use super::{IDLE, TROUBLED, stopped_within};
use crate::domain::{HookId, WorkshopId};
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

/// Of these of one workshop, so that many slow receivers of one don't hold up the others' (A).
const MOST_OF_ONE: usize = MOST / 2;

/// How long a message waits when its hook or workshop has the most under way (A).
const PUT_BACK: chrono::Duration = chrono::Duration::seconds(1);

/// Between forgetting what has long been done with (A).
const PRUNE_EVERY: Duration = Duration::from_secs(3_600);

pub(super) async fn run(services: Services, courier: Courier, mut stop: watch::Receiver<bool>) {
    let mut under_way: JoinSet<Party> = JoinSet::new();
    let mut busy = Busy::default();
    let mut pruned: Option<Instant> = None;
    loop {
        while let Some(ended) = under_way.try_join_next() {
            busy.count_down(ended);
        }
        if pruned.is_none_or(|at| at.elapsed() > PRUNE_EVERY) {
            pruned = Some(Instant::now());
            if let Err(error) = deliver::prune(&services).await {
                tracing::error!(error = with_causes(&error), "old deliveries are not forgotten");
            }
        }
        let pause = match take(&services, &courier, &mut under_way, &mut busy).await {
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
    under_way: &mut JoinSet<Party>,
    busy: &mut Busy,
) -> Result<usize, crate::service::ServiceError> {
    let room = MOST.saturating_sub(under_way.len());
    if room == 0 {
        return Ok(0);
    }
    let claimed = deliver::claim(services, courier, room as i64).await?;
    let count = claimed.len();
    for ClaimedDelivery { job, hook_id } in claimed {
        let party = Party { workshop_id: job.workshop_id, hook_id };
        if !busy.count_up(party) {
            deliver::put_back(services, &job, PUT_BACK).await?;
            continue;
        }
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
            party
        });
    }
    Ok(count)
}

/// Whose delivery it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Party {
    workshop_id: WorkshopId,
    hook_id: Option<HookId>,
}

/// How many deliveries are under way.
#[derive(Debug, Default)]
struct Busy {
    hooks: BTreeMap<Option<HookId>, usize>,
    workshops: BTreeMap<WorkshopId, usize>,
}

impl Busy {
    /// Counts another one, where there is room for it.
    fn count_up(&mut self, party: Party) -> bool {
        let of_hook = self.hooks.get(&party.hook_id).copied().unwrap_or(0);
        let of_workshop = self.workshops.get(&party.workshop_id).copied().unwrap_or(0);
        let room = of_hook < MOST_TO_ONE && of_workshop < MOST_OF_ONE;
        if room {
            self.hooks.insert(party.hook_id, of_hook + 1);
            self.workshops.insert(party.workshop_id, of_workshop + 1);
        }
        room
    }

    fn count_down(&mut self, ended: Result<Party, tokio::task::JoinError>) {
        match ended {
            Ok(Party { workshop_id, hook_id }) => {
                down(&mut self.hooks, hook_id);
                down(&mut self.workshops, workshop_id);
            }
            // A panic is a defect; whose delivery it was is lost with it, so counting starts afresh.
            Err(error) => {
                tracing::error!(error = with_causes(&error), "a delivery broke off");
                *self = Self::default();
            }
        }
    }
}

fn down<K: Ord>(counts: &mut BTreeMap<K, usize>, of: K) {
    if let Some(count) = counts.get_mut(&of) {
        *count -= 1;
        if *count == 0 {
            counts.remove(&of);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn slow_receivers_of_one_workshop_leave_room_for_anothers() {
        let (one, other) = (WorkshopId::generate(), WorkshopId::generate());
        let mut busy = Busy::default();
        let taken = (0..12).flat_map(|_| {
            let hook_id = Some(HookId::generate());
            std::iter::repeat_n(Party { workshop_id: one, hook_id }, 2 * MOST_TO_ONE)
        });
        let taken: Vec<Party> = taken.filter(|party| busy.count_up(*party)).collect();
        assert_eq!(taken.len(), MOST_OF_ONE);
        assert!(busy.count_up(Party { workshop_id: other, hook_id: Some(HookId::generate()) }));
        busy.count_down(Ok(taken[0]));
        assert!(busy.count_up(Party { workshop_id: one, hook_id: Some(HookId::generate()) }));
    }
}
