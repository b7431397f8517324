//! Hooks are told of rides that were refused.

use serde_json::Value;

use crate::input::WrongField;
use crate::service::hooks::{self, RejectedRide};
use crate::service::{Actor, Services};

/// Most characters of a name that are passed on: as many as a legal one has.
const LONGEST: usize = 128;

/// How the sender of a ride named it, whether or not the names are legal.
#[derive(Debug, Default)]
pub(super) struct RideNames {
    pub(super) bike_id: Option<String>,
    pub(super) source: Option<String>,
    pub(super) source_id: Option<String>,
}

impl RideNames {
    /// Takes the names out of a ride as it was sent.
    pub(super) fn of(ride: &Value) -> Self {
        let name = |field: &str| ride.get(field).and_then(Value::as_str).map(short);
        Self { bike_id: name("bike_id"), source: name("source"), source_id: name("source_id") }
    }

    /// The ride of these names, refused.
    pub(super) fn rejected(self, index: Option<usize>, errors: Vec<WrongField>) -> RejectedRide {
        let Self { bike_id, source, source_id } = self;
        RejectedRide { index, bike_id, source, source_id, errors }
    }
}

pub(super) fn short(name: &str) -> String {
    name.chars().take(LONGEST).collect()
}

/// Writes the message into the outbox. The rides are refused all the same when that fails, and their sender is told.
pub(super) async fn tell_hooks(services: &Services, actor: &Actor, rejected: &[RejectedRide]) {
    if let Err(error) = hooks::rides_rejected(services, actor, rejected).await {
        tracing::error!(error = %error, "hooks are not told of refused rides");
    }
}
