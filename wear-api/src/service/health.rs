//! Whether the service can do its work.

use super::{ServiceError, Services};
use crate::domain::Backlog;
use crate::store::{Connections, Standing};

/// Whether the service can answer, and what keeps it from that.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Readiness {
    /// It can.
    Ready,
    /// The tables have to be brought up to date.
    TablesBehind,
    /// The tables belong to a newer program, beside which this one can't work.
    TablesAhead,
    /// The store can be read alone.
    ReadOnly,
}

/// Whether the store answers, its tables are ones that this program can work with, and it takes changes.
///
/// # Errors
/// [`ServiceError::Unavailable`] when the store doesn't answer.
pub async fn readiness(services: &Services) -> Result<Readiness, ServiceError> {
    Ok(match services.store.standing().await? {
        Standing::Behind => Readiness::TablesBehind,
        Standing::Ahead => Readiness::TablesAhead,
        Standing::Fit if services.store.takes_changes().await? => Readiness::Ready,
        Standing::Fit => Readiness::ReadOnly,
    })
}

/// Lets the store put itself in order, where it doesn't by itself.
///
/// # Errors
/// [`ServiceError::Unavailable`].
pub async fn tidy(services: &Services) -> Result<(), ServiceError> {
    Ok(services.store.tidy().await?)
}

/// What waits for the worker, over all workshops.
///
/// # Errors
/// [`ServiceError::Unavailable`].
pub async fn backlog(services: &Services) -> Result<Backlog, ServiceError> {
    let mut tx = services.store.begin_system_read().await?;
    Ok(tx.backlog(services.now()).await?)
}

/// How many connections to the store this process holds.
#[must_use]
pub fn connections(services: &Services) -> Connections {
    services.store.connections()
}
