//! Each operation lets in the roles that its document names, and nobody else.

use std::time::{Duration, Instant};

use reqwest::Method;
use serde_json::{Value, json};
use wear_api::domain::Role;
use wear_api::service::known_tokens::KEPT_FOR;
use wear_tests::{TestServer, TestStore, on_both_stores};

use crate::document::{address_of_nobodys, operations, served};

on_both_stores!(
    roles_are_those_of_the_document,
    a_revoked_token_opens_nothing,
    another_process_refuses_a_revoked_token_within_a_second,
);

async fn roles_are_those_of_the_document(store: TestStore) {
    let server = TestServer::start(store).await;
    let document = served(&server).await;
    let mut asked = 0;
    for (path, method, operation) in operations(&document) {
        let roles: Vec<&str> = operation["security"][0]["bearer"]
            .as_array()
            .map(|roles| roles.iter().filter_map(Value::as_str).collect())
            .unwrap_or_default();
        let feed = path.ends_with(".ics");
        let redemption = path == "/v1/link-redemptions";
        let open = path.starts_with("/health/") || feed || redemption;
        assert_eq!(roles.is_empty(), open, "{method} {path}");
        let address = address_of_nobodys(&path);
        if open {
            let expected = if redemption {
                422
            } else if feed {
                404
            } else {
                200
            };
            let request = server.request(method, &address);
            let request = if redemption { request.json(&json!({"code": "7K3M-9QXT-2B4D"})) } else { request };
            server.send(request).await.check(expected);
            continue;
        }
        for wrong in [None, Some("wear_"), Some("something")] {
            let mut request = server.request(method.clone(), &address);
            if let Some(token) = wrong {
                request = request.bearer_auth(token);
            }
            let answer = server.send(request).await.expect(401);
            assert_eq!(answer.problem(), "not-signed-in");
            assert!(answer.header("www-authenticate").starts_with("Bearer"));
        }
        for role in Role::ALL {
            // A body that is no JSON can't change anything, whoever sends it.
            let request = server.request(method.clone(), &address).bearer_auth(server.token_of(*role));
            let request = if method == Method::GET { request } else { request.body("?") };
            let answer = server.send(request).await;
            let refused = answer.status.as_u16() == 403;
            assert_eq!(refused, !roles.contains(&role.as_str()), "{role} {method} {path} {}", answer.body);
            asked += 1;
        }
    }
    assert!(asked > 60, "{asked}");
}

async fn a_revoked_token_opens_nothing(store: TestStore) {
    let server = TestServer::start(store).await;
    let made = server.post("/v1/tokens", &json!({"role": "app", "label": "ride log"})).await.expect(201);
    let secret = made.body["secret"].as_str().expect("a secret").to_owned();
    let get = || server.request(Method::GET, "/v1/bikes").bearer_auth(&secret);
    let _let_in = server.send(get()).await.expect(200);
    let listed = server.get("/v1/tokens").await.expect(200).body;
    assert!(!listed.to_string().contains(&secret) && listed.to_string().contains(&made.id()));
    let revoke = server.request(Method::DELETE, &format!("/v1/tokens/{}", made.id()));
    let _revoked = server.send(revoke.bearer_auth(server.token_of(Role::Manager))).await.expect(204);
    let _kept_out = server.send(get()).await.expect(401);
}

async fn another_process_refuses_a_revoked_token_within_a_second(store: TestStore) {
    if store.url.contains(":memory:") {
        return;
    }
    let server = TestServer::start(store).await;
    let beside = server.beside().await;
    let made = server.post("/v1/tokens", &json!({"role": "app", "label": "ride log"})).await.expect(201);
    let secret = made.body["secret"].as_str().expect("a secret").to_owned();
    let client = reqwest::Client::new();
    let ask = || async {
        let request = client.get(format!("{beside}/v1/bikes")).bearer_auth(&secret);
        request.send().await.expect("an answer").status().as_u16()
    };
    // Made by one process, it opens the other at once.
    assert_eq!(ask().await, 200);
    let revoke = server.request(Method::DELETE, &format!("/v1/tokens/{}", made.id()));
    server.send(revoke.bearer_auth(server.token_of(Role::Manager))).await.check(204);
    let revoked = Instant::now();
    let mut refused = false;
    while revoked.elapsed() < KEPT_FOR {
        refused = ask().await == 401;
        tokio::time::sleep(Duration::from_millis(100)).await;
    }
    assert_eq!(ask().await, 401, "{:?} after it was revoked; before: {refused}", revoked.elapsed());
}
