//! What can go wrong with the store.

use std::convert::Infallible;

use sqlx::error::{DatabaseError, ErrorKind};
use thiserror::Error;

use crate::domain::Invalid;

/// What can go wrong with the store.
#[derive(Debug, Error)]
#[non_exhaustive]
pub enum StoreError {
    /// The thing, or one that it refers to, isn't in this workshop.
    #[error("not found")]
    NotFound,
    /// It contradicts what is stored: a stale revision, a place that is taken, a name that is used.
    #[error("in conflict with what is stored")]
    Conflict,
    /// Another transaction came between. Nothing was changed; the same transaction may be tried again
    /// from its beginning.
    #[error("another transaction came between")]
    Interrupted,
    /// Others hold what it needs. Nothing was changed; it may be tried again later.
    #[error("{0}")]
    Busy(Busy),
    /// The cursor is another list's.
    #[error("{0}")]
    Cursor(Invalid),
    /// What is stored isn't what the types promise.
    #[error("{table}.{column} holds what it can't: {reason}")]
    Corrupt {
        /// The table.
        table: &'static str,
        /// The column.
        column: &'static str,
        /// What is wrong with it.
        reason: String,
    },
    /// The store can't be reached, is full or is too busy.
    #[error("the store is unavailable")]
    Unavailable(#[source] sqlx::Error),
    /// The store refused a statement of ours: a fault in this program.
    #[error("the store refused a statement")]
    Defect(#[source] sqlx::Error),
    /// The address leaves it to a server on another machine whether the connection is encrypted.
    #[error(
        "the connection to {host} may travel in plain: leave sslmode out for verify-full, or say verify-ca, require or \
         disable"
    )]
    MaybePlain {
        /// The server.
        host: String,
    },
    /// The tables belong to a newer program, and one of its migrations broke what this one needs.
    #[error("the tables belong to a newer version of this program, beside which it can't work")]
    NewerTables,
    /// The tables can't be brought up to date.
    #[error("the tables can't be brought up to date")]
    Migration(#[source] sqlx::migrate::MigrateError),
}

/// Who holds what a transaction waited for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
pub enum Busy {
    /// Another transaction has changed the same things and hasn't ended: an import of a table, most likely.
    #[error("something else is changing the same things, such as the import of a table; nothing was changed")]
    Locked,
    /// The workshop's own other requests hold as many connections as one workshop may.
    #[error("too many requests of this workshop are waiting for the database; nothing was changed")]
    Share,
    /// SQLite's one writer is at work for somebody else.
    #[error("a long change is being written, such as the import of a table; nothing was changed")]
    Writer {
        /// Since when.
        for_so_long: std::time::Duration,
    },
}

impl From<sqlx::Error> for StoreError {
    fn from(error: sqlx::Error) -> Self {
        match &error {
            sqlx::Error::RowNotFound => Self::NotFound,
            sqlx::Error::Database(cause) => match cause.kind() {
                ErrorKind::UniqueViolation => Self::Conflict,
                ErrorKind::ForeignKeyViolation => Self::NotFound,
                _ => match severity(cause.as_ref()) {
                    Severity::Interrupted => Self::Interrupted,
                    Severity::Locked => Self::Busy(Busy::Locked),
                    Severity::Unavailable => Self::Unavailable(error),
                    Severity::Defect => Self::Defect(error),
                },
            },
            sqlx::Error::Io(_)
            | sqlx::Error::Tls(_)
            | sqlx::Error::PoolTimedOut
            | sqlx::Error::PoolClosed
            | sqlx::Error::WorkerCrashed
            | sqlx::Error::BeginFailed => Self::Unavailable(error),
            _ => Self::Defect(error),
        }
    }
}

/// Rows that are taken as they are.
impl From<Infallible> for StoreError {
    fn from(never: Infallible) -> Self {
        match never {}
    }
}

impl From<sqlx::migrate::MigrateError> for StoreError {
    fn from(error: sqlx::migrate::MigrateError) -> Self {
        Self::Migration(error)
    }
}

impl From<Invalid> for StoreError {
    fn from(error: Invalid) -> Self {
        Self::Cursor(error)
    }
}

enum Severity {
    Interrupted,
    Locked,
    Unavailable,
    Defect,
}

/// Postgres tells by SQLSTATE (its manual, appendix A), SQLite by its result code, whose low byte is the
/// class.
fn severity(error: &dyn DatabaseError) -> Severity {
    let code = error.code().unwrap_or_default();
    if let Some(postgres) = error.try_downcast_ref::<sqlx::postgres::PgDatabaseError>() {
        return match postgres.code() {
            "40001" | "40P01" => Severity::Interrupted,
            "55P03" => Severity::Locked,
            code if ["08", "53", "57", "58"].iter().any(|class| code.starts_with(class)) => {
                Severity::Unavailable
            }
            _ => Severity::Defect,
        };
    }
    const BUSY: u32 = 5;
    const LOCKED: u32 = 6;
    const IO: u32 = 10;
    const FULL: u32 = 13;
    const CANNOT_OPEN: u32 = 14;
    match code.parse::<u32>().map(|code| code & 0xff) {
        Ok(BUSY | LOCKED | IO | FULL | CANNOT_OPEN) => Severity::Unavailable,
        _ => Severity::Defect,
    }
}

/// Turns a stored value that its type refuses into [`StoreError::Corrupt`].
pub(super) trait Sound<T> {
    fn sound(self, table: &'static str, column: &'static str) -> Result<T, StoreError>;
}

impl<T, E: std::fmt::Display> Sound<T> for Result<T, E> {
    fn sound(self, table: &'static str, column: &'static str) -> Result<T, StoreError> {
        self.map_err(|error| StoreError::Corrupt { table, column, reason: error.to_string() })
    }
}
