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
const EACH_TIME: [&str; 5] = ["id", "bike_id", "created_at", "since", "request_id"];

/// Whether all that `said` says is in `answer`; numbers to a thousandth.
fn assert_said(said: &Value, answer: &Value, at: &str) {
    match (said, answer) {
        (Value::Object(said), Value::Object(_)) => {
            for (key, value) in said.iter().filter(|(key, _)| !EACH_TIME.contains(&key.as_str())) {
                assert_said(value, &answer[key], &format!("{at}/{key}"));
            }
        }
        (Value::Array(said), Value::Array(items)) => {
            assert_eq!(said.len(), items.len(), "{at}");
            said.iter().zip(items).for_each(|(said, item)| assert_said(said, item, at));
        }
        (Value::Number(said), Value::Number(number)) => {
            let (said, number) = (said.as_f64().expect("a number"), number.as_f64().expect("a number"));
            assert!((said - number).abs() <= 1e-3 * said.abs(), "{at}: {said} in the README, {number} here");
        }
        _ => assert_eq!(said, answer, "{at}"),
    }
}

/// The tour's blocks of shell, each with the answers that the README shows of it.
fn blocks() -> Vec<(&'static str, Vec<Value>)> {
    let readme = include_str!("../../README.md");
    let (_, tour) = readme.split_once("### A first day").expect("its heading");
    let (tour, _) = tour.split_once("## Import and export").expect("the next heading");
    let mut blocks: Vec<(&str, Vec<Value>)> = Vec::new();
    for fenced in tour.split("```").skip(1).step_by(2) {
        let (language, text) = fenced.split_once('\n').expect("a first line");
        match (language, blocks.last_mut()) {
            ("json", Some((_, shown))) => shown.push(serde_json::from_str(text).expect("JSON")),
            ("sh", _) => blocks.push((text, Vec::new())),
            _ => panic!("{language}"),
        }
    }
    blocks
}

/// The functions that the README has one define, for another address and token.
fn functions(server: &TestServer) -> String {
    let readme = include_str!("../../README.md");
    let defined = readme.lines().filter(|line| line.starts_with("api() ") || line.starts_with("id() "));
    let (url, token) = (server.url(), server.token_of(wear_api::domain::Role::Manager));
    format!("URL={url}\nTOKEN={token}\n{}\n", defined.collect::<Vec<_>>().join("\n"))
}

/// As it would be pasted: all blocks in one shell, where what one sets the next one has.
async fn the_readme_prints_what_the_service_answers(store: TestStore) {
    const NEXT: &str = "=== next block";
    let server = TestServer::start(store).await;
    // The instant at which the README's answers were taken, which their dates depend on.
    let taken = "2026-11-27T20:47:50Z".parse::<wear_api::domain::Timestamp>().expect("a time");
    server.wait(Duration::microseconds(taken.micros() - server.now().micros()));
    let blocks = blocks();
    let mut script = functions(&server);
    for (text, _) in &blocks {
        script = format!("{script}\n{text}\necho; echo '{NEXT}'\n");
    }
    let folder = tempfile::tempdir().expect("a folder");
    let mut shell = std::process::Command::new("bash");
    let _with = shell.arg("-c").arg(script).current_dir(folder.path());
    let ran = tokio::task::spawn_blocking(move || shell.output()).await.expect("it ends").expect("bash");
    let printed = String::from_utf8(ran.stdout).expect("text");
    let mut compared = 0;
    for ((text, shown), printed) in blocks.iter().zip(printed.split(NEXT)) {
        let answers: Vec<Value> = serde_json::Deserializer::from_str(printed)
            .into_iter()
            .collect::<Result<_, _>>()
            .unwrap_or_else(|error| panic!("{error} after {text}: {printed}"));
        assert!(answers.len() >= shown.len(), "{text}: {printed}");
        for (shown, answer) in shown.iter().zip(&answers) {
            assert_said(shown, answer, text);
            compared += 1;
        }
    }
    assert_eq!(compared, 10, "{}", String::from_utf8_lossy(&ran.stderr));
}
