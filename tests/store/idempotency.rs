//! A request sent twice is answered twice and done once.

use wear_api::domain::{IdempotencyKey, IdempotentRequest, Reservation, StoredAnswer, TokenId};
use wear_api::store::{Engine, StoreError};
use wear_tests::{Garage, TestStore, at, on_both_stores};

on_both_stores![
    the_same_request_gets_the_same_answer,
    a_request_that_failed_leaves_its_key_free,
    an_old_key_is_new_again,
    two_at_once_are_one,
];

fn request(garage: &Garage, key: &str, operation: &str, now: &str) -> IdempotentRequest {
    IdempotentRequest {
        token_id: garage.token,
        operation: operation.to_owned(),
        key: IdempotencyKey::new(key).unwrap(),
        at: at(now),
    }
}

fn answer() -> StoredAnswer {
    StoredAnswer {
        fingerprint: [7; 32],
        status: 201,
        headers: vec![
            ("location".to_owned(), "/v1/bikes/1".to_owned()),
            ("etag".to_owned(), "\"1\"".to_owned()),
        ],
        body: b"{\"id\":1}\0\xff".to_vec(),
    }
}

async fn the_same_request_gets_the_same_answer(store: TestStore) {
    let garage = Garage::open(&store.store, "Harbour").await;
    let expired = at("2026-02-28T00:00:00Z");
    let first = request(&garage, "k1", "POST /v1/bikes", "2026-03-01T00:00:00Z");
    let mut tx = store.store.begin_write(garage.workshop).await.unwrap();
    assert_eq!(tx.reserve_key(&first, expired).await.unwrap(), Reservation::Fresh);
    assert_eq!(tx.reserve_key(&first, expired).await.unwrap(), Reservation::InFlight);
    tx.store_answer(&first, &answer()).await.unwrap();
    assert!(matches!(tx.store_answer(&first, &answer()).await, Err(StoreError::Conflict)));
    tx.commit().await.unwrap();
    let mut tx = store.store.begin_write(garage.workshop).await.unwrap();
    assert_eq!(tx.reserve_key(&first, expired).await.unwrap(), Reservation::Answered(answer()));
    assert_eq!(tx.stored_answer(&first, expired).await.unwrap(), Some(answer()));
    let elsewhere = request(&garage, "k1", "POST /v1/tokens", "2026-03-01T00:00:00Z");
    assert_eq!(tx.stored_answer(&elsewhere, expired).await.unwrap(), None);
    assert_eq!(tx.reserve_key(&elsewhere, expired).await.unwrap(), Reservation::Fresh);
    let other_key = request(&garage, "k2", "POST /v1/bikes", "2026-03-01T00:00:00Z");
    assert_eq!(tx.reserve_key(&other_key, expired).await.unwrap(), Reservation::Fresh);
    let nobody = IdempotentRequest { token_id: TokenId::generate(), ..first };
    assert!(matches!(tx.reserve_key(&nobody, expired).await, Err(StoreError::NotFound)));
}

async fn a_request_that_failed_leaves_its_key_free(store: TestStore) {
    let garage = Garage::open(&store.store, "Harbour").await;
    let expired = at("2026-02-28T00:00:00Z");
    let first = request(&garage, "k1", "POST /v1/bikes", "2026-03-01T00:00:00Z");
    let mut tx = store.store.begin_write(garage.workshop).await.unwrap();
    assert_eq!(tx.reserve_key(&first, expired).await.unwrap(), Reservation::Fresh);
    drop(tx);
    // Postgres undoes a dropped transaction a moment later.
    for _ in 0..500 {
        let mut tx = store.store.begin_write(garage.workshop).await.unwrap();
        if tx.reserve_key(&first, expired).await.unwrap() == Reservation::Fresh {
            return;
        }
        drop(tx);
        tokio::time::sleep(std::time::Duration::from_millis(10)).await;
    }
    panic!("the key stays taken");
}

async fn an_old_key_is_new_again(store: TestStore) {
    let garage = Garage::open(&store.store, "Harbour").await;
    let first = request(&garage, "k1", "POST /v1/bikes", "2026-03-01T00:00:00Z");
    let mut tx = store.store.begin_write(garage.workshop).await.unwrap();
    tx.reserve_key(&first, at("2026-02-28T00:00:00Z")).await.unwrap();
    tx.store_answer(&first, &answer()).await.unwrap();
    let next_day = request(&garage, "k1", "POST /v1/bikes", "2026-03-02T00:00:01Z");
    assert_eq!(tx.stored_answer(&next_day, at("2026-03-01T00:00:01Z")).await.unwrap(), None);
    assert_eq!(tx.reserve_key(&next_day, at("2026-03-01T00:00:01Z")).await.unwrap(), Reservation::Fresh);
    tx.store_answer(&next_day, &answer()).await.unwrap();
    tx.commit().await.unwrap();
    let mut system = store.store.begin_system_write().await.unwrap();
    assert_eq!(system.purge_keys(at("2026-03-02T00:00:01Z")).await.unwrap(), 0);
    assert_eq!(system.purge_keys(at("2026-03-02T00:00:02Z")).await.unwrap(), 1);
}

async fn two_at_once_are_one(store: TestStore) {
    let garage = Garage::open(&store.store, "Harbour").await;
    let expired = at("2026-02-28T00:00:00Z");
    let first = request(&garage, "k1", "POST /v1/bikes", "2026-03-01T00:00:00Z");
    let attempt = || async {
        let mut tx = store.store.begin_write(garage.workshop).await.unwrap();
        let reservation = tx.reserve_key(&first, expired).await.unwrap();
        if reservation == Reservation::Fresh {
            tokio::time::sleep(std::time::Duration::from_millis(100)).await;
            tx.store_answer(&first, &answer()).await.unwrap();
        }
        tx.commit().await.unwrap();
        reservation
    };
    let (one, other) = tokio::join!(attempt(), attempt());
    let mut both = [one, other];
    both.sort_by_key(|reservation| *reservation != Reservation::Fresh);
    // Postgres lets both begin and tells the second that the first is at it; SQLite's second waits its turn.
    let second = match store.store.engine() {
        Engine::Postgres => Reservation::InFlight,
        Engine::Sqlite => Reservation::Answered(answer()),
    };
    assert_eq!(both, [Reservation::Fresh, second]);
}
