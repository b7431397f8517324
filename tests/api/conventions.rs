//! HTTP conventions: methods, media types, sizes, ids, limits, origins.

use reqwest::Method;
use serde_json::{Value, json};
use wear_api::domain::Role;
use wear_api::web::problem::Kind;
use wear_tests::{TestServer, TestStore, on_both_stores};

use crate::document::{NOBODYS, address_of_nobodys, operations, served};

on_both_stores!(
    methods_are_those_of_the_document,
    forms_other_than_json_are_refused,
    bodies_have_a_largest_size,
    a_batch_names_its_failures_by_index,
    pages_hold_still_while_things_are_added,
    every_answer_has_an_id,
    requests_are_counted_by_token,
    origins_are_those_of_the_settings,
    answers_are_compressed_on_request,
    problems_are_explained,
    requests_without_a_token_are_not_counted,
);

async fn methods_are_those_of_the_document(store: TestStore) {
    let server = TestServer::start(store).await;
    let document = served(&server).await;
    let mut paths: Vec<String> = operations(&document).into_iter().map(|(path, ..)| path).collect();
    paths.dedup();
    for path in paths {
        let documented: Vec<String> = document["paths"][&path]
            .as_object()
            .expect("operations")
            .keys()
            .map(|method| method.to_uppercase())
            .collect();
        let options =
            server.send(server.request(Method::OPTIONS, &address_of_nobodys(&path))).await.expect(204);
        let allowed: Vec<&str> = options.header("allow").split(", ").collect();
        for method in ["GET", "POST", "PUT", "PATCH", "DELETE", "TRACE"] {
            let is_documented = documented.iter().any(|name| name == method);
            assert_eq!(allowed.contains(&method), is_documented, "{method} {path} {allowed:?}");
            if !is_documented {
                let request = server.request(method.parse().expect("a method"), &address_of_nobodys(&path));
                let answer = server.send(request).await.expect(405);
                assert_eq!(
                    (answer.problem(), answer.header("allow")),
                    ("method-not-allowed", options.header("allow"))
                );
            }
        }
    }
    let head = server.request(Method::HEAD, "/v1/bikes").bearer_auth(server.token_of(Role::App));
    let head = server.send(head).await.expect(200);
    let get = server.request(Method::GET, "/v1/bikes").bearer_auth(server.token_of(Role::App));
    let get = server.send(get).await.expect(200);
    assert_eq!((head.header("content-length"), &head.body), (get.header("content-length"), &Value::Null));
    for unknown in ["/v1/boats", "/v1/bikes/1", "/v1/bikes/", "/nowhere"] {
        assert_eq!(server.get(unknown).await.expect(404).problem(), "not-found", "{unknown}");
    }
}

async fn forms_other_than_json_are_refused(store: TestStore) {
    let server = TestServer::start(store).await;
    for form in [None, Some("text/plain"), Some("application/x-www-form-urlencoded")] {
        let mut request =
            server.request(Method::POST, "/v1/bikes").bearer_auth(server.token_of(Role::Manager));
        if let Some(form) = form {
            request = request.header("content-type", form);
        }
        let answer = server.send(request.body(wear_tests::bike("1").to_string())).await.expect(415);
        assert_eq!(answer.problem(), "unsupported-media-type");
    }
    for (accept, status) in [
        ("application/json", 200),
        ("*/*", 200),
        ("text/html, application/*;q=0.5", 200),
        ("text/html", 406),
        ("application/json;q=0", 406),
    ] {
        let request = server.request(Method::GET, "/v1/bikes").bearer_auth(server.token_of(Role::App));
        let _answered = server.send(request.header("accept", accept)).await.expect(status);
    }
}

async fn bodies_have_a_largest_size(store: TestStore) {
    let server = TestServer::start(store).await;
    for size in [257 * 1024, 1_000_000, 3_000_000] {
        let body = format!("{{\"label\":\"{}\"}}", "x".repeat(size));
        let answer = server.post_text("/v1/bikes", body.clone()).await.expect(413);
        assert_eq!(answer.problem(), "body-too-large");
        let pieces = futures_pieces(body);
        let answer = server.post_text("/v1/bikes", pieces).await.expect(413);
        assert_eq!(answer.problem(), "body-too-large");
    }
    let bike = server.bike("041").await;
    let ride = |n: usize| {
        json!({"bike_id": bike, "started_at": "2026-03-01T08:00:00Z", "distance_km": 1,
            "source": "log", "source_id": format!("r{n}")})
    };
    let batch = |count: usize| json!({"rides": (0..count).map(ride).collect::<Vec<_>>()});
    let report = server.post("/v1/rides", &batch(2_000)).await.expect(200).body;
    assert_eq!(report["accepted"], 2_000);
    let answer = server.post("/v1/rides", &batch(10_001)).await.expect(422);
    assert_eq!(answer.pointers(), ["/rides"]);
}

async fn a_batch_names_its_failures_by_index(store: TestStore) {
    let server = TestServer::start(store).await;
    let bike = server.bike("041").await;
    let mut rides: Vec<Value> = (0..10_000)
        .map(|n| {
            let at = format!("2026-03-{:02}T{:02}:{:02}:00Z", 1 + n % 28, n / 28 % 24, n / 700);
            json!({"bike_id": bike, "started_at": at, "distance_km": 1, "source": "log", "source_id": format!("r{n}")})
        })
        .collect();
    rides[7]["distance_km"] = json!(-1);
    rides[4_000]["bike_id"] = json!(NOBODYS);
    rides[9_999]["started_at"] = json!("yesterday");
    let report = server.post("/v1/rides", &json!({"rides": rides})).await.expect(200).body;
    assert_eq!(
        (&report["accepted"], &report["unchanged"]),
        (&json!(9_997), &json!(0)),
        "{}",
        report["failed"]
    );
    let failed: Vec<_> = report["failed"]
        .as_array()
        .expect("failures")
        .iter()
        .map(|failed| (failed["index"].as_u64(), failed["errors"][0]["pointer"].as_str()))
        .collect();
    let expected = [
        (Some(7), Some("/distance_km")),
        (Some(4_000), Some("/bike_id")),
        (Some(9_999), Some("/started_at")),
    ];
    assert_eq!(failed, expected);
    let again = server.post("/v1/rides", &json!({"rides": rides})).await.expect(200).body;
    assert_eq!((&again["accepted"], &again["unchanged"]), (&json!(0), &json!(9_997)));
}

async fn pages_hold_still_while_things_are_added(store: TestStore) {
    let server = TestServer::start(store).await;
    for label in ["b", "d", "f", "h", "j"] {
        let _entered = server.bike(label).await;
    }
    let lists = ["/v1/bikes?limit=2", "/v1/outlooks?limit=2", "/v1/tokens?limit=2", "/v1/audit?limit=2"];
    for (number, list) in lists.into_iter().enumerate() {
        let before = ids(&server.get(&list.replace("limit=2", "limit=100")).await.expect(200).body);
        let mut walked = Vec::new();
        let mut next = Some(list.to_owned());
        while let Some(address) = next.take() {
            let page = server.get(&address).await.expect(200);
            walked.extend(ids(&page.body));
            if let Some(link) = page.headers.get("link").and_then(|link| link.to_str().ok()) {
                assert!(link.ends_with("; rel=\"next\""), "{link}");
                next = link.strip_prefix('<').and_then(|link| link.split('>').next()).map(str::to_owned);
            }
            // Something new ahead of what was read and something behind it.
            if walked.len() < 9 {
                for end in ["a", "z"] {
                    let label = format!("{end}{number} {}", walked.len());
                    let _entered = server.bike(&label).await;
                }
            }
        }
        let kept: Vec<_> = walked.iter().filter(|id| before.contains(id)).cloned().collect();
        assert_eq!(kept, before, "{list}: what was there is seen once, in order");
        walked.sort();
        walked.dedup();
        assert!(walked.len() >= before.len(), "{list}");
    }
}

/// The ids of a list's items, or of their bikes.
fn ids(list: &Value) -> Vec<String> {
    let items = list["items"].as_array().expect("items");
    let id = |item: &Value| {
        item.get("id").or_else(|| item.get("bike_id")).and_then(Value::as_str).map(str::to_owned)
    };
    items.iter().map(|item| id(item).unwrap_or_else(|| panic!("no id in {item}"))).collect()
}

/// A body whose length isn't announced.
fn futures_pieces(body: String) -> reqwest::Body {
    let pieces: Vec<Result<String, std::io::Error>> =
        body.as_bytes().chunks(10_000).map(|piece| Ok(String::from_utf8_lossy(piece).into_owned())).collect();
    reqwest::Body::wrap_stream(futures_util::stream::iter(pieces))
}

async fn every_answer_has_an_id(store: TestStore) {
    let server = TestServer::start(store).await;
    let given = server.request(Method::GET, "/health/live").header("x-request-id", "mine-17");
    assert_eq!(server.send(given).await.expect(200).header("x-request-id"), "mine-17");
    let strange = server.request(Method::GET, "/nowhere").header("x-request-id", "a b\"c");
    let answer = server.send(strange).await.expect(404);
    assert_ne!(answer.header("x-request-id"), "a b\"c");
    assert_eq!(answer.body["request_id"], answer.header("x-request-id"));
}

async fn requests_are_counted_by_token(store: TestStore) {
    let server = TestServer::start_with(store, |settings| settings.requests_per_minute = Some(3)).await;
    for left in ["2", "1", "0"] {
        let answer = server.get("/v1/bikes").await.expect(200);
        assert_eq!(answer.header("ratelimit-policy"), "\"token\";q=3;w=60");
        assert!(answer.header("ratelimit").starts_with(&format!("\"token\";r={left};t=")));
    }
    let answer = server.get("/v1/bikes").await.expect(429);
    assert_eq!(answer.problem(), "too-many-requests");
    let seconds: u64 = answer.header("retry-after").parse().expect("seconds");
    assert!((1..=60).contains(&seconds));
    let other = server.request(Method::GET, "/v1/bikes").bearer_auth(server.token_of(Role::App));
    let _let_in = server.send(other).await.expect(200);
    let _open = server.send(server.request(Method::GET, "/health/live")).await.expect(200);
}

async fn origins_are_those_of_the_settings(store: TestStore) {
    let server = TestServer::start_with(store, |settings| {
        settings.allow_origins = vec!["https://bikes.example".into()];
    })
    .await;
    let ask = |origin: &str, method: &str, headers: &str| {
        server
            .request(Method::OPTIONS, "/v1/bikes")
            .header("origin", origin)
            .header("access-control-request-method", method)
            .header("access-control-request-headers", headers)
    };
    let answer =
        server.send(ask("https://bikes.example", "POST", "authorization, content-type")).await.expect(200);
    assert_eq!(answer.header("access-control-allow-origin"), "https://bikes.example");
    let (here, elsewhere) = ("https://bikes.example", "https://elsewhere.example");
    for (origin, method, headers, wrong, sent) in [
        (elsewhere, "POST", "accept", "Origin", elsewhere),
        (here, "TRACE", "accept", "Access-Control-Request-Method", "TRACE"),
        (here, "POST", "accept, cookie", "Access-Control-Request-Headers", "accept, cookie"),
        (here, "POST", "", "Access-Control-Request-Headers", ""),
    ] {
        let refused = server.send(ask(origin, method, headers)).await.expect(400);
        assert!(!refused.headers.contains_key("access-control-allow-origin"), "{refused:?}");
        assert_eq!(
            (refused.problem(), refused.header("content-type")),
            ("invalid-parameter", "application/problem+json")
        );
        let error = &refused.body["errors"][0];
        assert_eq!((&error["header"], &error["message"]), (&json!(wrong), &json!(format!("is {sent:?}"))));
        assert_eq!(refused.body["request_id"], refused.header("x-request-id"));
    }
    // A page of elsewhere gets its answer, but its browser doesn't let it read it.
    let read = server.request(Method::GET, "/health/live").header("origin", elsewhere);
    assert!(!server.send(read).await.expect(200).headers.contains_key("access-control-allow-origin"));
}

async fn answers_are_compressed_on_request(store: TestStore) {
    let server = TestServer::start(store).await;
    let request = server.request(Method::GET, "/openapi.json").header("accept-encoding", "gzip");
    let answer = server.send(request).await.expect(200);
    assert_eq!(answer.header("content-encoding"), "gzip");
}

async fn problems_are_explained(store: TestStore) {
    let server = TestServer::start(store).await;
    let problem = server.get("/nowhere").await.expect(404);
    let (page, part) =
        problem.body["type"].as_str().and_then(|kind| kind.split_once('#')).expect("a part of a page");
    let response = server.request(Method::GET, page).send().await.expect("an answer");
    let text = response.text().await.expect("text");
    assert!(text.contains(&format!("id=\"{part}\"")), "{text}");
    for kind in Kind::ALL {
        assert!(text.contains(&format!("id=\"{}\"", kind.slug())), "{}", kind.slug());
        assert!(
            text.contains(kind.about()) || kind.about().contains(['<', '>', '&', '"', '\'']),
            "{}",
            kind.slug()
        );
    }
    let docs = server.request(Method::GET, "/docs/").send().await.expect("an answer");
    let text = docs.text().await.expect("text");
    assert!(!text.contains("http://") && !text.contains("https://"), "no address of elsewhere: {text}");
}

async fn requests_without_a_token_are_not_counted(store: TestStore) {
    let server = TestServer::start_with(store, |settings| settings.requests_per_minute = Some(1)).await;
    for _ in 0..3 {
        let answer = server.send(server.request(Method::GET, "/v1/bikes")).await.expect(401);
        assert!(!answer.headers.contains_key("ratelimit"), "{answer:?}");
    }
}
