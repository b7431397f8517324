//! Faults that were found by people who live on the interface: none of them is a fault of the service's own any more.

use std::io::Write as _;

use flate2::Compression;
use flate2::write::GzEncoder;
use reqwest::Method;
use serde_json::{Value, json};
use wear_api::domain::Role;
use wear_tests::{Answer, TestServer, TestStore, on_both_stores};

on_both_stores!(
    a_search_for_what_no_name_holds_finds_nothing,
    bodies_are_packed_with_gzip_or_not_at_all,
    messages_say_what_is_wrong_once,
    a_label_is_one_bikes,
    the_last_manager_stays,
    an_answer_given_before_says_so,
    what_is_voided_twice_says_so,
);

fn packed(text: &[u8]) -> Vec<u8> {
    let mut encoder = GzEncoder::new(Vec::new(), Compression::best());
    encoder.write_all(text).expect("packs");
    encoder.finish().expect("packs")
}

async fn a_search_for_what_no_name_holds_finds_nothing(store: TestStore) {
    let server = TestServer::start(store).await;
    server.bike("041").await;
    for path in ["/v1/bikes?search=%00", "/v1/bikes?search=04%001&sort=label", "/v1/outlooks?search=%00a"] {
        let answer = server.get(path).await.expect(200);
        assert_eq!(answer.body["items"], json!([]), "{path}");
    }
    assert_eq!(server.get("/v1/bikes?search=04").await.body["items"].as_array().map(Vec::len), Some(1));
}

async fn bodies_are_packed_with_gzip_or_not_at_all(store: TestStore) {
    let server = TestServer::start(store).await;
    let send = async |encoding: &str, body: Vec<u8>| {
        let request = server.request(Method::POST, "/v1/bikes").bearer_auth(server.token_of(Role::Mechanic));
        let request = request.header("content-type", "application/json").header("content-encoding", encoding);
        server.send(request.body(body)).await
    };
    send("gzip", packed(br#"{"label":"041"}"#)).await.check(201);
    send("x-gzip", packed(br#"{"label":"042"}"#)).await.check(201);
    send("identity", br#"{"label":"043"}"#.to_vec()).await.check(201);
    for encoding in ["br", "deflate", "zstd", "gzip, gzip"] {
        let refused = send(encoding, packed(br#"{"label":"044"}"#)).await.expect(415);
        let detail = format!("the content encoding is {encoding}; allowed: gzip");
        assert_eq!(refused.body["detail"], detail.as_str());
    }
    assert_eq!(send("gzip", b"{}".to_vec()).await.expect(400).problem(), "invalid-json");
    // A megabyte of blanks is a kilobyte on the wire.
    let bomb = packed(&vec![b' '; 1 << 20]);
    assert!(bomb.len() < 2_000);
    assert_eq!(send("gzip", bomb).await.expect(413).problem(), "body-too-large");
    // What came packed is found again by its key.
    let keyed = async || {
        let request = server.request(Method::POST, "/v1/bikes").bearer_auth(server.token_of(Role::Mechanic));
        let request = request.header("content-type", "application/json").header("content-encoding", "gzip");
        server
            .send(request.header("idempotency-key", "k1").body(packed(br#"{"label":"045"}"#)))
            .await
            .expect(201)
    };
    assert_eq!(keyed().await.id(), keyed().await.id());
    let table = server.request(Method::POST, "/v1/imports/care").bearer_auth(server.token_of(Role::Manager));
    let table = table.header("content-type", "text/csv").header("content-encoding", "br").body("bike,kind\n");
    assert_eq!(
        server.send(table).await.expect(415).body["detail"],
        "the content encoding is br; allowed: none"
    );
}

fn detail(answer: Answer, status: u16) -> String {
    answer.expect(status).body["detail"].as_str().expect("a detail").to_owned()
}

async fn messages_say_what_is_wrong_once(store: TestStore) {
    let server = TestServer::start(store).await;
    let bike = server.bike("041").await;
    let of = |resource: &str| format!("/v1/bikes/{bike}/{resource}");
    let ride = |source: &str| json!({"started_at": "2026-03-01T08:00:00Z", "distance_km": 5, "source": source, "source_id": "x"});
    for (path, body, expected) in [
        (of("rides"), ride(""), "/source is empty; allowed: 1 to 128 characters"),
        (
            of("rides"),
            ride("a\u{7}"),
            "/source holds a control character; allowed: text without control characters",
        ),
        (of("rides"), ride(&"a".repeat(129)), "/source has 129 characters; allowed: 1 to 128 characters"),
        ("/v1/bikes".to_owned(), json!([]), "the body is an array; allowed: an object"),
        (
            "/v1/bikes".to_owned(),
            json!({"label": "042", "drivetrain": []}),
            "/drivetrain is an array; allowed: an object",
        ),
        // Serde reads a list of a struct's values as well.
        ("/v1/bikes".to_owned(), json!(["042"]), "the body is an array; allowed: an object"),
        (
            "/v1/bikes".to_owned(),
            json!({"label": "042", "drivetrain": [null, null, 8]}),
            "/drivetrain is an array; allowed: an object",
        ),
        ("/v1/part-models".to_owned(), json!([null, null]), "the body is an array; allowed: an object"),
        (
            of("readings"),
            json!({"instrument": "rule", "percent": 12.050000000000002}),
            "/percent is 12.05; allowed: -0.3 to 3 percent",
        ),
    ] {
        assert_eq!(detail(server.post(&path, &body).await, 422), expected, "{body}");
    }
}

async fn a_label_is_one_bikes(store: TestStore) {
    let server = TestServer::start(store).await;
    let bike = server.bike("A 41").await;
    let taken = detail(server.post("/v1/bikes", &json!({"label": "a 41"})).await, 409);
    assert_eq!(
        taken,
        format!(
            "bike {bike} of the fleet has the label a 41 already; use another, or retire that bike first"
        )
    );
    let other = server.bike("A 42").await;
    let patch = async |bike: &str, revision: i64, body: Value| {
        let request = server.request(Method::PATCH, &format!("/v1/bikes/{bike}"));
        let request = request.bearer_auth(server.token_of(Role::Mechanic)).json(&body);
        server.send(request.header("if-match", format!("\"{revision}\""))).await
    };
    patch(&other, 1, json!({"label": "a 41"})).await.check(409);
    patch(&bike, 1, json!({"label": "a 41"})).await.check(200);
    patch(&bike, 2, json!({"retired": true})).await.check(200);
    patch(&other, 1, json!({"label": "A 41"})).await.check(200);
    // In a table, too: a new bike by its id, under a label that is taken.
    let line = "bike_id,label\n019abf3e-6a34-7d6e-9a51-0d3c5e1f2a10,a 41\n";
    let table = server.request(Method::POST, "/v1/imports/bikes").bearer_auth(server.token_of(Role::Manager));
    let table = server.send(table.header("content-type", "text/csv").body(line)).await.expect(422).body;
    assert_eq!(table["errors"][0]["allowed"], "a label that no other bike of the fleet has");
    // Another workshop has labels of its own.
    let elsewhere = server.token("Yard", Role::Manager).await;
    let request = server.request(Method::POST, "/v1/bikes").bearer_auth(elsewhere);
    server.send(request.json(&json!({"label": "A 41"}))).await.check(201);
}

async fn the_last_manager_stays(store: TestStore) {
    let server = TestServer::start(store).await;
    let tokens = server.get("/v1/tokens").await.expect(200).body;
    let of = |role: &str| {
        let all = tokens["items"].as_array().expect("tokens").iter();
        let found =
            all.filter(|it| it["role"] == role).map(|it| it["id"].as_str().expect("an id").to_owned());
        found.collect::<Vec<_>>()
    };
    let revoke = async |id: &str| {
        let request = server.request(Method::DELETE, &format!("/v1/tokens/{id}"));
        server.send(request.bearer_auth(server.token_of(Role::Manager))).await
    };
    let [manager] = of("manager").try_into().expect("one manager");
    let refused = detail(revoke(&manager).await, 409);
    assert!(refused.starts_with("this is the last manager's token in force"), "{refused}");
    for id in of("app") {
        revoke(&id).await.check(204);
    }
    let second =
        server.post("/v1/tokens", &json!({"role": "manager", "label": "second"})).await.expect(201).body;
    let second = second["id"].as_str().or(second["token"]["id"].as_str()).expect("an id").to_owned();
    revoke(&second).await.check(204);
    revoke(&second).await.check(204);
    revoke(&manager).await.check(409);
}

async fn an_answer_given_before_says_so(store: TestStore) {
    let server = TestServer::start(store).await;
    let enter = async |key: &str| {
        let request = server.request(Method::POST, "/v1/bikes").bearer_auth(server.token_of(Role::Mechanic));
        server.send(request.header("idempotency-key", key).json(&json!({"label": "041"}))).await
    };
    let first = enter("k1").await.expect(201);
    let again = enter("k1").await.expect(201);
    assert_eq!(first.headers.get("idempotent-replayed"), None);
    assert_eq!((again.header("idempotent-replayed"), &again.body), ("true", &first.body));
    let refused = enter("k2").await.expect(409);
    assert_eq!(refused.headers.get("idempotent-replayed"), None);
}

async fn what_is_voided_twice_says_so(store: TestStore) {
    let server = TestServer::start(store).await;
    let bike = server.bike("041").await;
    let at = "2026-03-01T08:00:00Z";
    for (resource, thing, body) in [
        ("readings", "reading", json!({"taken_at": at, "instrument": "rule", "percent": 0.2})),
        ("swaps", "swap", json!({"swapped_at": at, "place": "chain"})),
        ("symptoms", "symptom", json!({"reported_at": at, "symptom": "noisy"})),
        ("odometer", "odometer statement", json!({"read_at": at, "km": 100})),
    ] {
        let made = server.post(&format!("/v1/bikes/{bike}/{resource}"), &body).await.expect(201).body;
        let id = [&made["id"], &made["reading"]["id"], &made["symptom"]["id"], &made["statement"]["id"]];
        let id = id.into_iter().find_map(Value::as_str).expect("an id");
        let void = async || {
            let request = server.request(Method::DELETE, &format!("/v1/bikes/{bike}/{resource}/{id}"));
            server
                .send(request.bearer_auth(server.token_of(Role::Mechanic)).query(&[("reason", "a slip")]))
                .await
        };
        void().await.check(200);
        assert_eq!(detail(void().await, 409), format!("the {thing} was voided before"));
    }
}
