//! The main job: a bike, its rides, a reading, a swap, what is known of it all along; and the README's tour as it stands.

use chrono::Duration;
use serde_json::{Value, json};
use wear_tests::{TestServer, TestStore, on_both_stores};

use crate::document::NOBODYS;

on_both_stores!(
    the_readme_prints_what_the_service_answers,
    a_bike_from_its_first_ride_to_its_second_chain,
    rides_and_readings_count_once,
    estimates_need_no_store
);

fn band(value: &Value) -> [f64; 3] {
    ["p10", "p50", "p90"].map(|name| value[name].as_f64().unwrap_or_else(|| panic!("{name} in {value}")))
}

async fn a_bike_from_its_first_ride_to_its_second_chain(store: TestStore) {
    let server = TestServer::start(store).await;
    let made = server.post("/v1/bikes", &wear_tests::bike("041")).await.expect(201);
    let id = made.id();
    assert_eq!(made.header("location"), format!("/v1/bikes/{id}"));
    let path = |rest: &str| format!("/v1/bikes/{id}/{rest}");

    for day in 0..120 {
        let at = format!("2026-{:02}-{:02}T08:00:00Z", 7 + day / 30, 1 + day % 30);
        let ride = json!({"started_at": at, "distance_km": 18.4, "surface": "paved", "wet": false,
            "climb_m": 120, "energy_kj": 350, "source": "log", "source_id": format!("r{day}")});
        let _new = server.post(&path("rides"), &ride).await.expect(201);
    }
    let before = server.get(&path("outlook")).await.expect(200).body;
    assert_eq!(before["basis"]["readings_used"], 0);
    assert!(
        (before["basis"]["distance_km"].as_f64().expect("a distance") - 120.0 * 18.4).abs() < 1e-6,
        "{before}"
    );
    let drivers = before["drivers"].as_array().expect("drivers");
    let shares: f64 = drivers.iter().filter_map(|driver| driver["share_percent"].as_f64()).sum();
    assert!((shares - 100.0).abs() < 1e-6, "{drivers:?}");

    let reading = json!({"taken_at": "2026-11-20T17:00:00Z", "instrument": "rule", "percent": 0.31});
    let read = server.post(&path("readings"), &reading).await.expect(201).body;
    assert_eq!(read["reading"]["percent"], 0.31);
    let outlook = &read["outlook"];
    assert_eq!(outlook["basis"]["readings_used"], 1);
    for name in
        ["advice", "reason", "swap_by", "measure_by", "cassette", "rings", "warnings", "basis", "curve"]
    {
        assert!(outlook.get(name).is_some(), "{name} in {outlook}");
    }
    assert_eq!(outlook["limit_percent"], 0.75);
    let [p10, p50, p90] = band(&outlook["elongation_percent"]);
    assert!(p10 < 0.31 && 0.25 < p50 && p50 < 0.4 && p50 < p90, "{p10} {p50} {p90}");
    let [km10, km50, km90] = band(&outlook["remaining_km"]);
    assert!(0.0 < km10 && km10 < km50 && km50 < km90);
    assert_eq!(server.get(&path("outlook")).await.expect(200).body, *outlook);

    let fleet = server.get("/v1/outlooks").await.expect(200).body;
    assert_eq!(fleet["items"][0]["bike_id"], *id);
    assert_eq!(fleet["items"][0]["advice"], outlook["advice"]);

    let care = json!({"kind": "cleaned_and_lubricated", "done_at": "2026-11-20T17:30:00Z"});
    let _cared = server.post(&path("care"), &care).await.expect(201);
    let swap = json!({"swapped_at": "2026-11-21T16:00:00Z", "place": "chain",
        "reading": {"instrument": "dial", "spots": [0.33, 0.34, 0.32]}});
    let swapped = server.post(&path("swaps"), &swap).await.expect(201).body;
    assert!(swapped["reading_id"].is_string() && swapped["off_part_id"].is_string(), "{swapped}");
    let fresh = server.get(&path("outlook")).await.expect(200).body;
    assert_eq!(fresh["part_id"], swapped["on_part_id"]);
    assert_eq!(
        (&fresh["basis"]["readings_used"], fresh["basis"]["distance_km"].as_f64()),
        (&json!(0), Some(0.0))
    );
    assert_eq!(
        server.get(&path("readings")).await.expect(200).body["items"].as_array().map(Vec::len),
        Some(2)
    );
    assert_eq!(server.get(&path("swaps")).await.expect(200).body["items"].as_array().map(Vec::len), Some(1));
}

async fn rides_and_readings_count_once(store: TestStore) {
    let server = TestServer::start(store).await;
    let id = server.bike("7").await;
    let rides = format!("/v1/bikes/{id}/rides");
    let ride = |km: f64| json!({"started_at": "2026-03-01T08:00:00Z", "distance_km": km, "source": "log", "source_id": "r1"});
    let first = server.post(&rides, &ride(10.0)).await.expect(201);
    assert_eq!(server.post(&rides, &ride(10.0)).await.expect(200).id(), first.id());
    let replaced = server.post(&rides, &ride(12.0)).await.expect(200);
    assert_eq!((replaced.id(), &replaced.body["distance_km"]), (first.id(), &json!(12.0)));
    let batch = json!({"rides": [
        {"bike_id": id, "started_at": "2026-03-01T08:00:00Z", "distance_km": 12.0, "source": "log", "source_id": "r1"},
        {"bike_id": id, "started_at": "2026-03-02T08:00:00Z", "distance_km": 5.0, "source": "log", "source_id": "r2"},
        {"bike_id": id, "started_at": "2026-03-01T08:00:00Z", "distance_km": -5.0, "source": "log", "source_id": "r3"},
        {"bike_id": id, "started_at": "2026-11-25T12:06:00Z", "distance_km": 5.0, "source": "log", "source_id": "r4"},
        {"bike_id": NOBODYS, "started_at": "2026-03-01T08:00:00Z", "distance_km": 5.0, "source": "log", "source_id": "r5"}
    ]});
    let report = server.post("/v1/rides", &batch).await.expect(200).body;
    assert_eq!(
        (&report["accepted"], &report["unchanged"], &report["replaced"]),
        (&json!(1), &json!(1), &json!(0))
    );
    let failed: Vec<_> = report["failed"]
        .as_array()
        .into_iter()
        .flatten()
        .map(|ride| (ride["index"].as_u64(), ride["errors"][0]["pointer"].as_str()))
        .collect();
    let expected = [(2, "/distance_km"), (3, "/started_at"), (4, "/bike_id")];
    assert_eq!(failed, expected.map(|(index, pointer)| (Some(index), Some(pointer))));
    let outlook = server.get(&format!("/v1/bikes/{id}/outlook")).await.expect(200).body;
    assert!((outlook["basis"]["distance_km"].as_f64().expect("a distance") - 17.0).abs() < 1e-9);

    let reading = json!({"taken_at": "2026-04-01T08:00:00Z", "instrument": "drop_in", "mark_percent": 0.5, "drops_in": false});
    let readings = format!("/v1/bikes/{id}/readings");
    let first = server.post(&readings, &reading).await.expect(201).body;
    let again = server.post(&readings, &reading).await.expect(200).body;
    assert_eq!(first["reading"]["id"], again["reading"]["id"]);
    assert_eq!(first["outlook"]["elongation_percent"], again["outlook"]["elongation_percent"]);
}

async fn estimates_need_no_store(store: TestStore) {
    let server = TestServer::start(store).await;
    let cases = json!({"cases": [
        {"id": "7f", "group": "town-8s", "limit_percent": 0.75, "at_reference_km": 1700.0,
            "readings": [{"instrument": "rule", "at_reference_km": 812.0, "percent": 0.21}]},
        {"id": "bad", "limit_percent": 7.5, "at_reference_km": 1.0},
        {"id": "none", "limit_percent": 0.5, "at_reference_km": 0}
    ]});
    let answers = server.post("/v1/estimates", &cases).await.expect(200).body;
    assert_eq!(answers["answers"][0]["id"], "7f");
    assert_eq!(answers["answers"][1]["errors"][0]["pointer"], "/limit_percent");
    assert_eq!((&answers["answers"][1]["index"], &answers["answers"][2]["id"]), (&json!(1), &json!("none")));
    let [p10, p50, p90] = band(&answers["answers"][0]["remaining_reference_km"]);
    assert!(p10 < p50 && p50 < p90);

    // Twenty chains that wear three times as fast as assumed: one that nobody measured lasts less long.
    let fast = |n: usize| {
        json!({"id": format!("c{n}"), "group": "mud", "limit_percent": 0.75, "at_reference_km": 1000,
            "readings": [{"instrument": "dial", "at_reference_km": 1000, "percent": 0.25 + 0.018 * n as f64}]})
    };
    let mut cases: Vec<Value> = (0..20).map(fast).collect();
    cases.push(json!({"id": "unmeasured", "group": "mud", "limit_percent": 0.75, "at_reference_km": 0}));
    let mut lives = Vec::new();
    for learn in [false, true] {
        let answers =
            server.post("/v1/estimates", &json!({"cases": cases, "learn": learn})).await.expect(200).body;
        let unmeasured = &answers["answers"][20];
        assert_eq!(unmeasured["basis"]["wear_rate_from"], if learn { "learned" } else { "default" });
        lives.push(band(&unmeasured["remaining_reference_km"])[1]);
    }
    assert!(lives[1] < 0.5 * lives[0], "{lives:?}");
}

/// What differs each time that the tour is gone through.
const EACH_TIME: [&str; 4] = ["id", "bike_id", "created_at", "since"];

/// Whether all that `said` says is in `answer`; numbers to a thousandth.
fn assert_said(said: &Value, answer: &Value, at: &str) {
    match (said, answer) {
        (Value::Object(said), Value::Object(_)) => {
            for (key, value) in said.iter().filter(|(key, _)| !EACH_TIME.contains(&key.as_str())) {
                assert_said(value, &answer[key], &format!("{at}/{key}"));
            }
        }
        (Value::Number(said), Value::Number(number)) => {
            let (said, number) = (said.as_f64().expect("a number"), number.as_f64().expect("a number"));
            assert!((said - number).abs() <= 1e-3 * said.abs(), "{at}: {said} in the README, {number} here");
        }
        _ => assert_eq!(said, answer, "{at}"),
    }
}

/// The path and the body, if any, of a call in a block of the README.
fn call(block: &str) -> Option<(&str, Option<&str>)> {
    let after = block.split_once("api http://127.0.0.1:8080")?.1;
    let Some((path, body)) = after.split_once(" -d '") else { return Some((after.trim(), None)) };
    Some((path, Some(body.split_once('\'')?.0)))
}

async fn the_readme_prints_what_the_service_answers(store: TestStore) {
    let readme = include_str!("../../README.md");
    let (_, tour) = readme.split_once("### A first day").expect("its heading");
    let (tour, _) = tour.split_once("## Import and export").expect("the next heading");
    let server = TestServer::start(store).await;
    // The instant at which the README's answers were taken, which their dates depend on.
    let taken = "2026-11-27T07:40:23Z".parse::<wear_api::domain::Timestamp>().expect("a time");
    server.wait(Duration::microseconds(taken.micros() - server.now().micros()));

    let (mut bike, mut answer, mut compared) = (String::new(), None, 0);
    for fenced in tour.split("```").skip(1).step_by(2) {
        let (language, text) = fenced.split_once('\n').expect("a first line");
        if language == "json" {
            let Some(answer) = answer.take() else { continue };
            assert_said(&serde_json::from_str(text).expect("JSON"), &answer, "");
            compared += 1;
            continue;
        }
        let Some((path, body)) = call(text) else { continue };
        let path = path.replace("$BIKE", &bike);
        let Some(body) = body else {
            answer = Some(server.get(&path).await.expect(200).body);
            continue;
        };
        let body: Value = serde_json::from_str(body).expect("JSON");
        let answered = server.post(&path, &body).await.expect(201).body;
        if path == "/v1/bikes" {
            bike = answered["id"].as_str().expect("an id").to_owned();
        }
        if body["source_id"] == "r1" {
            more_rides(&server, &path, &body).await;
        }
        answer = Some(answered);
    }
    assert_eq!(compared, 8);
}

/// "171 such rides, one a day, every sixth in the rain", the first of which is there.
async fn more_rides(server: &TestServer, path: &str, first: &Value) {
    let began: chrono::NaiveDate = "2026-06-02".parse().expect("a date");
    for (ride, day) in (1..171).zip(began.iter_days().skip(1)) {
        let mut body = first.clone();
        body["started_at"] = json!(format!("{day}T08:00:00Z"));
        body["wet"] = json!(ride % 6 == 5);
        body["source_id"] = json!(format!("r{}", ride + 1));
        let _new = server.post(path, &body).await.expect(201);
    }
}
