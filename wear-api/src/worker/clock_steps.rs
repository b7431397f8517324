//! Looks for what a clock that was ahead has put off.

use std::time::Duration;

use tokio::sync::watch;

use super::stopped_within;
use crate::service::{Services, clock_steps};
use crate::telemetry::with_causes;

/// Between looks (A).
const LOOK: Duration = Duration::from_secs(60);

pub(super) async fn run(services: Services, mut stop: watch::Receiver<bool>) {
    loop {
        if let Err(error) = clock_steps::put_right(&services).await {
            tracing::error!(error = with_causes(&error), "what a clock put off stays so for now");
        }
        if stopped_within(&mut stop, LOOK).await {
            return;
        }
    }
}
