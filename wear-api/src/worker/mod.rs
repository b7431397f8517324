//! The loop around the worker's use cases: trivial on purpose, as tests call the use cases.

use std::time::{Duration, Instant};

use tokio::sync::watch;

use crate::service::{ServiceError, Services, idempotency, jobs, worker};

/// Between looking for work when there was none.
const IDLE: Duration = Duration::from_millis(400);

/// After the store could not be reached.
const TROUBLED: Duration = Duration::from_secs(3);

/// Between sweeps of what is kept for a time only.
const SWEEP: Duration = Duration::from_secs(3_600);

/// Outlooks first: people wait for them.
async fn some(services: &Services) -> Result<usize, ServiceError> {
    match worker::refresh_some(services).await? {
        0 => jobs::run_some(services).await,
        done => Ok(done),
    }
}

/// Computes outlooks and runs jobs until `stop` says so; what is begun is finished.
pub async fn run(services: Services, mut stop: watch::Receiver<bool>) {
    let mut swept: Option<Instant> = None;
    loop {
        if swept.is_none_or(|swept| swept.elapsed() >= SWEEP) {
            swept = Some(Instant::now());
            match idempotency::sweep(&services).await {
                Ok(keys) => tracing::debug!(keys, "old idempotency keys deleted"),
                Err(error) => tracing::error!(error = %error, "old idempotency keys not deleted"),
            }
        }
        let pause = match some(&services).await {
            Ok(0) => IDLE,
            Ok(_) => Duration::ZERO,
            Err(error) => {
                tracing::error!(error = %error, "the worker could not reach the store");
                TROUBLED
            }
        };
        let stopped = stop.wait_for(|stopped| *stopped);
        if tokio::time::timeout(pause, stopped).await.is_ok() {
            return;
        }
    }
}
