//! Deletes the keys of requests that no longer count.

use std::time::Duration;

use tokio::sync::watch;

use super::stopped_within;
use crate::service::{Services, idempotency};

/// Between sweeps of what is kept for a day.
const SWEEP: Duration = Duration::from_secs(3_600);

pub(super) async fn run(services: Services, mut stop: watch::Receiver<bool>) {
    loop {
        match idempotency::sweep(&services).await {
            Ok(keys) => tracing::debug!(keys, "old idempotency keys deleted"),
            Err(error) => tracing::error!(error = %error, "old idempotency keys not deleted"),
        }
        if stopped_within(&mut stop, SWEEP).await {
            return;
        }
    }
}
