//! Another workshop's things aren't there.

use std::collections::BTreeMap;

use reqwest::{Method, RequestBuilder};
use serde_json::{Value, json};
use wear_api::domain::Role;
use wear_tests::{TestServer, TestStore, bike, on_both_stores};

use crate::document::{examples, operations, served, with_body};

on_both_stores!(another_workshops_bike_is_not_there);

/// Placeholders of documented addresses, and the ids of things that are there.
pub type Ids = BTreeMap<&'static str, String>;

/// One of each thing in the workshop `Harbour`.
pub async fn one_of_each(server: &TestServer) -> Ids {
    let mut called = bike("041");
    called["external_id"] = json!("yard-7");
    let bike = server.post("/v1/bikes", &called).await.expect(201).id();
    let rides = format!("/v1/bikes/{bike}/rides");
    let ride =
        json!({"started_at": "2026-03-01T08:00:00Z", "distance_km": 10, "source": "log", "source_id": "r1"});
    let ride_id = server.post(&rides, &ride).await.expect(201).id();
    let reading = json!({"taken_at": "2026-03-02T08:00:00Z", "instrument": "rule", "percent": 0.1});
    let read = server.post(&format!("/v1/bikes/{bike}/readings"), &reading).await.expect(201).body;
    let fittings = server.get(&format!("/v1/bikes/{bike}/fittings")).await.expect(200).body;
    let model =
        server.post("/v1/part-models", &json!({"name": "Chain", "place": "chain"})).await.expect(201).id();
    let _kept = server.post("/v1/stock", &json!({"part_model_id": model, "count": 3})).await.expect(201);
    let delivery = json!({"part_model_id": model, "count": 5, "expected_on": "2026-12-01"});
    let delivery = server.post("/v1/deliveries", &delivery).await.expect(201).id();
    let bench_day =
        server.post("/v1/bench-days", &json!({"date": "2026-12-24", "minutes": 60})).await.expect(201).id();
    let booking = json!({"bike_id": bike, "from": "2026-12-24", "to": "2026-12-26"});
    let booking = server.post("/v1/bookings", &booking).await.expect(201).id();
    let part = server.post("/v1/parts", &json!({"place": "chain"})).await.expect(201).id();
    let swap = json!({"swapped_at": "2026-04-01T08:00:00Z", "place": "chain"});
    let swap = server.post(&format!("/v1/bikes/{bike}/swaps"), &swap).await.expect(201).id();
    let noise = json!({"symptom": "noisy"});
    let heard = server.post(&format!("/v1/bikes/{bike}/symptoms"), &noise).await.expect(201).body;
    let symptom = heard["symptom"]["id"].as_str().expect("an id").to_owned();
    let shown = json!({"read_at": "2026-03-02T09:00:00Z", "km": 1_200});
    let shown = server.post(&format!("/v1/bikes/{bike}/odometer"), &shown).await.expect(201).body;
    let statement = shown["statement"]["id"].as_str().expect("an id").to_owned();
    let weekly = json!({"km_per_week": 40});
    let declared = server.post(&format!("/v1/bikes/{bike}/declared-use"), &weekly).await.expect(201).id();
    let kind = json!({"name": "hire town", "use": "town"});
    let kind = server.post("/v1/bike-kinds", &kind).await.expect(201).id();
    let tool = json!({"name": "lent rule", "instrument": "rule"});
    let tool = server.post("/v1/tools", &tool).await.expect(201).id();
    let oil = json!({"name": "lent oil", "price_minor": 25, "currency": "EUR"});
    let oil = server.post("/v1/lubricants", &oil).await.expect(201).id();
    let token = server.post("/v1/tokens", &json!({"role": "app", "label": "lent"})).await.expect(201).id();
    let app = server.post("/v1/apps", &json!({"name": "lent app"})).await.expect(201).id();
    let rider = server.post("/v1/riders", &json!({"name": "Anna Brandt"})).await.expect(201).id();
    let link = json!({"app_id": app, "rider_id": rider});
    let link = server.post("/v1/links", &link).await.expect(201).id();
    let hook = json!({"label": "app", "url": "https://app.example/", "events": ["outlook.swap_now"]});
    let hook = server.post("/v1/hooks", &hook).await.expect(201).id();
    let digest = json!({"address": "yard@bikes.example", "period": "daily"});
    let digest = server.post("/v1/digests", &digest).await.expect(201).id();
    let message =
        server.post(&format!("/v1/hooks/{hook}/test"), &serde_json::Value::Null).await.expect(202).id();
    let ids = [
        ("{hook_id}", hook),
        ("{message_id}", message),
        ("{digest_id}", digest),
        ("{bike_id}", bike),
        ("{external_id}", "yard-7".to_owned()),
        ("{ride_id}", ride_id),
        ("{reading_id}", read["reading"]["id"].as_str().expect("an id").to_owned()),
        ("{fitting_id}", fittings["items"][0]["id"].as_str().expect("an id").to_owned()),
        ("{kind_id}", kind),
        ("{statement_id}", statement),
        ("{declared_use_id}", declared),
        ("{part_model_id}", model),
        ("{part_id}", part),
        ("{swap_id}", swap),
        ("{delivery_id}", delivery),
        ("{bench_day_id}", bench_day),
        ("{booking_id}", booking),
        ("{symptom_id}", symptom),
        ("{token_id}", token),
        ("{tool_id}", tool),
        ("{lubricant_id}", oil),
        ("{app_id}", app),
        ("{rider_id}", rider),
        ("{link_id}", link),
    ];
    ids.into()
}

/// Care of the bike too, which changes its outlook.
pub async fn and_care(server: &TestServer, ids: &mut Ids) {
    let care = json!({"kind": "cleaned", "done_at": "2026-03-02T07:00:00Z"});
    let list = format!("/v1/bikes/{}/care", ids["{bike_id}"]);
    ids.insert("{care_id}", server.post(&list, &care).await.expect(201).id());
}

/// The request of a documented operation on these things, with its example as body.
pub fn ask(server: &TestServer, ids: &Ids, path: &str, method: &Method, operation: &Value) -> RequestBuilder {
    let mut address = path.replace("{kind}", "rides");
    for (name, id) in ids {
        address = address.replace(name, id);
    }
    address = address.replace("{secret}", &"5".repeat(64));
    assert!(!address.contains('{'), "{address}");
    let mut request = server.request_of_people(method.clone(), &address);
    if *method == Method::PATCH || *method == Method::DELETE {
        request = request.header("if-match", "\"1\"");
    }
    if path.ends_with("/swap-procedure") {
        request = request.query(&[("place", "chain")]);
    }
    if ["{reading_id}", "{swap_id}", "{symptom_id}", "{statement_id}", "{care_id}"]
        .iter()
        .any(|end| path.ends_with(end))
        || (path.ends_with("{fitting_id}") && *method == Method::DELETE)
    {
        request = request.query(&[("reason", "not mine")]);
    }
    match operation.get("requestBody").and_then(|body| examples(body).into_iter().next()) {
        Some(example) => with_body(request, &example),
        None => request,
    }
}

async fn another_workshops_bike_is_not_there(store: TestStore) {
    let server = TestServer::start(store).await;
    let mut ids = one_of_each(&server).await;
    and_care(&server, &mut ids).await;
    let (bike, model) = (&ids["{bike_id}"], &ids["{part_model_id}"]);
    let stranger = server.token("Hill", Role::Manager).await;
    let before = server.get(&format!("/v1/bikes/{bike}/outlook")).await.expect(200).body;
    let document = served(&server).await;
    let mut asked = 0;
    for (path, method, operation) in operations(&document) {
        // A calendar's address is its key, whoever holds it.
        if !path.contains('{') || path.ends_with(".ics") {
            continue;
        }
        if method == Method::PUT {
            // Makes one of the stranger's own that is called so.
            continue;
        }
        if path.contains("{kind}") {
            // Names a table, not a thing; each workshop has its own.
            continue;
        }
        let request = ask(&server, &ids, &path, &method, &operation).bearer_auth(&stranger);
        let answer = server.send(request).await;
        assert_eq!(
            (answer.status.as_u16(), answer.problem()),
            (404, "not-found"),
            "{method} {path} {}",
            answer.body
        );
        asked += 1;
    }
    assert!(asked > 15, "{asked}");
    let batch =
        json!({"rides": [{"bike_id": bike, "started_at": "2026-03-01T08:00:00Z", "distance_km": 10}]});
    let request = server.request(Method::POST, "/v1/rides").bearer_auth(&stranger).json(&batch);
    let report = server.send(request).await.expect(200).body;
    assert_eq!(report["failed"][0]["errors"][0]["pointer"], "/bike_id");
    for list in [
        "/v1/bikes",
        "/v1/outlooks",
        "/v1/part-models",
        "/v1/stock",
        "/v1/deliveries",
        "/v1/bench-days",
        "/v1/bookings",
        "/v1/rides",
    ] {
        let request = server.request(Method::GET, list).bearer_auth(&stranger);
        assert_eq!(server.send(request).await.expect(200).body["items"], json!([]), "{list}");
    }
    let theirs = [
        ("/v1/stock", json!({"part_model_id": model, "count": 3})),
        ("/v1/deliveries", json!({"part_model_id": model, "count": 5, "expected_on": "2026-12-01"})),
    ];
    for (path, body) in theirs {
        let request = server.request(Method::POST, path).bearer_auth(&stranger).json(&body);
        assert_eq!(server.send(request).await.expect(422).pointers(), ["/part_model_id"], "{path}");
    }
    let after = server.get(&format!("/v1/bikes/{bike}/outlook")).await.expect(200).body;
    assert_eq!(after["elongation_percent"], before["elongation_percent"]);
}
