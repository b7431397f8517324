//! The store: Postgres or SQLite, one text of SQL for both.
//!
//! A [`Tx`] sees one workshop: each statement names it, and on Postgres row-level security says so a
//! second time. Of its bikes it sees those within the reach that it was begun with ([`View`]): one beyond it isn't found,
//! and isn't in a list. A [`SystemTx`] is for what is no workshop's own: finding a token, claiming work, making
//! a workshop.
//!
//! A transaction that changes a bike's history calls [`Tx::mark_bikes`] before anything else: the mark
//! asks for a new outlook, and its row is the bike's lock, so that two such transactions follow each other.

mod alerts;
mod apps;
mod audit;
mod authorizations;
mod bench_days;
mod bench_plans;
mod bike_days;
mod bike_kinds;
mod bikes;
mod bookings;
mod calendars;
mod care;
mod cassette_fits;
mod chain_levels;
mod chain_records;
mod changes;
mod connection;
mod declared_use;
mod deliveries;
mod digests;
mod erasing;
mod error;
mod fittings;
mod fleet_pages;
mod fleet_rates;
mod forecasts;
mod group_kilometres;
mod guarded;
mod hook_messages;
mod hooks;
mod hosts;
mod idempotency;
mod instant;
mod jobs;
mod links;
mod lubricants;
mod many;
mod marks;
mod migrating;
mod needs;
mod odometer;
mod on_bike;
mod outlooks;
mod part_models;
mod parts;
mod passage_forecasts;
mod patience;
mod policy;
mod reading_errors;
mod readings;
mod record_tallies;
mod ride_log;
mod ride_tellings;
mod riders;
mod rides;
mod secured;
mod sessions;
mod sign_ins;
mod sqlite_file;
mod starts;
mod stock;
mod swaps;
mod symptoms;
mod tokens;
mod tools;
mod turns;
mod use_histories;
mod usual_years;
mod wear_effects;
mod workshops;

use std::str::FromStr;
use std::time::{Duration, Instant};

use sqlx::postgres::PgPoolOptions;
use sqlx::sqlite::{SqliteConnectOptions, SqliteJournalMode, SqlitePoolOptions, SqliteSynchronous};
use sqlx::{Connection as _, PgPool, SqlitePool};

use crate::domain::{Reach, WorkshopId};
use crate::metrics;
use connection::{Connection, Limit, execute, on, row, row_if_any, rows, statements, value, value_if_any};
use patience::{LONGEST_TURN, Share, Shares, Silence, Writing};

pub use alerts::FleetTopic;
pub use erasing::Before;
pub use error::{Busy, StoreError};
pub use migrating::Standing;
pub use patience::Patience;
pub use ride_log::Recorded;
pub use sessions::Over;
pub use stock::NewStock;
pub use turns::Turn;

/// Connections of one process to Postgres, where none are given.
pub const DEFAULT_CONNECTIONS: u32 = 16;

/// How long the store may take to say that it is ready (A).
const READY_WITHIN: Duration = Duration::from_secs(3);

/// Prepared statements kept by each connection: more than there are.
const STATEMENTS_KEPT: usize = 512;

const BEGIN_WRITE: &str = "begin";
const BEGIN_READ: &str = "begin isolation level repeatable read read only";
const TRY: &str = "savepoint tried";
const UNDO_TRIED: &str = "rollback to savepoint tried";
const BEGIN_WRITE_SQLITE: &str = "begin immediate";

/// Whose data a transaction sees, and how many milliseconds it waits for locks and for a statement.
const SEE_WORKSHOP: &str = "select set_config('wear.workshop', $1, true),
    set_config('lock_timeout', $2, true), set_config('statement_timeout', $3, true)";
/// What writes, and what loads the same of bike after bike, goes by keys: each connection plans it once, as planning look-ups
/// of many rows anew took half of Postgres' time. A plan made while a table was empty has to hold when it is full, so
/// none may read a table from end to end where there is an index (the test `plans` sees to it that there is one); costs
/// are then out of proportion, and would ask for compilation. Lists with filters are left to be planned for what is
/// asked.
const SEE_WORKSHOP_BY_KEY: &str = "select set_config('wear.workshop', $1, true),
    set_config('lock_timeout', $2, true), set_config('statement_timeout', $3, true),
    set_config('plan_cache_mode', 'force_generic_plan', true), set_config('enable_seqscan', 'off', true),
    set_config('jit', 'off', true)";
const SEE_ALL: &str = "select set_config('wear.scope', 'all', true),
    set_config('lock_timeout', $1, true), set_config('statement_timeout', $2, true)";
const SEE_ONE: &str = "select set_config('wear.scope', 'one', true), set_config('wear.workshop', $1, true)";

const WALLED: &str =
    "select not (rolsuper or rolbypassrls) from pg_catalog.pg_roles where rolname = current_user";

/// A store. Clones share their connections.
#[derive(Debug, Clone)]
pub struct Store {
    pools: Pools,
    patience: Patience,
    shares: Shares,
}

#[derive(Debug, Clone)]
enum Pools {
    /// Health has a connection of its own: it answers also while all others wait.
    Postgres { pool: PgPool, health: PgPool, silence: Silence },
    /// SQLite has one writer at a time: one connection writes, the others read. In memory there is one
    /// connection for all.
    Sqlite { writer: SqlitePool, reader: SqlitePool, health: SqlitePool, writing: Writing },
}

/// Connections that a process holds to the store.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Connections {
    /// Open ones.
    pub open: u32,
    /// Of these, idle.
    pub idle: u32,
    /// The most there may be.
    pub most: u32,
}

/// Which engine a store runs on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Engine {
    /// Postgres.
    Postgres,
    /// SQLite.
    Sqlite,
}

impl Store {
    /// Connects to `postgres://…` or `sqlite:FILE`; the file is made when it isn't there. `connections`
    /// is the most that this process holds to Postgres. Of several hosts, `postgres://USER@ONE,TWO/NAME`, the primary
    /// is worked with, and looked for again when it is gone. It is as patient as what nobody waits for, until
    /// [`Self::with_patience`] says otherwise.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`], and [`StoreError::Defect`] when the address is no address.
    pub async fn connect(url: &str, connections: u32) -> Result<Self, StoreError> {
        let pools = if url.starts_with("sqlite:") {
            connect_sqlite(url).await?
        } else {
            let named = hosts::hosts_of(url, |options| {
                options.application_name("wear-api").statement_cache_capacity(STATEMENTS_KEPT)
            })?;
            let several = named.len() > 1;
            let present = if several { hosts::primary(&named).await.unwrap_or(0) } else { 0 };
            let silence = Silence::default();
            let options = |most: u32, within| {
                let silence = silence.clone();
                PgPoolOptions::new().max_connections(most).acquire_timeout(within).after_release(
                    move |connection, _| {
                        let silence = silence.clone();
                        Box::pin(async move { silence.trusts(connection).await })
                    },
                )
            };
            let pool = options(connections.max(1), LONGEST_TURN).connect_with(named[present].clone()).await?;
            let health = options(1, READY_WITHIN).connect_lazy_with(named[present].clone());
            if several {
                tokio::spawn(hosts::follow(vec![pool.clone(), health.clone()], named, present));
            }
            Pools::Postgres { pool, health, silence }
        };
        let shares = Shares::of(share_of(connections));
        Ok(Self { pools, patience: Patience::OF_BACKGROUND, shares })
    }

    /// The same store for those who wait longer or shorter for others.
    #[must_use]
    pub fn with_patience(self, patience: Patience) -> Self {
        Self { patience, ..self }
    }

    /// The same store, of which a workshop holds at most so many connections at once.
    #[must_use]
    pub fn with_share(self, connections: u32) -> Self {
        Self { shares: Shares::of(connections), ..self }
    }

    /// The same store for what nobody waits for: more patient, and with shares that take nothing from those of requests.
    #[must_use]
    pub fn in_background(&self) -> Self {
        let pools = self.pools.clone();
        Self { pools, patience: Patience::OF_BACKGROUND, shares: self.shares.apart() }
    }

    /// Which engine this store runs on.
    #[must_use]
    pub const fn engine(&self) -> Engine {
        match self.pools {
            Pools::Postgres { .. } => Engine::Postgres,
            Pools::Sqlite { .. } => Engine::Sqlite,
        }
    }

    /// Whether row-level security binds the role that this process connects as; SQLite has no roles.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn is_walled(&self) -> Result<bool, StoreError> {
        match &self.pools {
            Pools::Postgres { pool, .. } => Ok(sqlx::query_scalar(WALLED).fetch_one(pool).await?),
            Pools::Sqlite { .. } => Ok(true),
        }
    }

    /// Begins to read one workshop's data, all as of one instant.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn begin_read(&self, view: impl Into<View>) -> Result<Tx, StoreError> {
        self.begin(Work::Read, SEE_WORKSHOP, view.into()).await
    }

    /// Begins to read one workshop's data by keys, all as of one instant: for what loads the same of bike after bike.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn begin_read_by_key(&self, view: impl Into<View>) -> Result<Tx, StoreError> {
        self.begin(Work::Read, SEE_WORKSHOP_BY_KEY, view.into()).await
    }

    /// Begins to change one workshop's data. What isn't committed is undone.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn begin_write(&self, view: impl Into<View>) -> Result<Tx, StoreError> {
        self.begin(Work::Write, SEE_WORKSHOP_BY_KEY, view.into()).await
    }

    /// Begins to read across workshops.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn begin_system_read(&self) -> Result<SystemTx, StoreError> {
        self.begin_system(Work::Read).await
    }

    /// Begins to change things across workshops.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn begin_system_write(&self) -> Result<SystemTx, StoreError> {
        self.begin_system(Work::Write).await
    }

    /// How many connections this process holds.
    #[must_use]
    pub fn connections(&self) -> Connections {
        let of = |open: u32, idle: usize, most: u32| Connections {
            open,
            idle: u32::try_from(idle).unwrap_or(0).min(open),
            most,
        };
        match &self.pools {
            Pools::Postgres { pool, .. } => {
                of(pool.size(), pool.num_idle(), pool.options().get_max_connections())
            }
            Pools::Sqlite { writer, reader, .. } => of(
                writer.size() + reader.size(),
                // The pool's own count runs below nought for a moment while connections change hands.
                writer.num_idle().saturating_add(reader.num_idle()),
                writer.options().get_max_connections() + reader.options().get_max_connections(),
            ),
        }
    }

    /// Closes the connections, once transactions under way have ended.
    pub async fn close(&self) {
        match &self.pools {
            Pools::Postgres { pool, health, .. } => {
                health.close().await;
                pool.close().await;
            }
            Pools::Sqlite { writer, reader, health, .. } => {
                health.close().await;
                reader.close().await;
                writer.close().await;
            }
        }
    }

    async fn begin(&self, work: Work, see: &'static str, view: View) -> Result<Tx, StoreError> {
        let View { workshop, reach } = view;
        let share = self.shares.take(workshop).await?;
        let mut connection = self.connection(work).await?;
        if let Connection::Postgres(transaction, limit) = &mut connection {
            let (lock, statement) = self.patience.in_milliseconds();
            let asked = sqlx::query(see).bind(workshop.to_string()).bind(lock).bind(statement);
            limit.on(asked.execute(&mut **transaction)).await?;
        }
        Ok(Tx { connection, workshop, reach, changes: changes::Changes::default(), _share: Some(share) })
    }

    async fn begin_system(&self, work: Work) -> Result<SystemTx, StoreError> {
        let mut connection = self.connection(work).await?;
        if let Connection::Postgres(transaction, limit) = &mut connection {
            let (lock, statement) = self.patience.in_milliseconds();
            let asked = sqlx::query(SEE_ALL).bind(lock).bind(statement);
            limit.on(asked.execute(&mut **transaction)).await?;
        }
        Ok(SystemTx { connection })
    }

    async fn connection(&self, work: Work) -> Result<Connection, StoreError> {
        let began = Instant::now();
        let connection = self.connection_once_there_is_room(work).await;
        metrics::store_wait(if work == Work::Read { "read" } else { "write" }, began.elapsed());
        connection
    }

    async fn connection_once_there_is_room(&self, work: Work) -> Result<Connection, StoreError> {
        Ok(match (&self.pools, work) {
            (Pools::Postgres { pool, silence, .. }, work) => {
                let limit = Limit { within: self.patience.of_this_side(), silence: silence.clone() };
                let begin = if work == Work::Read { BEGIN_READ } else { BEGIN_WRITE };
                Connection::Postgres(limit.on(self.in_turn(pool.begin_with(begin))).await?, limit)
            }
            (Pools::Sqlite { reader, .. }, Work::Read) => {
                Connection::Sqlite(self.in_turn(reader.begin()).await?, None)
            }
            (Pools::Sqlite { writer, writing, .. }, Work::Write) => {
                let begun = self.in_turn(writer.begin_with(BEGIN_WRITE_SQLITE)).await;
                let begun = begun.map_err(|error| writing.taken(error))?;
                Connection::Sqlite(begun, Some(writing.begin()))
            }
        })
    }

    /// Waits for a connection as long as those do for whom it is.
    async fn in_turn<T>(
        &self,
        begun: impl Future<Output = Result<T, sqlx::Error>>,
    ) -> Result<T, sqlx::Error> {
        tokio::time::timeout(self.patience.turn, Box::pin(begun))
            .await
            .unwrap_or(Err(sqlx::Error::PoolTimedOut))
    }
}

/// What a transaction is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Work {
    Read,
    Write,
}

/// Of so many connections those that one workshop may hold: others always find some (A).
#[must_use]
pub const fn share_of(connections: u32) -> u32 {
    let share = connections * 3 / 8;
    if share < 2 { 2 } else { share }
}

/// How long SQLite waits for another process (A).
const OTHERS_WITHIN: Duration = Duration::from_secs(10);

/// Page cache of SQLite's writer, KiB below nought: what a batch of rides touches has room (A).
const WRITER_CACHE: &str = "-16384";

/// Pages that SQLite's log grows by before they are copied home: a batch of rides fits (A).
const LOG_PAGES: &str = "4000";

/// Size to which SQLite's log is cut after it was copied home, bytes: what a large import left doesn't stay (A).
const LOG_BYTES: &str = "67108864";

/// Rows of an index that SQLite looks at to choose its plans (as its manual suggests for `optimize`).
const ROWS_LOOKED_AT: u32 = 400;

async fn connect_sqlite(url: &str) -> Result<Pools, StoreError> {
    let options = SqliteConnectOptions::from_str(url)?;
    if ![":memory:", "mode="].iter().any(|other| url.contains(other)) {
        sqlite_file::keep_from_others(options.get_filename());
    }
    let options = options
        .create_if_missing(true)
        .journal_mode(SqliteJournalMode::Wal)
        // What was acknowledged outlives a power cut.
        .synchronous(SqliteSynchronous::Full)
        .foreign_keys(true)
        .busy_timeout(OTHERS_WITHIN)
        .statement_cache_capacity(STATEMENTS_KEPT);
    // On a full disk SQLite ends a transaction by itself. The connection's own count of transactions doesn't learn of
    // it, and it could begin none ever after: such a one is given up for another.
    let writer = SqlitePoolOptions::new()
        .max_connections(1)
        .idle_timeout(None)
        .max_lifetime(None)
        .acquire_timeout(LONGEST_TURN)
        .before_acquire(|connection, _| Box::pin(std::future::ready(Ok(!connection.is_in_transaction()))))
        .connect_with(
            options
                .clone()
                .pragma("cache_size", WRITER_CACHE)
                .pragma("wal_autocheckpoint", LOG_PAGES)
                .pragma("journal_size_limit", LOG_BYTES)
                .optimize_on_close(true, ROWS_LOOKED_AT),
        )
        .await?;
    let writing = Writing::default();
    if url.contains(":memory:") {
        let (reader, health) = (writer.clone(), writer.clone());
        return Ok(Pools::Sqlite { writer, reader, health, writing });
    }
    let options = options.pragma("query_only", "on");
    let health = SqlitePoolOptions::new()
        .max_connections(1)
        .acquire_timeout(READY_WITHIN)
        .connect_lazy_with(options.clone());
    let reader = SqlitePoolOptions::new()
        .max_connections(std::thread::available_parallelism().map_or(4, |n| n.get() as u32).max(4))
        .acquire_timeout(LONGEST_TURN)
        .connect_with(options)
        .await?;
    Ok(Pools::Sqlite { writer, reader, health, writing })
}

/// What a transaction sees: one workshop, and of its bikes those within a reach.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct View {
    workshop: WorkshopId,
    reach: Reach,
}

impl View {
    /// Of a workshop what is within a reach.
    #[must_use]
    pub const fn within(workshop: WorkshopId, reach: Reach) -> Self {
        Self { workshop, reach }
    }
}

/// The whole workshop: for what no token asks for.
impl From<WorkshopId> for View {
    fn from(workshop: WorkshopId) -> Self {
        Self { workshop, reach: Reach::Workshop }
    }
}

/// A transaction on one workshop's data. Dropped without [`Tx::commit`], it changes nothing.
pub struct Tx {
    connection: Connection,
    workshop: WorkshopId,
    reach: Reach,
    changes: changes::Changes,
    /// Of the workshop's connections; none where the transaction began across workshops.
    _share: Option<Share>,
}

/// A transaction across workshops. Dropped without [`SystemTx::commit`], it changes nothing.
pub struct SystemTx {
    connection: Connection,
}

impl Tx {
    /// The workshop whose data it sees.
    #[must_use]
    pub const fn workshop_id(&self) -> WorkshopId {
        self.workshop
    }

    const fn engine(&self) -> Engine {
        self.connection.engine()
    }

    /// Makes the changes last.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`], [`StoreError::Interrupted`].
    pub async fn commit(mut self) -> Result<(), StoreError> {
        self.write_changes().await?;
        self.connection.commit().await
    }

    /// From here on changes can be undone by themselves. Not on SQLite, whose one writer is kept in any case.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn begin_trying(&mut self) -> Result<(), StoreError> {
        if let Connection::Postgres(transaction, limit) = &mut self.connection {
            limit.on(sqlx::query(TRY).execute(&mut **transaction)).await?;
        }
        Ok(())
    }

    /// Undoes what was tried, and lets others have what it held; whether it could.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn undo_tried(&mut self) -> Result<bool, StoreError> {
        let Connection::Postgres(transaction, limit) = &mut self.connection else { return Ok(false) };
        limit.on(sqlx::query(UNDO_TRIED).execute(&mut **transaction)).await?;
        self.changes = changes::Changes::default();
        Ok(true)
    }

    /// Undoes the changes, and waits until they are: keys and rows are free for the next transaction. One that is
    /// dropped is undone too, a moment later.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`]; the store undoes them then when it notices that nobody is there.
    pub async fn rollback(self) -> Result<(), StoreError> {
        self.connection.rollback().await
    }
}

impl SystemTx {
    /// Goes on with one workshop's data in the same transaction.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn enter(self, workshop: WorkshopId) -> Result<Tx, StoreError> {
        let mut connection = self.connection;
        if let Connection::Postgres(transaction, limit) = &mut connection {
            let asked = sqlx::query(SEE_ONE).bind(workshop.to_string());
            limit.on(asked.execute(&mut **transaction)).await?;
        }
        let (reach, changes) = (Reach::Workshop, changes::Changes::default());
        Ok(Tx { connection, workshop, reach, changes, _share: None })
    }

    /// Makes the changes last.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`], [`StoreError::Interrupted`].
    pub async fn commit(self) -> Result<(), StoreError> {
        self.connection.commit().await
    }
}

/// The pattern of a search for `text` anywhere in a column in lower case, escaped by `!`; no text finds all.
fn pattern(text: Option<&str>) -> String {
    let mut pattern = String::from("%");
    for c in text.unwrap_or_default().to_lowercase().chars() {
        match c {
            '%' | '_' | '!' => pattern.extend(['!', c]),
            // Postgres takes no NUL. No name holds a control character, so that any of them finds as little.
            '\0' => pattern.push('\u{1}'),
            _ => pattern.push(c),
        }
    }
    if pattern.len() > 1 {
        pattern.push('%');
    }
    pattern
}

/// Every statement with its name, and the engine that it is for where it isn't for both.
#[must_use]
pub fn statements() -> Vec<(String, &'static str, Option<Engine>)> {
    let shared = [
        ("audit", audit::STATEMENTS),
        ("authorizations", authorizations::STATEMENTS),
        ("apps", apps::STATEMENTS),
        ("bench_days", bench_days::STATEMENTS),
        ("bench_plans", bench_plans::STATEMENTS),
        ("bike_days", bike_days::STATEMENTS),
        ("bike_kinds", bike_kinds::STATEMENTS),
        ("bikes", bikes::STATEMENTS),
        ("bookings", bookings::STATEMENTS),
        ("calendars", calendars::STATEMENTS),
        ("care", care::STATEMENTS),
        ("declared_use", declared_use::STATEMENTS),
        ("deliveries", deliveries::STATEMENTS),
        ("digests", digests::STATEMENTS),
        ("cassette_fits", cassette_fits::STATEMENTS),
        ("chain_levels", chain_levels::STATEMENTS),
        ("chain_records", chain_records::STATEMENTS),
        ("changes", changes::STATEMENTS),
        ("erasing", erasing::STATEMENTS),
        ("fittings", fittings::STATEMENTS),
        ("fleet_pages", fleet_pages::STATEMENTS),
        ("fleet_rates", fleet_rates::STATEMENTS),
        ("group_kilometres", group_kilometres::STATEMENTS),
        ("forecasts", forecasts::STATEMENTS),
        ("alerts", alerts::STATEMENTS),
        ("hook_messages", hook_messages::STATEMENTS),
        ("fittings", fittings::STATEMENTS),
        ("hooks", hooks::STATEMENTS),
        ("idempotency", idempotency::STATEMENTS),
        ("jobs", jobs::STATEMENTS),
        ("links", links::STATEMENTS),
        ("lubricants", lubricants::STATEMENTS),
        ("marks", marks::STATEMENTS),
        ("needs", needs::STATEMENTS),
        ("odometer", odometer::STATEMENTS),
        ("outlooks", outlooks::STATEMENTS),
        ("policy", policy::STATEMENTS),
        ("part_models", part_models::STATEMENTS),
        ("parts", parts::STATEMENTS),
        ("passage_forecasts", passage_forecasts::STATEMENTS),
        ("record_tallies", record_tallies::STATEMENTS),
        ("reading_errors", reading_errors::STATEMENTS),
        ("readings", readings::STATEMENTS),
        ("riders", riders::STATEMENTS),
        ("rides", rides::STATEMENTS),
        ("sessions", sessions::STATEMENTS),
        ("sign_ins", sign_ins::STATEMENTS),
        ("starts", starts::STATEMENTS),
        ("stock", stock::STATEMENTS),
        ("swaps", swaps::STATEMENTS),
        ("symptoms", symptoms::STATEMENTS),
        ("tokens", tokens::STATEMENTS),
        ("tools", tools::STATEMENTS),
        ("use_histories", use_histories::STATEMENTS),
        ("usual_years", usual_years::STATEMENTS),
        ("wear_effects", wear_effects::STATEMENTS),
        ("workshops", workshops::STATEMENTS),
    ];
    let many = [
        ("audit.LABELS", audit::label_statements()),
        ("bikes.RIDE_KEEPING", bikes::ride_keeping_statements()),
        ("bikes.EXTERNAL", bikes::external_statements()),
        ("bike_days.ADD", bike_days::add_statements()),
        ("bike_days.OF_THESE_BIKES", bike_days::of_these_bikes()),
        ("bikes.GET_MANY", bikes::get_statements()),
        ("care.OF_THESE_BIKES", care::of_these_bikes()),
        ("declared_use.OF_THESE_BIKES", declared_use::of_these_bikes()),
        ("declared_use.OF_THESE_GROUPS", declared_use::of_these_groups()),
        ("chain_levels.INSERT", chain_levels::insert_statements()),
        ("chain_levels.OF_THESE_BIKES", chain_levels::of_these_bikes()),
        ("chain_records.SAVE", chain_records::save_statements()),
        ("chain_records.THESE", chain_records::these()),
        ("changes.INSERT", changes::insert_statements()),
        ("alerts.OF_THESE_BIKES", alerts::of_these_bikes()),
        ("fittings.OF_THESE_BIKES", fittings::of_these_bikes()),
        ("forecasts.KEEP", forecasts::keep_statements()),
        ("forecasts.OF_THESE_PARTS", forecasts::of_these_parts()),
        ("forecasts.SAVE_SCORES", forecasts::save_score_statements()),
        ("forecasts.SCORES_OF_THESE_PARTS", forecasts::scores_of_these_parts()),
        ("fittings.OF_THESE_PARTS", fittings::of_these_parts()),
        ("marks.MARK", marks::mark_statements()),
        ("odometer.OF_THESE_BIKES", odometer::of_these_bikes()),
        ("outlooks.SAVE", outlooks::save_statements()),
        ("part_models.THESE", part_models::these()),
        ("parts.MODELS", parts::model_statements()),
        ("passage_forecasts.KEEP", passage_forecasts::keep_statements()),
        ("passage_forecasts.REPLACE", passage_forecasts::replace_statements()),
        ("passage_forecasts.OF_THESE_PARTS", passage_forecasts::of_these_parts()),
        ("record_tallies.INSERT", record_tallies::insert_statements()),
        ("reading_errors.INSERT", reading_errors::insert_statements()),
        ("readings.OF_THESE_PARTS", readings::of_these_parts()),
        ("rides.INSERT", rides::insert_statements()),
        ("rides.FIND", rides::find_statements()),
        ("rides.FIND_ANYWHERE", rides::find_anywhere_statements()),
        ("rides.NEAR", rides::near_statements()),
        ("rides.OF_THESE_BIKES", rides::of_these_bikes()),
        ("rides.REPLACE", rides::replace_statements()),
        ("swaps.CASSETTES_OFF", swaps::cassettes_off()),
        ("symptoms.SKIPS", symptoms::skip_statements()),
        ("use_histories.SAVE", use_histories::save_statements()),
        ("use_histories.OF_THESE_BIKES", use_histories::of_these_bikes()),
    ];
    let engines = [
        ("idempotency.TRY_LOCK", idempotency::TRY_LOCK, Engine::Postgres),
        ("jobs.CLAIM_POSTGRES", jobs::CLAIM_POSTGRES, Engine::Postgres),
        ("jobs.CLAIM_SQLITE", jobs::CLAIM_SQLITE, Engine::Sqlite),
        ("marks.CLAIM_POSTGRES", marks::CLAIM_POSTGRES, Engine::Postgres),
        ("marks.CLAIM_SQLITE", marks::CLAIM_SQLITE, Engine::Sqlite),
        ("store.SEE_WORKSHOP", SEE_WORKSHOP, Engine::Postgres),
        ("store.SEE_WORKSHOP_BY_KEY", SEE_WORKSHOP_BY_KEY, Engine::Postgres),
        ("store.SEE_ALL", SEE_ALL, Engine::Postgres),
        ("store.SEE_ONE", SEE_ONE, Engine::Postgres),
        ("store.WALLED", WALLED, Engine::Postgres),
        ("hosts.IS_REPLICA", hosts::IS_REPLICA, Engine::Postgres),
        ("migrating.LOCK", migrating::LOCK, Engine::Postgres),
        ("migrating.DATABASE", migrating::DATABASE, Engine::Postgres),
        ("migrating.HAS_TABLES", migrating::HAS_TABLES, Engine::Postgres),
        ("migrating.IS_READ_ONLY", migrating::IS_READ_ONLY, Engine::Postgres),
        ("sqlite_file.QUICK_CHECK", sqlite_file::QUICK_CHECK, Engine::Sqlite),
        ("sqlite_file.OPTIMIZE", sqlite_file::OPTIMIZE, Engine::Sqlite),
        ("sqlite_file.COPY_LOG_HOME", sqlite_file::COPY_LOG_HOME, Engine::Sqlite),
        ("migrating.IMPATIENT", migrating::IMPATIENT, Engine::Sqlite),
        ("migrating.PATIENT", migrating::PATIENT, Engine::Sqlite),
        ("migrating.TOUCH", migrating::TOUCH, Engine::Sqlite),
        ("migrating.HAS_TABLES_SQLITE", migrating::HAS_TABLES_SQLITE, Engine::Sqlite),
    ];
    let mut all = vec![("migrating.VERSION".to_owned(), migrating::VERSION, None)];
    for (aggregate, listed) in shared {
        all.extend(listed.iter().map(|(name, sql)| (format!("{aggregate}.{name}"), *sql, None)));
    }
    for (name, texts) in many {
        all.extend(texts.iter().map(|sql| (name.to_owned(), *sql, None)));
    }
    all.extend(engines.map(|(name, sql, engine)| (name.to_owned(), sql, Some(engine))));
    all
}
