//! Computes outlooks of bikes on which something happened.

use std::time::Duration;

use tokio::sync::watch;

use super::stopped_within;
use crate::service::{Services, worker};

/// Between looking for work when there was none.
const IDLE: Duration = Duration::from_millis(400);

/// After the store could not be reached.
const TROUBLED: Duration = Duration::from_secs(3);

pub(super) async fn run(services: Services, mut stop: watch::Receiver<bool>) {
    loop {
        let pause = match worker::refresh_some(&services).await {
            Ok(0) => IDLE,
            Ok(_) => Duration::ZERO,
            Err(error) => {
                tracing::error!(error = %error, "the worker could not reach the store");
                TROUBLED
            }
        };
        if stopped_within(&mut stop, pause).await {
            return;
        }
    }
}
