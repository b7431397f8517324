//! The OpenAPI document: the golden file is what the program prints, and its examples are true.

use reqwest::Method;
use serde_json::Value;
use wear_api::domain::Role;
use wear_api::web::openapi;
use wear_tests::{TestServer, TestStore, on_both_stores};

on_both_stores!(every_request_example_is_accepted);

const GOLDEN: &str = include_str!("../../openapi/openapi.json");

#[test]
fn the_golden_document_is_what_the_program_prints() {
    let printed = openapi::text().expect("a document");
    assert!(
        printed == GOLDEN,
        "the document has changed: review the difference after `wear-api openapi > openapi/openapi.json`"
    );
}

#[test]
fn every_operation_has_what_a_reader_needs() {
    let document: Value = serde_json::from_str(GOLDEN).expect("JSON");
    let mut ids = Vec::new();
    let mut answers = 0;
    for (path, method, operation) in operations(&document) {
        let name = format!("{method} {path}");
        ids.push(
            operation["operationId"].as_str().unwrap_or_else(|| panic!("operationId of {name}")).to_owned(),
        );
        assert!(operation["summary"].is_string(), "{name}");
        assert_eq!(operation["tags"].as_array().map(Vec::len), Some(1), "{name}");
        assert!(operation["security"].is_array(), "{name}");
        if path.starts_with("/v1/") && !path.ends_with(".ics") && path != "/v1/link-redemptions" {
            assert_eq!(operation["responses"]["401"]["$ref"], "#/components/responses/NotSignedIn", "{name}");
        }
        for (status, answer) in operation["responses"].as_object().expect("answers") {
            for (media, content) in answer["content"].as_object().into_iter().flatten() {
                let shown = content.get("example").or_else(|| content.get("examples"));
                assert!(shown.is_some(), "no example of {name} {status} {media}");
                answers += 1;
            }
        }
        if let Some(body) = operation.get("requestBody") {
            let media = taken(body);
            assert!(media.get("example").is_some() || media.get("examples").is_some(), "{name}");
        }
    }
    assert!(answers > 80, "{answers}");
    let count = ids.len();
    ids.sort();
    ids.dedup();
    assert_eq!(ids.len(), count, "two operations of one id");
}

#[test]
fn every_reference_leads_somewhere() {
    let document: Value = serde_json::from_str(GOLDEN).expect("JSON");
    let mut followed = 0;
    let mut left = vec![&document];
    while let Some(value) = left.pop() {
        match value {
            Value::Object(fields) => {
                if let Some(reference) = fields.get("$ref").and_then(Value::as_str) {
                    let pointer = reference.strip_prefix('#').expect("within the document");
                    assert!(document.pointer(pointer).is_some(), "nothing at {reference}");
                    followed += 1;
                }
                left.extend(fields.values());
            }
            Value::Array(items) => left.extend(items),
            _ => {}
        }
    }
    assert!(followed > 200, "{followed}");
}

/// What a body takes: JSON, or the first type of file that has an example.
fn taken(body: &Value) -> &Value {
    let content = body["content"].as_object().expect("content");
    let json = content.get("application/json");
    json.or_else(|| content.values().find(|media| media.get("example").is_some())).unwrap_or(&Value::Null)
}

/// An id that nothing has.
pub const NOBODYS: &str = "019abf3e-6a34-7d6e-9a51-0d3c5e1f2a10";

/// A documented address with nobody's things in it.
pub fn address_of_nobodys(path: &str) -> String {
    let parts = path.split('/').map(|part| match part.split_once('}') {
        Some((_, ending)) => format!("{NOBODYS}{ending}"),
        None => part.to_owned(),
    });
    parts.collect::<Vec<_>>().join("/")
}

/// Path, method and operation.
pub fn operations(document: &Value) -> Vec<(String, Method, Value)> {
    let paths = document["paths"].as_object().expect("paths");
    let mut found = Vec::new();
    for (path, item) in paths {
        for (method, operation) in item.as_object().expect("operations") {
            let method = method.to_uppercase().parse().expect("a method");
            found.push((path.clone(), method, operation.clone()));
        }
    }
    assert!(found.len() > 20, "{}", found.len());
    found
}

/// The document that the service gives out.
pub async fn served(server: &TestServer) -> Value {
    server.send(server.request(Method::GET, "/openapi.json")).await.expect(200).body
}

/// The examples of a request body.
pub fn examples(body: &Value) -> Vec<Value> {
    let media = taken(body);
    let mut examples: Vec<Value> = media.get("example").cloned().into_iter().collect();
    if let Some(named) = media["examples"].as_object() {
        examples.extend(named.values().map(|example| example["value"].clone()));
    }
    examples
}

/// The address of a documented path with a new bike, and whatever else it names, made ready to be asked.
pub async fn ready_for(server: &TestServer, path: &str) -> String {
    let bike = bike_041(server).await;
    if path == "/v1/bikes" {
        free_the_label(server).await;
    }
    let mut address = path.replace("{bike_id}", &bike);
    if path == "/v1/ride-files" {
        address = format!("{address}?bike_id={bike}");
    }
    if path == "/v1/bikes/{bike_id}/fittings" {
        empty_the_chain(server, &bike).await;
    }
    if path.contains("{fitting_id}") {
        let fitting = chain_of(server, &bike).await;
        address = address.replace("{fitting_id}", &fitting);
    }
    if path.contains("{tool_id}") {
        // No two tools in use have the same name.
        let tool = serde_json::json!({"name": format!("rule of {bike}"), "instrument": "rule"});
        let tool = server.post("/v1/tools", &tool).await.expect(201).id();
        address = address.replace("{tool_id}", &tool);
    }
    if path.contains("{lubricant_id}") {
        // No two lubricants in use have the same name.
        let lubricant =
            serde_json::json!({"name": format!("oil of {bike}"), "price_minor": 25, "currency": "EUR"});
        let lubricant = server.post("/v1/lubricants", &lubricant).await.expect(201).id();
        address = address.replace("{lubricant_id}", &lubricant);
    }
    if path == "/v1/apps" {
        free_the_name(server).await;
    }
    if path.contains("{app_id}") {
        address = address.replace("{app_id}", &app(server).await);
    }
    if path.contains("{rider_id}") {
        address = address.replace("{rider_id}", &rider(server).await);
    }
    if path.contains("{link_id}") {
        let link = serde_json::json!({"rider_id": rider(server).await, "label": "ride log"});
        address = address.replace("{link_id}", &server.post("/v1/links", &link).await.expect(201).id());
    }
    if path.contains("{kind_id}") {
        // No two kinds have the same name.
        let kind = serde_json::json!({"name": format!("kind of {bike}"), "use": "town"});
        let kind = server.post("/v1/bike-kinds", &kind).await.expect(201).id();
        address = address.replace("{kind_id}", &kind);
    }
    if path.contains("{hook_id}") {
        let hook = serde_json::json!({"label": "app", "url": "https://app.example/", "events": ["outlook.swap_now"]});
        let hook = server.post("/v1/hooks", &hook).await.expect(201).id();
        if path.contains("{message_id}") {
            let message = server.post(&format!("/v1/hooks/{hook}/test"), &Value::Null).await.expect(202).id();
            address = address.replace("{message_id}", &message);
        }
        address = address.replace("{hook_id}", &hook);
    }
    if path.contains("{digest_id}") {
        let digest = serde_json::json!({"address": "yard@bikes.example", "period": "daily"});
        let digest = server.post("/v1/digests", &digest).await.expect(201).id();
        address = address.replace("{digest_id}", &digest);
    }
    if path.contains("{part_model_id}") {
        let model = model(server).await;
        if path.starts_with("/v1/stock/") {
            let stock = serde_json::json!({"part_model_id": model, "count": 3});
            let _kept = server.post("/v1/stock", &stock).await.expect(201);
        }
        address = address.replace("{part_model_id}", &model);
    }
    if path.contains("{kind}") {
        if server.get("/v1/bikes?search=hire%207").await.expect(200).body["items"] == Value::Array(Vec::new())
        {
            let _hired = server.bike("hire 7").await;
        }
        address = address.replace("{kind}", "rides");
    }
    if path.contains("{part_id}") {
        let part = server.post("/v1/parts", &serde_json::json!({"place": "chain"})).await.expect(201).id();
        address = address.replace("{part_id}", &part);
    }
    if path.contains("{ride_id}") {
        let ride = serde_json::json!({"started_at": "2026-03-01T08:00:00Z", "distance_km": 10});
        let ride = server.post(&format!("/v1/bikes/{bike}/rides"), &ride).await.expect(201).id();
        address = address.replace("{ride_id}", &ride);
    }
    if path.contains("{external_id}") {
        // What has a body makes it.
        address = address.replace("{external_id}", "hire-12");
    }
    if path.contains("{care_id}") {
        let care = serde_json::json!({"kind": "cleaned", "done_at": "2026-03-01T17:00:00Z"});
        let care = server.post(&format!("/v1/bikes/{bike}/care"), &care).await.expect(201).id();
        address = address.replace("{care_id}", &care);
    }
    for (name, list, thing, event) in [
        (
            "{reading_id}",
            "readings",
            "reading",
            serde_json::json!({"taken_at": "2026-03-02T08:00:00Z", "instrument": "rule", "percent": 0.1}),
        ),
        (
            "{symptom_id}",
            "symptoms",
            "symptom",
            serde_json::json!({"reported_at": "2026-03-02T08:00:00Z", "symptom": "noisy"}),
        ),
    ] {
        if path.contains(name) {
            let made = server.post(&format!("/v1/bikes/{bike}/{list}"), &event).await.expect(201).body;
            address = address.replace(name, made[thing]["id"].as_str().expect("an id"));
        }
    }
    if path.contains("{delivery_id}") {
        let delivery = serde_json::json!({
            "part_model_id": model(server).await, "count": 5, "expected_on": "2026-11-20"
        });
        let delivery = server.post("/v1/deliveries", &delivery).await.expect(201).id();
        address = address.replace("{delivery_id}", &delivery);
    }
    if path.contains("{statement_id}") {
        let shown = serde_json::json!({"read_at": "2026-03-01T17:00:00Z", "km": 4_180});
        let shown = server.post(&format!("/v1/bikes/{bike}/odometer"), &shown).await.expect(201).body;
        address = address.replace("{statement_id}", shown["statement"]["id"].as_str().expect("an id"));
    }
    if path.contains("{declared_use_id}") {
        let of_bike = path.starts_with("/v1/bikes/");
        let declared = match of_bike {
            true => serde_json::json!({"km_per_week": 60}),
            false => serde_json::json!({"group": "town-8s", "km_per_week": 60}),
        };
        let list =
            if of_bike { format!("/v1/bikes/{bike}/declared-use") } else { "/v1/declared-use".to_owned() };
        let declared = server.post(&list, &declared).await.expect(201).id();
        address = address.replace("{declared_use_id}", &declared);
    }
    if path.contains("{bench_day_id}") {
        let day = serde_json::json!({"date": "2026-12-24", "minutes": 60});
        let day = server.post("/v1/bench-days", &day).await.expect(201).id();
        address = address.replace("{bench_day_id}", &day);
    }
    if path.contains("{booking_id}") {
        let booking = serde_json::json!({"bike_id": bike, "from": "2026-12-01", "to": "2026-12-04"});
        let booking = server.post("/v1/bookings", &booking).await.expect(201).id();
        address = address.replace("{booking_id}", &booking);
    }
    if let Some(thing) = address.strip_suffix("/restoration") {
        let request = server.request(Method::DELETE, thing).bearer_auth(server.token_of(Role::Manager));
        let request = request.header("if-match", "\"1\"");
        let request =
            if thing.contains("/rides/") { request } else { request.query(&[("reason", "a slip")]) };
        let gone = server.send(request).await;
        assert!(gone.status.is_success(), "{}", gone.body);
    }
    address
}

/// An app under a name that no other has.
pub async fn app(server: &TestServer) -> String {
    let name = format!("app {}", uuid::Uuid::now_v7());
    server.post("/v1/apps", &serde_json::json!({"name": name})).await.expect(201).id()
}

/// A rider.
pub async fn rider(server: &TestServer) -> String {
    server.post("/v1/riders", &serde_json::json!({"name": "Anna Brandt"})).await.expect(201).id()
}

/// Takes the examples' name from the app that has it.
async fn free_the_name(server: &TestServer) {
    let found = server.get("/v1/apps").await.expect(200).body;
    for app in found["items"].as_array().expect("apps").iter().filter(|app| app["name"] == "Ride log") {
        let path = format!("/v1/apps/{}", app["id"].as_str().expect("an id"));
        let delete = server.request(Method::DELETE, &path).bearer_auth(server.token_of(Role::Manager));
        server.send(delete.header("if-match", format!("\"{}\"", app["revision"]))).await.check(204);
    }
}

/// A bike with the label 041; one that has it already leaves the fleet.
pub async fn bike_041(server: &TestServer) -> String {
    free_the_label(server).await;
    server.bike("041").await
}

async fn free_the_label(server: &TestServer) {
    let found = server.get("/v1/bikes?search=041").await.expect(200).body;
    for bike in found["items"].as_array().expect("bikes").iter().filter(|bike| bike["label"] == "041") {
        let path = format!("/v1/bikes/{}", bike["id"].as_str().expect("an id"));
        let retire = server.request(Method::DELETE, &path).bearer_auth(server.token_of(Role::Manager));
        server.send(retire.header("if-match", format!("\"{}\"", bike["revision"]))).await.check(204);
    }
}

/// The request with an example as its body: a file is text, XML or a table; all else is JSON.
pub fn with_body(request: reqwest::RequestBuilder, example: &Value) -> reqwest::RequestBuilder {
    match example {
        Value::String(file) => {
            let media = if file.starts_with('<') { "application/gpx+xml" } else { "text/csv" };
            request.header("content-type", media).body(file.clone())
        }
        _ => request.json(example),
    }
}

/// Puts ids that are there in the place of an example's.
pub async fn with_ids_of_its_own(server: &TestServer, example: &mut Value) {
    if example.get("part_model_id").is_some() {
        example["part_model_id"] = model(server).await.into();
    }
    if example.get("app_id").is_some() {
        example["app_id"] = app(server).await.into();
    }
    if example.get("rider_id").is_some() {
        example["rider_id"] = rider(server).await.into();
    }
    if example.get("code").is_some() {
        let link = serde_json::json!({"rider_id": rider(server).await, "label": "ride log"});
        example["code"] = server.post("/v1/links", &link).await.expect(201).body["code"].clone();
    }
    if example.get("bike_id").is_some() {
        example["bike_id"] = bike_041(server).await.into();
    }
}

async fn every_request_example_is_accepted(store: TestStore) {
    let server = TestServer::start(store).await;
    let document = served(&server).await;
    let mut sent = 0;
    for (path, method, operation) in operations(&document) {
        let Some(body) = operation.get("requestBody") else { continue };
        for mut example in examples(body) {
            let address = ready_for(&server, &path).await;
            with_ids_of_its_own(&server, &mut example).await;
            let mut request =
                server.request(method.clone(), &address).bearer_auth(server.token_of(Role::Manager));
            request = with_body(request, &example);
            if method == Method::PATCH {
                request = request.header("if-match", "\"1\"");
            }
            let answer = server.send(request).await;
            assert!(answer.status.is_success(), "{method} {path} {example} {}", answer.body);
            let documented = &operation["responses"][answer.status.as_str()];
            assert!(documented.is_object(), "{} of {method} {path} isn't documented", answer.status);
            sent += 1;
        }
    }
    assert!(sent >= 15, "{sent} examples");
}

async fn model(server: &TestServer) -> String {
    let model = serde_json::json!({"name": "Chain", "place": "chain"});
    server.post("/v1/part-models", &model).await.expect(201).id()
}

async fn chain_of(server: &TestServer, bike: &str) -> String {
    let fittings = server.get(&format!("/v1/bikes/{bike}/fittings")).await.expect(200).body;
    let chain =
        fittings["items"].as_array().and_then(|items| items.iter().find(|item| item["place"] == "chain"));
    chain.and_then(|chain| chain["id"].as_str()).expect("a chain").to_owned()
}

async fn empty_the_chain(server: &TestServer, bike: &str) {
    let chain = chain_of(server, bike).await;
    let removal = serde_json::json!({"removed_at": "2026-06-01T09:00:00Z"});
    let _off = server.post(&format!("/v1/bikes/{bike}/fittings/{chain}/removal"), &removal).await.expect(200);
}
