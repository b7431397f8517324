//! Hooks are told of rides that were refused.

use serde_json::Value;

use crate::domain::BikeId;
use crate::input::WrongField;
use crate::service::hooks::{self, RejectedRide};
use crate::service::{Actor, Services};
use crate::web::problem::{Kind, Problem};

/// Most characters of a name that are passed on: as many as a legal one has.
const LONGEST: usize = 128;

/// How the sender of a ride named it, whether or not the names are legal.
#[derive(Debug, Default)]
pub(super) struct RideNames {
    bike_id: Option<String>,
    source: Option<String>,
    source_id: Option<String>,
}

impl RideNames {
    /// The names of a ride that was read.
    pub(super) fn new(bike_id: BikeId, source: Option<&str>, source_id: Option<&str>) -> Self {
        Self {
            bike_id: Some(bike_id.to_string()),
            source: source.map(short),
            source_id: source_id.map(short),
        }
    }

    /// Takes the names out of a ride as it was sent.
    pub(super) fn of(ride: &Value) -> Self {
        let name = |field: &str| ride.get(field).and_then(Value::as_str).map(short);
        Self { bike_id: name("bike_id"), source: name("source"), source_id: name("source_id") }
    }

    /// The ride of these names, refused.
    pub(super) fn refused(self, index: Option<usize>, errors: Vec<WrongField>) -> RejectedRide {
        let Self { bike_id, source, source_id } = self;
        RejectedRide { index, bike_id, source, source_id, errors }
    }
}

fn short(name: &str) -> String {
    name.chars().take(LONGEST).collect()
}

/// Whether hooks are told: a field is wrong, or there is no such bike. What isn't JSON at all is no ride, and what the
/// store can't take now is sent again.
pub(super) fn is_refusal(problem: &Problem) -> bool {
    matches!(problem.kind(), Kind::InvalidBody | Kind::NotFound)
}

/// Writes the message into the outbox. The rides are refused all the same when that fails, and their sender is told.
pub(super) async fn tell_hooks(services: &Services, actor: &Actor, rejected: &[RejectedRide]) {
    let told =
        services.change(actor, async |work| hooks::rides_rejected(services, work, rejected).await).await;
    if let Err(error) = told {
        tracing::error!(error = %error, "hooks are not told of refused rides");
    }
}
