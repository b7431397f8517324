//! Same events, same answer: in whatever order they come, sent twice, one by one or in a batch.

use rand::SeedableRng as _;
use rand::seq::SliceRandom as _;
use rand_chacha::ChaCha8Rng;
use serde_json::{Value, json};
use wear_tests::{TestServer, TestStore, on_both_stores};

on_both_stores!(order_doubling_and_batching_change_nothing);

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
    // The same ride's identity belongs to one bike, so each bike's rides get a source of their own.
    let named = |mut event: Value| {
        if event.get("source").is_some() {
            event["source"] = json!(label);
        }
        event
    };
    let (rides, rest): (Vec<_>, Vec<_>) =
        events.iter().partition(|(path, _)| rides_in_a_batch && *path == "rides");
    for (path, event) in rest {
        let answer = server.post(&format!("/v1/bikes/{id}/{path}"), &named(event.clone())).await;
        assert!(answer.status.is_success(), "{path} {event} {}", answer.body);
    }
    if rides_in_a_batch {
        let batch: Vec<Value> = rides
            .iter()
            .map(|(_, event)| {
                let mut event = named(event.clone());
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
