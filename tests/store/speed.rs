//! How fast the store takes rides. Run by hand: `cargo nextest run -p wear-tests --run-ignored only speed --no-capture`.

use std::time::Instant;

use wear_api::clock::Clock;
use wear_api::domain::{NewRide, OutlookFilter, PageRequest};
use wear_api::service::{Services, worker};
use wear_tests::{Garage, TestStore, at, on_both_stores, ride};

on_both_stores![ignored: ten_thousand_rides_in_one_batch, rides_one_by_one, five_hundred_outlooks];

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
        let outcomes = tx.record_rides(&batch, at("2026-06-01T00:00:00Z")).await.unwrap().outcomes;
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

async fn five_hundred_outlooks(store: TestStore) {
    let garage = Garage::open(&store.store, "Harbour").await;
    let now = at("2026-01-01T12:00:00Z");
    let mut rides = Vec::new();
    for label in 0..500 {
        let bike = garage.bike(&label.to_string(), "town-8s").await;
        garage.chain(bike, "2024-06-01T00:00:00Z").await.unwrap();
        for day in 0..190 {
            let started_at = now.plus(chrono::Duration::days(-3 * day - 1)).to_string();
            rides.push(ride(bike, &format!("r{day}"), &started_at, 8.0 + f64::from(label % 9)));
        }
    }
    for batch in rides.chunks(10_000) {
        let mut tx = store.store.begin_write(garage.workshop).await.unwrap();
        tx.record_rides(batch, now).await.unwrap();
        tx.commit().await.unwrap();
    }
    let services = Services::new(store.store.clone(), Clock::stopped(now));
    let mut times = Vec::new();
    for _ in 0..7 {
        let mut tx = store.store.begin_write(garage.workshop).await.unwrap();
        tx.mark_all_bikes(now).await.unwrap();
        tx.commit().await.unwrap();
        let start = Instant::now();
        assert_eq!(worker::drain(&services).await.unwrap(), 500);
        times.push(start.elapsed().as_millis());
    }
    times.sort_unstable();
    println!("{:?}: 500 outlooks, ms: {times:?}", store.store.engine());
}
