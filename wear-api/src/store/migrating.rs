//! Tables brought up to date, and which programs can work with them.
//!
//! A migration adds, unless the name of its file says that it `breaks` the version before. So a program works with tables
//! that are newer than it, as long as none of the migrations that it doesn't know breaks anything.

use std::sync::LazyLock;

use sqlx::migrate::Migrator;
use sqlx::{PgConnection, SqliteConnection, SqlitePool};

use super::{BEGIN_WRITE, BEGIN_WRITE_SQLITE, Pools, READY_WITHIN, Store, StoreError};

/// The lock is ours ([`lock_number`]): the library's lasts as long as a connection, which a pooler keeps for others.
static POSTGRES: LazyLock<Migrator> =
    LazyLock::new(|| beside_newer(sqlx::migrate!("../migrations/postgres")));
static SQLITE: LazyLock<Migrator> = LazyLock::new(|| beside_newer(sqlx::migrate!("../migrations/sqlite")));

fn beside_newer(mut migrator: Migrator) -> Migrator {
    migrator.set_locking(false).set_ignore_missing(true);
    migrator
}

/// How many migrations up to version `$1` were applied, and how many of those beyond it break what was before.
pub(super) const VERSION: &str = "
    select cast(count(case when version <= $1 then 1 end) as bigint),
        cast(count(case when version > $1 and description like 'breaks%' then 1 end) as bigint)
    from _sqlx_migrations where success";

/// Of the database; nothing may cut the wait short.
pub(super) const LOCK: &str = "select pg_advisory_xact_lock($1), set_config('lock_timeout', '0', true),
    set_config('statement_timeout', '0', true)";
pub(super) const DATABASE: &str = "select current_database()::text";
pub(super) const HAS_TABLES: &str = "select to_regclass('_sqlx_migrations') is not null";
pub(super) const HAS_TABLES_SQLITE: &str =
    "select exists (select 1 from sqlite_schema where type = 'table' and name = '_sqlx_migrations')";

pub(super) const IS_READ_ONLY: &str = "select current_setting('transaction_read_only') = 'on'";

/// SQLite's code for a database that can't be written, in the low byte (its manual, "Result and Error Codes").
const READ_ONLY: u32 = 8;

/// How tables stand to this program.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Standing {
    /// It can work with them.
    Fit,
    /// They have to be brought up to date first.
    Behind,
    /// They belong to a program that this one can't work beside.
    Ahead,
}

impl Standing {
    fn of((applied, breaking): (i64, i64), migrator: &Migrator) -> Self {
        let known = i64::try_from(migrator.iter().count()).unwrap_or(i64::MAX);
        if breaking > 0 {
            Self::Ahead
        } else if applied >= known {
            Self::Fit
        } else {
            Self::Behind
        }
    }
}

fn newest(migrator: &Migrator) -> i64 {
    migrator.iter().map(|migration| migration.version).max().unwrap_or_default()
}

impl Store {
    /// Brings the tables up to date, in one transaction that holds a lock: of several processes one does it and the
    /// others wait. Nothing happens to tables that are newer than this program.
    ///
    /// # Errors
    /// [`StoreError::Migration`], [`StoreError::Unavailable`]; [`StoreError::NewerTables`] when this program can't work
    /// with them.
    pub async fn migrate(&self) -> Result<(), StoreError> {
        match &self.pools {
            Pools::Postgres { pool, .. } => {
                let mut transaction = pool.begin_with(BEGIN_WRITE).await?;
                let database: String = sqlx::query_scalar(DATABASE).fetch_one(&mut *transaction).await?;
                sqlx::query(LOCK).bind(lock_number(&database)).execute(&mut *transaction).await?;
                fit_postgres(&mut transaction).await?;
                POSTGRES.run(&mut *transaction).await?;
                transaction.commit().await?;
            }
            Pools::Sqlite { writer, .. } => {
                let mut transaction = writer.begin_with(BEGIN_WRITE_SQLITE).await?;
                fit_sqlite(&mut transaction).await?;
                SQLITE.run(&mut *transaction).await?;
                transaction.commit().await?;
            }
        }
        Ok(())
    }

    /// How the tables stand to this program; one of the version before works with those of this one.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`]; [`StoreError::Defect`] when there are no tables at all.
    pub async fn standing(&self) -> Result<Standing, StoreError> {
        Ok(match &self.pools {
            Pools::Postgres { health, silence, .. } => {
                let asked = sqlx::query_as(VERSION).bind(newest(&POSTGRES)).fetch_one(health);
                Standing::of(silence.broken_within(READY_WITHIN, asked).await?, &POSTGRES)
            }
            Pools::Sqlite { health, .. } => {
                Standing::of(sqlx::query_as(VERSION).bind(newest(&SQLITE)).fetch_one(health).await?, &SQLITE)
            }
        })
    }

    /// Whether the store answers, its tables are ones that this program can work with, and it takes changes.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`]; [`StoreError::Defect`] when there are no tables at all.
    pub async fn is_ready(&self) -> Result<bool, StoreError> {
        Ok(self.standing().await? == Standing::Fit && self.takes_changes().await?)
    }

    /// Whether it can be written at present.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn takes_changes(&self) -> Result<bool, StoreError> {
        match &self.pools {
            Pools::Postgres { health, silence, .. } => {
                let asked = sqlx::query_scalar(IS_READ_ONLY).fetch_one(health);
                let is_read_only: bool = silence.broken_within(READY_WITHIN, asked).await?;
                Ok(!is_read_only)
            }
            Pools::Sqlite { writer, .. } => takes_changes(writer).await,
        }
    }
}

/// Begins a change and undoes it. Who is busy writing takes changes: nobody waits for that.
async fn takes_changes(writer: &SqlitePool) -> Result<bool, StoreError> {
    let Some(mut connection) = writer.try_acquire() else { return Ok(true) };
    let mut tried = Ok(());
    for statement in [IMPATIENT, BEGIN_WRITE_SQLITE, TOUCH] {
        tried = tried.and(sqlx::query(statement).execute(&mut *connection).await.map(|_| ()));
        if tried.is_err() {
            break;
        }
    }
    for statement in [ROLLBACK, PATIENT] {
        // There is something to be undone only where the change had begun.
        let _undone = sqlx::query(statement).execute(&mut *connection).await;
    }
    match tried {
        Ok(()) => Ok(true),
        Err(error) => match code(&error) {
            Some(READ_ONLY) => Ok(false),
            Some(BUSY | LOCKED) => Ok(true),
            _ => Err(error.into()),
        },
    }
}

/// Of another process nobody waits either.
pub(super) const IMPATIENT: &str = "pragma busy_timeout = 0";
pub(super) const PATIENT: &str = "pragma busy_timeout = 10000";

/// A transaction alone can be begun on a file that can't be written.
pub(super) const TOUCH: &str = "pragma user_version = 1";
const ROLLBACK: &str = "rollback";

const BUSY: u32 = 5;
const LOCKED: u32 = 6;

fn code(error: &sqlx::Error) -> Option<u32> {
    error.as_database_error()?.code()?.parse::<u32>().ok().map(|code| code & 0xff)
}

async fn fit_postgres(connection: &mut PgConnection) -> Result<(), StoreError> {
    let has_tables: bool = sqlx::query_scalar(HAS_TABLES).fetch_one(&mut *connection).await?;
    if !has_tables {
        return Ok(());
    }
    let stand = sqlx::query_as(VERSION).bind(newest(&POSTGRES)).fetch_one(connection).await?;
    not_ahead(Standing::of(stand, &POSTGRES))
}

async fn fit_sqlite(connection: &mut SqliteConnection) -> Result<(), StoreError> {
    let has_tables: bool = sqlx::query_scalar(HAS_TABLES_SQLITE).fetch_one(&mut *connection).await?;
    if !has_tables {
        return Ok(());
    }
    let stand = sqlx::query_as(VERSION).bind(newest(&SQLITE)).fetch_one(connection).await?;
    not_ahead(Standing::of(stand, &SQLITE))
}

fn not_ahead(standing: Standing) -> Result<(), StoreError> {
    match standing {
        Standing::Ahead => Err(StoreError::NewerTables),
        Standing::Fit | Standing::Behind => Ok(()),
    }
}

/// The number that versions before took their lock by (sqlx's for migrations), so that theirs and ours keep each other
/// out; ours ends with its transaction.
fn lock_number(database: &str) -> i64 {
    let mut sum = flate2::Crc::new();
    sum.update(database.as_bytes());
    0x3d32_ad9e * i64::from(sum.sum())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_lock_is_the_one_of_versions_before() {
        // 0x3d32ad9e times the CRC-32 of "123456789", as its catalogue gives it for a check.
        assert_eq!(lock_number("123456789"), 0x3d32_ad9e * 0xcbf4_3926);
    }

    #[test]
    fn only_what_breaks_keeps_a_program_from_newer_tables() {
        let known = i64::try_from(SQLITE.iter().count()).expect("a count");
        for (applied, breaking, expected) in [
            (known, 0, Standing::Fit),
            (known - 1, 0, Standing::Behind),
            (0, 0, Standing::Behind),
            (known, 1, Standing::Ahead),
        ] {
            assert_eq!(Standing::of((applied, breaking), &SQLITE), expected, "{applied} {breaking}");
        }
    }
}
