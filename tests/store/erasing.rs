//! What is erased is gone from every table, and nothing else is.

use std::collections::BTreeSet;

use chrono::Duration;
use sqlx::{AssertSqlSafe, Connection as _, PgConnection, SqliteConnection};
use wear_api::clock::Clock;
use wear_api::domain::{BikeId, Device, Label, PageRequest, Rider, RiderId, Timestamp};
use wear_api::service::erasing::{self, Keeping};
use wear_api::service::{Actor, Services, sessions, worker};
use wear_api::store::{Engine, statements};
use wear_tests::{Garage, TestStore, at, on_both_stores, ride};

on_both_stores!(
    an_erased_workshop_is_gone_from_every_table,
    a_riders_rides_go_and_the_bikes_stay,
    the_audit_list_only_grows_but_for_what_is_too_old,
    sessions_that_are_over_are_erased,
);

const TABLES: &str = "
    select c.table_name::text from information_schema.columns c
    join pg_class r on r.relname = c.table_name and r.relnamespace = 'public'::regnamespace
    where c.table_schema = 'public' and c.column_name = 'workshop_id' and not r.relispartition";
const TABLES_SQLITE: &str = "
    select t.name from sqlite_schema t, pragma_table_info(t.name) c
    where t.type = 'table' and c.name = 'workshop_id'";

/// Asks the database itself, past row-level security.
enum Direct {
    Postgres(PgConnection),
    Sqlite(SqliteConnection),
}

impl Direct {
    async fn to(store: &TestStore) -> Self {
        match store.store.engine() {
            Engine::Postgres => {
                let mut connection = PgConnection::connect(&store.url).await.expect("connects");
                let see = "select set_config('wear.scope', 'all', false)";
                let _seen: String =
                    sqlx::query_scalar(see).fetch_one(&mut connection).await.expect("sees all");
                Self::Postgres(connection)
            }
            Engine::Sqlite => Self::Sqlite(SqliteConnection::connect(&store.url).await.expect("connects")),
        }
    }

    async fn tables(&mut self) -> BTreeSet<String> {
        let tables: Vec<String> = match self {
            Self::Postgres(connection) => sqlx::query_scalar(TABLES).fetch_all(connection).await,
            Self::Sqlite(connection) => sqlx::query_scalar(TABLES_SQLITE).fetch_all(connection).await,
        }
        .expect("tables");
        tables.into_iter().collect()
    }

    async fn count(&mut self, of: &str) -> i64 {
        let sql = AssertSqlSafe(format!("select cast(count(*) as bigint) from {of}"));
        match self {
            Self::Postgres(connection) => sqlx::query_scalar(sql).fetch_one(connection).await,
            Self::Sqlite(connection) => sqlx::query_scalar(sql).fetch_one(connection).await,
        }
        .expect("a count")
    }

    async fn try_execute(&mut self, sql: &'static str) -> Result<(), sqlx::Error> {
        match self {
            Self::Postgres(connection) => sqlx::query(sql).execute(connection).await.map(|_| ()),
            Self::Sqlite(connection) => sqlx::query(sql).execute(connection).await.map(|_| ()),
        }
    }
}

/// A bike with a chain, two rides, an outlook and an entry in the audit list, and a session.
async fn lived_in(services: &Services, name: &str) -> (Garage, BikeId) {
    let garage = Garage::open(&services.store, name).await;
    let bike = garage.bike("041", "town-8s").await;
    let _chain = garage.chain(bike, "2026-01-02T00:00:00Z").await.expect("a chain");
    rides(services, &garage, bike, ["r1", "r2"]).await;
    let actor = Actor { token_id: Some(garage.token), ..Actor::program(garage.workshop) };
    let _secret = sessions::begin(services, &actor, Device::Shared).await.expect("a session");
    (garage, bike)
}

async fn rides(services: &Services, garage: &Garage, bike: BikeId, ids: [&str; 2]) {
    let days = ["2026-03-01T08:00:00Z", "2026-03-02T08:00:00Z"];
    let rides = [0, 1].map(|place| ride(bike, ids[place], days[place], 12.0));
    let mut tx = services.store.begin_write(garage.workshop).await.expect("begins");
    let _stored = tx.record_rides(&rides, services.now()).await.expect("rides");
    tx.commit().await.expect("commits");
    let _made = worker::drain(services).await.expect("a round");
}

fn services(store: &TestStore) -> Services {
    Services::new(store.store.clone(), Clock::stopped(at("2026-11-25T12:00:00Z")))
}

async fn an_erased_workshop_is_gone_from_every_table(store: TestStore) {
    let services = services(&store);
    let (gone, _) = lived_in(&services, "Harbour").await;
    let (stays, bike) = lived_in(&services, "Hill").await;
    let mut direct = Direct::to(&store).await;
    let tables = direct.tables().await;
    let erased: BTreeSet<String> = statements()
        .into_iter()
        .filter_map(|(name, sql, _)| {
            let table = name.strip_prefix("erasing.")?.to_lowercase();
            (sql == format!("delete from {table} where workshop_id = $1")).then_some(table)
        })
        .collect();
    assert!(tables.len() > 50, "{tables:?}");
    let forgotten: Vec<_> = tables.difference(&erased).collect();
    assert!(forgotten.is_empty(), "tables that keep what an erased workshop had: {forgotten:?}");
    let mut before = Vec::new();
    for table in &tables {
        before.push((table, direct.count(table).await));
    }
    assert!(before.iter().filter(|(_, rows)| *rows > 0).count() >= 12, "{before:?}");

    erasing::workshop(&services, gone.workshop).await.expect("erased");
    for (table, rows) in &before {
        let left = direct.count(table).await;
        assert_eq!(left * 2, *rows, "{table}: the other workshop has as many rows as the erased one had");
    }
    let mut tx = store.store.begin_read(stays.workshop).await.expect("begins");
    assert_eq!(tx.bike(bike).await.expect("a bike").id, bike);
    assert!(tx.outlook(bike).await.expect("reads").is_some());
}

async fn a_riders_rides_go_and_the_bikes_stay(store: TestStore) {
    let services = services(&store);
    let (garage, bike) = lived_in(&services, "Harbour").await;
    let other = garage.bike("042", "town-8s").await;
    let _chain = garage.chain(other, "2026-01-02T00:00:00Z").await.expect("a chain");
    rides(&services, &garage, other, ["r3", "r4"]).await;
    let rider = Rider {
        id: RiderId::generate(),
        name: Label::new("Kim").expect("a name"),
        created_at: garage.since,
        revision: 1,
    };
    let mut tx = store.store.begin_write(garage.workshop).await.expect("begins");
    tx.insert_rider(&rider).await.expect("a rider");
    tx.set_owners(bike, None, Some(rider.id)).await.expect("a bike of the rider's");
    tx.commit().await.expect("commits");
    let mut direct = Direct::to(&store).await;
    assert_eq!(direct.count("rides").await, 4);

    let nobody = erasing::rides(&services, garage.workshop, RiderId::generate()).await;
    assert!(nobody.is_err());
    assert_eq!(erasing::rides(&services, garage.workshop, rider.id).await.expect("erased"), 2);
    for table in ["rides", "bike_days", "use_histories"] {
        assert!(direct.count(table).await > 0, "{table} of the other bike");
    }
    assert_eq!(direct.count("rides").await, 2);
    assert_eq!(worker::drain(&services).await.expect("a round"), 1);
    let mut tx = store.store.begin_read(garage.workshop).await.expect("begins");
    assert!(tx.rides_between(bike, Timestamp::EPOCH, Timestamp::LAST).await.expect("rides").is_empty());
    assert_eq!(tx.rides_between(other, Timestamp::EPOCH, Timestamp::LAST).await.expect("rides").len(), 2);
    let (first, last) = ("2026-01-01".parse().expect("a day"), "2026-12-31".parse().expect("a day"));
    assert!(tx.bike_days(bike, first, last).await.expect("days").is_empty());
    assert_eq!(tx.fittings_of_bike(bike).await.expect("fittings").len(), 1);
    let outlook = tx.outlook(bike).await.expect("reads").expect("an outlook");
    assert!(outlook.payload.to_string().contains("remaining_km"));
    let audit = tx.audit(&PageRequest::default()).await.expect("entries").items;
    let entry = audit.iter().find(|entry| entry.action == "ride.erase").expect("an entry");
    assert_eq!(entry.detail["rides"], 2);
    drop(tx);
    // What is sent again is there again.
    rides(&services, &garage, bike, ["r1", "r2"]).await;
    assert_eq!(direct.count("rides").await, 4);
}

async fn the_audit_list_only_grows_but_for_what_is_too_old(store: TestStore) {
    let early = Services::new(store.store.clone(), Clock::stopped(at("2026-02-01T12:00:00Z")));
    let (garage, _) = lived_in(&early, "Harbour").await;
    let late = services(&store);
    let actor = Actor { token_id: Some(garage.token), ..Actor::program(garage.workshop) };
    let _secret = sessions::begin(&late, &actor, Device::Shared).await.expect("a session");
    let mut direct = Direct::to(&store).await;
    assert_eq!(direct.count("audit").await, 2);
    for change in ["delete from audit", "update audit set action = 'nothing'"] {
        let refused = direct.try_execute(change).await.expect_err(change).to_string();
        assert!(refused.contains("only grows"), "{refused}");
    }
    let night = async |services: &Services| {
        services.clock.advance(Duration::days(2));
        let mut tx = services.store.begin_write(garage.workshop).await.expect("begins");
        let workshop = tx.workshop().await.expect("a workshop");
        let last_night = services.now().plus(-Duration::days(2));
        wear_api::service::calibration::every_night(&mut tx, &workshop, last_night).await.expect("a night");
        tx.commit().await.expect("commits");
        let _done =
            wear_api::service::jobs::drain_all_but_the_record(services).await.expect("a night's work");
    };
    night(&late).await;
    assert_eq!(direct.count("audit").await, 2, "kept for ever unless it is said otherwise");
    let keeping = Keeping {
        audit: Some(Duration::days(90)),
        plans: Some(Duration::days(1)),
        forecasts: Some(Duration::days(760)),
    };
    night(&Services { keeping, ..late.clone() }).await;
    assert_eq!(direct.count("audit").await, 1);
    assert_eq!(direct.count("audit_leave").await, 0);
    let refused = direct.try_execute("delete from audit").await.expect_err("only grows").to_string();
    assert!(refused.contains("only grows"), "{refused}");
}

async fn sessions_that_are_over_are_erased(store: TestStore) {
    let services = services(&store);
    let (garage, _) = lived_in(&services, "Harbour").await;
    erasing::expired(&services).await.expect("erased");
    let mut direct = Direct::to(&store).await;
    assert_eq!(direct.count("page_sessions").await, 1);
    services.clock.advance(Duration::hours(13));
    let actor = Actor { token_id: Some(garage.token), ..Actor::program(garage.workshop) };
    erasing::expired(&services).await.expect("erased");
    assert_eq!(direct.count("page_sessions").await, 0);
    let _secret = sessions::begin(&services, &actor, Device::Shared).await.expect("a session");
    erasing::expired(&services).await.expect("erased");
    assert_eq!(direct.count("page_sessions").await, 1);
}
