//! The loops around the worker's use cases: trivial on purpose, as tests call the use cases.

mod clock_steps;
mod deliveries;
mod keys;

use std::time::Duration;

use tokio::sync::watch;

use crate::mail::Mailer;
use crate::service::digests::send;
use crate::service::{ServiceError, Services, jobs, worker};
use crate::telemetry::with_causes;
use crate::webhook::Courier;

/// Between looking for work when there was none (A).
const IDLE: Duration = Duration::from_millis(400);

/// After the store could not be reached (A).
const TROUBLED: Duration = Duration::from_secs(3);

/// Works until `stop` says so; what is begun is finished.
pub async fn run(services: Services, courier: Courier, mailer: Option<Mailer>, stop: watch::Receiver<bool>) {
    let digests = async {
        // Without a mail server they wait.
        if let Some(mailer) = &mailer {
            poll("digests", stop.clone(), || send::send_some(&services, mailer)).await;
        }
    };
    tokio::join!(
        // In loops of their own: people wait for outlooks, scores don't wait for a calibration, which takes long.
        poll("outlooks", stop.clone(), || worker::refresh_some(&services)),
        poll("short jobs", stop.clone(), || jobs::run_short(&services)),
        poll("long jobs", stop.clone(), || jobs::run_long(&services)),
        digests,
        clock_steps::run(services.clone(), stop.clone()),
        keys::run(services.clone(), stop.clone()),
        deliveries::run(services.clone(), courier, stop.clone())
    );
}

/// Does rounds of work, with a rest after one that found none, until it is time to stop.
async fn poll<Round: Future<Output = Result<usize, ServiceError>>>(
    what: &'static str,
    mut stop: watch::Receiver<bool>,
    round: impl Fn() -> Round,
) {
    loop {
        let pause = match round().await {
            Ok(0) => IDLE,
            Ok(_) => Duration::ZERO,
            Err(error) => {
                tracing::error!(what, error = with_causes(&error), "the worker could not reach the store");
                TROUBLED
            }
        };
        if stopped_within(&mut stop, pause).await {
            return;
        }
    }
}

/// Waits for `pause`; whether it is time to stop.
async fn stopped_within(stop: &mut watch::Receiver<bool>, pause: Duration) -> bool {
    let stopped = stop.wait_for(|stopped| *stopped);
    tokio::time::timeout(pause, stopped).await.is_ok()
}
