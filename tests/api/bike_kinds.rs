//! Kinds of bike, and drivetrains that nobody spells out.

use reqwest::{Method, RequestBuilder};
use serde_json::{Value, json};
use wear_api::domain::Role;
use wear_api::transfer::TableKind;
use wear_tests::{Answer, TestServer, TestStore, on_both_stores};

use crate::tables::export;

on_both_stores!(
    a_label_is_enough_for_a_bike,
    a_bike_takes_over_what_its_kind_says,
    a_kinds_change_asks_whether_bikes_follow,
    a_bike_changes_its_kind_and_nothing_else,
    a_table_of_bikes_names_their_kinds,
    two_hundred_bikes_are_entered_with_label_and_kind,
    only_managers_change_kinds,
);

fn as_manager(server: &TestServer, method: Method, path: &str) -> RequestBuilder {
    server.request(method, path).bearer_auth(server.token_of(Role::Manager))
}

async fn guarded(server: &TestServer, method: Method, path: &str, body: &Value) -> Answer {
    let tag = server.get(path).await.header("etag").to_owned();
    server.send(as_manager(server, method, path).header("If-Match", tag).json(body)).await
}

async fn a_label_is_enough_for_a_bike(store: TestStore) {
    let server = TestServer::start(store).await;
    let usual = server.post("/v1/bikes", &json!({"label": "1"})).await.expect(201).body;
    assert_eq!(
        (&usual["use"], &usual["group"], &usual["drivetrain"]["assumed"]),
        (&json!("town"), &json!("town"), &json!(true))
    );
    let nine = json!({"label": "2", "use": "touring", "drivetrain": {"speeds": 9, "limit_percent": 0.5}});
    let nine = server.post("/v1/bikes", &nine).await.expect(201).body;
    assert_eq!(nine["drivetrain"]["cogs"].as_array().map(Vec::len), Some(9));
    assert_eq!(
        (&nine["drivetrain"]["limit_percent"], &nine["drivetrain"]["assumed"]),
        (&json!(0.5), &json!(true))
    );
    let like = json!({"label": "3", "drivetrain": {"like_bike_id": nine["id"]}});
    let like = server.post("/v1/bikes", &like).await.expect(201).body;
    for field in ["rings", "cogs", "links", "assumed"] {
        assert_eq!(like["drivetrain"][field], nine["drivetrain"][field], "{field}");
    }
    let path = format!("/v1/bikes/{}", like["id"].as_str().expect("an id"));
    let whole = json!({"drivetrain": {"rings": [44], "cogs": [11, 13, 15], "links": 110}});
    let told = guarded(&server, Method::PATCH, &path, &whole).await.expect(200).body;
    assert_eq!(told["drivetrain"]["assumed"], false);
    let unknown = uuid::Uuid::now_v7().to_string();
    for (drivetrain, pointer) in [
        (json!({"speeds": 40}), "/drivetrain/speeds"),
        (json!({"like_bike_id": unknown}), "/drivetrain/like_bike_id"),
        (json!({"speeds": 8, "rings": [42]}), "/drivetrain/speeds"),
        (json!({"rings": [42], "cogs": [11, 13]}), "/drivetrain/links"),
    ] {
        let body = json!({"label": "4", "drivetrain": drivetrain});
        assert_eq!(server.post("/v1/bikes", &body).await.expect(422).pointers(), [pointer], "{body}");
    }
}

async fn chain_model(server: &TestServer, name: &str) -> Value {
    let model = json!({"name": name, "place": "chain", "sprockets": 8});
    server.post("/v1/part-models", &model).await.expect(201).body["id"].clone()
}

async fn a_bike_takes_over_what_its_kind_says(store: TestStore) {
    let server = TestServer::start(store).await;
    let model = chain_model(&server, "Chain 8").await;
    let kind = json!({"name": "Hire bike", "use": "e_bike", "drivetrain": {"speeds": 8}, "limit_percent": 0.5,
        "chain_model_id": model});
    let kind = server.post("/v1/bike-kinds", &kind).await.expect(201).body;
    let again = server.post("/v1/bike-kinds", &json!({"name": "hire BIKE"})).await.expect(409);
    assert!(again.body["detail"].as_str().is_some_and(|text| text.contains("name")), "{}", again.body);
    let bike = server.post("/v1/bikes", &json!({"label": "1", "kind": "hire bike"})).await.expect(201).body;
    assert_eq!(
        (&bike["use"], &bike["group"], &bike["drivetrain"], &bike["kind_id"]),
        (&kind["use"], &json!("Hire bike"), &kind["drivetrain"], &kind["id"])
    );
    let path = format!("/v1/bikes/{}/fittings", bike["id"].as_str().expect("an id"));
    let fittings = server.get(&path).await.expect(200).body;
    let chain = fittings["items"].as_array().expect("fittings").iter().find(|it| it["place"] == "chain");
    let part = chain.and_then(|chain| chain["part_id"].as_str()).expect("a chain");
    assert_eq!(server.get(&format!("/v1/parts/{part}")).await.expect(200).body["part_model_id"], model);
    let own = json!({"label": "2", "kind_id": kind["id"], "use": "cargo", "group": "mine"});
    let own = server.post("/v1/bikes", &own).await.expect(201).body;
    assert_eq!((&own["use"], &own["group"]), (&json!("cargo"), &json!("mine")));
    for (body, pointer) in [
        (json!({"label": "3", "kind": "no such"}), "/kind"),
        (json!({"label": "3", "kind_id": uuid::Uuid::now_v7()}), "/kind_id"),
        (json!({"label": "3", "kind": "Hire bike", "kind_id": kind["id"]}), "/kind"),
    ] {
        assert_eq!(server.post("/v1/bikes", &body).await.expect(422).pointers(), [pointer], "{body}");
    }
    let path = format!("/v1/bike-kinds/{}", kind["id"].as_str().expect("an id"));
    guarded(&server, Method::DELETE, &path, &Value::Null).await.check(409);
    let unused = server.post("/v1/bike-kinds", &json!({"name": "unused"})).await.expect(201).id();
    guarded(&server, Method::DELETE, &format!("/v1/bike-kinds/{unused}"), &Value::Null).await.check(204);
}

async fn a_kinds_change_asks_whether_bikes_follow(store: TestStore) {
    let server = TestServer::start(store).await;
    let (old, new) = (chain_model(&server, "old").await, chain_model(&server, "new").await);
    let kind =
        json!({"name": "hire", "drivetrain": {"speeds": 8}, "limit_percent": 0.75, "chain_model_id": old});
    let kind = server.post("/v1/bike-kinds", &kind).await.expect(201).id();
    let path = format!("/v1/bike-kinds/{kind}");
    let mut bikes = Vec::new();
    for (label, more) in [("1", json!({})), ("2", json!({"limit_percent": 0.5}))] {
        let mut body = json!({"label": label, "kind": "hire", "drivetrain": more});
        if label == "1" {
            body.as_object_mut().expect("an object").remove("drivetrain");
        } else {
            body["drivetrain"] =
                json!({"rings": [46], "cogs": [12, 14, 16], "links": 110, "limit_percent": 0.5});
        }
        bikes.push(server.post("/v1/bikes", &body).await.expect(201).id());
    }
    let change = json!({"limit_percent": 0.6, "use": "cargo", "chain_model_id": new,
        "drivetrain": {"rings": [38], "cogs": [11, 13, 15], "links": 112}});
    let refused = guarded(&server, Method::PATCH, &path, &change).await.expect(422);
    assert_eq!(refused.pointers(), ["/apply_to_bikes"]);
    assert!(refused.body["errors"][0]["message"].as_str().is_some_and(|text| text.starts_with("2 bikes")));
    // A name alone asks nothing.
    guarded(&server, Method::PATCH, &path, &json!({"name": "rented"})).await.check(200);
    let ride = json!({"started_at": "2026-03-01T08:00:00Z", "distance_km": 20.0});
    let rides = format!("/v1/bikes/{}/rides", bikes[0]);
    let before = server.post(&rides, &ride).await.expect(201).body["base_reference_km"].clone();

    let mut follow = change.clone();
    follow["apply_to_bikes"] = json!(true);
    guarded(&server, Method::PATCH, &path, &follow).await.check(200);
    let first = server.get(&format!("/v1/bikes/{}", bikes[0])).await.expect(200).body;
    assert_eq!(
        (&first["use"], &first["drivetrain"]["rings"], &first["drivetrain"]["limit_percent"]),
        (&json!("cargo"), &json!([38]), &json!(0.6))
    );
    assert_eq!(first["drivetrain"]["assumed"], false);
    let second = server.get(&format!("/v1/bikes/{}", bikes[1])).await.expect(200).body;
    assert_eq!(
        (&second["use"], &second["drivetrain"]["rings"], &second["drivetrain"]["limit_percent"]),
        (&json!("cargo"), &json!([46]), &json!(0.5))
    );
    let rides = server.get(&rides).await.expect(200).body;
    assert_ne!(rides["items"][0]["base_reference_km"], before);
    for bike in &bikes {
        let fittings = server.get(&format!("/v1/bikes/{bike}/fittings")).await.expect(200).body;
        let chain = fittings["items"].as_array().expect("fittings").iter().find(|it| it["place"] == "chain");
        let part = chain.and_then(|chain| chain["part_id"].as_str()).expect("a chain").to_owned();
        assert_eq!(server.get(&format!("/v1/parts/{part}")).await.expect(200).body["part_model_id"], new);
    }
    let stay = json!({"limit_percent": 0.7, "apply_to_bikes": false});
    guarded(&server, Method::PATCH, &path, &stay).await.check(200);
    let first = server.get(&format!("/v1/bikes/{}", bikes[0])).await.expect(200).body;
    assert_eq!(first["drivetrain"]["limit_percent"], 0.6);
}

async fn a_bike_changes_its_kind_and_nothing_else(store: TestStore) {
    let server = TestServer::start(store).await;
    let kind = json!({"name": "hire", "use": "cargo", "drivetrain": {"speeds": 8}, "limit_percent": 0.5});
    let hire = server.post("/v1/bike-kinds", &kind).await.expect(201).id();
    let other = server.post("/v1/bike-kinds", &json!({"name": "other"})).await.expect(201).id();
    let before = server.post("/v1/bikes", &json!({"label": "1", "kind": "hire"})).await.expect(201).body;
    let path = format!("/v1/bikes/{}", before["id"].as_str().expect("an id"));
    for kind in [json!(other), Value::Null, json!(hire), json!(other)] {
        let after = guarded(&server, Method::PATCH, &path, &json!({"kind_id": kind})).await.expect(200).body;
        assert_eq!(after["kind_id"], kind);
        for field in ["label", "group", "use", "drivetrain", "care", "start"] {
            assert_eq!(after[field], before[field], "{field}");
        }
    }
    // What is left out stays.
    let renamed = guarded(&server, Method::PATCH, &path, &json!({"label": "2"})).await.expect(200).body;
    assert_eq!(renamed["kind_id"], json!(other));
    let unknown = json!({"kind_id": uuid::Uuid::now_v7()});
    let refused = guarded(&server, Method::PATCH, &path, &unknown).await.expect(422);
    assert_eq!(refused.pointers(), ["/kind_id"]);
    // No bike is of the first any more.
    guarded(&server, Method::DELETE, &format!("/v1/bike-kinds/{hire}"), &Value::Null).await.check(204);
    guarded(&server, Method::DELETE, &format!("/v1/bike-kinds/{other}"), &Value::Null).await.check(409);
}

async fn a_table_of_bikes_names_their_kinds(store: TestStore) {
    let server = TestServer::start(store).await;
    let kind = json!({"name": "hire", "use": "cargo", "drivetrain": {"speeds": 8}, "limit_percent": 0.5});
    server.post("/v1/bike-kinds", &kind).await.check(201);
    let own = json!({"rings": [46], "cogs": [12, 14, 16], "links": 110});
    let own = json!({"label": "1", "kind": "hire", "use": "town", "drivetrain": own});
    let own = server.post("/v1/bikes", &own).await.expect(201).body;
    server.post("/v1/bikes", &json!({"label": "2"})).await.check(201);
    let table = export(&server, server.token_of(Role::Manager), TableKind::Bikes, "").await;
    let cells = |line: &'_ str| line.split(',').map(|cell| cell.trim_matches('"').to_owned()).collect();
    let lines: Vec<Vec<String>> = table.lines().map(cells).collect();
    let column = lines[0].iter().position(|name| *name == "kind").expect("a column");
    assert_eq!((lines[1][column].as_str(), lines[2][column].as_str()), ("hire", ""));

    let import = async |server: &TestServer| {
        let request = as_manager(server, Method::POST, "/v1/imports/bikes");
        server.send(request.header("content-type", "text/csv").body(table.clone())).await.expect(200).body
    };
    assert_eq!(import(&server).await["unchanged"], 2);
    // A workshop that hasn't the kind takes the bikes all the same, each as its line says.
    let elsewhere = TestServer::start(TestStore::sqlite().await).await;
    assert_eq!(import(&elsewhere).await["accepted"], 2);
    let copy = elsewhere.get(&format!("/v1/bikes/{}", own["id"].as_str().expect("an id"))).await;
    let copy = copy.expect(200).body;
    assert_eq!((&copy["drivetrain"], &copy["kind_id"]), (&own["drivetrain"], &Value::Null));
    let fittings =
        elsewhere.get(&format!("/v1/bikes/{}/fittings", copy["id"].as_str().expect("an id"))).await;
    assert_eq!(fittings.expect(200).body["items"], json!([]));
}

async fn two_hundred_bikes_are_entered_with_label_and_kind(store: TestStore) {
    let server = TestServer::start(store).await;
    let kind = json!({"name": "hire", "use": "town", "drivetrain": {"speeds": 8}, "group": "fleet"});
    server.post("/v1/bike-kinds", &kind).await.check(201);
    let import = async |table: String| {
        let request = as_manager(&server, Method::POST, "/v1/imports/bikes");
        server.send(request.header("content-type", "text/csv").body(table)).await
    };
    let rows: String = (0..200).map(|number| format!("{number:03},Hire\n")).collect();
    let report = import(format!("label,kind\n{rows}")).await.expect(200).body;
    assert_eq!(report["accepted"], 200);
    let again = import(format!("label,kind\n{rows}")).await.expect(200).body;
    assert_eq!((&again["accepted"], &again["unchanged"]), (&json!(0), &json!(200)));
    let bikes = server.get("/v1/bikes?limit=1&sort=label").await.expect(200).body;
    let bike = &bikes["items"][0];
    assert_eq!((&bike["group"], &bike["start"]["state"]), (&json!("fleet"), &json!("as_found")));
    let refused = import("label,kind\n1,no such\n".to_owned()).await.expect(422).body;
    assert_eq!((&refused["errors"][0]["line"], &refused["errors"][0]["column"]), (&json!(2), &json!("kind")));
}

async fn only_managers_change_kinds(store: TestStore) {
    let server = TestServer::start(store).await;
    let request = server.request(Method::POST, "/v1/bike-kinds").bearer_auth(server.token_of(Role::Mechanic));
    server.send(request.json(&json!({"name": "hire"}))).await.check(403);
    let request = server.request(Method::GET, "/v1/bike-kinds").bearer_auth(server.token_of(Role::Mechanic));
    assert_eq!(server.send(request).await.expect(200).body["items"], json!([]));
}
