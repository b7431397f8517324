//! How fast the store takes rides. Run by hand: `cargo nextest run -p wear-tests --run-ignored only speed --no-capture`.

use std::time::Instant;

use wear_api::domain::{NewRide, OutlookFilter, PageRequest};
use wear_tests::{Garage, TestStore, at, on_both_stores, ride};

on_both_stores![ignored: ten_thousand_rides_in_one_batch, rides_one_by_one];

async fn ten_thousand_rides_in_one_batch(store: TestStore) {
    let garage = Garage::open(&store.store, "Harbour").await;
    let mut bikes = Vec::new();
    for label in 0..200 {
        bikes.push(garage.bike(&label.to_string(), "town-8s").await);
    }
    let rides = |km: f64| -> Vec<NewRide> {
        (0..10_000_usize)
            .map(|i| {
                let day = 1 + (i / 200) % 28;
                ride(bikes[i % 200], &format!("r{i}"), &format!("2026-03-{day:02}T08:00:00Z"), km)
            })
            .collect()
    };
    for (what, km) in [("new", 10.0), ("the same again", 10.0), ("all changed", 11.0)] {
        let batch = rides(km);
        let start = Instant::now();
        let mut tx = store.store.begin_write(garage.workshop).await.unwrap();
        let outcomes = tx.record_rides(&batch, at("2026-06-01T00:00:00Z")).await.unwrap();
        tx.commit().await.unwrap();
        println!("{:?}: 10,000 rides, {what}: {:?}", store.store.engine(), start.elapsed());
        assert_eq!(outcomes.len(), 10_000);
    }
    let start = Instant::now();
    let mut tx = store.store.begin_read(garage.workshop).await.unwrap();
    tx.fleet(&OutlookFilter::default(), &PageRequest::default()).await.unwrap();
    println!("{:?}: first page of the fleet: {:?}", store.store.engine(), start.elapsed());
}

async fn rides_one_by_one(store: TestStore) {
    let garage = Garage::open(&store.store, "Harbour").await;
    let bike = garage.bike("041", "town-8s").await;
    let start = Instant::now();
    for i in 0..500 {
        let mut tx = store.store.begin_write(garage.workshop).await.unwrap();
        tx.record_rides(&[ride(bike, &format!("r{i}"), "2026-03-01T08:00:00Z", 1.0)], garage.since)
            .await
            .unwrap();
        tx.commit().await.unwrap();
    }
    println!("{:?}: 500 rides one by one: {:?}", store.store.engine(), start.elapsed());
}
