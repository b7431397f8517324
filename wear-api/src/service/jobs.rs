//! Jobs: claimed, run, and tried again later when they fail.

use chrono::Duration;

use super::{ServiceError, Services, calibration, hooks, record_keeping, scoring};
use crate::domain::{Claim, ClaimedJob, JobKind};
use crate::telemetry::with_causes;

/// What one look for work takes of a kind of job.
struct Portion {
    kind: JobKind,
    /// At most so many at once.
    most: i64,
    /// After this long another worker may take over (A).
    lease: Duration,
}

const PORTIONS: [Portion; 4] = [
    Portion { kind: JobKind::ScoreForecasts, most: 32, lease: Duration::seconds(60) },
    // A large fleet takes a minute or more.
    Portion { kind: JobKind::CalibrateFleet, most: 1, lease: Duration::minutes(20) },
    // A year that was imported into one takes many.
    Portion { kind: JobKind::KeepRecord, most: 1, lease: Duration::minutes(90) },
    // Counting orders of a large fleet takes a second or so.
    Portion { kind: JobKind::TellOfFleet, most: 4, lease: Duration::minutes(5) },
];

/// A job that failed is tried again after this long, doubled each time up to an hour (A).
const FIRST_PAUSE: Duration = Duration::seconds(5);

/// Runs some of the jobs that are due; how many there were.
///
/// # Errors
/// [`ServiceError::Unavailable`] when the store can't be reached.
pub async fn run_some(services: &Services) -> Result<usize, ServiceError> {
    run_some_but(services, None).await
}

/// Runs some of the jobs that take a second or so; how many there were.
///
/// # Errors
/// [`ServiceError::Unavailable`] when the store can't be reached.
pub async fn run_short(services: &Services) -> Result<usize, ServiceError> {
    run_those(services, |portion| portion.is_short()).await
}

/// Runs one of each kind of job that takes minutes; how many there were.
///
/// # Errors
/// [`ServiceError::Unavailable`] when the store can't be reached.
pub async fn run_long(services: &Services) -> Result<usize, ServiceError> {
    run_those(services, |portion| !portion.is_short()).await
}

impl Portion {
    /// Whether a worker that does others of the kind is soon back.
    const fn is_short(&self) -> bool {
        matches!(self.kind, JobKind::ScoreForecasts | JobKind::TellOfFleet)
    }
}

async fn run_some_but(services: &Services, left: Option<JobKind>) -> Result<usize, ServiceError> {
    run_those(services, |portion| left != Some(portion.kind)).await
}

async fn run_those(services: &Services, these: impl Fn(&Portion) -> bool) -> Result<usize, ServiceError> {
    let mut done = 0;
    for Portion { kind, most, lease } in PORTIONS.into_iter().filter(these) {
        let mut claimed = {
            let mut turn = services.turns.last(kind.as_str());
            let mut tx = services.store.begin_system_write().await?;
            let claim = Claim { now: services.now(), lease, most };
            let claimed = tx.claim_jobs(kind, &claim, &mut turn).await?;
            tx.commit().await?;
            services.turns.go_on(kind.as_str(), turn);
            claimed
        };
        done += claimed.len();
        claimed.sort_by_key(|job| job.workshop_id);
        for together in claimed.chunk_by(|a, b| a.workshop_id == b.workshop_id) {
            if together.len() > 1 && run(services, together).await.is_ok() {
                continue;
            }
            // One by one, only the job that it was has to wait.
            for job in together {
                let Err(error) = run(services, std::slice::from_ref(job)).await else { continue };
                tracing::error!(job = %job.id, kind = job.kind.as_str(), attempts = job.attempts, error = with_causes(&error), "job failed");
                let doubled = 1_i32 << u32::try_from(job.attempts.clamp(1, 10) - 1).unwrap_or(0);
                let pause = (FIRST_PAUSE * doubled).min(Duration::hours(1));
                let mut tx = services.store.begin_write(job.workshop_id).await?;
                tx.pause_job(job, services.now().plus(pause), &error.to_string()).await?;
                tx.commit().await?;
            }
        }
    }
    Ok(done)
}

/// Jobs of one kind and workshop: all of them are done, or none.
async fn run(services: &Services, jobs: &[ClaimedJob]) -> Result<(), ServiceError> {
    let Some(first) = jobs.first() else { return Ok(()) };
    match first.kind {
        JobKind::ScoreForecasts => scoring::score(services, first.workshop_id, jobs).await,
        JobKind::CalibrateFleet => calibration::learn(services, first).await,
        JobKind::KeepRecord => record_keeping::keep(services, first).await,
        JobKind::TellOfFleet => {
            for job in jobs {
                hooks::fleet::tell_of_fleet(services, job).await?;
            }
            Ok(())
        }
        // Claimed elsewhere.
        JobKind::DeliverHook | JobKind::SendDigest | JobKind::PlanBench => Ok(()),
    }
}

/// Runs every job that is due; how many there were.
///
/// # Errors
/// [`ServiceError::Unavailable`].
pub async fn drain(services: &Services) -> Result<usize, ServiceError> {
    drain_but(services, None).await
}

/// The same but for the track record of what is made later, which takes longest and which nothing waits for.
///
/// # Errors
/// [`ServiceError::Unavailable`].
pub async fn drain_all_but_the_record(services: &Services) -> Result<usize, ServiceError> {
    drain_but(services, Some(JobKind::KeepRecord)).await
}

async fn drain_but(services: &Services, left: Option<JobKind>) -> Result<usize, ServiceError> {
    let services = &services.in_background();
    let mut done = 0;
    loop {
        match Box::pin(run_some_but(services, left)).await? {
            0 => return Ok(done),
            some => done += some,
        }
    }
}
