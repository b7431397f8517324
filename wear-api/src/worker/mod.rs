//! The loops around the worker's use cases: trivial on purpose, as tests call the use cases.

mod deliveries;
mod jobs;
mod keys;
mod outlooks;

use tokio::sync::watch;

use crate::service::Services;
use crate::webhook::Courier;

/// Works until `stop` says so; what is begun is finished.
pub async fn run(services: Services, courier: Courier, stop: watch::Receiver<bool>) {
    tokio::join!(
        outlooks::run(services.clone(), stop.clone()),
        jobs::run(services.clone(), stop.clone()),
        keys::run(services.clone(), stop.clone()),
        deliveries::run(services.clone(), courier, stop)
    );
}

/// Waits for `pause`; whether it is time to stop.
async fn stopped_within(stop: &mut watch::Receiver<bool>, pause: std::time::Duration) -> bool {
    let stopped = stop.wait_for(|stopped| *stopped);
    tokio::time::timeout(pause, stopped).await.is_ok()
}
