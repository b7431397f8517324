//! Connecting, migrating, and what both promise.

use sqlx::{Connection, SqliteConnection};
use wear_api::store::{Engine, Store, StoreError};
use wear_tests::{Garage, TestStore, on_both_stores};

on_both_stores![
    a_store_with_its_tables_is_ready,
    migrating_again_changes_nothing,
    several_processes_may_migrate_at_once,
    a_reader_sees_one_instant,
];

async fn a_store_with_its_tables_is_ready(store: TestStore) {
    assert!(store.store.is_ready().await.unwrap());
    let expected = if store.url.starts_with("sqlite:") { Engine::Sqlite } else { Engine::Postgres };
    assert_eq!(store.store.engine(), expected);
}

async fn migrating_again_changes_nothing(store: TestStore) {
    let garage = Garage::open(&store.store, "Harbour").await;
    store.store.migrate().await.unwrap();
    let mut tx = store.store.begin_read(garage.workshop).await.unwrap();
    assert_eq!(tx.workshop().await.unwrap().id, garage.workshop);
}

async fn several_processes_may_migrate_at_once(store: TestStore) {
    let folder = tempfile::tempdir().unwrap();
    let url = match store.store.engine() {
        Engine::Postgres => store.url.clone(),
        Engine::Sqlite => format!("sqlite:{}", folder.path().join("new.db").display()),
    };
    let stores = [Store::connect(&url, 2).await.unwrap(), Store::connect(&url, 2).await.unwrap()];
    let (one, other) = tokio::join!(stores[0].migrate(), stores[1].migrate());
    one.unwrap();
    other.unwrap();
    assert!(stores[1].is_ready().await.unwrap());
}

async fn a_reader_sees_one_instant(store: TestStore) {
    let garage = Garage::open(&store.store, "Harbour").await;
    let bike = garage.bike("041", "town-8s").await;
    let mut reader = store.store.begin_read(garage.workshop).await.unwrap();
    assert_eq!(reader.fittings_of_bike(bike).await.unwrap(), []);
    let chain = garage.chain(bike, "2026-01-01T00:00:00Z").await.unwrap();
    assert_eq!(reader.fittings_of_bike(bike).await.unwrap(), []);
    assert!(matches!(reader.part(chain.part_id).await, Err(StoreError::NotFound)));
    drop(reader);
    let mut reader = store.store.begin_read(garage.workshop).await.unwrap();
    assert_eq!(reader.fittings_of_bike(bike).await.unwrap(), [chain]);
    let refused = reader.mark_bikes(&[bike], garage.since).await;
    assert!(matches!(refused, Err(StoreError::Defect(_))), "a reader wrote: {refused:?}");
}

/// Without tables the store says so; it doesn't make them unasked.
#[tokio::test]
async fn an_empty_file_is_not_ready() {
    let folder = tempfile::tempdir().unwrap();
    let url = format!("sqlite:{}", folder.path().join("wear.db").display());
    let store = Store::connect(&url, 1).await.unwrap();
    assert!(store.is_ready().await.is_err());
}

#[tokio::test]
async fn memory_is_a_store_too() {
    let store = Store::connect("sqlite::memory:", 1).await.unwrap();
    store.migrate().await.unwrap();
    let garage = Garage::open(&store, "Harbour").await;
    let mut tx = store.begin_read(garage.workshop).await.unwrap();
    assert_eq!(tx.workshop().await.unwrap().settings.name.as_str(), "Harbour");
}

#[tokio::test]
async fn nobody_at_the_address_is_unavailable() {
    let folder = tempfile::tempdir().unwrap();
    let url = format!("postgres://wear@localhost/wear?host={}", folder.path().display());
    assert!(matches!(Store::connect(&url, 1).await, Err(StoreError::Unavailable(_))));
    let url = format!("sqlite:{}/no/such/folder/wear.db", folder.path().display());
    assert!(matches!(Store::connect(&url, 1).await, Err(StoreError::Unavailable(_))));
    assert!(matches!(Store::connect("elsewhere", 1).await, Err(StoreError::Defect(_))));
}

/// Readers mustn't wait for the writer.
#[tokio::test]
async fn sqlite_writes_ahead() {
    let store = TestStore::sqlite().await;
    let mode: String = sqlx::query_scalar("pragma journal_mode")
        .fetch_one(&mut SqliteConnection::connect(&store.url).await.unwrap())
        .await
        .unwrap();
    assert_eq!(mode, "wal");
}

/// What the version before can't work beside: it reads and writes by the names and types it knows.
const BREAKING: [&str; 8] = [
    "drop table",
    "drop column",
    "rename to",
    "rename column",
    "set not null",
    " type ",
    "drop policy",
    "drop default",
];

/// The last migration that came before migrations said whether they break the version before.
const LAST_WITHOUT_WORD: &str = "0031";

/// What a migration does, comments aside, in small letters.
fn statements_of(text: &str) -> String {
    let lines = text.lines().map(|line| line.split("--").next().unwrap_or_default());
    lines.collect::<Vec<_>>().join(" ").to_lowercase()
}

#[test]
fn a_migration_that_takes_away_says_that_it_breaks() {
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).parent().unwrap().join("migrations");
    let mut seen = 0;
    for engine in ["postgres", "sqlite"] {
        for file in std::fs::read_dir(folder.join(engine)).unwrap() {
            let file = file.unwrap();
            let name = file.file_name().into_string().unwrap();
            seen += 1;
            if name.as_str() < LAST_WITHOUT_WORD
                || name.starts_with(LAST_WITHOUT_WORD)
                || name.contains("_breaks_")
            {
                continue;
            }
            let text = statements_of(&std::fs::read_to_string(file.path()).unwrap());
            let found: Vec<_> = BREAKING.iter().filter(|word| text.contains(*word)).collect();
            assert!(found.is_empty(), "{engine}/{name} has {found:?}: name it …_breaks_…, or only add");
            let adds_without_default = text.split(';').any(|statement| {
                statement.contains("add column")
                    && statement.contains("not null")
                    && !statement.contains("default")
            });
            assert!(!adds_without_default, "{engine}/{name} adds what the version before doesn't fill");
        }
    }
    assert!(seen > 50, "{seen} migrations");
    // What it looks for is there to be found.
    assert!(statements_of("-- drop table a\nALTER TABLE a DROP COLUMN b;").contains("drop column"));
    assert!(!statements_of("-- drop table a").contains("drop table"));
}
