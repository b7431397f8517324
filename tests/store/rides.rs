//! A ride counts once, however often and in whatever order it is sent.

use chrono_tz::Tz;
use std::collections::BTreeMap;

use rand::seq::SliceRandom;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use wear_api::domain::{
    BikeDay, BikeDayKey, BikeId, Cursor, NewRide, PageRequest, PageSize, Ride, RideFacts, RideIdentity,
    RideLoad, RideOutcome, Source, Surface, Telling, Timestamp,
};
use wear_api::store::StoreError;
use wear_core::units::{RideAscent, RideDistance, RideEnergy};
use wear_tests::{Garage, TestStore, at, on_both_stores, ride};

on_both_stores![
    the_same_twice_is_one_ride,
    a_batch_does_what_its_rides_do_one_by_one,
    the_same_id_on_another_bike_is_another_ride,
    a_moved_ride_leaves_the_first_bike,
    what_was_told_twice_counts_once,
    deleted_moved_and_restored_rides_are_compared_anew,
    an_erased_ride_leaves_a_tombstone_alone,
    nothing_is_taken_away_that_was_never_added,
    a_bike_of_nobody_gets_no_ride,
    batches_that_meet_lose_nothing,
    pages_hold_each_ride_once,
    sums_can_be_put_anew,
];

async fn record(garage: &Garage, rides: &[NewRide]) -> Result<Vec<RideOutcome>, StoreError> {
    let mut tx = garage.store.begin_write(garage.workshop).await?;
    let recorded = tx.record_rides(rides, at("2026-06-01T00:00:00Z")).await?;
    tx.commit().await?;
    Ok(recorded.outcomes)
}

async fn days(garage: &Garage, bike: BikeId) -> Vec<BikeDay> {
    let mut tx = garage.store.begin_read(garage.workshop).await.unwrap();
    let (from, to) = ("1970-01-01".parse().unwrap(), "9999-12-31".parse().unwrap());
    tx.bike_days(bike, from, to).await.unwrap()
}

fn kind(outcome: &RideOutcome) -> &'static str {
    match outcome {
        RideOutcome::Inserted(_) => "inserted",
        RideOutcome::Unchanged(_) => "unchanged",
        RideOutcome::Deleted(_) => "deleted",
        RideOutcome::Replaced { .. } => "replaced",
    }
}

async fn the_same_twice_is_one_ride(store: TestStore) {
    let garage = Garage::open(&store.store, "Harbour").await;
    let bike = garage.bike("041", "town-8s").await;
    let first = ride(bike, "r1", "2026-03-01T08:00:00.000001Z", 18.4);
    let stored = record(&garage, std::slice::from_ref(&first)).await.unwrap();
    assert!(matches!(&stored[..], [RideOutcome::Inserted(ride)] if first.says_the_same(ride)));
    let again = record(&garage, std::slice::from_ref(&first)).await.unwrap();
    assert_eq!(again, [RideOutcome::Unchanged(stored[0].ride().clone())]);
    let longer = NewRide { facts: ride(bike, "r1", "2026-03-01T08:00:00Z", 20.0).facts, ..first };
    let replaced = record(&garage, std::slice::from_ref(&longer)).await.unwrap();
    let [RideOutcome::Replaced { old, new }] = &replaced[..] else { panic!("{replaced:?}") };
    assert_eq!(old, stored[0].ride());
    assert_eq!((new.id, new.revision, new.facts.distance_mm()), (old.id, 2, 20_000_000));
    let mut tx = garage.store.begin_read(garage.workshop).await.unwrap();
    assert_eq!(tx.ride(bike, new.id).await.unwrap(), *new);
    let sums = days(&garage, bike).await;
    assert_eq!((sums.len(), sums[0].rides, sums[0].distance_mm), (1, 1, 20_000_000));
}

/// Rides with few identities, so that most come several times, moved, changed or as they were.
fn events(bikes: &[BikeId], random: &mut ChaCha8Rng) -> Vec<NewRide> {
    let event = |random: &mut ChaCha8Rng| {
        let bike = bikes[random.random_range(0..bikes.len())];
        let mut ride = ride(bike, &format!("r{}", random.random_range(0..90)), "2026-03-01T08:00:00Z", 1.0);
        let second = random.random_range(0..4 * 86_400);
        ride.started_at = ride.started_at.plus(chrono::Duration::seconds(second));
        let surface = Surface::ALL[random.random_range(0..Surface::ALL.len())];
        let climb =
            random.random_bool(0.5).then(|| RideAscent::new(random.random_range(0.0..500.0)).unwrap());
        let energy =
            random.random_bool(0.3).then(|| RideEnergy::new(random.random_range(0.0..900.0)).unwrap());
        let distance = RideDistance::new(random.random_range(0.0..60.0)).unwrap();
        ride.facts = RideFacts::new(distance, climb, energy, surface, random.random_bool(0.3));
        ride.load = RideLoad {
            base_reference_mm: random.random_range(0..90_000_000),
            energy_j: random.random_range(0..900_000),
        };
        ride
    };
    let mut events: Vec<NewRide> = (0..300).map(|_| event(random)).collect();
    let copies = events[..60].to_vec();
    events.extend(copies);
    events.shuffle(random);
    events
}

/// What the rollup has to be: the sums over the rides as they stand.
async fn sums_of_rides(garage: &Garage, bike: BikeId) -> Vec<BikeDay> {
    let mut tx = garage.store.begin_read(garage.workshop).await.unwrap();
    let (from, to) = (at("1970-01-01T00:00:00Z"), at("9999-12-31T00:00:00Z"));
    let mut sums: BTreeMap<BikeDayKey, BikeDay> = BTreeMap::new();
    let rides = tx.rides_between(bike, from, to).await.unwrap();
    for ride in rides.into_iter().filter(|ride| ride.telling.counts()) {
        let day = BikeDay::of(&ride, Tz::UTC);
        sums.entry(day.key).or_insert_with(|| BikeDay::empty(day.key)).add(&day);
    }
    let mut sums: Vec<BikeDay> = sums.into_values().collect();
    sums.sort_by_key(|sum| (sum.key.day, sum.key.surface.as_str(), sum.key.wet));
    sums
}

async fn a_batch_does_what_its_rides_do_one_by_one(store: TestStore) {
    let mut random = ChaCha8Rng::seed_from_u64(7);
    let mut seen: Vec<(Vec<&str>, Vec<Vec<BikeDay>>)> = Vec::new();
    let mut events_of_all: Option<(Vec<BikeId>, Vec<NewRide>)> = None;
    for (name, size) in [("one by one", 1), ("by seven", 7), ("at once", 1_000)] {
        let garage = Garage::open(&store.store, name).await;
        let bikes = [
            garage.bike("1", "town-8s").await,
            garage.bike("2", "town-8s").await,
            garage.bike("3", "town-8s").await,
        ];
        let (first_bikes, events) =
            events_of_all.get_or_insert_with(|| (bikes.to_vec(), events(&bikes, &mut random)));
        let own = |id: BikeId| bikes[first_bikes.iter().position(|first| *first == id).unwrap()];
        let mine: Vec<NewRide> =
            events.iter().map(|event| NewRide { bike_id: own(event.bike_id), ..event.clone() }).collect();
        let mut outcomes = Vec::new();
        for batch in mine.chunks(size) {
            outcomes.extend(record(&garage, batch).await.unwrap());
        }
        for (outcome, sent) in outcomes.iter().zip(&mine) {
            assert!(sent.says_the_same(outcome.ride()));
        }
        let mut sums = Vec::new();
        for (bike, first) in bikes.into_iter().zip(first_bikes.iter()) {
            let kept = days(&garage, bike).await;
            assert_eq!(kept, sums_of_rides(&garage, bike).await, "{name}");
            let key = |sum: BikeDay| BikeDay { key: BikeDayKey { bike_id: *first, ..sum.key }, ..sum };
            sums.push(kept.into_iter().map(key).collect());
        }
        seen.push((outcomes.iter().map(kind).collect(), sums));
    }
    assert_eq!(seen[0], seen[1]);
    assert_eq!(seen[0], seen[2]);
    for kind in ["inserted", "unchanged", "replaced"] {
        assert!(seen[0].0.contains(&kind), "no ride was {kind}");
    }
}

async fn the_same_id_on_another_bike_is_another_ride(store: TestStore) {
    let garage = Garage::open(&store.store, "Harbour").await;
    let (one, other) = (garage.bike("041", "town-8s").await, garage.bike("042", "town-8s").await);
    let both =
        [ride(one, "r1", "2026-03-01T08:00:00Z", 18.4), ride(other, "r1", "2026-03-01T08:00:00Z", 18.4)];
    let stored = record(&garage, &both).await.unwrap();
    assert_eq!(stored.iter().map(kind).collect::<Vec<_>>(), ["inserted", "inserted"]);
    assert_eq!(
        record(&garage, &both).await.unwrap().iter().map(kind).collect::<Vec<_>>(),
        ["unchanged", "unchanged"]
    );
    assert_eq!((days(&garage, one).await.len(), days(&garage, other).await.len()), (1, 1));
}

/// The same ride, of that source.
fn from(source: &str, ride: NewRide) -> NewRide {
    let identity = RideIdentity { source: Source::new(source).unwrap(), ..ride.identity.clone() };
    NewRide { identity, ..ride }
}

async fn what_was_told_twice_counts_once(store: TestStore) {
    let garage = Garage::open(&store.store, "Harbour").await;
    let mut random = ChaCha8Rng::seed_from_u64(3);
    let mut sums: Option<Vec<BikeDay>> = None;
    for round in 0..6 {
        let bike = garage.bike(&round.to_string(), "town-8s").await;
        let mut rides = Vec::new();
        for day in 1..20 {
            let start = at(&format!("2026-03-{day:02}T08:00:00Z"));
            for (place, source) in ["phone", "watch", "computer"].into_iter().enumerate() {
                // Some days are told once, some twice, some three times; the first and the third may be too far apart.
                if day % 3 <= 2 - place as i64 % 3 || day % 5 == 0 {
                    let km = 12.0 + 0.5 * place as f64;
                    let told = from(source, ride(bike, &format!("r{day}"), "2026-03-01T08:00:00Z", km));
                    let started_at = start.plus(chrono::Duration::minutes(4 * place as i64));
                    rides.push(NewRide { started_at, ..told });
                }
            }
        }
        if round > 0 {
            rides.shuffle(&mut random);
        }
        let copies = rides[..10].to_vec();
        rides.extend(copies);
        for batch in rides.chunks([100, 1, 7, 100, 3, 1][round]) {
            record(&garage, batch).await.unwrap();
        }
        let mut kept = days(&garage, bike).await;
        assert_eq!(kept, sums_of_rides(&garage, bike).await);
        for sum in &mut kept {
            sum.key.bike_id = BikeId::from_uuid(uuid::Uuid::nil());
        }
        assert!(kept.iter().all(|day| day.rides <= 2) && kept.iter().any(|day| day.rides == 1), "{kept:?}");
        let first = sums.get_or_insert_with(|| kept.clone());
        assert_eq!(*first, kept, "round {round}");
    }
}

async fn deleted_moved_and_restored_rides_are_compared_anew(store: TestStore) {
    let garage = Garage::open(&store.store, "Harbour").await;
    let (bike, other) = (garage.bike("041", "town-8s").await, garage.bike("042", "town-8s").await);
    let now = at("2026-06-01T00:00:00Z");
    let first = from("a", ride(bike, "r1", "2026-03-01T08:00:00Z", 18.4));
    let second = from("b", ride(bike, "r1", "2026-03-01T08:02:00Z", 18.0));
    let counted = record(&garage, std::slice::from_ref(&first)).await.unwrap()[0].ride().clone();
    let mut tx = garage.store.begin_write(garage.workshop).await.unwrap();
    let recorded = tx.record_rides(std::slice::from_ref(&second), now).await.unwrap();
    tx.commit().await.unwrap();
    let again = recorded.outcomes[0].ride().clone();
    assert_eq!((again.telling, again.revision), (Telling::SameAs(counted.id), 1));
    assert_eq!(recorded.told_again, [(again.id, counted.id)]);
    let km = async |bike| {
        days(&garage, bike).await.iter().map(|day| day.distance_mm / 100_000).collect::<Vec<_>>()
    };
    assert_eq!(km(bike).await, [184]);
    // Deleted, the other one counts; restored, it does again.
    let mut tx = garage.store.begin_write(garage.workshop).await.unwrap();
    tx.erase_ride(bike, counted.id, counted.revision, now).await.unwrap();
    tx.commit().await.unwrap();
    assert_eq!(km(bike).await, [180]);
    let mut tx = garage.store.begin_write(garage.workshop).await.unwrap();
    assert_eq!(tx.ride(bike, again.id).await.unwrap().revision, 2);
    let back = tx.restore_ride(bike, counted.id, counted.load).await.unwrap();
    assert_eq!(back.telling, Telling::Counted);
    tx.commit().await.unwrap();
    assert_eq!(km(bike).await, [184]);
    // Two rides, says somebody; that holds when one is sent again with another distance, until it is taken back.
    let mut tx = garage.store.begin_write(garage.workshop).await.unwrap();
    tx.separate_ride(bike, again.id, true).await.unwrap();
    tx.commit().await.unwrap();
    assert_eq!(km(bike).await, [364]);
    let longer = NewRide { facts: ride(bike, "r1", "2026-03-01T08:00:00Z", 18.1).facts, ..second.clone() };
    let sent = record(&garage, std::slice::from_ref(&longer)).await.unwrap();
    assert_eq!((kind(&sent[0]), sent[0].ride().telling), ("replaced", Telling::Separate));
    assert_eq!(km(bike).await, [365]);
    let mut tx = garage.store.begin_write(garage.workshop).await.unwrap();
    tx.separate_ride(bike, again.id, false).await.unwrap();
    assert_eq!(tx.ride(bike, again.id).await.unwrap().telling, Telling::SameAs(counted.id));
    tx.commit().await.unwrap();
    assert_eq!(km(bike).await, [184]);
    // Moved, both count, each on its bike.
    record(&garage, &[NewRide { bike_id: other, moved_from: Some(bike), ..first }]).await.unwrap();
    assert_eq!((km(bike).await, km(other).await), (vec![181], vec![184]));
    for bike in [bike, other] {
        assert_eq!(days(&garage, bike).await, sums_of_rides(&garage, bike).await);
    }
}

async fn a_moved_ride_leaves_the_first_bike(store: TestStore) {
    let garage = Garage::open(&store.store, "Harbour").await;
    let (from, to) = (garage.bike("041", "town-8s").await, garage.bike("042", "town-8s").await);
    record(&garage, &[ride(from, "r1", "2026-03-01T08:00:00Z", 18.4)]).await.unwrap();
    let there = NewRide { moved_from: Some(from), ..ride(to, "r1", "2026-03-01T08:00:00Z", 18.4) };
    let moved = record(&garage, &[there]).await.unwrap();
    assert!(
        matches!(&moved[..], [RideOutcome::Replaced { old, new }] if old.bike_id == from && new.bike_id == to)
    );
    assert_eq!(days(&garage, from).await, []);
    assert_eq!(days(&garage, to).await.len(), 1);
    let mut tx = garage.store.begin_read(garage.workshop).await.unwrap();
    assert!(tx.is_marked(from).await.unwrap() && tx.is_marked(to).await.unwrap());
    assert!(matches!(tx.ride(from, moved[0].ride().id).await, Err(StoreError::NotFound)));
}

async fn an_erased_ride_leaves_a_tombstone_alone(store: TestStore) {
    let garage = Garage::open(&store.store, "Harbour").await;
    let bike = garage.bike("041", "town-8s").await;
    let still = record(&garage, &[ride(bike, "r0", "2026-03-01T08:00:00Z", 0.0)]).await.unwrap();
    let mut tx = garage.store.begin_write(garage.workshop).await.unwrap();
    tx.erase_ride(bike, still[0].ride().id, 1, garage.since).await.unwrap();
    tx.commit().await.unwrap();
    let stored = record(&garage, &[ride(bike, "r1", "2026-03-01T08:00:00Z", 18.4)]).await.unwrap();
    let (id, now) = (stored[0].ride().id, at("2026-06-01T00:00:00Z"));
    let mut tx = garage.store.begin_write(garage.workshop).await.unwrap();
    assert!(matches!(tx.erase_ride(bike, id, 2, now).await, Err(StoreError::Conflict)));
    let erased = tx.erase_ride(bike, id, 1, now).await.unwrap();
    assert_eq!(erased, Ride { revision: 2, deleted_at: Some(now), ..stored[0].ride().clone() });
    assert!(matches!(tx.erase_ride(bike, id, 1, now).await, Err(StoreError::NotFound)));
    tx.commit().await.unwrap();
    assert_eq!(days(&garage, bike).await, []);
    // Sent late once more it stays deleted; restored it counts again.
    let again = record(&garage, &[ride(bike, "r1", "2026-03-01T08:00:00Z", 18.5)]).await.unwrap();
    assert_eq!(kind(&again[0]), "deleted");
    assert_eq!(days(&garage, bike).await, []);
    let mut tx = garage.store.begin_write(garage.workshop).await.unwrap();
    let ride = tx.restore_ride(bike, id, erased.load).await.unwrap();
    assert_eq!(ride, Ride { revision: 3, deleted_at: None, ..erased });
    assert!(matches!(tx.restore_ride(bike, id, ride.load).await, Err(StoreError::NotFound)));
    tx.commit().await.unwrap();
    assert_eq!(days(&garage, bike).await, [BikeDay::of(&ride, Tz::UTC)]);
}

async fn nothing_is_taken_away_that_was_never_added(store: TestStore) {
    let garage = Garage::open(&store.store, "Harbour").await;
    let bike = garage.bike("041", "town-8s").await;
    let stored = record(&garage, &[ride(bike, "r1", "2026-03-01T08:00:00Z", 18.4)]).await.unwrap();
    let day = BikeDay::of(stored[0].ride(), Tz::UTC);
    let elsewhere = BikeDay { key: BikeDayKey { wet: true, ..day.key }, ..day };
    let mut tx = garage.store.begin_write(garage.workshop).await.unwrap();
    let error = tx.add_to_bike_days([elsewhere.negated()]).await.unwrap_err();
    assert!(matches!(error, StoreError::Corrupt { table: "bike_days", .. }), "{error:?}");
    let error = tx.add_to_bike_days([day.negated(), day.negated()]).await.unwrap_err();
    assert!(matches!(error, StoreError::Defect(_)), "{error:?}");
    drop(tx);
    assert_eq!(days(&garage, bike).await, [day]);
}

async fn a_bike_of_nobody_gets_no_ride(store: TestStore) {
    let garage = Garage::open(&store.store, "Harbour").await;
    let other = Garage::open(&store.store, "Hill").await;
    let (own, foreign) = (garage.bike("041", "town-8s").await, other.bike("041", "town-8s").await);
    for bike in [BikeId::generate(), foreign] {
        let batch =
            [ride(own, "r1", "2026-03-01T08:00:00Z", 18.4), ride(bike, "r2", "2026-03-01T08:00:00Z", 1.0)];
        assert!(matches!(record(&garage, &batch).await, Err(StoreError::NotFound)));
    }
    assert_eq!(days(&garage, own).await, []);
    assert_eq!(days(&other, foreign).await, []);
}

async fn batches_that_meet_lose_nothing(store: TestStore) {
    let garage = Garage::open(&store.store, "Harbour").await;
    let bikes = [garage.bike("1", "town-8s").await, garage.bike("2", "town-8s").await];
    let batch = |size: usize, km: f64| -> Vec<NewRide> {
        (0..size).map(|i| ride(bikes[i % 2], &format!("r{i}"), "2026-03-01T08:00:00Z", km)).collect()
    };
    let (mut first, mut second, third) = (batch(150, 1.0), batch(150, 2.0), batch(200, 3.0));
    first.reverse();
    second.swap(3, 140);
    let all = tokio::join!(record(&garage, &first), record(&garage, &second), record(&garage, &third));
    let outcomes = [all.0.unwrap(), all.1.unwrap(), all.2.unwrap()].concat();
    assert_eq!(outcomes.iter().filter(|outcome| kind(outcome) == "inserted").count(), 200);
    for bike in bikes {
        let kept = days(&garage, bike).await;
        assert_eq!(kept, sums_of_rides(&garage, bike).await);
        assert_eq!(kept.iter().map(|day| day.rides).sum::<i64>(), 100);
    }
}

/// Two transactions that meet at one ride follow each other: the later one takes away what the earlier added.
/// SQLite lets no second writer in.
#[tokio::test]
async fn postgres_replaces_what_the_other_transaction_stored() {
    let store = TestStore::postgres().await;
    let garage = Garage::open(&store.store, "Harbour").await;
    let bikes = [garage.bike("041", "town-8s").await, garage.bike("042", "town-8s").await];
    let with_km = |bike: usize, km| {
        let moved_from = (bike > 0).then_some(bikes[0]);
        [NewRide { moved_from, ..ride(bikes[bike], "r1", "2026-03-01T08:00:00Z", km) }]
    };
    record(&garage, &with_km(0, 1.0)).await.unwrap();
    let now = at("2026-06-01T00:00:00Z");
    let mut first = garage.store.begin_write(garage.workshop).await.unwrap();
    let mut second = garage.store.begin_write(garage.workshop).await.unwrap();
    let (two, three) = (with_km(0, 2.0), with_km(1, 3.0));
    first.record_rides(&two, now).await.unwrap();
    let (late, committed) = tokio::join!(second.record_rides(&three, now), async {
        tokio::time::sleep(std::time::Duration::from_millis(200)).await;
        first.commit().await
    });
    committed.unwrap();
    let late = late.unwrap().outcomes;
    second.commit().await.unwrap();
    let [RideOutcome::Replaced { old, new }] = &late[..] else { panic!("{late:?}") };
    assert_eq!((old.facts.distance_mm(), new.facts.distance_mm(), new.revision), (2_000_000, 3_000_000, 3));
    assert_eq!(days(&garage, bikes[0]).await, []);
    assert_eq!(days(&garage, bikes[1]).await, [BikeDay::of(new, Tz::UTC)]);
}

async fn pages_hold_each_ride_once(store: TestStore) {
    let garage = Garage::open(&store.store, "Harbour").await;
    let bike = garage.bike("041", "town-8s").await;
    // Pairs at one instant, and instants that differ in microseconds.
    let start = at("2026-03-01T08:00:00.000009Z");
    let rides: Vec<NewRide> = (0..25)
        .map(|i| NewRide {
            started_at: start.plus(chrono::Duration::microseconds(i / 2)),
            ..ride(bike, &format!("r{i}"), "2026-03-01T08:00:00Z", 1.0)
        })
        .collect();
    record(&garage, &rides).await.unwrap();
    let mut tx = garage.store.begin_read(garage.workshop).await.unwrap();
    let (mut after, mut seen): (Option<Cursor>, Vec<(Timestamp, _)>) = (None, Vec::new());
    loop {
        let page = tx
            .rides(bike, &PageRequest { after: after.clone(), size: PageSize::new(10).unwrap() })
            .await
            .unwrap();
        seen.extend(page.items.into_iter().map(|ride| (ride.started_at, ride.id)));
        after = page.next;
        if after.is_none() {
            break;
        }
    }
    assert_eq!(seen.len(), 25);
    assert!(seen.is_sorted_by(|a, b| a > b));
    let between = tx.rides_between(bike, start, start.plus(chrono::Duration::microseconds(3))).await.unwrap();
    assert_eq!(between.len(), 6);
    let wrong =
        tx.rides(bike, &PageRequest { after: Some(Cursor::Id(bike.uuid())), ..PageRequest::default() }).await;
    assert!(matches!(wrong, Err(StoreError::Cursor(_))));
}

async fn sums_can_be_put_anew(store: TestStore) {
    let garage = Garage::open(&store.store, "Harbour").await;
    let bike = garage.bike("041", "town-8s").await;
    let rides: Vec<NewRide> = (0..12)
        .map(|i| ride(bike, &format!("r{i}"), &format!("2026-03-0{}T08:00:00Z", 1 + i % 3), 2.0))
        .collect();
    let stored = record(&garage, &rides).await.unwrap();
    let load = RideLoad { base_reference_mm: 5, energy_j: 6 };
    let loads: Vec<_> = stored.iter().map(|outcome| (outcome.ride().id, load)).collect();
    let mut tx = garage.store.begin_write(garage.workshop).await.unwrap();
    tx.set_ride_loads(bike, &loads).await.unwrap();
    let (from, to) = (at("2026-03-01T00:00:00Z"), at("2026-04-01T00:00:00Z"));
    let anew = tx.rides_between(bike, from, to).await.unwrap();
    tx.replace_bike_days(bike, anew.iter().map(|ride| BikeDay::of(ride, Tz::UTC))).await.unwrap();
    tx.commit().await.unwrap();
    let kept = days(&garage, bike).await;
    let sums: Vec<_> = kept.iter().map(|day| (day.rides, day.base_reference_mm, day.energy_j)).collect();
    assert_eq!(sums, [(4, 20, 24); 3]);
}
