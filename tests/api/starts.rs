//! How bikes' records begin: new, as found, corrected; and what falls outside of them.

use reqwest::{Method, RequestBuilder};
use serde_json::{Value, json};
use wear_api::domain::Role;
use wear_tests::{TestServer, TestStore, on_both_stores};

on_both_stores!(
    a_bike_without_a_fitting_date_is_as_found,
    events_from_before_the_entry_are_taken_in_any_order,
    a_wrong_start_is_corrected,
    what_rules_a_start_out_is_named,
    rides_outside_of_the_record_are_named,
    bikes_of_a_table_are_as_found,
);

fn found(label: &str) -> Value {
    let mut bike = wear_tests::bike(label);
    bike.as_object_mut().expect("an object").remove("fitted_on");
    bike
}

fn ride(id: &str, at: &str) -> Value {
    json!({"started_at": at, "distance_km": 20.0, "source": "log", "source_id": id})
}

fn rule(at: &str, percent: f64) -> Value {
    json!({"taken_at": at, "instrument": "rule", "percent": percent})
}

fn as_manager(server: &TestServer, method: Method, path: &str) -> RequestBuilder {
    server.request(method, path).bearer_auth(server.token_of(Role::Manager))
}

async fn import(server: &TestServer, kind: &str, table: String) -> wear_tests::Answer {
    let request = as_manager(server, Method::POST, &format!("/v1/imports/{kind}"));
    server.send(request.header("content-type", "text/csv").body(table)).await
}

async fn patch(server: &TestServer, bike: &str, body: &Value) -> wear_tests::Answer {
    let tag = server.get(&format!("/v1/bikes/{bike}")).await.header("etag").to_owned();
    let request = as_manager(server, Method::PATCH, &format!("/v1/bikes/{bike}"));
    server.send(request.header("If-Match", tag).json(body)).await
}

async fn start(server: &TestServer, bike: &str) -> Value {
    server.get(&format!("/v1/bikes/{bike}")).await.expect(200).body["start"].clone()
}

async fn a_bike_without_a_fitting_date_is_as_found(store: TestStore) {
    let server = TestServer::start(store).await;
    let mut body = found("041");
    body["chain_km"] = json!(2_000.5);
    let bike = server.post("/v1/bikes", &body).await.expect(201).body;
    assert_eq!((&bike["start"]["state"], &bike["start"]["chain_km"]), (&json!("as_found"), &json!(2_000.5)));
    assert_eq!(bike["start"]["since"], bike["created_at"]);
    let path = format!("/v1/bikes/{}", bike["id"].as_str().expect("an id"));
    let fittings = server.get(&format!("{path}/fittings")).await.expect(200).body;
    let starts: Vec<(&str, &Value)> = fittings["items"]
        .as_array()
        .expect("fittings")
        .iter()
        .filter(|fitting| fitting["start"] == "as_found")
        .filter_map(|fitting| Some((fitting["place"].as_str()?, &fitting["chain_km"])))
        .collect();
    assert_eq!(starts.len(), 3);
    assert!(starts.contains(&("chain", &json!(2_000.5))) && starts.contains(&("ring", &Value::Null)));

    body["label"] = json!("042");
    body["fitted_on"] = json!("2026-01-01");
    assert_eq!(server.post("/v1/bikes", &body).await.expect(422).pointers(), ["/chain_km"]);

    // A chain read on its first day is about where it was read.
    let bike = server.post("/v1/bikes", &found("043")).await.expect(201).id();
    let now = server.now().to_string();
    let read = server.post(&format!("/v1/bikes/{bike}/readings"), &rule(&now, 0.40)).await.expect(201).body;
    let median = read["outlook"]["elongation_percent"]["p50"].as_f64().expect("a number");
    assert!((0.33..0.47).contains(&median), "{median}");
}

async fn events_from_before_the_entry_are_taken_in_any_order(store: TestStore) {
    let server = TestServer::start(store).await;
    let care = json!({"kind": "lubricated", "done_at": "2026-03-20T18:00:00Z"});
    let swap = json!({"place": "chain", "swapped_at": "2026-06-01T09:00:00Z"});
    let events = [
        ("rides", ride("a", "2026-03-01T08:00:00Z")),
        ("rides", ride("b", "2026-05-01T08:00:00Z")),
        ("readings", rule("2026-04-01T08:00:00Z", 0.4)),
        ("care", care),
        ("swaps", swap),
        ("readings", rule("2026-09-01T08:00:00Z", 0.2)),
    ];
    let mut answers = Vec::new();
    for order in [[0, 1, 2, 3, 4, 5], [5, 4, 3, 2, 1, 0], [4, 2, 0, 5, 3, 1]] {
        let bike = server.post("/v1/bikes", &found(&format!("04{}", order[0]))).await.expect(201).id();
        for place in order {
            let (kind, mut body) = events[place].clone();
            if kind == "rides" {
                body["source_id"] = json!(format!("{bike}{place}"));
            }
            let answer = server.post(&format!("/v1/bikes/{bike}/{kind}"), &body).await.expect(201).body;
            if kind == "rides" {
                assert_eq!(answer["warnings"], json!([]), "{order:?}");
            }
        }
        assert_eq!(start(&server, &bike).await["since"], "2026-03-01T08:00:00Z", "{order:?}");
        let mut outlook = server.get(&format!("/v1/bikes/{bike}/outlook")).await.expect(200).body;
        for own in ["bike_id", "part_id", "computed_at"] {
            outlook.as_object_mut().expect("an object").remove(own);
        }
        answers.push(outlook);
    }
    assert_eq!(answers[0], answers[1]);
    assert_eq!(answers[0], answers[2]);
}

async fn a_wrong_start_is_corrected(store: TestStore) {
    let server = TestServer::start(store).await;
    let bike = server.post("/v1/bikes", &found("041")).await.expect(201).id();
    server.post(&format!("/v1/bikes/{bike}/rides"), &ride("a", "2026-03-01T08:00:00Z")).await.check(201);
    let read = rule("2026-04-01T08:00:00Z", 0.1);
    server.post(&format!("/v1/bikes/{bike}/readings"), &read).await.check(201);
    let new = patch(&server, &bike, &json!({"fitted_on": "2026-02-01"})).await.expect(200).body;
    assert_eq!(new["start"], json!({"state": "new", "fitted_on": "2026-02-01"}));
    assert_eq!(new["outside"], Value::Null, "the ride is of this chain");
    let later = patch(&server, &bike, &json!({"fitted_on": "2026-03-15"})).await.expect(200).body;
    let (rides, km) = (&later["outside"]["rides"], later["outside"]["distance_km"].as_f64());
    assert!(
        rides == 1 && km.is_some_and(|km| km > 0.0),
        "a ride that doesn't count any more is named: {later}"
    );
    patch(&server, &bike, &json!({"fitted_on": "2026-02-01"})).await.check(200);
    let fittings = server.get(&format!("/v1/bikes/{bike}/fittings")).await.expect(200).body;
    assert!(fittings["items"].as_array().expect("fittings").iter().all(|fitting| fitting["start"] == "new"));
    let again = patch(&server, &bike, &json!({"fitted_on": null, "chain_km": 1_500})).await.expect(200).body;
    let expected = json!({"state": "as_found", "since": "2026-03-01T08:00:00Z", "chain_km": 1_500.0});
    assert_eq!(again["start"], expected);
    let unknown = patch(&server, &bike, &json!({"chain_km": null})).await.expect(200).body;
    assert_eq!(unknown["start"]["chain_km"], Value::Null);

    // A ride that never was: the record begins with what is left.
    let rides = server.get(&format!("/v1/bikes/{bike}/rides")).await.expect(200).body;
    let path = format!("/v1/bikes/{bike}/rides/{}", rides["items"][0]["id"].as_str().expect("an id"));
    let tag = server.get(&path).await.header("etag").to_owned();
    server.send(as_manager(&server, Method::DELETE, &path).header("If-Match", tag)).await.check(204);
    assert_eq!(start(&server, &bike).await["since"], "2026-04-01T08:00:00Z");
}

async fn what_rules_a_start_out_is_named(store: TestStore) {
    let server = TestServer::start(store).await;
    let bike = server.bike("041").await;
    let read = rule("2026-04-01T08:00:00Z", 0.1);
    server.post(&format!("/v1/bikes/{bike}/readings"), &read).await.check(201);
    let before = start(&server, &bike).await;
    for (body, pointer, allowed) in [
        (json!({"fitted_on": "2026-04-02"}), "/fitted_on", "up to 2026-04-01T08:00:00Z"),
        (json!({"fitted_on": "2099-01-01"}), "/fitted_on", ""),
        (json!({"chain_km": 500}), "/chain_km", ""),
        (json!({"chain_km": -1}), "/chain_km", ""),
        (json!({"fitted_on": "2026-01-02", "chain_km": 500}), "/chain_km", ""),
    ] {
        let refused = patch(&server, &bike, &body).await.expect(422);
        assert_eq!(refused.pointers(), [pointer], "{body}");
        let said = refused.body["errors"][0]["allowed"].as_str().expect("what is allowed");
        assert!(said.starts_with(allowed) && !said.is_empty(), "{said}");
    }
    assert_eq!(start(&server, &bike).await, before);
    let other = server.bike("042").await;
    let swap = json!({"place": "cassette", "swapped_at": "2026-06-01T09:00:00Z"});
    server.post(&format!("/v1/bikes/{other}/swaps"), &swap).await.check(201);
    let late = patch(&server, &other, &json!({"fitted_on": "2026-06-02"})).await.expect(422);
    assert_eq!(late.body["errors"][0]["allowed"], "up to 2026-06-01T09:00:00Z");
    patch(&server, &other, &json!({"fitted_on": "2026-05-02"})).await.check(200);
}

async fn rides_outside_of_the_record_are_named(store: TestStore) {
    let server = TestServer::start(store).await;
    let bike = server.bike("041").await;
    let early = ride("a", "2025-06-01T08:00:00Z");
    let answer = server.post(&format!("/v1/bikes/{bike}/rides"), &early).await.expect(201).body;
    assert_eq!(answer["warnings"][0]["code"], "before_fitting");
    let mut of_batch = ride("b", "2025-06-02T08:00:00Z");
    of_batch["bike_id"] = json!(bike);
    let report = server.post("/v1/rides", &json!({"rides": [of_batch]})).await.expect(200).body;
    assert_eq!(
        (&report["accepted"], &report["warnings"][0]["index"], &report["warnings"][0]["code"]),
        (&json!(1), &json!(0), &json!("before_fitting"))
    );
    let table = "bike,started_at,distance_km\n041,2026-02-01T08:00:00Z,10\n041,2025-06-03T08:00:00Z,10\n";
    let report = import(&server, "rides", table.to_owned()).await.expect(200).body;
    assert_eq!(
        (&report["odd"], &report["warnings"][0]["line"], &report["warnings"][0]["code"]),
        (&json!(1), &json!(3), &json!("before_fitting"))
    );
    // Once the date is right, they count.
    patch(&server, &bike, &json!({"fitted_on": "2025-01-01"})).await.check(200);
    let again = server.post(&format!("/v1/bikes/{bike}/rides"), &early).await.expect(200).body;
    assert_eq!(again["warnings"], json!([]));
    let outlook = server.get(&format!("/v1/bikes/{bike}/outlook")).await.expect(200).body;
    assert!((outlook["basis"]["distance_km"].as_f64().expect("a number") - 60.0).abs() < 1e-9, "{outlook}");

    let tag = server.get(&format!("/v1/bikes/{bike}")).await.header("etag").to_owned();
    let request = as_manager(&server, Method::DELETE, &format!("/v1/bikes/{bike}"));
    server.send(request.header("If-Match", tag)).await.check(204);
    server.wait(chrono::Duration::hours(1));
    let now = server.now().to_string();
    let late = server.post(&format!("/v1/bikes/{bike}/rides"), &ride("c", &now)).await.expect(201).body;
    assert_eq!(late["warnings"][0]["code"], "after_retirement");
    let care = json!({"kind": "lubricated", "done_at": now});
    let refused = server.post(&format!("/v1/bikes/{bike}/care"), &care).await.expect(422);
    assert_eq!(refused.pointers(), ["/done_at"]);
}

async fn bikes_of_a_table_are_as_found(store: TestStore) {
    let server = TestServer::start(store).await;
    let header = "label,group,use,rings,cogs,links,fitted_on,chain_km";
    let table = format!(
        "{header}\n1,t,town,42,11-13-15-17-20-23-26-30,114,,\n2,t,town,42,11-13-15-17-20-23-26-30,114,,800\n3,t,town,42,11-13-15-17-20-23-26-30,114,2026-01-01,\n"
    );
    let report = import(&server, "bikes", table).await.expect(200).body;
    assert_eq!(report["accepted"], 3);
    let bikes = server.get("/v1/bikes?sort=label").await.expect(200).body;
    let starts: Vec<&Value> =
        bikes["items"].as_array().expect("bikes").iter().map(|it| &it["start"]).collect();
    assert_eq!((&starts[0]["state"], &starts[0]["chain_km"]), (&json!("as_found"), &Value::Null));
    assert_eq!(starts[1]["chain_km"], 800.0);
    assert_eq!(starts[2], &json!({"state": "new", "fitted_on": "2026-01-01"}));
    let wrong = format!("{header}\n4,t,town,42,11-13,114,2026-01-01,800\n");
    let refused = import(&server, "bikes", wrong).await.expect(422).body;
    assert_eq!(refused["errors"][0]["column"], "chain_km", "{refused}");
}
