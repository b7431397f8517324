//! What a clock that was ahead leaves behind when it comes back: work that isn't due for as long as it was ahead.

use chrono::Duration;

use super::{ServiceError, Services, digests};
use crate::domain::{JobKind, Timestamp};

/// Clocks of processes that share a store may differ by so much (A).
const DIFFER: Duration = Duration::minutes(1);

/// A bike waits for its next attempt no longer than this: pauses end at 34 minutes.
const LONGEST_MARK: Duration = Duration::hours(1);

/// How far ahead a job of a kind is ever due, pauses and leases included.
const fn furthest(kind: JobKind) -> Duration {
    match kind {
        // The next night, on a day of 25 hours.
        JobKind::CalibrateFleet => Duration::hours(26),
        // The longest that a receiver may ask us to wait.
        JobKind::DeliverHook => Duration::hours(25),
        JobKind::ScoreForecasts | JobKind::KeepRecord | JobKind::TellOfFleet | JobKind::PlanBench => {
            Duration::hours(2)
        }
        // The next week. Each belongs to a plan, and is planned anew.
        JobKind::SendDigest => Duration::hours(8 * 24 + 2),
    }
}

/// What was put right.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct PutRight {
    /// Bikes that are due now.
    pub marks: u64,
    /// Jobs that are due now.
    pub jobs: u64,
    /// Digests that have a new plan.
    pub digests: usize,
}

/// Makes due what lies further ahead than anything is ever put off: it was written by a clock that was ahead.
///
/// # Errors
/// [`ServiceError::Unavailable`], [`ServiceError::Interrupted`].
pub async fn put_right(services: &Services) -> Result<PutRight, ServiceError> {
    let now = services.now();
    let mut right = PutRight::default();
    let mut tx = services.store.begin_system_write().await?;
    right.marks = tx.pull_marks(now, now.plus(DIFFER), now.plus(LONGEST_MARK)).await?;
    for kind in JobKind::ALL.iter().copied().filter(|kind| *kind != JobKind::SendDigest) {
        right.jobs += tx.pull_jobs(kind, now, now.plus(furthest(kind))).await?;
    }
    let far = tx.digests_after(now.plus(furthest(JobKind::SendDigest))).await?;
    tx.commit().await?;
    for (workshop_id, digest_id) in far {
        right.digests += usize::from(digests::plan_anew(services, workshop_id, digest_id).await?);
    }
    if right != PutRight::default() {
        let PutRight { marks, jobs, digests } = right;
        tracing::warn!(marks, jobs, digests, "the clock was ahead: what it put off is due now");
    }
    Ok(right)
}

/// Until when something that this process writes down now is credible: anything later is a clock's that was ahead.
#[must_use]
pub(super) fn credible(now: Timestamp) -> Timestamp {
    now.plus(DIFFER)
}
