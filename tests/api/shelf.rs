//! The shelf and what comes to it.

use chrono::Duration;
use reqwest::Method;
use serde_json::{Value, json};
use wear_api::domain::Role;
use wear_tests::{Answer, TestServer, TestStore, on_both_stores};

on_both_stores!(
    count_is_kept_under_etags,
    substitutes_are_other_models_of_the_same_place,
    a_swap_takes_one_and_never_below_nil,
    a_count_knows_what_came_before_it,
    a_delivery_adds_when_it_arrives,
    deliveries_come_in_order_of_their_dates,
);

async fn change(server: &TestServer, method: Method, path: &str, tag: &str, body: &Value) -> Answer {
    let request = server.request(method, path).bearer_auth(server.token_of(Role::Mechanic));
    let request = request.header("if-match", tag);
    server.send(if body.is_null() { request } else { request.json(body) }).await
}

async fn patch(server: &TestServer, path: &str, body: &Value) -> Answer {
    let tag = server.get(path).await.expect(200).header("etag").to_owned();
    change(server, Method::PATCH, path, &tag, body).await
}

async fn chain(server: &TestServer, name: &str) -> String {
    let model = json!({"name": name, "place": "chain", "sprockets": 8});
    server.post("/v1/part-models", &model).await.expect(201).id()
}

async fn keep(server: &TestServer, model: &str, count: u32) -> String {
    let kept = json!({"part_model_id": model, "count": count});
    let made = server.post("/v1/stock", &kept).await.expect(201);
    assert_eq!(made.header("location"), format!("/v1/stock/{model}"));
    format!("/v1/stock/{model}")
}

async fn count(server: &TestServer, path: &str) -> i64 {
    server.get(path).await.expect(200).body["count"].as_i64().expect("a count")
}

async fn count_is_kept_under_etags(store: TestStore) {
    let server = TestServer::start(store).await;
    let model = chain(&server, "Chain A").await;
    let path = keep(&server, &model, 12).await;
    let kept = server.get(&path).await.expect(200);
    assert_eq!(kept.body["name"], "Chain A");
    assert_eq!(kept.body["place"], "chain");
    assert_eq!(kept.body["under_way"], 0);
    assert_eq!(kept.body["lead_time_days"], 7);
    let twice = server.post("/v1/stock", &json!({"part_model_id": model, "count": 1})).await.expect(409);
    assert_eq!(twice.problem(), "conflict");
    let body = json!({"pack_size": 5, "reorder_point": 4, "service_level": 0.9});
    let changed = patch(&server, &path, &body).await.expect(200);
    assert_eq!(changed.body["count"], 12);
    assert_eq!(changed.body["counted_at"], kept.body["counted_at"]);
    assert_eq!(changed.body["service_level"], 0.9);
    let cleared = patch(&server, &path, &json!({"reorder_point": null})).await.expect(200);
    assert_eq!(cleared.body["reorder_point"], Value::Null);
    assert_eq!(cleared.body["service_level"], 0.9);
    assert_eq!(
        change(&server, Method::PATCH, &path, "\"1\"", &json!({"count": 3})).await.expect(412).problem(),
        "stale"
    );
    let wrong = json!({"count": -1, "pack_size": 0, "lead_time_days": 400, "service_level": 1.0});
    let refused = patch(&server, &path, &wrong).await.expect(422);
    assert_eq!(refused.pointers(), ["/count", "/pack_size", "/lead_time_days", "/service_level"]);
    let gone = change(&server, Method::DELETE, &path, cleared.header("etag"), &Value::Null).await;
    let _gone = gone.expect(204);
    let _nothing = server.get(&path).await.expect(404);
    let app = server.request(Method::GET, "/v1/stock").bearer_auth(server.token_of(Role::App));
    let _refused = server.send(app).await.expect(403);
}

async fn substitutes_are_other_models_of_the_same_place(store: TestStore) {
    let server = TestServer::start(store).await;
    let (a, b) = (chain(&server, "A").await, chain(&server, "B").await);
    let ring = json!({"name": "Ring", "place": "ring", "teeth": 42});
    let ring = server.post("/v1/part-models", &ring).await.expect(201).id();
    let nobodys = "019abf3e-6a34-7d6e-9a51-0d3c5e1f2a10";
    let body = json!({"part_model_id": a, "count": 0, "substitutes": [a, b, b, ring, nobodys]});
    let refused = server.post("/v1/stock", &body).await.expect(422);
    assert_eq!(refused.pointers(), ["/substitutes/0", "/substitutes/2", "/substitutes/3", "/substitutes/4"]);
    let body = json!({"part_model_id": a, "count": 0, "substitutes": [b]});
    let kept = server.post("/v1/stock", &body).await.expect(201);
    assert_eq!(kept.body["substitutes"], json!([b]));
    let listed = server.get("/v1/stock").await.expect(200).body;
    assert_eq!(listed["items"][0]["substitutes"], json!([b]));
    let path = format!("/v1/stock/{a}");
    assert_eq!(
        patch(&server, &path, &json!({"substitutes": []})).await.expect(200).body["substitutes"],
        json!([])
    );
}

async fn swap(server: &TestServer, bike: &str, model: &str, at: &str) -> Answer {
    let swap = json!({"swapped_at": at, "place": "chain", "part_model_id": model});
    server.post(&format!("/v1/bikes/{bike}/swaps"), &swap).await
}

async fn a_swap_takes_one_and_never_below_nil(store: TestStore) {
    let server = TestServer::start(store).await;
    let model = chain(&server, "Chain A").await;
    let path = keep(&server, &model, 2).await;
    let bike = server.bike("041").await;
    let told = |answer: &Answer| answer.body["warnings"][0]["code"].as_str().map(str::to_owned);
    server.wait(Duration::hours(3));
    let first = swap(&server, &bike, &model, "2026-11-25T13:00:00Z").await.expect(201);
    assert_eq!((told(&first), first.body["from_shelf"].clone()), (None, json!(true)));
    assert_eq!(count(&server, &path).await, 1);
    let again = swap(&server, &bike, &model, "2026-11-25T13:00:00Z").await.expect(200);
    assert_eq!(again.id(), first.id());
    assert_eq!(count(&server, &path).await, 1);
    let last = swap(&server, &bike, &model, "2026-11-25T14:00:00Z").await.expect(201);
    assert_eq!(told(&last).as_deref(), Some("shelf_last"));
    // The same model again, though nobody names it.
    let unnamed = json!({"swapped_at": "2026-11-25T15:00:00Z", "place": "chain"});
    let empty = server.post(&format!("/v1/bikes/{bike}/swaps"), &unnamed).await.expect(201);
    assert_eq!(told(&empty).as_deref(), Some("shelf_empty"));
    assert_eq!(empty.body["from_shelf"], false);
    assert_eq!(count(&server, &path).await, 0);
    let listed = server.get(&format!("/v1/bikes/{bike}/swaps")).await.expect(200).body;
    let taken: Vec<_> =
        listed["items"].as_array().expect("items").iter().map(|it| &it["from_shelf"]).collect();
    assert_eq!(taken, [&json!(false), &json!(true), &json!(true)]);
}

async fn a_count_knows_what_came_before_it(store: TestStore) {
    let server = TestServer::start(store).await;
    let model = chain(&server, "Chain A").await;
    let path = keep(&server, &model, 10).await;
    let bike = server.bike("041").await;
    // Entered late: whoever counted today counted without the part that went on in June.
    let late = swap(&server, &bike, &model, "2026-06-01T16:00:00Z").await.expect(201);
    assert_eq!(late.body["from_shelf"], false);
    assert_eq!(late.body["warnings"], json!([]));
    assert_eq!(count(&server, &path).await, 10);
    let delivery =
        json!({"part_model_id": model, "count": 5, "expected_on": "2026-11-20", "arrived_on": "2026-11-20"});
    let before = server.post("/v1/deliveries", &delivery).await.expect(201);
    assert_eq!(before.body["on_shelf"], false);
    assert_eq!(count(&server, &path).await, 10);
}

async fn a_delivery_adds_when_it_arrives(store: TestStore) {
    let server = TestServer::start(store).await;
    let model = chain(&server, "Chain A").await;
    let path = keep(&server, &model, 1).await;
    let delivery =
        json!({"part_model_id": model, "count": 20, "expected_on": "2026-11-27", "note": "two boxes"});
    let made = server.post("/v1/deliveries", &delivery).await.expect(201);
    let address = format!("/v1/deliveries/{}", made.id());
    assert_eq!(made.header("location"), address);
    let shelf = server.get(&path).await.expect(200).body;
    assert_eq!((&shelf["count"], &shelf["under_way"]), (&json!(1), &json!(20)));
    let future = patch(&server, &address, &json!({"arrived_on": "2026-11-26"})).await.expect(422);
    assert_eq!(future.pointers(), ["/arrived_on"]);
    let arrived =
        patch(&server, &address, &json!({"arrived_on": "2026-11-25", "count": 18})).await.expect(200);
    assert_eq!((&arrived.body["on_shelf"], &arrived.body["count"]), (&json!(true), &json!(18)));
    let shelf = server.get(&path).await.expect(200).body;
    assert_eq!((&shelf["count"], &shelf["under_way"]), (&json!(19), &json!(0)));
    let _stays =
        change(&server, Method::DELETE, &address, arrived.header("etag"), &Value::Null).await.expect(409);
    let _corrected = patch(&server, &address, &json!({"count": 20})).await.expect(200);
    assert_eq!(count(&server, &path).await, 21);
    // Nineteen are used up; then the arrival turns out to have been another shop's.
    let counted = patch(&server, &path, &json!({"count": 2})).await.expect(200);
    assert_eq!(counted.body["count"], 2);
    let back = patch(&server, &address, &json!({"arrived_on": null})).await.expect(200);
    assert_eq!(back.body["warnings"][0]["code"], "shelf_short");
    assert_eq!(back.body["on_shelf"], false);
    assert_eq!(count(&server, &path).await, 0);
    let gone = change(&server, Method::DELETE, &address, back.header("etag"), &Value::Null).await;
    let _gone = gone.expect(204);
    // The first arrival of a model begins its count.
    let other = chain(&server, "Chain B").await;
    let delivery =
        json!({"part_model_id": other, "count": 5, "expected_on": "2026-11-20", "arrived_on": "2026-11-24"});
    assert_eq!(server.post("/v1/deliveries", &delivery).await.expect(201).body["on_shelf"], true);
    assert_eq!(count(&server, &format!("/v1/stock/{other}")).await, 5);
}

async fn deliveries_come_in_order_of_their_dates(store: TestStore) {
    let server = TestServer::start(store).await;
    let (a, b) = (chain(&server, "A").await, chain(&server, "B").await);
    for (model, day, arrived) in [
        (&a, "2026-12-09", None),
        (&b, "2026-12-01", None),
        (&a, "2026-11-20", Some("2026-11-21")),
        (&b, "2026-12-05", None),
    ] {
        let delivery = json!({"part_model_id": model, "count": 5, "expected_on": day, "arrived_on": arrived});
        let _made = server.post("/v1/deliveries", &delivery).await.expect(201);
    }
    let dates = async |query: &str| -> Vec<String> {
        let mut path = format!("/v1/deliveries?limit=2{query}");
        let mut dates = Vec::new();
        loop {
            let page = server.get(&path).await.expect(200);
            let items = page.body["items"].as_array().expect("items").clone();
            dates.extend(items.iter().map(|item| item["expected_on"].as_str().expect("a date").to_owned()));
            let Some(link) = page.headers.get("link") else { break dates };
            let link = link.to_str().expect("a link");
            path = link[1..link.find('>').expect("an end")].to_owned();
        }
    };
    assert_eq!(dates("").await, ["2026-11-20", "2026-12-01", "2026-12-05", "2026-12-09"]);
    assert_eq!(dates("&arrived=false").await, ["2026-12-01", "2026-12-05", "2026-12-09"]);
    assert_eq!(dates("&arrived=true").await, ["2026-11-20"]);
    assert_eq!(dates(&format!("&part_model_id={a}")).await, ["2026-11-20", "2026-12-09"]);
    let wrong = server.get("/v1/deliveries?arrived=maybe&part_model_id=x").await.expect(400);
    assert_eq!(wrong.body["errors"].as_array().map(Vec::len), Some(2));
}
