//! Same events, same answer: in whatever order they come, sent twice, one by one or in a batch.

use rand::SeedableRng as _;
use rand::seq::SliceRandom as _;
use rand_chacha::ChaCha8Rng;
use serde_json::{Value, json};
use wear_tests::{TestServer, TestStore, on_both_stores};

on_both_stores!(order_doubling_and_batching_change_nothing, rides_of_several_sources_count_once_in_any_order);

/// A path under the bike, and the event.
type Event = (&'static str, Value);

fn history() -> Vec<Event> {
    let surfaces = ["paved", "gravel", "mud", "indoor"];
    let mut events: Vec<Event> = (0..60)
        .map(|n| {
            let at = format!("2026-{:02}-{:02}T{:02}:30:00Z", 2 + n / 10, 1 + (7 * n) % 28, 6 + n % 12);
            let mut ride = json!({"started_at": at, "distance_km": 8.0 + 1.7 * f64::from(n % 9),
                "surface": surfaces[n as usize % 4], "wet": n % 5 == 0, "source": "log", "source_id": format!("r{n}")});
            if n % 3 == 0 {
                ride["climb_m"] = json!(40 * (n % 7));
            }
            if n % 4 == 0 {
                ride["energy_kj"] = json!(200 + 5 * n);
            }
            ("rides", ride)
        })
        .collect();
    events.push(("care", json!({"kind": "cleaned_and_lubricated", "done_at": "2026-03-14T12:00:00Z"})));
    events.push(("care", json!({"kind": "lubricated", "done_at": "2026-06-10T12:00:00Z"})));
    events.push((
        "readings",
        json!({"taken_at": "2026-04-10T09:00:00Z", "instrument": "rule", "percent": 0.12}),
    ));
    events.push((
        "readings",
        json!({"taken_at": "2026-06-12T09:00:00Z", "instrument": "dial", "spots": [0.05, 0.07]}),
    ));
    events.push(("readings", json!({"taken_at": "2026-07-12T09:00:00Z", "instrument": "drop_in", "mark_percent": 0.5, "drops_in": false})));
    events.push(("swaps", json!({"swapped_at": "2026-05-11T15:00:00Z", "place": "chain"})));
    events
}

async fn outlook_after(server: &TestServer, label: &str, events: &[Event], rides_in_a_batch: bool) -> Value {
    let id = server.bike(label).await;
    let (rides, rest): (Vec<_>, Vec<_>) =
        events.iter().partition(|(path, _)| rides_in_a_batch && *path == "rides");
    for (path, event) in rest {
        let answer = server.post(&format!("/v1/bikes/{id}/{path}"), event).await;
        assert!(answer.status.is_success(), "{path} {event} {}", answer.body);
    }
    if rides_in_a_batch {
        let batch: Vec<Value> = rides
            .iter()
            .map(|(_, event)| {
                let mut event = event.clone();
                event["bike_id"] = json!(id);
                event
            })
            .collect();
        let report = server.post("/v1/rides", &json!({"rides": batch})).await.expect(200).body;
        assert_eq!(report["failed"], json!([]));
    }
    server.get(&format!("/v1/bikes/{id}/outlook")).await.expect(200).body
}

/// The numbers of an outlook, by their path.
fn numbers(value: &Value, path: &str, found: &mut Vec<(String, f64)>) {
    match value {
        Value::Number(number) => found.push((path.to_owned(), number.as_f64().unwrap_or(f64::NAN))),
        Value::Array(items) => {
            items.iter().enumerate().for_each(|(i, item)| numbers(item, &format!("{path}/{i}"), found));
        }
        Value::Object(fields) => {
            fields.iter().for_each(|(name, field)| numbers(field, &format!("{path}/{name}"), found));
        }
        _ => {}
    }
}

fn assert_same(one: &Value, other: &Value, how: &str) {
    let (mut first, mut second) = (Vec::new(), Vec::new());
    numbers(one, "", &mut first);
    numbers(other, "", &mut second);
    assert!(first.len() > 30, "{one}");
    assert_eq!(first.len(), second.len(), "{how}");
    for ((path, a), (_, b)) in first.iter().zip(&second) {
        assert!((a - b).abs() <= 1e-6 * a.abs().max(1.0), "{how}: {path} is {a} and {b}");
    }
    for name in ["advice", "swap_by", "measure_by", "warnings"] {
        assert_eq!(one[name], other[name], "{how}: {name}");
    }
}

async fn order_doubling_and_batching_change_nothing(store: TestStore) {
    let server = TestServer::start(store).await;
    let events = history();
    let in_order = outlook_after(&server, "in order", &events, false).await;
    assert_eq!(in_order["basis"]["readings_used"], 2, "{in_order}");
    let mut random = ChaCha8Rng::seed_from_u64(4);
    for round in 0..3 {
        let mut shuffled = events.clone();
        shuffled.shuffle(&mut random);
        let outlook = outlook_after(&server, &format!("shuffled {round}"), &shuffled, false).await;
        assert_same(&in_order, &outlook, &format!("shuffled {round}"));
    }
    let mut doubled: Vec<Event> = events.iter().flat_map(|event| [event.clone(), event.clone()]).collect();
    assert_same(&in_order, &outlook_after(&server, "doubled", &doubled, false).await, "doubled");
    doubled.shuffle(&mut random);
    assert_same(
        &in_order,
        &outlook_after(&server, "doubled, shuffled", &doubled, false).await,
        "doubled, shuffled",
    );
    assert_same(&in_order, &outlook_after(&server, "batched", &events, true).await, "batched");
}

/// What three sources tell of a bike, each of most of its rides: some agree with one another, and of some the first and the
/// last don't.
fn told_by_three() -> Vec<Event> {
    let mut events: Vec<Event> = Vec::new();
    for n in 0..45_i64 {
        for (place, source) in ["phone", "watch", "computer"].into_iter().enumerate() {
            if (n + place as i64) % 4 == 0 {
                continue;
            }
            let apart = if n % 7 == 0 { 4 } else { 2 };
            let at = format!(
                "2026-{:02}-{:02}T08:{:02}:00Z",
                3 + n / 20,
                1 + (3 * n) % 28,
                20 + apart * place as i64
            );
            let mut ride = json!({"started_at": at, "distance_km": 10.0 + 0.3 * place as f64 + (n % 4) as f64,
                "wet": n % 5 == 0 && place > 0, "source": source, "source_id": format!("r{n}")});
            match place {
                1 => ride["climb_m"] = json!(40 * (n % 7)),
                2 if n % 3 > 0 => ride["energy_kj"] = json!(200 + 5 * n),
                _ => {}
            }
            events.push(("rides", ride));
        }
    }
    let moments = [
        ("care", "2026-03-20T08:23:00Z"),
        ("swaps", "2026-04-22T08:22:00Z"),
        ("readings", "2026-05-10T08:25:00Z"),
    ];
    for (kind, at) in moments {
        events.push((
            kind,
            match kind {
                "care" => json!({"kind": "cleaned_and_lubricated", "done_at": at}),
                "swaps" => json!({"swapped_at": at, "place": "chain"}),
                _ => json!({"taken_at": at, "instrument": "rule", "percent": 0.12}),
            },
        ));
    }
    events
}

/// Whether a ride is to be deleted, or deleted and restored.
fn fate(event: &Value) -> &'static str {
    let number = event["source_id"].as_str().and_then(|id| id.get(1..)).and_then(|n| n.parse::<u32>().ok());
    match (number, event["source"].as_str()) {
        (Some(n), Some("computer")) if n % 6 == 1 => "deleted",
        (Some(n), Some("watch")) if n % 9 == 2 => "deleted",
        (Some(n), Some("computer")) if n % 6 == 4 => "restored",
        (Some(n), Some("phone")) if n % 8 == 3 => "restored",
        _ => "kept",
    }
}

/// Deletes and restores those rides whose fate it is; and sends each deleted one late once more.
async fn settle_fates(server: &TestServer, bike: &str, events: &[Event]) {
    for (_, event) in events.iter().filter(|(_, event)| fate(event) != "kept") {
        let (source, id) =
            (event["source"].as_str().expect("a source"), event["source_id"].as_str().expect("an id"));
        let query = format!("/v1/rides?bike_id={bike}&source={source}&source_id={id}");
        let found = server.get(&query).await.expect(200).body["items"][0].clone();
        let path = format!("/v1/bikes/{bike}/rides/{}", found["id"].as_str().expect("an id"));
        let request = server.request(reqwest::Method::DELETE, &path);
        let request = request.bearer_auth(server.token_of(wear_api::domain::Role::App));
        server.send(request.header("if-match", format!("\"{}\"", found["revision"]))).await.check(204);
        let _late = server.post(&format!("/v1/bikes/{bike}/rides"), event).await.expect(200);
        if fate(event) == "restored" {
            let _back = server.post(&format!("{path}/restoration"), &Value::Null).await.expect(200);
        }
    }
}

async fn outlook_of_all(server: &TestServer, label: &str, events: &[Event], size: usize) -> Value {
    let bike = server.bike(label).await;
    let (rides, rest): (Vec<&Event>, Vec<&Event>) = events.iter().partition(|(path, _)| *path == "rides");
    let middle = rides.len() / 2;
    for (place, chunk) in rides.chunks(size).enumerate() {
        if place == middle / size {
            for (path, event) in &rest {
                let answer = server.post(&format!("/v1/bikes/{bike}/{path}"), event).await;
                assert!(answer.status.is_success(), "{path} {event} {}", answer.body);
            }
        }
        if size == 1 {
            let answer = server.post(&format!("/v1/bikes/{bike}/rides"), &chunk[0].1).await;
            assert!(answer.status.is_success(), "{}", answer.body);
            continue;
        }
        let batch = chunk.iter().map(|(_, event)| {
            let mut event = event.clone();
            event["bike_id"] = json!(bike);
            event
        });
        let report = server.post("/v1/rides", &json!({"rides": batch.collect::<Vec<_>>()})).await.expect(200);
        assert_eq!(report.body["failed"], json!([]));
    }
    settle_fates(server, &bike, events).await;
    server.get(&format!("/v1/bikes/{bike}/outlook")).await.expect(200).body
}

async fn rides_of_several_sources_count_once_in_any_order(store: TestStore) {
    let server = TestServer::start(store).await;
    let events = told_by_three();
    let first = outlook_of_all(&server, "in order", &events, 1).await;
    // Counted twice it would be far more: each of 45 rides is 10 to 13 km.
    let km = first["basis"]["distance_km"].as_f64().expect("a distance");
    assert!(km < 400.0, "{km}");
    let mut random = ChaCha8Rng::seed_from_u64(8);
    for (round, size) in [1, 1, 1_000, 7].into_iter().enumerate() {
        let mut shuffled = events.clone();
        shuffled.shuffle(&mut random);
        if round % 2 == 1 {
            let copies = shuffled[..40].to_vec();
            shuffled
                .extend(copies.into_iter().filter(|(path, event)| *path == "rides" && fate(event) == "kept"));
        }
        let how = format!("shuffled {round}, by {size}");
        assert_same(&first, &outlook_of_all(&server, &how, &shuffled, size).await, &how);
    }
}
