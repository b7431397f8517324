//! An app gets its token by OAuth 2.0: authorization code with PKCE.

use base64::Engine as _;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use chrono::Duration;
use reqwest::{Method, StatusCode, Url};
use serde_json::{Value, json};
use sha2::{Digest as _, Sha256};
use wear_api::domain::Role;
use wear_tests::{Answer, TestServer, TestStore, bike, on_both_stores};

use crate::reach::{Holder, rider};
use crate::visitor::Visitor;

on_both_stores!(
    an_allowed_app_gets_its_token,
    a_code_that_comes_twice_revokes_its_token,
    a_code_is_worth_nothing_to_others,
    errors_go_where_they_may,
    somebody_signed_in_decides,
    an_app_gives_its_token_back,
);

const CALLBACK: &str = "https://ridelog.example/linked?from=wear";
/// RFC 7636, appendix B.
const VERIFIER: &str = "dBjftJeZ4CVP-mB92K27uhbUJU1p1r_wW1gFWFOEjXk";

fn form(fields: &[(&str, &str)]) -> String {
    let url = Url::parse_with_params("http://form.example/", fields).expect("an address");
    url.query().unwrap_or_default().to_owned()
}

async fn post_form(server: &TestServer, path: &str, fields: &[(&str, &str)]) -> Answer {
    let request = server.request(Method::POST, path).body(form(fields));
    server.send(request.header("content-type", "application/x-www-form-urlencoded")).await
}

/// An app that asks, and a rider.
struct Story {
    app: String,
    rider: String,
    challenge: String,
}

impl Story {
    async fn of(server: &TestServer) -> Self {
        let wanted = json!({"name": "Ride log", "redirect_uris": [CALLBACK, "http://127.0.0.1/linked"]});
        let app = server.post("/v1/apps", &wanted).await.expect(201).id();
        let challenge = URL_SAFE_NO_PAD.encode(Sha256::digest(VERIFIER));
        Self { app, rider: rider(server, "Anna").await, challenge }
    }

    fn asked(&self) -> Vec<(&str, &str)> {
        vec![
            ("response_type", "code"),
            ("client_id", &self.app),
            ("redirect_uri", CALLBACK),
            ("state", "a state & more"),
            ("code_challenge", &self.challenge),
            ("code_challenge_method", "S256"),
        ]
    }

    fn asked_but(&self, name: &'static str, value: Option<&'static str>) -> Vec<(&str, &str)> {
        let mut asked = self.asked();
        asked.retain(|(known, _)| *known != name);
        asked.extend(value.map(|value| (name, value)));
        asked
    }

    /// What the app is answered at its address when somebody allows it.
    async fn allowed(&self, server: &TestServer) -> String {
        let visitor = Visitor::of(server, Role::Mechanic, "en").await;
        let mut fields = self.asked();
        fields.extend([("rider", self.rider.as_str()), ("decision", "allow")]);
        let (status, to) = visitor.send_on("/oauth/authorize", &fields).await;
        assert_eq!(status, StatusCode::SEE_OTHER, "{to}");
        parameter(&to, "code").expect("a code")
    }

    async fn exchanged(&self, server: &TestServer, code: &str) -> Answer {
        self.exchanged_but(server, code, "grant_type", "authorization_code").await
    }

    async fn exchanged_but(&self, server: &TestServer, code: &str, name: &str, value: &str) -> Answer {
        let mut fields = vec![
            ("grant_type", "authorization_code"),
            ("code", code),
            ("client_id", &self.app),
            ("redirect_uri", CALLBACK),
            ("code_verifier", VERIFIER),
        ];
        fields.retain(|(known, _)| *known != name);
        fields.push((name, value));
        post_form(server, "/oauth/token", &fields).await
    }
}

fn parameter(address: &str, name: &str) -> Option<String> {
    let url = Url::parse(address).expect("an address");
    url.query_pairs().find(|(known, _)| known == name).map(|(_, value)| value.into_owned())
}

async fn an_allowed_app_gets_its_token(store: TestStore) {
    let server = TestServer::start(store).await;
    let story = Story::of(&server).await;
    // The app finds its way by the metadata (RFC 8414).
    let metadata = server.send(server.request(Method::GET, "/.well-known/oauth-authorization-server")).await;
    let metadata = metadata.expect(200).body;
    assert_eq!(metadata["issuer"], server.url());
    assert_eq!(metadata["authorization_endpoint"], format!("{}/oauth/authorize", server.url()));
    assert_eq!(metadata["code_challenge_methods_supported"], json!(["S256"]));

    let visitor = Visitor::of(&server, Role::Mechanic, "en").await;
    let (status, page) = visitor.get(&format!("/oauth/authorize?{}", form(&story.asked()))).await;
    assert_eq!(status, StatusCode::OK);
    for told in
        ["Ride log asks for access", "Anna", "https://ridelog.example", "a state &amp; more", "Not now"]
    {
        assert!(page.contains(told) || page.contains(&told.replace("&amp;", "&#38;")), "{told}: {page}");
    }
    let mut fields = story.asked();
    fields.extend([("rider", story.rider.as_str()), ("decision", "allow")]);
    let (status, to) = visitor.send_on("/oauth/authorize", &fields).await;
    assert_eq!(status, StatusCode::SEE_OTHER);
    assert!(to.starts_with("https://ridelog.example/linked?from=wear&"), "{to}");
    assert_eq!(parameter(&to, "state").as_deref(), Some("a state & more"));
    // RFC 9207.
    assert_eq!(parameter(&to, "iss").as_deref(), Some(server.url()));
    let code = parameter(&to, "code").expect("a code");

    server.wait(Duration::seconds(59));
    let exchanged = story.exchanged(&server, &code).await.expect(200);
    assert_eq!(exchanged.header("cache-control"), "no-store");
    let mut answer = exchanged.body;
    let token = answer["access_token"].take().as_str().expect("a token").to_owned();
    assert_eq!(
        answer,
        json!({"access_token": null, "token_type": "Bearer", "label": "Ride log", "workshop": "Harbour",
            "role": "app", "reach": {"app_id": story.app, "rider_id": story.rider}})
    );
    let app = Holder { server: &server, token };
    let entered = app.post("/v1/bikes", &bike("Anna's")).await.expect(201).body;
    assert_eq!((&entered["app_id"], &entered["rider_id"]), (&json!(story.app), &json!(story.rider)));
    let audit = server.get("/v1/audit").await.expect(200).body.to_string();
    assert!(
        audit.contains("link.create") && audit.contains("link.redeem") && !audit.contains(&code),
        "{audit}"
    );
}

async fn a_code_that_comes_twice_revokes_its_token(store: TestStore) {
    let server = TestServer::start(store).await;
    let story = Story::of(&server).await;
    let code = story.allowed(&server).await;
    let token = story.exchanged(&server, &code).await.expect(200).body["access_token"].clone();
    let app = Holder { server: &server, token: token.as_str().expect("a token").to_owned() };
    app.get("/v1/bikes").await.check(200);
    let again = story.exchanged(&server, &code).await.expect(400).body;
    assert_eq!(again["error"], "invalid_grant");
    app.get("/v1/bikes").await.check(401);
    // At once, one gets it, and the other takes it away.
    let code = story.allowed(&server).await;
    let both = futures_util::future::join_all((0..3).map(|_| story.exchanged(&server, &code))).await;
    let given: Vec<&Answer> = both.iter().filter(|answer| answer.status == StatusCode::OK).collect();
    assert_eq!(given.len(), 1);
    let token = given[0].body["access_token"].as_str().expect("a token").to_owned();
    Holder { server: &server, token }.get("/v1/bikes").await.check(401);
}

async fn a_code_is_worth_nothing_to_others(store: TestStore) {
    let server = TestServer::start(store).await;
    let story = Story::of(&server).await;
    let other = server
        .post("/v1/apps", &json!({"name": "Diary", "redirect_uris": [CALLBACK]}))
        .await
        .expect(201)
        .id();
    let wrong_verifier = VERIFIER.replace('d', "e");
    let mut answers: Vec<Value> = Vec::new();
    for (name, value) in [
        ("code_verifier", wrong_verifier.as_str()),
        ("code_verifier", "short"),
        ("code_verifier", story.challenge.as_str()),
        ("client_id", other.as_str()),
        ("client_id", "nobody"),
        ("redirect_uri", "https://ridelog.example/linked"),
    ] {
        let code = story.allowed(&server).await;
        answers.push(story.exchanged_but(&server, &code, name, value).await.expect(400).body);
        if value != "nobody" {
            // Used up by the attempt.
            answers.push(story.exchanged(&server, &code).await.expect(400).body);
        }
    }
    let expired = story.allowed(&server).await;
    server.wait(Duration::seconds(60));
    answers.push(story.exchanged(&server, &expired).await.expect(400).body);
    answers.push(story.exchanged(&server, &URL_SAFE_NO_PAD.encode([7; 32])).await.expect(400).body);
    answers.push(story.exchanged(&server, "no code").await.expect(400).body);
    // What became of the app meanwhile counts.
    let code = story.allowed(&server).await;
    let delete =
        server.request(Method::DELETE, &format!("/v1/apps/{}", story.app)).header("if-match", "\"1\"");
    server.send(delete.bearer_auth(server.token_of(Role::Manager))).await.check(204);
    answers.push(story.exchanged(&server, &code).await.expect(400).body);
    answers.dedup();
    assert_eq!(answers.len(), 1, "{answers:#?}");
    assert_eq!(answers[0]["error"], "invalid_grant");
    let other_grant = story.exchanged_but(&server, "x", "grant_type", "password").await.expect(400).body;
    assert_eq!(other_grant["error"], "unsupported_grant_type");
    let without =
        post_form(&server, "/oauth/token", &[("grant_type", "authorization_code")]).await.expect(400).body;
    assert_eq!(without["error"], "invalid_request");
    let json =
        server.request(Method::POST, "/oauth/token").json(&json!({"grant_type": "authorization_code"}));
    assert_eq!(server.send(json).await.expect(400).body["error"], "invalid_request");
}

async fn errors_go_where_they_may(store: TestStore) {
    let server = TestServer::start(store).await;
    let story = Story::of(&server).await;
    let visitor = Visitor::of(&server, Role::Manager, "en").await;
    // Told to the app, by the form as by the address.
    for (name, value, error) in [
        ("response_type", Some("token"), "unsupported_response_type"),
        ("response_type", None, "invalid_request"),
        ("code_challenge", None, "invalid_request"),
        ("code_challenge", Some("short"), "invalid_request"),
        ("code_challenge_method", Some("plain"), "invalid_request"),
        ("code_challenge_method", None, "invalid_request"),
    ] {
        let mut fields = story.asked_but(name, value);
        fields.extend([("rider", story.rider.as_str()), ("decision", "allow")]);
        let (status, to) = visitor.send_on("/oauth/authorize", &fields).await;
        assert_eq!(status, StatusCode::SEE_OTHER, "{name}");
        assert_eq!(parameter(&to, "error").as_deref(), Some(error), "{to}");
        assert_eq!(parameter(&to, "state").as_deref(), Some("a state & more"), "{to}");
        assert_eq!(parameter(&to, "iss").as_deref(), Some(server.url()), "{to}");
        assert_eq!(parameter(&to, "code"), None);
        let to = visitor.leads_to(&format!("/oauth/authorize?{}", form(&story.asked_but(name, value)))).await;
        assert_eq!(parameter(&to, "error").as_deref(), Some(error), "{to}");
    }
    let mut twice = story.asked();
    twice.push(("state", "another"));
    let to = visitor.leads_to(&format!("/oauth/authorize?{}", form(&twice))).await;
    assert_eq!(parameter(&to, "error").as_deref(), Some("invalid_request"));
    // Told to the person, as the address isn't the app's.
    for (name, value, expected) in [
        ("redirect_uri", Some("https://ridelog.example/linked"), 400),
        ("redirect_uri", Some("https://ridelog.example/linked?from=wear#x"), 400),
        ("redirect_uri", Some("https://evil.example/linked"), 400),
        ("redirect_uri", Some("http://127.0.0.1:5000/elsewhere"), 400),
        ("redirect_uri", None, 400),
        ("client_id", Some("nobody"), 400),
        ("client_id", Some(crate::document::NOBODYS), 404),
        ("client_id", None, 400),
    ] {
        let mut fields = story.asked_but(name, value);
        let (status, _) = visitor.get(&format!("/oauth/authorize?{}", form(&fields))).await;
        assert_eq!(status.as_u16(), expected, "{name} {value:?}");
        fields.extend([("rider", story.rider.as_str()), ("decision", "allow")]);
        let (status, to) = visitor.send_on("/oauth/authorize", &fields).await;
        assert_eq!((status.as_u16(), to.as_str()), (expected, ""), "{name} {value:?}");
    }
    // A port of the device is the app's to choose.
    let own = form(&story.asked_but("redirect_uri", Some("http://127.0.0.1:51234/linked")));
    assert_eq!(visitor.get(&format!("/oauth/authorize?{own}")).await.0, StatusCode::OK);
    for uri in ["http://ridelog.example/", "javascript:alert(1)", "https://ridelog.example/#x"] {
        let wanted = json!({"name": "wrong", "redirect_uris": [uri]});
        assert_eq!(server.post("/v1/apps", &wanted).await.expect(422).pointers(), ["/redirect_uris/0"]);
    }
}

async fn somebody_signed_in_decides(store: TestStore) {
    let server = TestServer::start(store).await;
    let story = Story::of(&server).await;
    let address = format!("/oauth/authorize?{}", form(&story.asked()));
    // Nobody is signed in: first that, then back.
    let client =
        reqwest::Client::builder().redirect(reqwest::redirect::Policy::none()).build().expect("a client");
    let answer = client.get(format!("{}{address}", server.url())).send().await.expect("an answer");
    assert_eq!(answer.status(), StatusCode::SEE_OTHER);
    let to = answer.headers()["location"].to_str().expect("ASCII");
    assert!(to.starts_with("/sign-in?back=%2Foauth%2Fauthorize%3F"), "{to}");
    // An app can't allow itself.
    let app = Visitor::of(&server, Role::App, "en").await;
    assert_eq!(app.get(&address).await.0, StatusCode::FORBIDDEN);
    let mechanic = Visitor::of(&server, Role::Mechanic, "de").await;
    let headers = mechanic.headers(&address).await;
    let policy = headers["content-security-policy"].to_str().expect("ASCII");
    assert!(policy.contains("frame-ancestors 'none'"), "{policy}");
    assert!(policy.contains("form-action 'self' https://ridelog.example;"), "{policy}");
    assert_eq!(headers["x-frame-options"], "DENY");
    let mut fields = story.asked();
    fields.extend([("rider", story.rider.as_str()), ("decision", "deny")]);
    let (_, to) = mechanic.send_on("/oauth/authorize", &fields).await;
    assert_eq!(parameter(&to, "error").as_deref(), Some("access_denied"));
    // A form of another site's has no proof.
    fields.pop();
    fields.extend([("decision", "allow"), ("csrf", "guessed")]);
    assert_eq!(mechanic.forged("/oauth/authorize", &fields).await, StatusCode::FORBIDDEN);
    // Without a rider it is a manager's to allow.
    let mut fields = story.asked();
    fields.push(("decision", "allow"));
    let (status, page) = mechanic.send("/oauth/authorize", &fields).await;
    assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(page.contains("Ohne Person kann nur die Leitung"), "{page}");
    let manager = Visitor::of(&server, Role::Manager, "en").await;
    let (_, to) = manager.send_on("/oauth/authorize", &fields).await;
    let code = parameter(&to, "code").expect("a code");
    let exchanged = story.exchanged(&server, &code).await.expect(200).body;
    assert_eq!(exchanged["reach"], json!({"app_id": story.app, "rider_id": null}));
}

async fn an_app_gives_its_token_back(store: TestStore) {
    let server = TestServer::start(store).await;
    let story = Story::of(&server).await;
    let code = story.allowed(&server).await;
    let token = story.exchanged(&server, &code).await.expect(200).body["access_token"].clone();
    let token = token.as_str().expect("a token").to_owned();
    for _ in 0..2 {
        post_form(&server, "/oauth/revoke", &[("token", &token), ("token_type_hint", "access_token")])
            .await
            .check(200);
    }
    Holder { server: &server, token }.get("/v1/bikes").await.check(401);
    post_form(&server, "/oauth/revoke", &[("token", "unknown")]).await.check(200);
    assert_eq!(post_form(&server, "/oauth/revoke", &[]).await.expect(400).body["error"], "invalid_request");
    // People's tokens are a manager's to revoke.
    let manager = [("token", server.token_of(Role::Manager))];
    let refused = post_form(&server, "/oauth/revoke", &manager).await.expect(400).body;
    assert_eq!(refused["error"], "unsupported_token_type");
    server.get("/v1/bikes").await.check(200);
}
