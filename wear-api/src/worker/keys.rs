//! Deletes the keys of requests that no longer count, sessions and codes that are over, and lets the store put itself in order.

use std::time::Duration;

use tokio::sync::watch;

use super::stopped_within;
use crate::service::{Services, erasing, health, idempotency};
use crate::telemetry::with_causes;

/// Between sweeps of what is kept for a day.
const SWEEP: Duration = Duration::from_secs(3_600);

pub(super) async fn run(services: Services, mut stop: watch::Receiver<bool>) {
    loop {
        match idempotency::sweep(&services).await {
            Ok(keys) => tracing::debug!(keys, "old idempotency keys deleted"),
            Err(error) => tracing::error!(error = with_causes(&error), "old idempotency keys not deleted"),
        }
        if let Err(error) = erasing::expired(&services).await {
            tracing::error!(error = with_causes(&error), "sessions and codes that are over stay for now");
        }
        if let Err(error) = health::tidy(&services).await {
            tracing::error!(error = with_causes(&error), "the store is not put in order");
        }
        if stopped_within(&mut stop, SWEEP).await {
            return;
        }
    }
}
