//! Hooks: kept by managers, told in the transaction of what they are told of, delivered by the worker.

pub mod deliver;
pub(super) mod fleet;
mod manage;
mod tell;

pub use manage::{
    HookChange, MOST_HOOKS, change, create, delete, deliveries, delivery, get, list, redeliver, rotate,
    send_test,
};
pub use tell::{RejectedRide, rides_rejected};
pub(super) use tell::{bike_left, bike_returned, outlooks_stored};

use crate::domain::MessageId;

/// The id of a message as its receiver sees it.
#[must_use]
pub fn webhook_id(id: MessageId) -> String {
    format!("msg_{}", id.uuid().simple())
}
