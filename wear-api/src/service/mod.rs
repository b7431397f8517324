//! Use cases: open a transaction, load, compute with the core, save, commit.

mod actor;
mod error;

pub mod bikes;
pub mod care;
pub mod fittings;
pub mod health;
pub mod outlook;
pub mod part_models;
mod parts_of_bike;
pub mod readings;
pub mod rides;
pub mod swaps;
pub mod tokens;
pub mod worker;
pub mod workshops;

pub use actor::{Actor, Services};
pub use error::ServiceError;

use crate::domain::{AuditEntry, AuditId, Timestamp};
use crate::store::{StoreError, Tx};

/// Writes down who did what, in the same transaction.
async fn record(
    tx: &mut Tx,
    actor: &Actor,
    at: Timestamp,
    action: &'static str,
    subject: String,
) -> Result<(), StoreError> {
    tx.append_audit(&AuditEntry {
        id: AuditId::generate(),
        at,
        token_id: actor.token_id,
        action: action.to_owned(),
        subject,
        detail: serde_json::Value::Null,
    })
    .await
}
