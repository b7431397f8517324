//! Rides that can't be, and rides that look odd.

use serde_json::{Value, json};
use wear_tests::{TestServer, TestStore, on_both_stores};

on_both_stores!(
    climb_and_work_are_held_against_the_distance,
    work_of_nought_is_not_measured,
    rides_at_the_same_time_are_named,
);

fn ride(id: &str, at: &str, fields: Value) -> Value {
    let mut ride = json!({"started_at": at, "distance_km": 20.0, "source": "log", "source_id": id});
    let more = fields.as_object().expect("an object").clone();
    ride.as_object_mut().expect("an object").extend(more);
    ride
}

fn codes(warnings: &Value) -> Vec<(Option<u64>, &str)> {
    let warnings = warnings.as_array().expect("warnings");
    warnings.iter().filter_map(|one| Some((one["index"].as_u64(), one["code"].as_str()?))).collect()
}

async fn climb_and_work_are_held_against_the_distance(store: TestStore) {
    let server = TestServer::start(store).await;
    let bike = server.bike("041").await;
    let path = format!("/v1/bikes/{bike}/rides");
    for (fields, pointer, allowed) in [
        (json!({"climb_m": 30_000}), "/climb_m", "0 to 8200 m on 20 km"),
        (json!({"climb_m": 100, "energy_kj": 40_000}), "/energy_kj", "0 to 4760 kJ on 20 km"),
    ] {
        let wrong = ride("r1", "2026-03-01T08:00:00Z", fields);
        let refused = server.post(&path, &wrong).await.expect(422);
        assert_eq!(refused.pointers(), [pointer]);
        assert_eq!(refused.body["errors"][0]["allowed"], allowed);
        let mut of_batch = wrong;
        of_batch["bike_id"] = json!(bike);
        let report = server.post("/v1/rides", &json!({"rides": [of_batch]})).await.expect(200).body;
        assert_eq!(report["failed"][0]["errors"], refused.body["errors"]);
    }
    // On a trainer the way says nothing of the work.
    let indoors = json!({"surface": "indoor", "distance_km": 0, "energy_kj": 4_000});
    server.post(&path, &ride("r2", "2026-03-02T08:00:00Z", indoors)).await.check(201);
}

async fn work_of_nought_is_not_measured(store: TestStore) {
    let server = TestServer::start(store).await;
    let bike = server.bike("041").await;
    let path = format!("/v1/bikes/{bike}/rides");
    let nought = ride("r1", "2026-03-01T08:00:00Z", json!({"energy_kj": 0}));
    let answer = server.post(&path, &nought).await.expect(201).body;
    assert_eq!(
        (&answer["energy_kj"], codes(&answer["warnings"])),
        (&Value::Null, vec![(None, "energy_not_measured")])
    );
    let silent = ride("r2", "2026-03-02T08:00:00Z", json!({}));
    let other = server.post(&path, &silent).await.expect(201).body;
    assert_eq!((&answer["base_reference_km"], &other["warnings"]), (&other["base_reference_km"], &json!([])));
}

async fn rides_at_the_same_time_are_named(store: TestStore) {
    let server = TestServer::start(store).await;
    let bike = server.bike("041").await;
    let long = |id: usize, at: &str| {
        let fields = json!({"bike_id": bike, "distance_km": 200});
        ride(&format!("r{id}"), at, fields)
    };
    let rides: Vec<Value> = (0..5).map(|id| long(id, &format!("2026-03-01T08:00:{id}0Z"))).collect();
    let report = server.post("/v1/rides", &json!({"rides": rides})).await.expect(200).body;
    assert_eq!((&report["accepted"], &report["failed"]), (&json!(5), &json!([])));
    let expected: Vec<_> = (0..5).map(|index| (Some(index), "rides_overlap")).collect();
    assert_eq!(codes(&report["warnings"]), expected);
    let alone = |id: usize, at: &str| {
        let mut ride = long(id, at);
        ride.as_object_mut().expect("an object").remove("bike_id");
        ride
    };
    let path = format!("/v1/bikes/{bike}/rides");
    let during = server.post(&path, &alone(5, "2026-03-01T10:00:00Z")).await.expect(201).body;
    assert_eq!(codes(&during["warnings"]), [(None, "rides_overlap")]);
    assert!(during["warnings"][0]["message"].as_str().is_some_and(|text| text.starts_with("5 other rides")));
    let after = server.post(&path, &alone(6, "2026-03-02T10:00:00Z")).await.expect(201).body;
    assert_eq!(after["warnings"], json!([]));
}
