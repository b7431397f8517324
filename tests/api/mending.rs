//! Everything entered can be corrected or voided, and what was voided restored; the record tells of it.

use reqwest::Method;
use serde_json::{Value, json};
use wear_api::domain::Role;
use wear_tests::{Answer, TestServer, TestStore, on_both_stores};

on_both_stores!(
    what_is_voided_can_be_restored,
    a_deleted_ride_stays_deleted_until_it_is_restored,
    a_ride_restored_is_worth_what_the_drivetrain_says_now,
    a_fittings_end_is_corrected_and_a_fitting_voided,
    what_is_gone_is_in_the_audit,
);

async fn ask(server: &TestServer, method: Method, path: &str) -> Answer {
    let request = server.request(method, path).bearer_auth(server.token_of(Role::Manager));
    server.send(request).await
}

async fn told(server: &TestServer, bike: &str) -> Value {
    let mut outlook = server.get(&format!("/v1/bikes/{bike}/outlook")).await.expect(200).body;
    outlook.as_object_mut().expect("an object").remove("computed_at");
    outlook
}

async fn ridden(server: &TestServer, label: &str) -> String {
    let bike = server.bike(label).await;
    for month in 2..=10 {
        let ride =
            json!({"started_at": format!("2026-{month:02}-03T08:00:00Z"), "distance_km": 150, "wet": true});
        server.post(&format!("/v1/bikes/{bike}/rides"), &ride).await.check(201);
    }
    bike
}

async fn what_is_voided_can_be_restored(store: TestStore) {
    let server = TestServer::start(store).await;
    let bike = ridden(&server, "041").await;
    let recorded = json!({"kind": "cleaned_and_lubricated", "done_at": "2026-02-04T08:00:00Z"});
    server.post(&format!("/v1/bikes/{bike}/care"), &recorded).await.check(201);
    for (resource, thing, body) in [
        (
            "readings",
            "reading",
            json!({"taken_at": "2026-05-01T08:00:00Z", "instrument": "rule", "percent": 0.2,
            "odometer_km": 2_000}),
        ),
        ("care", "care", json!({"done_at": "2026-06-01T08:00:00Z", "odometer_km": 4_000})),
        (
            "symptoms",
            "symptom",
            json!({"reported_at": "2026-07-01T08:00:00Z", "symptom": "skips_under_load"}),
        ),
        ("odometer", "odometer statement", json!({"read_at": "2026-08-01T08:00:00Z", "km": 9_000})),
    ] {
        let list = format!("/v1/bikes/{bike}/{resource}");
        let without = told(&server, &bike).await;
        let made = server.post(&list, &body).await.expect(201).body;
        let id = [&made["id"], &made["reading"]["id"], &made["symptom"]["id"], &made["statement"]["id"]];
        let one = format!("{list}/{}", id.into_iter().find_map(Value::as_str).expect("an id"));
        let with = told(&server, &bike).await;
        assert_ne!(with, without, "{thing}");
        ask(&server, Method::DELETE, &format!("{one}?reason=a+slip")).await.check(200);
        assert_eq!(told(&server, &bike).await, without, "{thing} voided");
        let twice = ask(&server, Method::DELETE, &format!("{one}?reason=a+slip")).await.expect(409);
        assert_eq!(twice.body["detail"], format!("the {thing} was voided before"));
        if resource == "care" {
            // Sent again it stays void, and says so.
            let again = server.post(&list, &body).await.expect(200).body;
            assert_eq!(again["voided_reason"], "a slip");
            assert_eq!(told(&server, &bike).await, without);
        }
        ask(&server, Method::POST, &format!("{one}/restoration")).await.check(200);
        assert_eq!(told(&server, &bike).await, with, "{thing} restored");
        let twice = ask(&server, Method::POST, &format!("{one}/restoration")).await.expect(409);
        assert_eq!(
            twice.body["detail"],
            format!("the {thing} counts already, or the same was entered again since")
        );
    }
    // What was entered anew meanwhile stands in the way.
    let reading = json!({"taken_at": "2026-09-01T08:00:00Z", "instrument": "rule", "percent": 0.4});
    let list = format!("/v1/bikes/{bike}/readings");
    let made = server.post(&list, &reading).await.expect(201).body;
    let one = format!("{list}/{}", made["reading"]["id"].as_str().expect("an id"));
    ask(&server, Method::DELETE, &format!("{one}?reason=a+slip")).await.check(200);
    server.post(&list, &reading).await.check(201);
    ask(&server, Method::POST, &format!("{one}/restoration")).await.check(409);
}

async fn a_deleted_ride_stays_deleted_until_it_is_restored(store: TestStore) {
    let server = TestServer::start(store).await;
    let bike = ridden(&server, "041").await;
    let other = server.bike("042").await;
    let without = told(&server, &bike).await;
    let ride =
        json!({"started_at": "2026-11-01T08:00:00Z", "distance_km": 40, "source": "log", "source_id": "r1"});
    let rides = format!("/v1/bikes/{bike}/rides");
    let id = server.post(&rides, &ride).await.expect(201).id();
    let with = told(&server, &bike).await;
    let one = format!("{rides}/{id}");
    let delete = server.request(Method::DELETE, &one).bearer_auth(server.token_of(Role::App));
    server.send(delete.header("if-match", "\"1\"")).await.check(204);
    assert_eq!(told(&server, &bike).await, without);
    ask(&server, Method::GET, &one).await.check(404);
    // The app sends it late once more, alone, in a batch, otherwise and of another bike.
    let again = server.post(&rides, &ride).await.expect(200).body;
    assert_eq!((&again["id"], &again["warnings"][0]["code"]), (&json!(id), &json!("deleted")));
    let mut longer = ride.clone();
    (longer["bike_id"], longer["distance_km"]) = (json!(bike), json!(41));
    let mut moved = longer.clone();
    moved["bike_id"] = json!(other);
    let batch = json!({"id_scope": "workshop", "rides": [longer, moved]});
    let batch = server.post("/v1/rides", &batch).await.expect(200).body;
    assert_eq!((&batch["unchanged"], &batch["replaced"]), (&json!(1), &json!(0)));
    assert_eq!((&batch["failed"][0]["index"], &batch["rides"][0]["outcome"]), (&json!(1), &json!("deleted")));
    let codes: Vec<&str> =
        batch["warnings"].as_array().expect("warnings").iter().filter_map(|it| it["code"].as_str()).collect();
    assert_eq!(codes, ["deleted"]);
    let table = server.request(Method::POST, "/v1/imports/rides").bearer_auth(server.token_of(Role::Manager));
    let table = table.header("content-type", "text/csv");
    let line = "bike,source,source_id,started_at,distance_km\n041,log,r1,2026-11-01T08:00:00Z,40\n";
    let report = server.send(table.body(line)).await.expect(200).body;
    assert_eq!((&report["unchanged"], &report["warnings"][0]["code"]), (&json!(1), &json!("deleted")));
    assert_eq!(told(&server, &bike).await, without);
    let listed = server.get(&rides).await.expect(200).body;
    assert_eq!(listed["items"].as_array().map(Vec::len), Some(9));

    let restore = format!("{one}/restoration");
    assert_eq!(ask(&server, Method::POST, &restore).await.expect(200).id(), id);
    assert_eq!(told(&server, &bike).await, with);
    ask(&server, Method::POST, &restore).await.check(409);
    let changed = server
        .post(
            &rides,
            &json!({"started_at": "2026-11-01T08:00:00Z", "distance_km": 42,
        "source": "log", "source_id": "r1"}),
        )
        .await
        .expect(200)
        .body;
    assert_eq!((&changed["distance_km"], &changed["warnings"]), (&json!(42.0), &json!([])));
}

async fn a_ride_restored_is_worth_what_the_drivetrain_says_now(store: TestStore) {
    let server = TestServer::start(store).await;
    let (bike, twin) = (server.bike("041").await, server.bike("042").await);
    let ride = json!({"started_at": "2026-11-01T08:00:00Z", "distance_km": 40});
    let id = server.post(&format!("/v1/bikes/{bike}/rides"), &ride).await.expect(201).id();
    let one = format!("/v1/bikes/{bike}/rides/{id}");
    let delete = server.request(Method::DELETE, &one).bearer_auth(server.token_of(Role::App));
    server.send(delete.header("if-match", "\"1\"")).await.check(204);
    for bike in [&bike, &twin] {
        let request = server.request(Method::PATCH, &format!("/v1/bikes/{bike}"));
        let request = request.bearer_auth(server.token_of(Role::Mechanic)).header("if-match", "\"1\"");
        let change =
            json!({"drivetrain": {"rings": [34], "cogs": [11, 13, 15, 17, 20, 23, 26, 30], "links": 114}});
        server.send(request.json(&change)).await.check(200);
    }
    ask(&server, Method::POST, &format!("{one}/restoration")).await.check(200);
    let direct = server.post(&format!("/v1/bikes/{twin}/rides"), &ride).await.expect(201).body;
    let restored = server.get(&one).await.expect(200).body;
    assert_eq!(restored["base_reference_km"], direct["base_reference_km"]);
    let basis = async |bike: &str| {
        server.get(&format!("/v1/bikes/{bike}/outlook")).await.expect(200).body["basis"]["reference_km"]
            .clone()
    };
    assert_eq!(basis(&bike).await, basis(&twin).await);
}

async fn a_fittings_end_is_corrected_and_a_fitting_voided(store: TestStore) {
    let server = TestServer::start(store).await;
    let bike = ridden(&server, "041").await;
    let before = told(&server, &bike).await;
    let list = format!("/v1/bikes/{bike}/fittings");
    let fittings = server.get(&list).await.expect(200).body;
    let chain = fittings["items"].as_array().expect("fittings").iter().find(|it| it["place"] == "chain");
    let chain = chain.expect("a chain")["id"].as_str().expect("an id").to_owned();
    let one = format!("{list}/{chain}");
    let change = async |one: &str, body: Value| {
        let tag = server.get(one).await.expect(200).header("etag").to_owned();
        let request = server.request(Method::PATCH, one).bearer_auth(server.token_of(Role::Mechanic));
        server.send(request.header("if-match", tag).json(&body)).await
    };
    let removal = json!({"removed_at": "2026-06-01T08:00:00Z"});
    server.post(&format!("{one}/removal"), &removal).await.check(200);
    let later = change(&one, json!({"removed_at": "2026-04-01T08:00:00Z"})).await.expect(200).body;
    assert_eq!(
        (&later["fitting"]["removed_at"], &later["outside"]["rides"]),
        (&json!("2026-04-01T08:00:00Z"), &json!(2))
    );
    let early = change(&one, json!({"removed_at": "2025-12-01T08:00:00Z"})).await.expect(422);
    assert_eq!(early.pointers(), ["/removed_at"]);
    // It never came off.
    change(&one, json!({"removed_at": null})).await.check(200);
    assert_eq!(told(&server, &bike).await, before);

    let wheels = json!({"place": "jockey_wheels", "fitted_at": "2026-05-01T08:00:00Z"});
    let wheels = server.post(&list, &wheels).await.expect(201).id();
    let void = async |fitting: &str, revision: i64| {
        let path = format!("{list}/{fitting}?reason=another+bike");
        let request = server.request(Method::DELETE, &path).bearer_auth(server.token_of(Role::Mechanic));
        server.send(request.header("if-match", format!("\"{revision}\""))).await
    };
    void(&wheels, 7).await.check(412);
    void(&wheels, 1).await.check(200);
    void(&wheels, 1).await.check(404);
    assert_eq!(told(&server, &bike).await, before);
    let audit = server.get("/v1/audit").await.expect(200).body.to_string();
    assert!(audit.contains("fitting.void") && audit.contains("another bike"), "{audit}");

    // What a swap put on is the swap's to take back, and so is what it took off.
    let swap = json!({"place": "chain", "swapped_at": "2026-07-01T08:00:00Z"});
    server.post(&format!("/v1/bikes/{bike}/swaps"), &swap).await.check(201);
    let refused = change(&one, json!({"removed_at": null})).await.expect(409).body;
    assert!(
        refused["detail"].as_str().expect("a detail").starts_with("a swap took the part off at"),
        "{refused}"
    );
    let now = server.get(&list).await.expect(200).body;
    let now = now["items"].as_array().expect("fittings").iter();
    let new = now.filter(|it| it["place"] == "chain" && it["removed_at"].is_null()).collect::<Vec<_>>();
    let new = new[0]["id"].as_str().expect("an id");
    let refused = void(new, 1).await.expect(409).body;
    assert!(
        refused["detail"].as_str().expect("a detail").starts_with("a swap put the part on at"),
        "{refused}"
    );
}

async fn what_is_gone_is_in_the_audit(store: TestStore) {
    let server = TestServer::start(store).await;
    let bike = server.bike("041").await;
    let booking = json!({"bike_id": bike, "from": "2026-12-01", "to": "2026-12-04", "note": "hired out"});
    let booking = server.post("/v1/bookings", &booking).await.expect(201).id();
    let model =
        server.post("/v1/part-models", &json!({"name": "Chain", "place": "chain"})).await.expect(201).id();
    let delivery = json!({"part_model_id": model, "count": 5, "expected_on": "2026-12-01"});
    let delivery = server.post("/v1/deliveries", &delivery).await.expect(201).id();
    for path in [format!("/v1/bookings/{booking}"), format!("/v1/deliveries/{delivery}")] {
        let request = server.request(Method::DELETE, &path).bearer_auth(server.token_of(Role::Manager));
        server.send(request.header("if-match", "\"1\"")).await.check(204);
    }
    let request = server.request(Method::PATCH, &format!("/v1/bikes/{bike}"));
    let request = request.bearer_auth(server.token_of(Role::Mechanic)).header("if-match", "\"1\"");
    server.send(request.json(&json!({"label": "041 b", "use": "road"}))).await.check(200);
    let audit = server.get("/v1/audit").await.expect(200).body;
    let detail = |action: &str| {
        let entries = audit["items"].as_array().expect("entries").iter();
        entries.filter(|it| it["action"] == action).map(|it| it["detail"].clone()).next().expect("an entry")
    };
    assert_eq!(detail("booking.remove")["was"]["note"], "hired out");
    assert_eq!(detail("delivery.delete")["was"]["count"], 5);
    let change = detail("bike.change");
    assert_eq!((&change["from"]["label"], &change["to"]["label"]), (&json!("041"), &json!("041 b")));
}
