//! Sentences follow `Accept-Language`, else the workshop's language; codes stay what they are.

use chrono::Duration;
use reqwest::Method;
use serde_json::{Value, json};
use wear_api::domain::Role;
use wear_tests::{Answer, TestServer, TestStore, on_both_stores};

on_both_stores!(
    sentences_follow_the_reader_and_else_the_workshop,
    problems_follow_too,
    distances_are_in_the_workshops_unit,
    hooks_speak_the_workshops_language,
);

async fn get(server: &TestServer, path: &str, accepts: Option<&str>) -> Answer {
    let mut request = server.request(Method::GET, path).bearer_auth(server.token_of(Role::Manager));
    if let Some(accepts) = accepts {
        request = request.header("accept-language", accepts);
    }
    server.send(request).await
}

async fn set(server: &TestServer, change: Value) {
    let tag = server.get("/v1/workshop").await.expect(200).header("etag").to_owned();
    let request = server.request(Method::PATCH, "/v1/workshop").header("if-match", tag);
    server.send(request.bearer_auth(server.token_of(Role::Manager)).json(&change)).await.check(200);
}

/// A bike whose chain is over its limit.
async fn worn(server: &TestServer) -> String {
    let bike = server.bike("041").await;
    let reading = json!({"taken_at": server.now(), "instrument": "dial", "percent": 0.95});
    server.post(&format!("/v1/bikes/{bike}/readings"), &reading).await.check(201);
    bike
}

fn varies(answer: &Answer) -> bool {
    let values = answer.headers.get_all("vary").iter().filter_map(|value| value.to_str().ok());
    values.flat_map(|value| value.split(',')).any(|name| name.trim().eq_ignore_ascii_case("accept-language"))
}

async fn sentences_follow_the_reader_and_else_the_workshop(store: TestStore) {
    let server = TestServer::start(store).await;
    let path = format!("/v1/bikes/{}/outlook", worn(&server).await);
    let english = get(&server, &path, None).await.expect(200);
    assert_eq!(english.header("content-language"), "en");
    assert!(varies(&english));
    let says = english.body["reason"].as_str().expect("a reason").to_owned();
    assert!(says.starts_with("The chain is over its limit"), "{says}");
    let german = get(&server, &path, Some("fr, de-AT;q=0.9, en;q=0.5")).await.expect(200);
    assert_eq!(german.header("content-language"), "de");
    assert!(
        german.body["reason"].as_str().is_some_and(|it| it.starts_with("Die Kette ist")),
        "{}",
        german.body
    );
    for field in ["reason_code", "reason_parameters", "advice", "elongation_percent", "swap_by"] {
        assert_eq!(german.body[field], english.body[field], "{field}");
    }
    set(&server, json!({"language": "de"})).await;
    for (accepts, expected) in [(None, "de"), (Some("*"), "de"), (Some("fr"), "de"), (Some("en-GB"), "en")] {
        let answer = get(&server, &path, accepts).await.expect(200);
        assert_eq!(answer.header("content-language"), expected, "{accepts:?}");
        assert_eq!(answer.body["reason"] == json!(says), expected == "en", "{}", answer.body["reason"]);
    }
    // A plan as it is computed, and what the fleet has learned.
    let plan = server
        .post("/v1/bench-plan", &json!({"from": "2026-11-26", "to": "2026-12-04"}))
        .await
        .expect(201)
        .body;
    let says = plan["summary"].to_string();
    assert!(says.contains("Werkbanktagen") && !says.contains("bench"), "{says}");
    let english = get(&server, "/v1/bench-plan", Some("en")).await.expect(200).body;
    assert!(english["summary"].to_string().contains("bench days"), "{english}");
    let known = get(&server, "/v1/calibration", None).await.expect(200).body;
    let known_in_english = get(&server, "/v1/calibration", Some("en")).await.expect(200).body;
    assert_eq!(known["cassettes"]["said_code"], known_in_english["cassettes"]["said_code"]);
    assert_ne!(known["cassettes"]["said"], known_in_english["cassettes"]["said"], "{known}");
    // The steps of a swap, with their cautions.
    let steps = format!("{}/swap-procedure?place=chain", path.trim_end_matches("/outlook"));
    let (german, english) =
        (get(&server, &steps, None).await.expect(200), get(&server, &steps, Some("en")).await.expect(200));
    let count = |answer: &Answer| answer.body["steps"].as_array().map(Vec::len);
    assert_eq!(count(&german), count(&english));
    assert_ne!(german.body["steps"], english.body["steps"]);
}

async fn problems_follow_too(store: TestStore) {
    let server = TestServer::start(store).await;
    let bike = server.bike("041").await;
    let ask = |method: Method, path: String, body: Value| {
        let request = server.request(method, &path).bearer_auth(server.token_of(Role::Manager));
        server.send(request.header("accept-language", "de").json(&body))
    };
    let reading = json!({"instrument": "dial", "percent": 31});
    let wrong = ask(Method::POST, format!("/v1/bikes/{bike}/readings"), reading).await.expect(422);
    assert_eq!((wrong.header("content-language"), wrong.problem()), ("de", "invalid-body"));
    assert_eq!(wrong.body["title"], "Der Inhalt hat falsche Felder");
    assert_eq!(wrong.pointers(), ["/percent"]);
    let error = &wrong.body["errors"][0];
    assert_eq!(error["message"], "ist 31");
    assert!(error["allowed"].as_str().is_some_and(|it| it.contains(" bis 3 ")), "{error}");
    assert!(wrong.body["detail"].as_str().is_some_and(|it| it.contains("; erlaubt: ")), "{}", wrong.body);
    let nobody = "/v1/bikes/019abf3e-6a34-7d6e-9a51-0d3c5e1f2a10/outlook".to_owned();
    let gone = ask(Method::GET, nobody, Value::Null).await.expect(404);
    assert_eq!(gone.body["detail"], "Das gibt es in dieser Werkstatt nicht: Rad.");
    let mut taken = wear_tests::bike("041");
    taken["group"] = json!("town-8s");
    let conflict = ask(Method::POST, "/v1/bikes".to_owned(), taken).await.expect(409);
    assert_eq!(conflict.body["title"], "Es widerspricht dem, was da ist");
    let table = server.request(Method::POST, "/v1/imports/bikes").bearer_auth(server.token_of(Role::Manager));
    let table = table.header("accept-language", "de").header("content-type", "text/csv");
    let table = server.send(table.body("label,links\n042,many\n043,114,3\n")).await.expect(422);
    let said: Vec<(&str, &str)> = table.body["errors"]
        .as_array()
        .expect("errors")
        .iter()
        .map(|error| (error["message"].as_str().expect("text"), error["allowed"].as_str().expect("text")))
        .collect();
    assert!(said.contains(&("ist \"many\"", "eine ganze Zahl")), "{said:?}");
    assert!(said.contains(&("hat 3 Zellen", "2 Zellen, wie die Kopfzeile")), "{said:?}");
    let detail = table.body["detail"].as_str().expect("text");
    assert!(detail.starts_with("4 Fehler, der erste: Zeile 2, rings fehlt; erlaubt: "), "{detail}");
    let path = format!("/v1/ride-files?bike_id={bike}");
    let file = server.request(Method::POST, &path).bearer_auth(server.token_of(Role::Manager));
    let file = file.header("accept-language", "de").header("content-type", "application/gpx+xml");
    let file = server.send(file.body("<gpx version=\"1.1\"></gpx>")).await.expect(422);
    assert_eq!(file.problem(), "invalid-ride-file");
    assert_eq!(file.body["errors"][0]["message"], "enthält keine aufgezeichnete Strecke", "{}", file.body);
    assert_eq!(file.body["errors"][0]["allowed"], "mindestens ein trk mit Punkten");
    // Who isn't signed in is answered in what they ask for.
    let request = server.request(Method::GET, "/v1/bikes").header("accept-language", "de");
    assert_eq!(server.send(request).await.expect(401).body["title"], "Es braucht einen Zugang");
}

async fn distances_are_in_the_workshops_unit(store: TestStore) {
    let server = TestServer::start(store).await;
    let bike = server.bike("041").await;
    for (hours, km) in [(2, 1_609.344), (1, 100.0)] {
        let at = server.now().plus(Duration::hours(-hours));
        let shown = json!({"read_at": at, "km": km});
        server.post(&format!("/v1/bikes/{bike}/odometer"), &shown).await.check(201);
    }
    let path = format!("/v1/bikes/{bike}/outlook");
    let message = async |code: &str| {
        let outlook = server.get(&path).await.expect(200).body;
        let warnings = outlook["warnings"].as_array().expect("warnings").clone();
        let found = warnings.into_iter().find(|it| it["code"] == code).expect("the warning");
        found["message"].as_str().expect("a message").to_owned()
    };
    assert!(message("new_counter").await.contains("1609 km"), "{}", message("new_counter").await);
    set(&server, json!({"units_shown": "miles"})).await;
    let miles = message("new_counter").await;
    assert!(miles.contains("1,000\u{a0}miles") && !miles.contains("km"), "{miles}");
}

async fn hooks_speak_the_workshops_language(store: TestStore) {
    let server = TestServer::start(store).await;
    set(&server, json!({"language": "de"})).await;
    let hook = json!({"label": "app", "url": "https://app.example/hook", "events": ["outlook.swap_now"]});
    let hook = server.post("/v1/hooks", &hook).await.expect(201).id();
    worn(&server).await;
    let log = server.get(&format!("/v1/hooks/{hook}/deliveries")).await.expect(200).body;
    let data = &log["items"][0]["body"]["data"];
    assert!(data["reason"].as_str().is_some_and(|it| it.starts_with("Die Kette")), "{data}");
    assert_eq!(data["reason_code"], "likely_over");
}
