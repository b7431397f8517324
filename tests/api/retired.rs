//! Retired is retired: what happens to a bike that left the fleet, and how it comes back.

use reqwest::Method;
use serde_json::{Value, json};
use wear_api::domain::Role;
use wear_tests::{Answer, TestServer, TestStore, on_both_stores};

on_both_stores!(
    what_comes_afterwards_is_refused_or_says_that_it_counts_for_nothing,
    old_rides_dont_bring_it_back,
    it_comes_back_on_purpose,
    hooks_tell_of_it,
);

async fn change(server: &TestServer, bike: &str, body: &Value) -> Answer {
    let path = format!("/v1/bikes/{bike}");
    let revision = server.get(&path).await.expect(200).body["revision"].as_i64().expect("a revision");
    let request = server.request(Method::PATCH, &path).bearer_auth(server.token_of(Role::Mechanic));
    server.send(request.header("if-match", format!("\"{revision}\"")).json(body)).await
}

async fn retire(server: &TestServer, bike: &str) {
    let path = format!("/v1/bikes/{bike}");
    let revision = server.get(&path).await.expect(200).body["revision"].as_i64().expect("a revision");
    let request = server.request(Method::DELETE, &path).bearer_auth(server.token_of(Role::Mechanic));
    server.send(request.header("if-match", format!("\"{revision}\""))).await.check(204);
    let again = server.request(Method::DELETE, &path).bearer_auth(server.token_of(Role::Mechanic));
    let again = server.send(again.header("if-match", format!("\"{}\"", revision + 1))).await.expect(409);
    assert!(again.body["detail"].as_str().expect("a detail").starts_with("the bike left the fleet at"));
}

fn ride(bike: &str, at: &str, km: f64) -> Value {
    json!({"bike_id": bike, "started_at": at, "distance_km": km})
}

async fn km_of_chain(server: &TestServer, bike: &str) -> f64 {
    let fittings = server.get(&format!("/v1/bikes/{bike}/fittings")).await.expect(200).body;
    let chain = fittings["items"].as_array().expect("fittings").iter().find(|it| it["place"] == "chain");
    let part = chain.expect("a chain")["part_id"].as_str().expect("a part").to_owned();
    server.get(&format!("/v1/parts/{part}")).await.expect(200).body["life"]["distance_km"]
        .as_f64()
        .expect("km")
}

async fn what_comes_afterwards_is_refused_or_says_that_it_counts_for_nothing(store: TestStore) {
    let server = TestServer::start(store).await;
    let bike = server.bike("041").await;
    let sent = json!({"rides": [ride(&bike, "2026-03-01T08:00:00Z", 100.0)]});
    server.post("/v1/rides", &sent).await.check(200);
    retire(&server, &bike).await;
    server.wait(chrono::Duration::days(2));
    for (resource, body) in [
        ("readings", json!({"instrument": "rule", "percent": 0.3})),
        ("swaps", json!({"place": "chain"})),
        ("care", json!({"kind": "cleaned"})),
        ("odometer", json!({"km": 800})),
        ("symptoms", json!({"symptom": "noisy"})),
        ("fittings", json!({"place": "jockey_wheels"})),
    ] {
        let answer = server.post(&format!("/v1/bikes/{bike}/{resource}"), &body).await.expect(422);
        let message = answer.body["errors"][0]["message"].as_str().expect("a message").to_owned();
        assert!(message.ends_with("is after the bike left the fleet"), "{resource}: {message}");
    }
    let away = json!({"bike_id": bike, "from": "2026-12-01", "to": "2026-12-03"});
    assert_eq!(server.post("/v1/bookings", &away).await.expect(409).problem(), "conflict");
    let declared = json!({"km_per_week": 50});
    server.post(&format!("/v1/bikes/{bike}/declared-use"), &declared).await.check(409);

    // On the day of its retirement and later, alone and in a batch.
    let alone = json!({"started_at": "2026-11-25T14:00:00Z", "distance_km": 30});
    let alone = server.post(&format!("/v1/bikes/{bike}/rides"), &alone).await.expect(201).body;
    assert_eq!(alone["warnings"][0]["code"], "after_retirement");
    let sent = json!({"rides": [ride(&bike, "2026-11-26T08:00:00Z", 50.0)]});
    let batch = server.post("/v1/rides", &sent).await.expect(200).body;
    assert_eq!((&batch["accepted"], &batch["warnings"][0]["code"]), (&json!(1), &json!("after_retirement")));
    let km = km_of_chain(&server, &bike).await;
    assert!((km - 100.0).abs() < 1e-9, "{km}");
    let outlook = server.get(&format!("/v1/bikes/{bike}/outlook")).await.expect(200).body;
    assert!((outlook["basis"]["distance_km"].as_f64().expect("km") - 100.0).abs() < 1e-9, "{outlook}");
}

async fn old_rides_dont_bring_it_back(store: TestStore) {
    let server = TestServer::start(store).await;
    let bike = server.bike("041").await;
    retire(&server, &bike).await;
    let rides: Vec<Value> =
        (1..=20).map(|day| ride(&bike, &format!("2026-11-{day:02}T08:00:00Z"), 180.0)).collect();
    let batch = server.post("/v1/rides", &json!({"rides": rides})).await.expect(200).body;
    assert_eq!((&batch["accepted"], &batch["warnings"]), (&json!(20), &json!([])));
    let read = json!({"taken_at": "2026-11-20T12:00:00Z", "instrument": "rule", "percent": 0.9});
    server.post(&format!("/v1/bikes/{bike}/readings"), &read).await.check(201);
    // A look computes its outlook, and leaves no trace in lists.
    server.get(&format!("/v1/bikes/{bike}/outlook")).await.check(200);
    wear_api::service::worker::drain(&server.services).await.expect("drained");
    for _ in 0..50 {
        let marked = server.get("/v1/orders-needed").await.expect(200).body["bikes_waiting"] != json!(0);
        if !marked {
            break;
        }
        tokio::time::sleep(std::time::Duration::from_millis(100)).await;
    }
    for list in ["/v1/outlooks", "/v1/bikes", "/v1/orders-needed"] {
        let answer = server.get(list).await.expect(200).body;
        assert_eq!(answer["items"], json!([]), "{list}");
    }
    assert_eq!(server.get("/v1/orders-needed").await.expect(200).body["bikes_counted"], json!(0));
    let plan = server.post("/v1/bench-plan", &json!({"from": "2026-11-26", "to": "2026-12-10"})).await;
    assert!(!plan.body.to_string().contains(&bike), "{}", plan.body);
}

async fn it_comes_back_on_purpose(store: TestStore) {
    let server = TestServer::start(store).await;
    let bike = server.bike("041").await;
    retire(&server, &bike).await;
    server.wait(chrono::Duration::days(2));
    let sent = json!({"rides": [ride(&bike, "2026-11-26T08:00:00Z", 50.0)]});
    server.post("/v1/rides", &sent).await.check(200);
    // Its label has gone to another bike meanwhile.
    let other = server.bike("041").await;
    let taken = change(&server, &bike, &json!({"retired": false})).await.expect(409).body;
    assert!(taken["detail"].as_str().expect("a detail").contains(&other), "{taken}");
    let back = change(&server, &bike, &json!({"retired": false, "label": "041 b"})).await.expect(200).body;
    assert_eq!((&back["retired_at"], &back["label"]), (&Value::Null, &json!("041 b")));
    assert!((km_of_chain(&server, &bike).await - 50.0).abs() < 1e-9);
    let listed = server.get("/v1/outlooks").await.expect(200).body["items"].as_array().expect("items").len();
    assert_eq!(listed, 2);
    let audit = server.get("/v1/audit").await.expect(200).body.to_string();
    assert!(audit.contains("bike.retire") && audit.contains("bike.return"), "{audit}");
}

async fn hooks_tell_of_it(store: TestStore) {
    let server = TestServer::start(store).await;
    let hook = json!({"label": "app", "url": "https://app.example/hook", "events": ["bike.retired", "bike.returned"]});
    let hook = server.post("/v1/hooks", &hook).await.expect(201).body;
    let hook = hook["id"].as_str().or(hook["hook"]["id"].as_str()).expect("an id").to_owned();
    let bike = server.bike("041").await;
    retire(&server, &bike).await;
    change(&server, &bike, &json!({"retired": false})).await.check(200);
    let told = server.get(&format!("/v1/hooks/{hook}/deliveries")).await.expect(200).body;
    let events: Vec<&str> =
        told["items"].as_array().expect("deliveries").iter().filter_map(|it| it["event"].as_str()).collect();
    assert_eq!(events.len(), 2, "{told}");
    assert!(events.contains(&"bike.retired") && events.contains(&"bike.returned"), "{events:?}");
}
