//! Use cases. One that looks opens a transaction, loads, and computes with the core. One that changes something takes
//! the caller's [`UnitOfWork`], loads, computes and saves in its transaction, and leaves it to the caller to commit.

mod actor;
mod background;
mod change;
mod conflict;
mod error;

pub mod audit;
pub mod authorizations;
pub mod bench_days;
pub mod bench_plan;
pub mod bike_kinds;
pub mod bikes;
pub mod bookings;
pub mod calendar;
pub mod calibration;
pub mod care;
mod cassettes_learned;
pub mod changes;
pub mod clock_steps;
pub mod coming_year;
mod days;
pub mod declared_use;
pub mod deliveries;
pub mod digests;
pub mod erasing;
pub mod exports;
pub mod external_ids;
mod fit_check;
pub mod fittings;
pub mod health;
mod heavy;
pub mod history;
pub mod hooks;
pub mod idempotency;
pub mod imports;
pub mod jobs;
pub mod known_tokens;
pub mod known_words;
pub mod learned;
pub mod links;
pub mod lubricants;
mod memory;
pub mod odometer;
pub mod orders;
pub mod outlook;
pub mod part_models;
pub mod parties;
pub mod parts;
mod parts_of_bike;
mod places;
pub mod policy;
mod prices;
pub mod procedure;
pub mod readings;
mod record_keeping;
pub mod ride_batches;
pub mod ride_files;
pub mod rides;
pub mod scoring;
pub mod sessions;
pub mod sign_ins;
mod starts;
pub mod stock;
pub mod swap_choices;
pub mod swap_voiding;
pub mod swaps;
pub mod symptoms;
pub mod tokens;
pub mod tools;
pub mod track_record;
mod turns;
mod unit_of_work;
mod usual_years;
pub mod worker;
pub mod workshops;

pub use crate::store::Busy;
pub use actor::{Actor, Services};
pub use background::Background;
pub use conflict::Conflict;
pub use error::ServiceError;
pub use fit_check::Mismatch;
pub use heavy::Heavy;
pub use memory::{Admitted, DEFAULT_MIB as DEFAULT_MEMORY_MIB, Memory};
pub use turns::Turns;
pub use unit_of_work::{Kept, UnitOfWork};

use std::collections::HashMap;
use std::hash::Hash;

use change::{BikeChange, WorkshopChange};

use crate::domain::{AuditEntry, AuditId, Bike, BikeId, Timestamp, Workshop};
use crate::store::{StoreError, Tx};

/// Items by a key, those of one key in their order.
fn by<K: Hash + Eq, T>(items: Vec<T>, key: impl Fn(&T) -> K) -> HashMap<K, Vec<T>> {
    let mut sorted: HashMap<K, Vec<T>> = HashMap::new();
    for item in items {
        sorted.entry(key(&item)).or_default().push(item);
    }
    sorted
}

/// Writes down who did what, in the same transaction.
async fn record(
    tx: &mut Tx,
    actor: &Actor,
    at: Timestamp,
    action: &'static str,
    subject: String,
) -> Result<(), StoreError> {
    record_with(tx, actor, at, action, subject, serde_json::Value::Null).await
}

/// The same, with more to say of it.
async fn record_with(
    tx: &mut Tx,
    actor: &Actor,
    at: Timestamp,
    action: &'static str,
    subject: String,
    detail: serde_json::Value,
) -> Result<(), StoreError> {
    tx.append_audit(&AuditEntry {
        id: AuditId::generate(),
        at,
        token_id: actor.token_id,
        action: action.to_owned(),
        subject,
        detail,
    })
    .await
}

/// Reads what belongs to a bike of the workshop, once it is known that there is such a bike.
async fn read_of_bike<T>(
    services: &Services,
    actor: &Actor,
    bike_id: BikeId,
    read: impl AsyncFnOnce(&mut Tx) -> Result<T, StoreError>,
) -> Result<T, ServiceError> {
    let mut tx = services.store.begin_read(actor).await?;
    tx.bike(bike_id).await.map_err(ServiceError::or_not_found("bike"))?;
    Ok(read(&mut tx).await?)
}

/// Locks a bike that is to be changed. Its mark is the lock: taken first, it orders this change against others.
async fn lock_bike(tx: &mut Tx, bike_id: BikeId, now: Timestamp) -> Result<(Workshop, Bike), ServiceError> {
    tx.mark_bikes(&[bike_id], now).await.map_err(ServiceError::or_not_found("bike"))?;
    let workshop = tx.workshop().await?;
    let bike = tx.bike(bike_id).await.map_err(ServiceError::or_not_found("bike"))?;
    Ok((workshop, bike))
}
