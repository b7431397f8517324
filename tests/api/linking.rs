//! An app gets its token by a one-time code.

use chrono::Duration;
use reqwest::Method;
use serde_json::{Value, json};
use wear_api::domain::Role;
use wear_tests::{Answer, TestServer, TestStore, bike, on_both_stores};

use crate::reach::{Holder, app, rider};
use crate::visitor::Visitor;

on_both_stores!(
    a_code_is_exchanged_for_a_token,
    codes_that_are_not_in_force_answer_alike,
    of_two_who_bring_a_code_one_gets_the_token,
    whoever_guesses_has_to_wait,
    a_link_is_taken_back,
    mechanics_link_riders_alone,
    a_code_is_made_on_a_page,
);

const REDEMPTION: &str = "/v1/link-redemptions";

async fn redeem(server: &TestServer, code: &str) -> Answer {
    server.send(server.request(Method::POST, REDEMPTION).json(&json!({"code": code}))).await
}

/// A link to a rider's bikes; its id and code.
async fn link(server: &TestServer) -> (String, String) {
    let rider = rider(server, "Anna").await;
    let made = server.post("/v1/links", &json!({"rider_id": rider, "label": "phone"})).await.expect(201);
    (made.id(), made.body["code"].as_str().expect("a code").to_owned())
}

async fn a_code_is_exchanged_for_a_token(store: TestStore) {
    let server = TestServer::start(store).await;
    let (log, anna) = (app(&server, "Ride log").await, rider(&server, "Anna").await);
    let made = server.post("/v1/links", &json!({"app_id": log, "rider_id": anna})).await.expect(201);
    assert_eq!(made.header("cache-control"), "no-store");
    assert_eq!(
        (&made.body["label"], &made.body["expires_at"]),
        (&json!("Ride log"), &json!("2026-11-25T12:15:00Z"))
    );
    let code = made.body["code"].as_str().expect("a code");
    let waiting = server.get("/v1/links").await.expect(200).body;
    assert_eq!(waiting["items"][0]["id"], made.body["id"]);
    assert!(!waiting.to_string().contains(code));
    // As somebody types it.
    let redeemed = redeem(&server, &code.to_lowercase().replace('-', " ")).await.expect(201);
    assert_eq!(redeemed.header("cache-control"), "no-store");
    let mut answer = redeemed.body;
    let token = answer["token"].take().as_str().expect("a token").to_owned();
    assert_eq!(
        answer,
        json!({"token": null, "label": "Ride log", "workshop": "Harbour", "role": "app",
            "reach": {"app_id": log, "rider_id": anna}})
    );
    assert_eq!(server.get("/v1/links").await.expect(200).body["items"], json!([]));
    let app = Holder { server: &server, token };
    let entered = app.post("/v1/bikes", &bike("Anna's")).await.expect(201).body;
    assert_eq!((&entered["app_id"], &entered["rider_id"]), (&json!(log), &json!(anna)));
    let audit = server.get("/v1/audit").await.expect(200).body;
    let acts: Vec<&str> = audit["items"]
        .as_array()
        .expect("entries")
        .iter()
        .filter_map(|entry| entry["action"].as_str())
        .collect();
    assert!(acts.contains(&"link.create") && acts.contains(&"link.redeem"), "{acts:?}");
    assert!(!audit.to_string().contains(code));
}

async fn codes_that_are_not_in_force_answer_alike(store: TestStore) {
    let server = TestServer::start(store).await;
    let (_, used) = link(&server).await;
    redeem(&server, &used).await.check(201);
    let (_, expired) = link(&server).await;
    let (id, taken_back) = link(&server).await;
    let delete = server.request(Method::DELETE, &format!("/v1/links/{id}"));
    server.send(delete.bearer_auth(server.token_of(Role::Manager))).await.check(204);
    let (_, last_moment) = link(&server).await;
    server.wait(Duration::minutes(15) - Duration::seconds(1));
    redeem(&server, &last_moment).await.check(201);
    server.wait(Duration::seconds(1));
    let mut answers = Vec::new();
    for code in [&used, &expired, &taken_back, "7K3M-9QXT-2B4D", "no code", ""] {
        let mut body = redeem(&server, code).await.expect(422).body;
        body["request_id"] = Value::Null;
        answers.push(body);
    }
    answers.dedup();
    assert_eq!(answers.len(), 1, "{answers:#?}");
    assert_eq!(answers[0]["errors"][0]["pointer"], "/code");
    assert_eq!(server.get("/v1/links").await.expect(200).body["items"], json!([]));
}

async fn of_two_who_bring_a_code_one_gets_the_token(store: TestStore) {
    let server = TestServer::start(store).await;
    let (_, code) = link(&server).await;
    let both = futures_util::future::join_all((0..4).map(|_| redeem(&server, &code))).await;
    let mut statuses: Vec<u16> = both.iter().map(|answer| answer.status.as_u16()).collect();
    statuses.sort_unstable();
    assert_eq!(statuses, [201, 422, 422, 422]);
}

async fn whoever_guesses_has_to_wait(store: TestStore) {
    let server = TestServer::start(store).await;
    let (_, code) = link(&server).await;
    for _ in 0..10 {
        redeem(&server, "7K3M-9QXT-2B4D").await.check(422);
    }
    // A right one too, from that address.
    let closed = redeem(&server, &code).await.expect(429);
    assert_eq!(closed.problem(), "too-many-requests");
    let seconds: u64 = closed.header("retry-after").parse().expect("seconds");
    assert!((1..=60).contains(&seconds), "{seconds}");
    // Tokens work on.
    server.get("/v1/links").await.check(200);
}

async fn a_link_is_taken_back(store: TestStore) {
    let server = TestServer::start(store).await;
    let log = app(&server, "Ride log").await;
    let made = server.post("/v1/links", &json!({"app_id": log})).await.expect(201).body;
    // Whoever deletes the app takes its codes back.
    let delete = server.request(Method::DELETE, &format!("/v1/apps/{log}")).header("if-match", "\"1\"");
    server.send(delete.bearer_auth(server.token_of(Role::Manager))).await.check(204);
    redeem(&server, made["code"].as_str().expect("a code")).await.check(422);
    let gone = server.request(Method::DELETE, &format!("/v1/links/{}", made["id"].as_str().expect("an id")));
    server.send(gone.bearer_auth(server.token_of(Role::Manager))).await.check(404);
    // The name is free again.
    let _again = app(&server, "ride LOG").await;
    assert_eq!(server.post("/v1/apps", &json!({"name": "Ride log"})).await.expect(409).problem(), "conflict");
}

async fn mechanics_link_riders_alone(store: TestStore) {
    let server = TestServer::start(store).await;
    let (log, anna) = (app(&server, "Ride log").await, rider(&server, "Anna").await);
    let mechanic = Holder { server: &server, token: server.token_of(Role::Mechanic).to_owned() };
    mechanic.post("/v1/links", &json!({"app_id": log, "rider_id": anna})).await.check(201);
    let refused = mechanic.post("/v1/links", &json!({"app_id": log})).await.expect(403);
    assert_eq!(refused.problem(), "role-not-allowed");
    let app = Holder { server: &server, token: server.token_of(Role::App).to_owned() };
    app.post("/v1/links", &json!({"rider_id": anna, "label": "mine"})).await.check(403);
    assert_eq!(mechanic.post("/v1/links", &json!({})).await.expect(422).pointers(), ["/app_id"]);
    assert_eq!(
        mechanic.post("/v1/links", &json!({"rider_id": anna})).await.expect(422).pointers(),
        ["/label"]
    );
}

async fn a_code_is_made_on_a_page(store: TestStore) {
    let server = TestServer::start(store).await;
    let (log, anna) = (app(&server, "Ride log").await, rider(&server, "Anna").await);
    let visitor = Visitor::of(&server, Role::Mechanic, "en").await;
    let page = visitor.get("/links").await.1;
    assert!(page.contains("Anna") && page.contains("Ride log"), "{page}");
    let made =
        visitor.send("/links", &[("rider", anna.as_str()), ("app", log.as_str()), ("label", "")]).await.1;
    let code =
        made.split("big-code\"><code>").nth(1).and_then(|rest| rest.split('<').next()).expect("a code");
    assert!(made.contains("<svg class=\"code\""), "{made}");
    let reach = redeem(&server, code).await.expect(201).body["reach"].clone();
    assert_eq!(reach, json!({"app_id": log, "rider_id": anna}));
    let settings = Visitor::of(&server, Role::Manager, "en").await.get("/settings").await.1;
    assert!(settings.contains("app Ride log, for Anna’s bikes"), "{settings}");
}
