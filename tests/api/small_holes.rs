//! Small holes that were there once.

use reqwest::header::HeaderMap;
use reqwest::{Client, Method, redirect};
use serde_json::{Value, json};
use wear_api::domain::Role;
use wear_tests::{TestServer, TestStore, on_both_stores};

on_both_stores!(
    signing_in_ends_the_session_before,
    a_form_is_proved_anew_by_each_page,
    what_is_entered_again_is_written_down_once,
    every_page_says_what_it_may_load,
);

async fn answered(
    server: &TestServer,
    cookie: Option<&str>,
    path: &str,
    form: Option<&str>,
) -> (u16, HeaderMap, String) {
    let client = Client::builder().redirect(redirect::Policy::none()).build().expect("a client");
    let method = if form.is_some() { Method::POST } else { Method::GET };
    let mut request = client.request(method, format!("{}{path}", server.url()));
    if let Some(cookie) = cookie {
        request = request.header("cookie", cookie);
    }
    if let Some(form) = form {
        request = request.header("content-type", "application/x-www-form-urlencoded").body(form.to_owned());
    }
    let answer = request.send().await.expect("an answer");
    let (status, headers) = (answer.status().as_u16(), answer.headers().clone());
    (status, headers, answer.text().await.expect("text"))
}

async fn sign_in(server: &TestServer, cookie: Option<&str>, back: &str) -> (String, String) {
    let form = format!("token={}&back={back}", server.token_of(Role::Manager));
    let (status, headers, _) = answered(server, cookie, "/sign-in", Some(&form)).await;
    assert_eq!(status, 303);
    let cookie = headers["set-cookie"].to_str().expect("ASCII").split(';').next().expect("a cookie");
    (cookie.to_owned(), headers["location"].to_str().expect("ASCII").to_owned())
}

fn proof(page: &str) -> &str {
    page.split("name=\"csrf\" content=\"").nth(1).and_then(|rest| rest.split('"').next()).expect("a proof")
}

async fn signing_in_ends_the_session_before(store: TestStore) {
    let server = TestServer::start(store).await;
    let (first, back) = sign_in(&server, None, "/%09/else.example/").await;
    assert_eq!(back, "/fleet", "a tab leads to another site");
    assert_eq!(answered(&server, Some(&first), "/fleet", None).await.0, 200);
    let (second, _) = sign_in(&server, Some(&first), "/fleet").await;
    assert_eq!(answered(&server, Some(&second), "/fleet", None).await.0, 200);
    let (status, headers, _) = answered(&server, Some(&first), "/fleet", None).await;
    assert_eq!((status, headers["location"].to_str().ok()), (303, Some("/sign-in?back=%2Ffleet")));
    // Another browser's session goes on.
    let (other, _) = sign_in(&server, None, "/fleet").await;
    for cookie in [&second, &other] {
        assert_eq!(answered(&server, Some(cookie), "/fleet", None).await.0, 200);
    }
}

async fn a_form_is_proved_anew_by_each_page(store: TestStore) {
    let server = TestServer::start(store).await;
    let (cookie, _) = sign_in(&server, None, "/fleet").await;
    let (_, _, first) = answered(&server, Some(&cookie), "/settings", None).await;
    let (_, _, second) = answered(&server, Some(&cookie), "/settings", None).await;
    let proofs = [proof(&first), proof(&second)];
    assert_ne!(proofs[0], proofs[1]);
    let common = proofs[0].bytes().zip(proofs[1].bytes()).filter(|(one, other)| one == other).count();
    assert!(common < 32, "{common} of {} digits are the same", proofs[0].len());
    let ask = |proof: String| {
        let (server, cookie) = (&server, &cookie);
        async move { answered(server, Some(cookie), "/calibration", Some(&format!("csrf={proof}"))).await.0 }
    };
    for proof in proofs {
        assert_eq!(ask(proof.to_owned()).await, 303);
        let wrong =
            proof.replace(&proof[64..72], if &proof[64..72] == "00000000" { "11111111" } else { "00000000" });
        assert_eq!(ask(wrong).await, 403);
    }
    assert_eq!(ask(String::new()).await, 403);
    // Another session's proof is none here.
    let (other, _) = sign_in(&server, None, "/fleet").await;
    let (_, _, page) = answered(&server, Some(&other), "/settings", None).await;
    assert_eq!(ask(proof(&page).to_owned()).await, 403);
}

async fn actions(server: &TestServer) -> Vec<String> {
    let items = server.get("/v1/audit?limit=100").await.expect(200).body["items"].take();
    let items = items.as_array().expect("entries").iter();
    items.filter_map(|entry| entry["action"].as_str().map(str::to_owned)).collect()
}

async fn what_is_entered_again_is_written_down_once(store: TestStore) {
    let server = TestServer::start(store).await;
    let bike = server.bike("041").await;
    let oil = server.post("/v1/lubricants", &json!({"name": "oil", "kind": "drip"})).await;
    let mut oiled = json!({"done_at": "2026-05-03T09:00:00Z", "kind": "lubricated"});
    let events: [(&str, Value, &str); 5] = [
        ("swaps", json!({"swapped_at": "2026-05-01T08:00:00Z", "place": "chain"}), "swap.create"),
        (
            "readings",
            json!({"taken_at": "2026-05-02T08:00:00Z", "instrument": "rule", "percent": 0.1}),
            "reading.create",
        ),
        ("care", oiled.clone(), "care.create"),
        ("odometer", json!({"read_at": "2026-05-04T08:00:00Z", "km": 120.0}), "odometer.create"),
        (
            "symptoms",
            json!({"reported_at": "2026-05-05T08:00:00Z", "symptom": "skips_under_load"}),
            "symptom.create",
        ),
    ];
    for (path, event, action) in &events {
        for status in [201, 200, 200] {
            server.post(&format!("/v1/bikes/{bike}/{path}"), event).await.check(status);
        }
        let written = actions(&server).await.iter().filter(|written| written == action).count();
        assert_eq!(written, 1, "{action}");
    }
    // What comes with an event that was there already is written down, once.
    let mut swap = events[0].1.clone();
    swap["odometer_km"] = json!(100.0);
    for _ in 0..2 {
        server.post(&format!("/v1/bikes/{bike}/swaps"), &swap).await.check(200);
    }
    let written = actions(&server).await;
    assert_eq!(written.iter().filter(|action| *action == "odometer.create").count(), 2, "{written:?}");
    if oil.status == 201 {
        oiled["lubricant_id"] = json!(oil.id());
        for _ in 0..2 {
            server.post(&format!("/v1/bikes/{bike}/care"), &oiled).await.check(200);
        }
        let written = actions(&server).await;
        assert_eq!(
            written.iter().filter(|action| *action == "care.name_lubricant").count(),
            1,
            "{written:?}"
        );
    }
}

async fn every_page_says_what_it_may_load(store: TestStore) {
    let server = TestServer::start(store).await;
    for path in ["/docs/", "/docs/index.html", "/sign-in", "/problems", "/no/such/page"] {
        let (status, headers, _) = answered(&server, None, path, None).await;
        let is_page =
            headers.get("content-type").is_some_and(|media| media.as_bytes().starts_with(b"text/html"));
        if !is_page {
            assert_ne!(status, 200, "{path}");
            continue;
        }
        let policy = headers["content-security-policy"].to_str().expect("ASCII");
        assert!(
            policy.starts_with("default-src 'none'") && policy.contains("frame-ancestors 'none'"),
            "{path}: {policy}"
        );
        let script = policy.split(';').find(|part| part.trim().starts_with("script-src")).unwrap_or_default();
        assert!(!script.contains("unsafe"), "{path}: {policy}");
        assert_eq!(headers["x-frame-options"], "DENY", "{path}");
    }
}
