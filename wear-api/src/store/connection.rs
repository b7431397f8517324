//! One connection inside a transaction, on either engine, and how one text of SQL reaches both.

use sqlx::{Postgres, Sqlite, Transaction};

use std::time::Duration;

use super::Engine;
use super::error::StoreError;
use super::patience::{Silence, Turn, UNDONE_WITHIN};

pub(super) enum Connection {
    Postgres(Transaction<'static, Postgres>, Limit),
    /// With its turn as the one writer, when it writes.
    Sqlite(Transaction<'static, Sqlite>, Option<Turn>),
}

/// How long this side waits for an answer of Postgres.
#[derive(Debug, Clone)]
pub(super) struct Limit {
    pub(super) within: Duration,
    pub(super) silence: Silence,
}

impl Limit {
    /// What Postgres answers in time.
    pub(super) async fn on<T>(
        &self,
        answer: impl Future<Output = Result<T, sqlx::Error>>,
    ) -> Result<T, sqlx::Error> {
        self.silence.broken_within(self.within, answer).await
    }
}

impl Connection {
    pub(super) const fn engine(&self) -> Engine {
        match self {
            Self::Postgres(..) => Engine::Postgres,
            Self::Sqlite(..) => Engine::Sqlite,
        }
    }

    pub(super) async fn commit(self) -> Result<(), StoreError> {
        match self {
            Self::Postgres(transaction, limit) => limit.on(transaction.commit()).await?,
            Self::Sqlite(transaction, _turn) => transaction.commit().await?,
        }
        Ok(())
    }

    pub(super) async fn rollback(self) -> Result<(), StoreError> {
        match self {
            Self::Postgres(transaction, limit) => {
                limit.silence.broken_within(UNDONE_WITHIN, transaction.rollback()).await?;
            }
            Self::Sqlite(transaction, _turn) => transaction.rollback().await?,
        }
        Ok(())
    }
}

/// Runs `$body` with `$conn` bound to the connection: the body is compiled once for each engine.
macro_rules! on {
    ($connection:expr, |$conn:ident| $body:expr) => {
        match &mut $connection {
            $crate::store::connection::Connection::Postgres(transaction, limit) => {
                let $conn = &mut **transaction;
                limit.on(async { $body }).await
            }
            $crate::store::connection::Connection::Sqlite(transaction, _) => {
                let $conn = &mut **transaction;
                $body
            }
        }
    };
}

/// Runs a statement about a [`super::Tx`]'s workshop, which is its `$1`; the values follow from `$2` on.
macro_rules! execute {
    ($tx:expr, $sql:expr $(, $value:expr)* $(,)?) => {
        $crate::store::connection::on!($tx.connection, |conn| sqlx::query($sql)
            .bind($tx.workshop.uuid())
            $(.bind($value))*
            .execute(conn)
            .await
            .map(|_| ()))
    };
}

/// Asks about a [`super::Tx`]'s workshop, which is the statement's `$1`; the values follow from `$2` on.
macro_rules! ask {
    ($query:ident, $fetch:ident, $tx:expr, $sql:expr $(, $value:expr)* $(,)?) => {
        $crate::store::connection::on!($tx.connection, |conn| sqlx::$query($sql)
            .bind($tx.workshop.uuid())
            $(.bind($value))*
            .$fetch(conn)
            .await)
    };
}

/// The one row that a statement finds; its values as [`ask`] takes them.
macro_rules! row {
    ($($asked:tt)+) => { $crate::store::connection::ask!(query_as, fetch_one, $($asked)+) };
}

/// The row that a statement finds, if any.
macro_rules! row_if_any {
    ($($asked:tt)+) => { $crate::store::connection::ask!(query_as, fetch_optional, $($asked)+) };
}

/// All rows that a statement finds.
macro_rules! rows {
    ($($asked:tt)+) => { $crate::store::connection::ask!(query_as, fetch_all, $($asked)+) };
}

/// The one value that a statement finds.
macro_rules! value {
    ($($asked:tt)+) => { $crate::store::connection::ask!(query_scalar, fetch_one, $($asked)+) };
}

/// The value that a statement finds, if any.
macro_rules! value_if_any {
    ($($asked:tt)+) => { $crate::store::connection::ask!(query_scalar, fetch_optional, $($asked)+) };
}

/// Names statements as constants and lists them, so that a test can prepare each on both engines.
macro_rules! statements {
    ($($name:ident = $sql:expr;)+) => {
        $(const $name: &str = $sql;)+
        pub(super) const STATEMENTS: &[(&str, &str)] = &[$((stringify!($name), $name)),+];
    };
}

pub(super) use {ask, execute, on, row, row_if_any, rows, statements, value, value_if_any};
