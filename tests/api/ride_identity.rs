//! What makes two reports one ride, how a ride comes to another bike, and how a workshop's rides are found.

use reqwest::Method;
use serde_json::{Value, json};
use wear_api::domain::Role;
use wear_tests::{Answer, TestServer, TestStore, on_both_stores};

on_both_stores!(
    an_id_is_a_bikes_unless_it_is_said_to_be_the_workshops,
    a_batch_moves_what_it_is_told_to,
    a_ride_is_moved_by_hand,
    a_tombstone_stays_one,
    rides_of_the_workshop_are_found
);

fn ride(id: &str, km: f64) -> Value {
    json!({"started_at": "2026-03-01T08:00:00Z", "distance_km": km, "source": "log", "source_id": id})
}

fn with(mut ride: Value, name: &str, value: Value) -> Value {
    ride[name] = value;
    ride
}

async fn km(server: &TestServer, bike: &str) -> f64 {
    let outlook = server.get(&format!("/v1/bikes/{bike}/outlook")).await.expect(200).body;
    outlook["basis"]["distance_km"].as_f64().expect("a distance")
}

async fn patch(server: &TestServer, path: &str, tag: &str, body: &Value) -> Answer {
    let request = server.request(Method::PATCH, path).bearer_auth(server.token_of(Role::App));
    server.send(request.header("if-match", tag).json(body)).await
}

async fn delete(server: &TestServer, path: &str, tag: &str) -> Answer {
    let request = server.request(Method::DELETE, path).bearer_auth(server.token_of(Role::App));
    server.send(request.header("if-match", tag)).await
}

async fn an_id_is_a_bikes_unless_it_is_said_to_be_the_workshops(store: TestStore) {
    let server = TestServer::start(store).await;
    let (one, two, three) = (server.bike("1").await, server.bike("2").await, server.bike("3").await);
    let rides = |bike: &str| format!("/v1/bikes/{bike}/rides");
    let first = server.post(&rides(&one), &ride("r1", 18.4)).await.expect(201).id();
    let second = server.post(&rides(&two), &ride("r1", 12.0)).await.expect(201).id();
    assert_ne!(first, second);
    let _same = server.post(&rides(&one), &ride("r1", 18.4)).await.expect(200);
    assert!((km(&server, &one).await - 18.4).abs() < 1e-9 && (km(&server, &two).await - 12.0).abs() < 1e-9);
    // Ids of the workshop: one that another bike has is refused, and moved when that is asked for.
    let theirs = |id: &str, km| with(ride(id, km), "id_scope", json!("workshop"));
    let moved = server.post(&rides(&one), &theirs("w1", 5.0)).await.expect(201).id();
    let refused = server.post(&rides(&two), &theirs("w1", 5.0)).await.expect(409);
    let detail = refused.body["detail"].as_str().expect("a detail");
    assert!(detail.contains(&one) && detail.contains(&moved) && detail.contains("move: true"), "{detail}");
    let _same = server.post(&rides(&one), &theirs("w1", 5.0)).await.expect(200);
    let there = server.post(&rides(&two), &with(theirs("w1", 6.0), "move", json!(true))).await.expect(200);
    assert_eq!((there.id(), &there.body["bike_id"]), (moved.clone(), &json!(two)));
    assert!((km(&server, &one).await - 18.4).abs() < 1e-9 && (km(&server, &two).await - 18.0).abs() < 1e-9);
    let gone = server.get(&format!("{}/{moved}", rides(&one))).await;
    assert_eq!(gone.expect(404).problem(), "not-found");
    // Sent late for the first bike it is refused; sent again for the second it is there.
    assert_eq!(server.post(&rides(&one), &theirs("w1", 5.0)).await.expect(409).problem(), "conflict");
    let _same = server.post(&rides(&two), &with(theirs("w1", 6.0), "move", json!(true))).await.expect(200);
    // Which of two is meant nobody can tell.
    let both = server.post(&rides(&three), &with(theirs("r1", 5.0), "move", json!(true))).await;
    assert_eq!(both.expect(409).problem(), "conflict");
    let _here = server.post(&rides(&two), &theirs("r1", 12.0)).await.expect(200);
    for (name, value, pointer) in [
        ("move", json!(true), "/move"),
        ("id_scope", json!("yard"), "/id_scope"),
        ("move", json!(1), "/move"),
    ] {
        let wrong = server.post(&rides(&one), &with(ride("x", 1.0), name, value)).await.expect(422);
        assert_eq!(wrong.pointers(), [pointer]);
    }
    let audit = server.get("/v1/audit").await.expect(200).body;
    let entries = audit["items"].as_array().expect("entries").iter();
    let moves: Vec<&Value> = entries.filter(|entry| entry["action"] == "ride.move").collect();
    assert_eq!(moves.len(), 1);
    assert_eq!(
        (&moves[0]["subject"], &moves[0]["detail"]["from_bike_id"]),
        (&json!(format!("bikes/{two}/rides/{moved}")), &json!(one))
    );
}

async fn a_batch_moves_what_it_is_told_to(store: TestStore) {
    let server = TestServer::start(store).await;
    let (one, two) = (server.bike("1").await, server.bike("2").await);
    let on = |bike: &str, id: &str, km: f64| with(ride(id, km), "bike_id", json!(bike));
    let batch = |rides: Vec<Value>| json!({"id_scope": "workshop", "rides": rides});
    let report = server.post("/v1/rides", &batch(vec![on(&one, "a", 1.0), on(&one, "b", 2.0)])).await;
    let report = report.expect(200).body;
    let ids: Vec<&Value> =
        report["rides"].as_array().expect("rides").iter().map(|ride| &ride["id"]).collect();
    assert_eq!(
        report["rides"],
        json!([{"index": 0, "id": ids[0], "bike_id": one, "outcome": "accepted"},
            {"index": 1, "id": ids[1], "bike_id": one, "outcome": "accepted"}])
    );
    // In the order of the lines: refused, there, moved, changed where it is now, moved back.
    let move_to = |bike: &str, id: &str, km| with(on(bike, id, km), "move", json!(true));
    let lines = vec![
        on(&two, "a", 1.0),
        on(&one, "a", 1.0),
        move_to(&two, "a", 1.0),
        on(&two, "a", 1.5),
        on(&one, "a", 1.5),
        move_to(&two, "b", 2.0),
        move_to(&one, "b", 2.5),
        on(&two, "c", 4.0),
        move_to(&one, "c", 4.0),
    ];
    let report = server.post("/v1/rides", &batch(lines)).await.expect(200).body;
    let outcomes: Vec<(u64, &str)> = report["rides"]
        .as_array()
        .expect("rides")
        .iter()
        .map(|ride| (ride["index"].as_u64().expect("a place"), ride["outcome"].as_str().expect("a word")))
        .collect();
    assert_eq!(
        outcomes,
        [
            (1, "unchanged"),
            (2, "replaced"),
            (3, "replaced"),
            (5, "replaced"),
            (6, "replaced"),
            (7, "accepted"),
            (8, "replaced")
        ]
    );
    let counts = |report: &Value| {
        ["accepted", "replaced", "unchanged"].map(|name| report[name].as_u64().expect("a count"))
    };
    assert_eq!(counts(&report), [1, 5, 1]);
    let failed: Vec<(&Value, &Value)> = report["failed"]
        .as_array()
        .expect("failed")
        .iter()
        .map(|line| (&line["index"], &line["errors"][0]["pointer"]))
        .collect();
    assert_eq!(failed, [(&json!(0), &json!("/source_id")), (&json!(4), &json!("/source_id"))]);
    assert!(report["failed"][0]["errors"][0]["message"].as_str().is_some_and(|said| said.contains(&one)));
    assert!((km(&server, &one).await - 6.5).abs() < 1e-9 && (km(&server, &two).await - 1.5).abs() < 1e-9);
    // A bike may be named by what its owner calls it.
    let named = json!({"label": "3", "external_id": "yard/3"});
    let three = server.post("/v1/bikes", &named).await.expect(201).id();
    let lines = json!({"rides": [
        with(ride("e", 3.0), "bike_external_id", json!("yard/3")),
        with(ride("f", 3.0), "bike_external_id", json!("yard/4")),
        with(with(ride("g", 3.0), "bike_external_id", json!("yard/3")), "bike_id", json!(three)),
        ride("h", 3.0),
        with(on(&one, "i", 3.0), "move", json!(true)),
    ]});
    let report = server.post("/v1/rides", &lines).await.expect(200).body;
    assert_eq!(report["rides"][0]["bike_id"], json!(three));
    let pointers: Vec<&Value> = report["failed"]
        .as_array()
        .expect("failed")
        .iter()
        .map(|line| &line["errors"][0]["pointer"])
        .collect();
    assert_eq!(pointers, ["/bike_external_id", "/bike_external_id", "/bike_id", "/move"]);
}

async fn a_ride_is_moved_by_hand(store: TestStore) {
    let server = TestServer::start(store).await;
    let (one, two) = (server.bike("1").await, server.bike("2").await);
    let made = server.post(&format!("/v1/bikes/{one}/rides"), &ride("r1", 18.4)).await.expect(201).id();
    let path = format!("/v1/bikes/{one}/rides/{made}");
    let moved = patch(&server, &path, "\"1\"", &json!({"bike_id": two, "wet": true})).await.expect(200);
    assert_eq!((&moved.body["bike_id"], &moved.body["wet"]), (&json!(two), &json!(true)));
    assert_eq!(moved.id(), made);
    assert!(km(&server, &one).await < 1e-9 && (km(&server, &two).await - 18.4).abs() < 1e-9);
    // Ids are bikes': sent again for the first one it is another ride, and the moved one can't come back.
    let _new = server.post(&format!("/v1/bikes/{one}/rides"), &ride("r1", 18.4)).await.expect(201);
    let path = format!("/v1/bikes/{two}/rides/{made}");
    let back = patch(&server, &path, moved.header("etag"), &json!({"bike_id": one})).await.expect(409);
    assert!(back.body["detail"].as_str().is_some_and(|detail| detail.contains(&one)));
    let nowhere = patch(&server, &path, moved.header("etag"), &json!({"bike_id": made})).await.expect(422);
    assert_eq!(nowhere.pointers(), ["/bike_id"]);
}

async fn a_tombstone_stays_one(store: TestStore) {
    let server = TestServer::start(store).await;
    let (one, two) = (server.bike("1").await, server.bike("2").await);
    let theirs = with(ride("r1", 18.4), "id_scope", json!("workshop"));
    let made = server.post(&format!("/v1/bikes/{one}/rides"), &theirs).await.expect(201).id();
    delete(&server, &format!("/v1/bikes/{one}/rides/{made}"), "\"1\"").await.check(204);
    let late = server.post(&format!("/v1/bikes/{one}/rides"), &theirs).await.expect(200).body;
    assert_eq!(late["warnings"][0]["code"], "deleted");
    // On another bike it is refused as any other, and moved it stays deleted.
    assert_eq!(
        server.post(&format!("/v1/bikes/{two}/rides"), &theirs).await.expect(409).problem(),
        "conflict"
    );
    let there = with(theirs, "move", json!(true));
    let moved = server.post(&format!("/v1/bikes/{two}/rides"), &there).await.expect(200).body;
    assert_eq!((&moved["warnings"][0]["code"], &moved["bike_id"]), (&json!("deleted"), &json!(two)));
    assert!(km(&server, &two).await < 1e-9);
    // An id of a bike's own is free on another one.
    let _own = server.post(&format!("/v1/bikes/{one}/rides"), &ride("r1", 3.0)).await.expect(201);
    let restore = format!("/v1/bikes/{two}/rides/{made}/restoration");
    assert_eq!(server.post(&restore, &Value::Null).await.expect(200).body["counts"], true);
    assert!((km(&server, &two).await - 18.4).abs() < 1e-9 && (km(&server, &one).await - 3.0).abs() < 1e-9);
}

async fn rides_of_the_workshop_are_found(store: TestStore) {
    let server = TestServer::start(store).await;
    let (one, two) = (server.bike("1").await, server.bike("2").await);
    let mut lines = Vec::new();
    for day in 1..=9 {
        for (bike, source) in [(&one, "log"), (&two, "log"), (&two, "tape")] {
            lines.push(json!({"bike_id": bike, "started_at": format!("2026-03-0{day}T08:00:00Z"),
                "distance_km": if source == "log" { 10.0 } else { 30.0 }, "source": source, "source_id": format!("r{day}")}));
        }
    }
    let _taken = server.post("/v1/rides", &json!({"rides": lines})).await.expect(200);
    let found = async |query: &str| {
        let (mut all, mut address) = (Vec::new(), format!("/v1/rides?limit=4&{query}"));
        loop {
            let page = server.get(&address).await.expect(200);
            let items = page.body["items"].as_array().expect("rides").clone();
            all.extend(items.iter().map(|ride| {
                let day = ride["started_at"].as_str().expect("a time")[8..10].to_owned();
                (day, ride["bike_id"] == json!(one), ride["source"].as_str().expect("a source").to_owned())
            }));
            let Some(link) = page.headers.get("link").map(|link| link.to_str().expect("a link").to_owned())
            else {
                break all;
            };
            assert_eq!(items.len(), 4);
            address = link.trim_start_matches('<').split('>').next().expect("an address").to_owned();
        }
    };
    let all = found("").await;
    assert_eq!((all.len(), all[0].0.as_str(), all[26].0.as_str()), (27, "09", "01"));
    assert!(all.is_sorted_by(|a, b| a.0 >= b.0));
    let day = |found: &[(String, bool, String)]| found.iter().map(|it| it.0.clone()).collect::<Vec<_>>();
    assert_eq!(found("source=log").await.len(), 18);
    assert_eq!(found("source=log&source_id=r3").await.len(), 2);
    assert_eq!(found(&format!("source=log&source_id=r3&bike_id={one}")).await.len(), 1);
    assert_eq!(found(&format!("bike_id={two}&source=tape")).await.len(), 9);
    assert_eq!(found(&format!("bike_id={one}")).await.len(), 9);
    let some = found("source=tape&from=2026-03-03T08:00:00Z&until=2026-03-05T08:00:00Z").await;
    assert_eq!(day(&some), ["04", "03"]);
    let some = found(&format!("bike_id={one}&from=2026-03-08T09:00:00Z")).await;
    assert_eq!(day(&some), ["09"]);
    assert!(found("source=log&source_id=r3&until=2026-03-03T08:00:00Z").await.is_empty());
    assert!(found("source=nobody").await.is_empty());
    for (query, name) in
        [("source_id=r3", "source_id"), ("from=noon", "from"), ("bike_id=7", "bike_id"), ("sort=km", "sort")]
    {
        let wrong = server.get(&format!("/v1/rides?{query}")).await.expect(400);
        assert_eq!(wrong.body["errors"][0]["parameter"], name, "{}", wrong.body);
    }
    let stranger = server.token("Hill", Role::Manager).await;
    let theirs = server.request(Method::GET, "/v1/rides").bearer_auth(stranger);
    assert_eq!(server.send(theirs).await.expect(200).body["items"], json!([]));
}
