//! Bikes by what another program calls them.

use reqwest::Method;
use serde_json::{Value, json};
use wear_api::domain::Role;
use wear_tests::{Answer, TestServer, TestStore, bike, on_both_stores};

on_both_stores!(
    a_bike_is_put_by_its_external_id,
    an_external_id_is_one_bikes,
    putting_leaves_what_it_does_not_say,
    tables_carry_it
);

async fn put(server: &TestServer, id: &str, body: &Value) -> Answer {
    let path = format!("/v1/bikes/by-external-id/{id}");
    let request = server.request(Method::PUT, &path).bearer_auth(server.token_of(Role::Mechanic));
    server.send(request.json(body)).await
}

async fn patch(server: &TestServer, bike: &str, tag: &str, body: Value) -> Answer {
    let request = server.request(Method::PATCH, &format!("/v1/bikes/{bike}"));
    let request = request.bearer_auth(server.token_of(Role::Mechanic));
    server.send(request.header("if-match", tag).json(&body)).await
}

async fn a_bike_is_put_by_its_external_id(store: TestStore) {
    let server = TestServer::start(store).await;
    let made = put(&server, "yard%2F7%20b", &bike("041")).await.expect(201);
    assert_eq!(made.body["external_id"], "yard/7 b");
    assert_eq!(made.header("location"), format!("/v1/bikes/{}", made.id()));
    let again = put(&server, "yard%2F7%20b", &bike("041")).await.expect(200);
    assert_eq!((again.id(), &again.body["revision"]), (made.id(), &json!(1)));
    let renamed = put(&server, "yard%2F7%20b", &json!({"label": "041b"})).await.expect(200);
    assert_eq!(
        (renamed.id(), &renamed.body["label"], &renamed.body["revision"]),
        (made.id(), &json!("041b"), &json!(2))
    );
    assert_eq!(renamed.body["drivetrain"], made.body["drivetrain"]);
    let got = server.get("/v1/bikes/by-external-id/yard%2F7%20b").await.expect(200);
    assert_eq!((&got.body, renamed.header("etag")), (&renamed.body, "\"2\""));
    assert!(got.header("etag").starts_with("\"2-"), "{}", got.header("etag"));
    // Also one that is called as a part of other addresses is.
    let odd = put(&server, "rides", &json!({"label": "7"})).await.expect(201).id();
    assert_eq!(server.get("/v1/bikes/by-external-id/rides").await.expect(200).id(), odd);
    assert_eq!(server.get("/v1/bikes/by-external-id/nobody").await.expect(404).problem(), "not-found");
    let wrong = put(&server, &"x".repeat(129), &json!({"label": "8", "use": "moon"})).await.expect(422);
    assert_eq!(wrong.pointers(), ["/external_id", "/use"]);
    let other = put(&server, "a", &json!({"label": "8", "external_id": "b"})).await.expect(422);
    assert_eq!(other.pointers(), ["/external_id"]);
    let app = server.request(Method::PUT, "/v1/bikes/by-external-id/a").json(&json!({"label": "8"}));
    assert_eq!(server.send(app).await.expect(401).problem(), "not-signed-in");
    // Another workshop calls another bike so.
    let stranger = server.token("Hill", Role::Manager).await;
    let theirs = server.request(Method::PUT, "/v1/bikes/by-external-id/rides").bearer_auth(&stranger);
    assert_ne!(server.send(theirs.json(&json!({"label": "7"}))).await.expect(201).id(), odd);
}

async fn an_external_id_is_one_bikes(store: TestStore) {
    let server = TestServer::start(store).await;
    let named = |label: &str, id: &str| json!({"label": label, "external_id": id});
    let one = server.post("/v1/bikes", &named("1", "a")).await.expect(201).id();
    let taken = server.post("/v1/bikes", &named("2", "a")).await.expect(409);
    assert!(taken.body["detail"].as_str().is_some_and(|detail| detail.contains(&one)), "{}", taken.body);
    let two = server.post("/v1/bikes", &named("2", "b")).await.expect(201).id();
    assert_eq!(
        patch(&server, &two, "\"1\"", json!({"external_id": "a"})).await.expect(409).problem(),
        "conflict"
    );
    let list = async |query: &str| {
        let items = server.get(&format!("/v1/bikes?{query}")).await.expect(200).body["items"].clone();
        items.as_array().expect("bikes").iter().map(|bike| bike["label"].clone()).collect::<Vec<_>>()
    };
    assert_eq!(list("external_id=a").await, ["1"]);
    assert_eq!(list("external_id=b&sort=label").await, ["2"]);
    assert!(list("external_id=c").await.is_empty());
    // A retired bike keeps it, and is changed by it without coming back.
    let request = server.request(Method::DELETE, &format!("/v1/bikes/{one}"));
    let request = request.bearer_auth(server.token_of(Role::Mechanic)).header("if-match", "\"1\"");
    server.send(request).await.check(204);
    assert_eq!(server.post("/v1/bikes", &named("3", "a")).await.expect(409).problem(), "conflict");
    let kept = put(&server, "a", &json!({"label": "1", "group": "spare"})).await.expect(200);
    assert_eq!((kept.id(), &kept.body["group"]), (one.clone(), &json!("spare")));
    assert!(kept.body["retired_at"].is_string());
    // Taken away it is free.
    let freed = patch(&server, &one, kept.header("etag"), json!({"external_id": null})).await.expect(200);
    assert_eq!(freed.body["external_id"], Value::Null);
    let moved = patch(&server, &two, "\"1\"", json!({"external_id": "a"})).await.expect(200);
    assert_eq!(moved.body["external_id"], "a");
    let wrong = server.post("/v1/bikes", &named("4", " ")).await.expect(422);
    assert_eq!(wrong.pointers(), ["/external_id"]);
}

async fn putting_leaves_what_it_does_not_say(store: TestStore) {
    let server = TestServer::start(store).await;
    let said = json!({"label": "1", "use": "road", "drivetrain": {"speeds": 8}, "chain_km": 500,
        "care": {"state": "recorded"}});
    let made = put(&server, "a", &said).await.expect(201);
    assert_eq!(put(&server, "a", &said).await.expect(200).body, made.body);
    // A mechanic counts links; that many speeds are still right.
    let measured =
        json!({"rings": [46], "cogs": [11, 13, 15, 17, 20, 23, 26, 30], "links": 112, "limit_percent": 0.7});
    let whole = patch(&server, &made.id(), "\"1\"", json!({"drivetrain": measured})).await.expect(200);
    assert_eq!(put(&server, "a", &said).await.expect(200).body, whole.body);
    let bare = put(&server, "a", &json!({"label": "1"})).await.expect(200);
    assert_eq!(bare.body, whole.body);
    let new = json!({"label": "1", "fitted_on": "2026-02-01", "drivetrain": {"speeds": 9}});
    let changed = put(&server, "a", &new).await.expect(200).body;
    assert_eq!(changed["drivetrain"]["cogs"].as_array().map(Vec::len), Some(9));
    assert_eq!(changed["start"]["fitted_on"], "2026-02-01");
    assert_eq!(put(&server, "a", &new).await.expect(200).body, changed);
}

async fn tables_carry_it(store: TestStore) {
    let server = TestServer::start(store).await;
    let made = put(&server, "a", &bike("041")).await.expect(201);
    let plain = server.bike("042").await;
    let csv = async |body: String| {
        let import = server.request(Method::POST, "/v1/imports/bikes");
        let import = import.bearer_auth(server.token_of(Role::Manager)).header("content-type", "text/csv");
        server.send(import.body(body)).await
    };
    let table = server.request(Method::GET, "/v1/exports/bikes").bearer_auth(server.token_of(Role::Manager));
    let table = table.send().await.expect("an answer").text().await.expect("a table");
    assert!(table.lines().next().is_some_and(|header| header.ends_with(",\"external_id\"")), "{table}");
    assert_eq!(csv(table.clone()).await.expect(200).body["unchanged"], 2);
    // A line goes by what the bike is called, and gives one a name.
    let lines = "label,external_id,group\n041x,a,town-8s\n042,b,town-8s\n043,c,town-8s\n";
    let done = csv(lines.to_owned()).await.expect(200).body;
    assert_eq!((&done["accepted"], &done["replaced"]), (&json!(1), &json!(2)), "{done}");
    let renamed = server.get(&format!("/v1/bikes/{}", made.id())).await.expect(200).body;
    assert_eq!(renamed["label"], "041x");
    assert_eq!(server.get("/v1/bikes/by-external-id/b").await.expect(200).id(), plain);
    // What belongs to another bike is refused.
    let wrong = csv(format!("bike_id,label,external_id\n{plain},042,a\n")).await.expect(422).body;
    assert_eq!(wrong["errors"][0]["column"], "external_id", "{wrong}");
}
