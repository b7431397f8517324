//! One connection inside a transaction, on either engine, and how one text of SQL reaches both.

use sqlx::{Postgres, Sqlite, Transaction};

use super::Engine;
use super::error::StoreError;

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

/// Runs `$body` with `$conn` bound to the connection: the body is compiled once for each engine.
macro_rules! on {
    ($connection:expr, |$conn:ident| $body:expr) => {
        match &mut $connection {
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
