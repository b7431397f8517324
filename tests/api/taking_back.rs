//! A swap that is taken back: the history is as if it had not been.

use reqwest::Method;
use serde_json::{Value, json};
use wear_api::domain::Role;
use wear_tests::{Answer, TestServer, TestStore, on_both_stores};

on_both_stores!(
    the_outlook_is_as_if_it_had_not_been,
    later_swaps_take_off_what_was_on,
    what_contradicts_it_is_put_right_first,
    the_shelf_gets_its_part_back,
);

async fn take_back(server: &TestServer, bike: &str, swap: &str) -> Answer {
    let path = format!("/v1/bikes/{bike}/swaps/{swap}");
    let request = server.request(Method::DELETE, &path).bearer_auth(server.token_of(Role::Mechanic));
    server.send(request.query(&[("reason", "it was another bike")])).await
}

async fn ridden(server: &TestServer, label: &str) -> String {
    let bike = server.bike(label).await;
    for month in 2..=10 {
        let ride = json!({"started_at": format!("2026-{month:02}-03T08:00:00Z"), "distance_km": 150, "wet": month > 6});
        let _made = server.post(&format!("/v1/bikes/{bike}/rides"), &ride).await.expect(201);
    }
    bike
}

async fn read(server: &TestServer, bike: &str, day: &str, percent: f64) -> Answer {
    let reading = json!({"taken_at": format!("{day}T09:00:00Z"), "instrument": "rule", "percent": percent});
    server.post(&format!("/v1/bikes/{bike}/readings"), &reading).await.expect(201)
}

async fn swap(server: &TestServer, bike: &str, body: Value) -> Answer {
    server.post(&format!("/v1/bikes/{bike}/swaps"), &body).await.expect(201)
}

fn told(outlook: &Value) -> Vec<Value> {
    let named = [
        "advice",
        "elongation_percent",
        "remaining_km",
        "remaining_reference_km",
        "swap_by",
        "measure_by",
        "probability_over_limit",
        "cassette",
        "rings",
        "basis",
    ];
    named.iter().map(|name| outlook[name].clone()).collect()
}

async fn the_outlook_is_as_if_it_had_not_been(store: TestStore) {
    let server = TestServer::start(store).await;
    let (bike, twin) = (ridden(&server, "041").await, ridden(&server, "042").await);
    let entered = swap(
        &server,
        &bike,
        json!({"swapped_at": "2026-05-01T09:00:00Z", "place": "chain",
        "reading": {"instrument": "rule", "percent": 0.3}}),
    )
    .await
    .id();
    for bike in [&bike, &twin] {
        read(&server, bike, "2026-08-01", 0.41).await;
    }
    let with = server.get(&format!("/v1/bikes/{bike}/outlook")).await.expect(200).body;
    let without = take_back(&server, &bike, &entered).await.expect(200).body;
    let never = server.get(&format!("/v1/bikes/{twin}/outlook")).await.expect(200).body;
    assert_ne!(told(&with), told(&never));
    assert_eq!(told(&without), told(&never));
    let kept = server.get(&format!("/v1/bikes/{bike}/swaps")).await.expect(200).body;
    assert_eq!(kept["items"][0]["voided_reason"], "it was another bike");
    let again = take_back(&server, &bike, &entered).await.expect(409);
    assert_eq!(again.body["detail"], "the swap was voided before");
    // The same swap can be entered anew.
    let entered = swap(&server, &bike, json!({"swapped_at": "2026-05-01T09:00:00Z", "place": "chain"})).await;
    assert_ne!(entered.body["voided_at"], json!("2026-11-25T12:00:00Z"));
}

async fn later_swaps_take_off_what_was_on(store: TestStore) {
    let server = TestServer::start(store).await;
    let (bike, twin) = (ridden(&server, "041").await, ridden(&server, "042").await);
    let first = swap(&server, &bike, json!({"swapped_at": "2026-04-01T09:00:00Z", "place": "chain"})).await;
    for bike in [&bike, &twin] {
        let last = json!({"swapped_at": "2026-07-01T09:00:00Z", "place": "chain"});
        let _entered = swap(&server, bike, last).await;
    }
    let _without = take_back(&server, &bike, &first.id()).await.expect(200);
    let swaps = server.get(&format!("/v1/bikes/{bike}/swaps")).await.expect(200).body;
    assert_eq!(swaps["items"][0]["off_part_id"], first.body["off_part_id"]);
    let (outlook, never) = (
        server.get(&format!("/v1/bikes/{bike}/outlook")).await.expect(200).body,
        server.get(&format!("/v1/bikes/{twin}/outlook")).await.expect(200).body,
    );
    assert_eq!(told(&outlook), told(&never));
    let part = format!("/v1/parts/{}", first.body["on_part_id"].as_str().expect("an id"));
    let part = server.get(&part).await.expect(200).body;
    assert_eq!((part["retired_at"].is_string(), &part["life"]["bikes"]), (true, &json!([])));
}

async fn what_contradicts_it_is_put_right_first(store: TestStore) {
    let server = TestServer::start(store).await;
    let (bike, other) = (ridden(&server, "041").await, ridden(&server, "042").await);
    let entered = swap(&server, &bike, json!({"swapped_at": "2026-05-01T09:00:00Z", "place": "chain"})).await;
    // The chain that came off runs on another bike.
    let fittings = server.get(&format!("/v1/bikes/{other}/fittings")).await.expect(200).body;
    let theirs = fittings["items"].as_array().expect("items").iter().find(|item| item["place"] == "chain");
    let theirs = theirs.expect("a chain")["id"].as_str().expect("an id").to_owned();
    let off = json!({"removed_at": "2026-06-01T09:00:00Z"});
    let _off = server.post(&format!("/v1/bikes/{other}/fittings/{theirs}/removal"), &off).await.expect(200);
    let on = json!({"part_id": entered.body["off_part_id"], "fitted_at": "2026-06-01T09:00:00Z"});
    let _on = server.post(&format!("/v1/bikes/{other}/fittings"), &on).await.expect(201);
    let refused = take_back(&server, &bike, &entered.id()).await.expect(409);
    assert_eq!(refused.problem(), "conflict");
    let swaps = server.get(&format!("/v1/bikes/{bike}/swaps")).await.expect(200).body;
    assert!(swaps["items"][0]["voided_at"].is_null());
}

async fn the_shelf_gets_its_part_back(store: TestStore) {
    let server = TestServer::start(store).await;
    let bike = ridden(&server, "041").await;
    let model =
        server.post("/v1/part-models", &json!({"name": "Chain", "place": "chain"})).await.expect(201).id();
    let _kept = server.post("/v1/stock", &json!({"part_model_id": model, "count": 3})).await.expect(201);
    server.wait(chrono::Duration::hours(2));
    let count =
        || async { server.get(&format!("/v1/stock/{model}")).await.expect(200).body["count"].clone() };
    let body = json!({"swapped_at": "2026-11-25T13:00:00Z", "place": "chain", "part_model_id": model});
    let entered = swap(&server, &bike, body).await;
    assert_eq!((count().await, &entered.body["from_shelf"]), (json!(2), &json!(true)));
    let _without = take_back(&server, &bike, &entered.id()).await.expect(200);
    assert_eq!(count().await, json!(3));
}
