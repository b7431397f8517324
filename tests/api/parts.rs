//! Parts and what they went through; the audit list; when a token was last used.

use reqwest::Method;
use serde_json::{Value, json};
use wear_api::domain::Role;
use wear_tests::{Answer, TestServer, TestStore, on_both_stores};

on_both_stores!(
    a_part_tells_its_life,
    parts_are_entered_changed_and_done_with,
    a_ride_is_changed,
    the_manager_reads_who_did_what,
    the_audit_list_names_what_has_a_name,
    a_token_tells_when_it_was_used,
);

async fn patch(server: &TestServer, path: &str, tag: &str, body: &Value) -> Answer {
    let request = server.request(Method::PATCH, path).bearer_auth(server.token_of(Role::Manager));
    server.send(request.header("if-match", tag).json(body)).await
}

async fn ride(server: &TestServer, bike: &str, day: u32, km: f64) -> Answer {
    let body = json!({"started_at": format!("2026-03-{day:02}T08:00:00Z"), "distance_km": km});
    server.post(&format!("/v1/bikes/{bike}/rides"), &body).await.expect(201)
}

async fn a_part_tells_its_life(store: TestStore) {
    let server = TestServer::start(store).await;
    let (first, second) = (server.bike("041").await, server.bike("042").await);
    for day in 1..=10 {
        ride(&server, &first, day, 10.0).await;
        ride(&server, &second, day, 3.0).await;
    }
    // Off one bike at noon of the 5th, on the other from noon of the 8th.
    let fittings = server.get(&format!("/v1/bikes/{first}/fittings")).await.expect(200).body;
    let chain = fittings["items"].as_array().expect("items").iter().find(|item| item["place"] == "chain");
    let chain = chain.expect("a chain").clone();
    let part = chain["part_id"].as_str().expect("an id");
    let off = format!("/v1/bikes/{first}/fittings/{}/removal", chain["id"].as_str().expect("an id"));
    let _done = server.post(&off, &json!({"removed_at": "2026-03-05T12:00:00Z"})).await.expect(200);
    let others = server.get(&format!("/v1/bikes/{second}/fittings")).await.expect(200).body;
    let theirs = others["items"].as_array().expect("items").iter().find(|item| item["place"] == "chain");
    let theirs = theirs.expect("a chain")["id"].as_str().expect("an id").to_owned();
    let removal = json!({"removed_at": "2026-03-08T12:00:00Z"});
    let _done =
        server.post(&format!("/v1/bikes/{second}/fittings/{theirs}/removal"), &removal).await.expect(200);
    let on = json!({"part_id": part, "fitted_at": "2026-03-08T12:00:00Z"});
    let _done = server.post(&format!("/v1/bikes/{second}/fittings"), &on).await.expect(201);

    let life = server.get(&format!("/v1/parts/{part}")).await.expect(200).body["life"].clone();
    let km = |stay: &Value| stay["distance_km"].as_f64().expect("a distance");
    assert!((km(&life) - 56.0).abs() < 1e-9, "{life}");
    let stays = life["bikes"].as_array().expect("stays");
    assert_eq!(stays.len(), 2);
    assert!((km(&stays[0]) - 50.0).abs() < 1e-9 && stays[0]["bike_id"] == first.as_str(), "{life}");
    assert!((km(&stays[1]) - 6.0).abs() < 1e-9 && stays[1]["removed_at"].is_null(), "{life}");
    // The exposure is the one that the outlook of the bike it is on rests on.
    let outlook = server.get(&format!("/v1/bikes/{second}/outlook")).await.expect(200).body;
    let basis = outlook["basis"]["reference_km"].as_f64().expect("an exposure");
    let told = life["reference_km"].as_f64().expect("an exposure");
    assert!((basis - told).abs() < 1e-6, "{basis} {told}");

    let listed = server.get("/v1/parts?place=chain").await.expect(200).body;
    let listed = listed["items"].as_array().expect("items");
    assert_eq!(listed.len(), 2);
    assert!(listed.iter().any(|item| item["id"] == part && item["life"] == life));
    let retired = patch(&server, &format!("/v1/parts/{part}"), "\"1\"", &json!({"retired": true})).await;
    assert_eq!(retired.expect(409).problem(), "conflict");
}

async fn parts_are_entered_changed_and_done_with(store: TestStore) {
    let server = TestServer::start(store).await;
    let model = json!({"name": "Chain", "place": "chain"});
    let model = server.post("/v1/part-models", &model).await.expect(201).id();
    let cassette = json!({"name": "Cassette", "place": "cassette", "cogs": [11, 13, 15]});
    let cassette = server.post("/v1/part-models", &cassette).await.expect(201).id();
    let made = server.post("/v1/parts", &json!({"part_model_id": model, "label": "spare"})).await.expect(201);
    assert_eq!((&made.body["place"], &made.body["life"]["bikes"]), (&json!("chain"), &json!([])));
    let path = made.header("location").to_owned();
    for (body, pointer) in [
        (json!({}), "/place"),
        (json!({"place": "boat"}), "/place"),
        (json!({"place": "ring", "part_model_id": model}), "/part_model_id"),
        (json!({"part_model_id": "019abf3e-6a34-7d6e-9a51-0d3c5e1f2a10"}), "/part_model_id"),
    ] {
        assert_eq!(server.post("/v1/parts", &body).await.expect(422).pointers(), [pointer], "{body}");
    }
    let wrong = patch(&server, &path, "\"1\"", &json!({"part_model_id": cassette})).await.expect(422);
    assert_eq!(wrong.pointers(), ["/part_model_id"]);
    let change = json!({"label": null, "part_model_id": null, "retired": true});
    let changed = patch(&server, &path, made.header("etag"), &change).await.expect(200);
    assert_eq!((&changed.body["label"], &changed.body["part_model_id"]), (&Value::Null, &Value::Null));
    assert!(changed.body["retired_at"].is_string());
    let _stale = patch(&server, &path, made.header("etag"), &change).await.expect(412);
    let back = patch(&server, &path, changed.header("etag"), &json!({"retired": false})).await.expect(200);
    assert!(back.body["retired_at"].is_null());
}

async fn a_ride_is_changed(store: TestStore) {
    let server = TestServer::start(store).await;
    let (bike, twin) = (server.bike("041").await, server.bike("042").await);
    let rides = format!("/v1/bikes/{bike}/rides");
    let before =
        json!({"started_at": "2026-03-01T08:00:00Z", "distance_km": 40, "climb_m": 500, "energy_kj": 900});
    let made = server.post(&rides, &before).await.expect(201);
    let path = format!("{rides}/{}", made.id());
    let change = json!({"distance_km": 18.4, "surface": "gravel", "wet": true, "energy_kj": null});
    let changed = patch(&server, &path, made.header("etag"), &change).await.expect(200);
    assert_eq!(server.get(&path).await.expect(200).body, changed.body);
    let _stale = patch(&server, &path, made.header("etag"), &change).await.expect(412);
    let late = json!({"started_at": "2027-01-01T00:00:00Z"});
    let late = patch(&server, &path, changed.header("etag"), &late);
    assert_eq!(late.await.expect(422).pointers(), ["/started_at"]);
    // The outlook is that of a bike whose ride was so from the start.
    let after = json!({"started_at": "2026-03-01T08:00:00Z", "distance_km": 18.4, "climb_m": 500,
        "surface": "gravel", "wet": true});
    let _made = server.post(&format!("/v1/bikes/{twin}/rides"), &after).await.expect(201);
    let mut outlooks = Vec::new();
    for bike in [&bike, &twin] {
        let body = server.get(&format!("/v1/bikes/{bike}/outlook")).await.expect(200).body;
        outlooks.push((body["elongation_percent"].clone(), body["basis"].clone()));
    }
    assert_eq!(outlooks[0], outlooks[1]);
}

async fn the_manager_reads_who_did_what(store: TestStore) {
    let server = TestServer::start(store).await;
    let bike = server.bike("041").await;
    let reading = json!({"taken_at": "2026-03-02T08:00:00Z", "instrument": "rule", "percent": 0.1});
    let mechanic = server.request(Method::POST, &format!("/v1/bikes/{bike}/readings"));
    let mechanic = mechanic.bearer_auth(server.token_of(Role::Mechanic)).json(&reading);
    let read = server.send(mechanic).await.expect(201).body["reading"]["id"].clone();
    let audit = server.get("/v1/audit?limit=2").await.expect(200);
    let items = audit.body["items"].as_array().expect("items");
    let told = |item: &Value, name: &str| item[name].as_str().map(str::to_owned);
    let id = |id: &Value| id.as_str().expect("an id").to_owned();
    assert_eq!(told(&items[0], "action").as_deref(), Some("reading.create"));
    assert_eq!(told(&items[0], "subject"), Some(format!("bikes/{bike}/readings/{}", id(&read))));
    assert_eq!(told(&items[1], "action").as_deref(), Some("bike.create"));
    assert_eq!(told(&items[1], "subject"), Some(format!("bikes/{bike}")));
    let tokens = server.get("/v1/tokens").await.expect(200).body;
    let by =
        tokens["items"].as_array().expect("items").iter().find(|token| token["id"] == items[0]["token_id"]);
    assert_eq!(by.expect("the token")["role"], "mechanic");
    assert_ne!(items[0]["token_id"], items[1]["token_id"]);
    assert!(audit.header("link").contains("rel=\"next\""));
}

async fn the_audit_list_names_what_has_a_name(store: TestStore) {
    let server = TestServer::start(store).await;
    let ids = crate::strangers::one_of_each(&server).await;
    let revoke = format!("/v1/tokens/{}", ids["{token_id}"]);
    let delete = format!("/v1/hooks/{}", ids["{hook_id}"]);
    let remove = |path: &str| {
        let request = server.request(Method::DELETE, path).header("if-match", "\"1\"");
        request.bearer_auth(server.token_of(Role::Manager))
    };
    let listed = server.get("/v1/audit?limit=100").await.expect(200).body;
    assert_eq!(listed["items"][0]["token_label"], "manager");
    let label = |listed: &Value, action: &str| {
        let items = listed["items"].as_array().expect("items");
        let found = items.iter().find(|item| item["action"] == action);
        found.unwrap_or_else(|| panic!("no {action} in {listed}"))["label"].clone()
    };
    for (action, named) in [
        ("bike.create", "041"),
        ("reading.create", "041"),
        ("swap.create", "041"),
        ("symptom.create", "041"),
        ("booking.create", "041"),
        ("part_model.create", "Chain"),
        ("stock.create", "Chain"),
        ("delivery.create", "Chain"),
        ("hook.create", "app"),
        ("hook.test", "app"),
        ("token.create", "lent"),
    ] {
        assert_eq!(label(&listed, action), named, "{action}");
    }
    // A bench day and a part that nobody labelled have no name.
    assert_eq!(label(&listed, "bench_day.create"), Value::Null);
    assert_eq!(label(&listed, "part.create"), Value::Null);
    server.send(remove(&revoke)).await.check(204);
    server.send(remove(&delete)).await.check(204);
    let listed = server.get("/v1/audit?limit=100").await.expect(200).body;
    assert_eq!(label(&listed, "token.revoke"), "lent");
    assert_eq!(label(&listed, "hook.create"), Value::Null);
}

async fn a_token_tells_when_it_was_used(store: TestStore) {
    let server = TestServer::start(store).await;
    let made = server.post("/v1/tokens", &json!({"role": "app", "label": "ride log"})).await.expect(201);
    let used = || async {
        let tokens = server.get("/v1/tokens").await.expect(200).body;
        let items = tokens["items"].as_array().expect("items").clone();
        items.into_iter().find(|token| token["id"] == made.id().as_str()).expect("the token")["last_used_at"]
            .clone()
    };
    assert_eq!(used().await, Value::Null);
    let secret = made.body["secret"].as_str().expect("a secret");
    let _answer = server.send(server.request(Method::GET, "/v1/bikes").bearer_auth(secret)).await.expect(200);
    // It is noted beside the request.
    for _ in 0..200 {
        if !used().await.is_null() {
            break;
        }
        tokio::time::sleep(std::time::Duration::from_millis(10)).await;
    }
    assert_eq!(used().await, "2026-11-25T12:00:00Z");
}
