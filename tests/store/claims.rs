//! Work is done once with effect, whoever does it and whoever dies over it.

use std::collections::BTreeMap;

use chrono::Duration;
use serde_json::{Value, json};
use wear_api::domain::{BikeId, Claim, ClaimedBike, ClaimedJob, Finished, JobId, JobKind, NewJob, Timestamp};
use wear_api::store::{Store, Turn};
use wear_tests::{Garage, TestStore, at, on_both_stores};

on_both_stores![
    events_on_a_bike_are_one_claim,
    every_bike_in_the_fleet_is_marked_at_once,
    an_event_during_the_work_asks_for_it_again,
    a_lease_that_ends_gives_the_bike_to_another,
    an_outlook_made_in_between_makes_the_claim_worthless,
    a_mark_made_anew_is_not_taken_for_the_old_one,
    a_pause_holds_a_bike_back,
    many_workers_claim_each_bike_once,
    jobs_are_claimed_and_coalesced_alike,
    workshops_take_turns_and_what_was_told_goes_first,
    jobs_are_taken_in_turns,
];

const NOON: &str = "2026-03-01T12:00:00Z";

async fn mark(garage: &Garage, bikes: &[BikeId], now: Timestamp) {
    let mut tx = garage.store.begin_write(garage.workshop).await.unwrap();
    tx.mark_bikes(bikes, now).await.unwrap();
    tx.commit().await.unwrap();
}

async fn claim(store: &Store, now: Timestamp, most: i64) -> Vec<ClaimedBike> {
    let mut system = store.begin_system_write().await.unwrap();
    let claimed = system
        .claim_bikes(&Claim { now, lease: Duration::minutes(1), most }, &mut Turn::default())
        .await
        .unwrap();
    system.commit().await.unwrap();
    claimed
}

async fn finish(garage: &Garage, claimed: &ClaimedBike, now: Timestamp) -> Finished {
    let mut tx = garage.store.begin_write(garage.workshop).await.unwrap();
    let finished = tx.finish_bike(claimed, now).await.unwrap();
    tx.commit().await.unwrap();
    finished
}

async fn events_on_a_bike_are_one_claim(store: TestStore) {
    let garage = Garage::open(&store.store, "Harbour").await;
    let bike = garage.bike("041", "town-8s").await;
    let now = at(NOON);
    mark(&garage, &[bike, bike], now).await;
    mark(&garage, &[bike], now.plus(Duration::seconds(5))).await;
    let claimed = claim(&store.store, now, 10).await;
    assert_eq!(claimed.len(), 1);
    assert_eq!(
        (claimed[0].bike_id, claimed[0].workshop_id, claimed[0].marked_at),
        (bike, garage.workshop, now)
    );
    assert_eq!(claim(&store.store, now.plus(Duration::seconds(59)), 10).await, []);
    let mut system = store.store.begin_system_read().await.unwrap();
    assert_eq!(system.outlook_backlog().await.unwrap(), (1, Some(now)));
    drop(system);
    assert_eq!(finish(&garage, &claimed[0], now).await, Finished::Cleared);
    assert_eq!(claim(&store.store, now.plus(Duration::hours(1)), 10).await, []);
    let mut system = store.store.begin_system_read().await.unwrap();
    assert_eq!(system.outlook_backlog().await.unwrap(), (0, None));
}

async fn every_bike_in_the_fleet_is_marked_at_once(store: TestStore) {
    let garage = Garage::open(&store.store, "Harbour").await;
    let other = Garage::open(&store.store, "Hilltop").await;
    other.bike("001", "town-8s").await;
    let bikes = [garage.bike("041", "town-8s").await, garage.bike("042", "town-8s").await];
    let retired = garage.bike("043", "town-8s").await;
    let now = at(NOON);
    let mut tx = garage.store.begin_write(garage.workshop).await.unwrap();
    tx.mark_bikes(&bikes[..1], now).await.unwrap();
    tx.retire_bike(retired, 1, now).await.unwrap();
    tx.mark_all_bikes(now.plus(Duration::seconds(5))).await.unwrap();
    tx.commit().await.unwrap();
    let mut claimed: Vec<BikeId> =
        claim(&store.store, now.plus(Duration::seconds(5)), 10).await.iter().map(|it| it.bike_id).collect();
    claimed.sort_unstable();
    assert_eq!(claimed, bikes);
}

async fn an_event_during_the_work_asks_for_it_again(store: TestStore) {
    let garage = Garage::open(&store.store, "Harbour").await;
    let bike = garage.bike("041", "town-8s").await;
    let now = at(NOON);
    mark(&garage, &[bike], now).await;
    let claimed = claim(&store.store, now, 10).await;
    mark(&garage, &[bike], now).await;
    assert_eq!(claim(&store.store, now, 10).await, []);
    let later = now.plus(Duration::seconds(2));
    assert_eq!(finish(&garage, &claimed[0], later).await, Finished::Again);
    let again = claim(&store.store, later, 10).await;
    assert_eq!((again[0].bike_id, again[0].attempts), (bike, 1));
    assert_eq!(finish(&garage, &again[0], later).await, Finished::Cleared);
}

async fn a_lease_that_ends_gives_the_bike_to_another(store: TestStore) {
    let garage = Garage::open(&store.store, "Harbour").await;
    let bike = garage.bike("041", "town-8s").await;
    let now = at(NOON);
    mark(&garage, &[bike], now).await;
    let dead = claim(&store.store, now, 10).await;
    let heir = claim(&store.store, now.plus(Duration::minutes(1)), 10).await;
    assert_eq!((heir[0].bike_id, heir[0].attempts), (bike, 2));
    assert_eq!(finish(&garage, &dead[0], now).await, Finished::Lost);
    assert_eq!(finish(&garage, &heir[0], now).await, Finished::Cleared);
}

async fn an_outlook_made_in_between_makes_the_claim_worthless(store: TestStore) {
    let garage = Garage::open(&store.store, "Harbour").await;
    let bike = garage.bike("041", "town-8s").await;
    let now = at(NOON);
    mark(&garage, &[bike], now).await;
    let claimed = claim(&store.store, now, 10).await;
    let mut tx = store.store.begin_write(garage.workshop).await.unwrap();
    tx.mark_bikes(&[bike], now).await.unwrap();
    tx.clear_mark(bike).await.unwrap();
    tx.commit().await.unwrap();
    assert_eq!(finish(&garage, &claimed[0], now).await, Finished::Lost);
}

async fn a_mark_made_anew_is_not_taken_for_the_old_one(store: TestStore) {
    let garage = Garage::open(&store.store, "Harbour").await;
    let bike = garage.bike("041", "town-8s").await;
    let now = at(NOON);
    mark(&garage, &[bike], now).await;
    let old = claim(&store.store, now, 10).await;
    let mut tx = store.store.begin_write(garage.workshop).await.unwrap();
    tx.clear_mark(bike).await.unwrap();
    tx.commit().await.unwrap();
    let later = now.plus(Duration::microseconds(1));
    mark(&garage, &[bike], later).await;
    let new = claim(&store.store, later, 10).await;
    assert_eq!(old[0].attempts, new[0].attempts);
    assert_eq!(finish(&garage, &old[0], later).await, Finished::Lost);
    assert_eq!(finish(&garage, &new[0], later).await, Finished::Cleared);
}

async fn a_pause_holds_a_bike_back(store: TestStore) {
    let garage = Garage::open(&store.store, "Harbour").await;
    let bike = garage.bike("041", "town-8s").await;
    let (now, later) = (at(NOON), at(NOON).plus(Duration::minutes(10)));
    mark(&garage, &[bike], now).await;
    let claimed = claim(&store.store, now, 10).await;
    let mut tx = store.store.begin_write(garage.workshop).await.unwrap();
    tx.pause_bike(&claimed[0], later).await.unwrap();
    tx.commit().await.unwrap();
    mark(&garage, &[bike], now).await;
    assert_eq!(claim(&store.store, now.plus(Duration::minutes(9)), 10).await, []);
    assert_eq!(claim(&store.store, later, 10).await[0].attempts, 2);
}

async fn many_workers_claim_each_bike_once(store: TestStore) {
    let garages = [Garage::open(&store.store, "Harbour").await, Garage::open(&store.store, "Hill").await];
    let now = at(NOON);
    for garage in &garages {
        for label in 0..30 {
            let bike = garage.bike(&label.to_string(), "town-8s").await;
            mark(garage, &[bike], now).await;
        }
    }
    let workers = (0..8).map(|_| {
        let store = store.store.clone();
        tokio::spawn(async move {
            let (mut claimed, mut empty) = (Vec::new(), 0);
            while empty < 2 {
                let batch = claim(&store, now, 3).await;
                empty += usize::from(batch.is_empty());
                claimed.extend(batch);
            }
            claimed
        })
    });
    let mut times: BTreeMap<BikeId, u32> = BTreeMap::new();
    for worker in workers.collect::<Vec<_>>() {
        for claimed in worker.await.unwrap() {
            *times.entry(claimed.bike_id).or_default() += 1;
        }
    }
    assert_eq!(times.len(), 60);
    assert!(times.values().all(|times| *times == 1), "{times:?}");
}

async fn enqueue(garage: &Garage, job: NewJob<Value>) -> JobId {
    let mut tx = garage.store.begin_write(garage.workshop).await.unwrap();
    let id = tx.enqueue(&job).await.unwrap();
    tx.commit().await.unwrap();
    id
}

async fn claim_calibration(store: &Store, now: Timestamp) -> Vec<ClaimedJob> {
    let mut system = store.begin_system_write().await.unwrap();
    let claim = Claim { now, lease: Duration::minutes(1), most: 10 };
    let claimed = system.claim_jobs(JobKind::CalibrateFleet, &claim, &mut Turn::default()).await.unwrap();
    system.commit().await.unwrap();
    claimed
}

async fn jobs_are_claimed_and_coalesced_alike(store: TestStore) {
    let garage = Garage::open(&store.store, "Harbour").await;
    let now = at(NOON);
    let job = |kind, key: &str, size: u32| NewJob {
        kind,
        key: key.to_owned(),
        payload: json!({ "size": size }),
        due_at: now,
        created_at: now,
    };
    let first = enqueue(&garage, job(JobKind::CalibrateFleet, "all", 1)).await;
    assert_eq!(enqueue(&garage, job(JobKind::CalibrateFleet, "all", 2)).await, first);
    assert_ne!(enqueue(&garage, job(JobKind::PlanBench, "all", 3)).await, first);
    let claimed = claim_calibration(&store.store, now).await;
    assert_eq!((claimed.len(), claimed[0].id, claimed[0].key.as_str()), (1, first, "all"));
    assert_eq!(claimed[0].payload, json!({"size": 2}));
    enqueue(&garage, job(JobKind::CalibrateFleet, "all", 4)).await;
    let mut tx = store.store.begin_write(garage.workshop).await.unwrap();
    assert_eq!(tx.finish_job(&claimed[0], now).await.unwrap(), Finished::Again);
    tx.commit().await.unwrap();
    let second = claim_calibration(&store.store, now).await;
    assert_eq!(second[0].payload, json!({"size": 4}));
    let mut tx = store.store.begin_write(garage.workshop).await.unwrap();
    tx.pause_job(&second[0], now.plus(Duration::minutes(5)), "no luck").await.unwrap();
    tx.commit().await.unwrap();
    assert_eq!(claim_calibration(&store.store, now.plus(Duration::minutes(4))).await, []);
    let third = claim_calibration(&store.store, now.plus(Duration::minutes(5))).await;
    let mut tx = store.store.begin_write(garage.workshop).await.unwrap();
    assert_eq!(tx.finish_job(&second[0], now).await.unwrap(), Finished::Lost);
    assert_eq!(tx.finish_job(&third[0], now).await.unwrap(), Finished::Cleared);
}

async fn workshops_take_turns_and_what_was_told_goes_first(store: TestStore) {
    let large = Garage::open(&store.store, "Harbour").await;
    let small = Garage::open(&store.store, "Hilltop").await;
    let now = at(NOON);
    let mut bikes = Vec::new();
    for number in 0..12 {
        bikes.push(large.bike(&format!("{number:03}"), "town-8s").await);
    }
    // A setting was changed, and only then somebody rode.
    let mut tx = large.store.begin_write(large.workshop).await.unwrap();
    tx.mark_all_bikes(now).await.unwrap();
    tx.commit().await.unwrap();
    let later = now.plus(Duration::seconds(5));
    let ridden = bikes[7];
    mark(&large, &[ridden], later).await;
    let other = small.bike("041", "town-8s").await;
    mark(&small, &[other], later).await;
    let of = |claimed: &[ClaimedBike]| -> BTreeMap<bool, Vec<BikeId>> {
        let mut by_size: BTreeMap<bool, Vec<BikeId>> = BTreeMap::new();
        for bike in claimed {
            by_size.entry(bike.workshop_id == large.workshop).or_default().push(bike.bike_id);
        }
        by_size
    };
    let first = of(&claim(&store.store, later, 4).await);
    assert_eq!(first[&false], [other]);
    assert!(first[&true].contains(&ridden) && first[&true].len() >= 2, "{first:?}");
    // With nobody else waiting the large one has all of the next round.
    assert_eq!(of(&claim(&store.store, later, 4).await)[&true].len(), 4);
}

async fn jobs_are_taken_in_turns(store: TestStore) {
    let large = Garage::open(&store.store, "Harbour").await;
    let small = Garage::open(&store.store, "Hilltop").await;
    let now = at(NOON);
    for (garage, count) in [(&large, 6), (&small, 2)] {
        let mut tx = garage.store.begin_write(garage.workshop).await.unwrap();
        for number in 0..count {
            let key = number.to_string();
            let kind = JobKind::ScoreForecasts;
            tx.enqueue(&NewJob { kind, key, payload: Value::Null, due_at: now, created_at: now })
                .await
                .unwrap();
        }
        tx.commit().await.unwrap();
    }
    let (mut turn, mut of_small) = (Turn::default(), Vec::new());
    for _ in 0..8 {
        let mut system = store.store.begin_system_write().await.unwrap();
        let claim = Claim { now, lease: Duration::minutes(1), most: 1 };
        let claimed = system.claim_jobs(JobKind::ScoreForecasts, &claim, &mut turn).await.unwrap();
        system.commit().await.unwrap();
        assert_eq!(claimed.len(), 1);
        of_small.push(claimed[0].workshop_id == small.workshop);
    }
    assert_eq!(of_small.iter().take(4).filter(|is_small| **is_small).count(), 2, "{of_small:?}");
    let mut system = store.store.begin_system_write().await.unwrap();
    let claim = Claim { now, lease: Duration::minutes(1), most: 1 };
    assert_eq!(system.claim_jobs(JobKind::ScoreForecasts, &claim, &mut turn).await.unwrap(), []);
}
