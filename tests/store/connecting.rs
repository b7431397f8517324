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
