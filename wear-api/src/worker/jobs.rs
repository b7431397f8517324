//! Runs the jobs of the fleet, in a loop of their own: people wait for outlooks, and a calibration takes long.

use std::time::Duration;

use tokio::sync::watch;

use super::stopped_within;
use crate::service::{Services, jobs};

/// Between looking for work when there was none.
const IDLE: Duration = Duration::from_millis(400);

/// After the store could not be reached.
const TROUBLED: Duration = Duration::from_secs(3);

pub(super) async fn run(services: Services, mut stop: watch::Receiver<bool>) {
    loop {
        let pause = match jobs::run_some(&services).await {
            Ok(0) => IDLE,
            Ok(_) => Duration::ZERO,
            Err(error) => {
                tracing::error!(error = %error, "the jobs could not reach the store");
                TROUBLED
            }
        };
        if stopped_within(&mut stop, pause).await {
            return;
        }
    }
}
