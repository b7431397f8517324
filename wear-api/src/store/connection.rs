//! One connection inside a transaction, on either engine, and how one text of SQL reaches both.

use sqlx::{Postgres, Sqlite, Transaction};

use super::Engine;
use super::error::StoreError;
use super::request::Home;

pub(super) enum Connection {
    Postgres(Transaction<'static, Postgres>),
    Sqlite(Transaction<'static, Sqlite>),
}

impl Connection {
    pub(super) const fn engine(&self) -> Engine {
        match self {
            Self::Postgres(_) => Engine::Postgres,
            Self::Sqlite(_) => Engine::Sqlite,
        }
    }

    pub(super) async fn commit(self) -> Result<(), StoreError> {
        match self {
            Self::Postgres(transaction) => transaction.commit().await?,
            Self::Sqlite(transaction) => transaction.commit().await?,
        }
        Ok(())
    }

    pub(super) async fn rollback(self) -> Result<(), StoreError> {
        match self {
            Self::Postgres(transaction) => transaction.rollback().await?,
            Self::Sqlite(transaction) => transaction.rollback().await?,
        }
        Ok(())
    }
}

/// A connection on loan to a [`super::Tx`]. Where it belongs to a request it goes home at the end, so that the
/// request's answer is committed with its work; elsewhere the end is the end.
pub(super) struct Lease {
    connection: Option<Connection>,
    home: Option<Home>,
}

impl Lease {
    pub(super) fn new(connection: Connection, home: Option<Home>) -> Self {
        Self { connection: Some(connection), home }
    }

    pub(super) fn held(&mut self) -> &mut Connection {
        self.connection.as_mut().unwrap_or_else(|| unreachable!("a lease holds its connection until it ends"))
    }

    /// Makes the work last, or hands it to the request that will.
    pub(super) async fn commit(mut self) -> Result<(), StoreError> {
        let Some(connection) = self.connection.take() else { return Ok(()) };
        match self.home.take() {
            Some(home) => home.take_back(connection).await,
            None => connection.commit().await,
        }
    }
}

impl Drop for Lease {
    fn drop(&mut self) {
        if let (Some(connection), Some(home)) = (self.connection.take(), self.home.take()) {
            home.dropped(connection);
        }
    }
}

/// Runs `$body` with `$conn` bound to the connection: the body is compiled once for each engine.
macro_rules! on {
    ($connection:expr, |$conn:ident| $body:expr) => {
        match $connection.held() {
            $crate::store::connection::Connection::Postgres(transaction) => {
                let $conn = &mut **transaction;
                $body
            }
            $crate::store::connection::Connection::Sqlite(transaction) => {
                let $conn = &mut **transaction;
                $body
            }
        }
    };
}

/// Names statements as constants and lists them, so that a test can prepare each on both engines.
macro_rules! statements {
    ($($name:ident = $sql:literal;)+) => {
        $(const $name: &str = $sql;)+
        pub(super) const STATEMENTS: &[(&str, &str)] = &[$((stringify!($name), $name)),+];
    };
}

pub(super) use {on, statements};
