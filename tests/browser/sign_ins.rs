//! Codes that sign people in once, and signing them out everywhere.

use reqwest::StatusCode;
use reqwest::header::{COOKIE, LOCATION, SET_COOKIE};
use wear_api::domain::Role;
use wear_tests::{TestServer, TestStore, on_both_stores};

use crate::driver::{Browser, DESK, PHONE};
use crate::session::{client, csrf_of, fleet, session_of, sign_in};

on_both_stores!(
    a_person_signs_in_with_a_code_that_works_once,
    signing_out_everywhere_ends_each_session_and_each_code,
    ones_own_device_stays_signed_in_for_weeks,
);

async fn post(server: &TestServer, path: &str, cookie: &str, body: &str) -> reqwest::Response {
    let request = client().post(format!("{}{path}", server.url())).header(COOKIE, cookie);
    let request = request.header("content-type", "application/x-www-form-urlencoded").body(body.to_owned());
    request.send().await.expect("an answer")
}

async fn page(server: &TestServer, path: &str, cookie: &str) -> (StatusCode, String) {
    let request = client().get(format!("{}{path}", server.url())).header(COOKIE, cookie);
    let answer = request.send().await.expect("an answer");
    (answer.status(), answer.text().await.expect("a page"))
}

/// What stands between two marks.
fn between<'a>(page: &'a str, from: &str, to: &str) -> &'a str {
    page.split_once(from).and_then(|(_, rest)| rest.split_once(to)).map_or("", |(found, _)| found)
}

struct Manager {
    cookie: String,
    csrf: String,
}

impl Manager {
    async fn of(server: &TestServer) -> Self {
        let cookie = session_of(&sign_in(server, server.token_of(Role::Manager)).await);
        let csrf = csrf_of(&fleet(server, &cookie).await.1);
        Self { cookie, csrf }
    }

    /// Enters a mechanic and returns the code that is shown.
    async fn enters(&self, server: &TestServer, name: &str) -> String {
        let form = format!("csrf={}&name={name}&role=mechanic", self.csrf);
        let answer = post(server, "/people", &self.cookie, &form).await;
        assert_eq!(answer.status(), StatusCode::OK);
        let shown = answer.text().await.expect("a page");
        assert!(shown.contains("<svg class=\"code\""), "a phone's camera finds the address");
        between(&shown, "<p class=\"big-code\"><code>", "</code>").to_owned()
    }
}

async fn a_person_signs_in_with_a_code_that_works_once(store: TestStore) {
    let server = TestServer::start(store).await;
    let manager = Manager::of(&server).await;
    let code = manager.enters(&server, "Mia").await;
    // Looking at the address, as programs do ahead of people, doesn't use it.
    for _ in 0..2 {
        let (status, shown) = page(&server, &format!("/sign-in/{code}"), "").await;
        assert_eq!(status, StatusCode::OK);
        assert!(shown.contains("Sign in as Mia") && shown.contains("mechanic"), "{shown}");
    }
    let typed = code.to_lowercase().replace('-', " ");
    let answer = post(&server, "/sign-in/code", "", &format!("code={typed}&back=%2Fmeasure")).await;
    assert_eq!(
        (answer.status(), &answer.headers()[LOCATION]),
        (StatusCode::SEE_OTHER, &"/measure".parse().unwrap())
    );
    let cookie = session_of(&answer);
    let (status, shown) = fleet(&server, &cookie).await;
    assert_eq!(status, StatusCode::OK);
    assert!(shown.contains("<bdi>Mia</bdi>"), "who is signed in stands on the page");
    assert_eq!(page(&server, "/people", &cookie).await.0, StatusCode::FORBIDDEN, "a mechanic's role");
    let again = post(&server, "/sign-in/code", "", &format!("code={code}")).await;
    assert_eq!(again.status(), StatusCode::UNPROCESSABLE_ENTITY);
    assert!(again.headers().get(SET_COOKIE).is_none());
    assert!(again.text().await.expect("a page").contains("been used"));
    // One that is a quarter of an hour old is worth nothing.
    let late = manager.enters(&server, "Noor").await;
    server.wait(chrono::Duration::minutes(15));
    let answer = post(&server, "/sign-in/code", "", &format!("code={late}")).await;
    assert_eq!(answer.status(), StatusCode::UNPROCESSABLE_ENTITY);
    // What Mia records carries her name.
    let bike = server.bike("041").await;
    let csrf = csrf_of(&fleet(&server, &cookie).await.1);
    let care =
        post(&server, &format!("/bikes/{bike}/care"), &cookie, &format!("csrf={csrf}&kind=cleaned")).await;
    assert_eq!(care.status(), StatusCode::SEE_OTHER);
    let audit = page(&server, "/audit", &manager.cookie).await.1;
    assert!(audit.contains("Mia"), "{audit}");
}

async fn signing_out_everywhere_ends_each_session_and_each_code(store: TestStore) {
    let server = TestServer::start(store).await;
    let manager = Manager::of(&server).await;
    let code = manager.enters(&server, "Mia").await;
    let phone = session_of(&post(&server, "/sign-in/code", "", &format!("code={code}")).await);
    // From there on to another device of hers.
    let csrf = csrf_of(&fleet(&server, &phone).await.1);
    let own = async || {
        let shown =
            post(&server, "/me/code", &phone, &format!("csrf={csrf}")).await.text().await.expect("a page");
        between(&shown, "<p class=\"big-code\"><code>", "</code>").to_owned()
    };
    let desk = session_of(&post(&server, "/sign-in/code", "", &format!("code={}", own().await)).await);
    let unused = own().await;
    let listed = page(&server, "/people", &manager.cookie).await.1;
    assert!(listed.contains("mechanic, signed in on 2 devices"), "{listed}");
    let forged = post(&server, "/me/sign-out", &phone, "csrf=guess").await;
    assert_eq!(forged.status(), StatusCode::FORBIDDEN);
    let out = post(&server, "/me/sign-out", &phone, &format!("csrf={csrf}")).await;
    assert_eq!(out.status(), StatusCode::SEE_OTHER);
    for cookie in [&phone, &desk] {
        assert_eq!(fleet(&server, cookie).await.0, StatusCode::SEE_OTHER);
    }
    let answer = post(&server, "/sign-in/code", "", &format!("code={unused}")).await;
    assert_eq!(answer.status(), StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!(fleet(&server, &manager.cookie).await.0, StatusCode::OK, "others stay");
    // A manager lets her in again, and then not any more.
    let listed = page(&server, "/people", &manager.cookie).await.1;
    let mia = between(&listed, "<bdi>Mia</bdi>", "/code");
    let mia = mia.rsplit('/').next().expect("an id").to_owned();
    let form = format!("csrf={}", manager.csrf);
    let shown = post(&server, &format!("/people/{mia}/code"), &manager.cookie, &form).await;
    let shown = shown.text().await.expect("a page");
    let code = between(&shown, "<p class=\"big-code\"><code>", "</code>").to_owned();
    let phone = session_of(&post(&server, "/sign-in/code", "", &format!("code={code}")).await);
    assert_eq!(fleet(&server, &phone).await.0, StatusCode::OK);
    let removed = post(&server, &format!("/people/{mia}/remove"), &manager.cookie, &form).await;
    assert_eq!(removed.status(), StatusCode::SEE_OTHER);
    assert_eq!(fleet(&server, &phone).await.0, StatusCode::SEE_OTHER);
    assert!(!page(&server, "/people", &manager.cookie).await.1.contains("Mia"));
    let refused = post(&server, &format!("/people/{mia}/code"), &manager.cookie, &form).await;
    assert_eq!(refused.status(), StatusCode::NOT_FOUND);
}

async fn ones_own_device_stays_signed_in_for_weeks(store: TestStore) {
    let server = TestServer::start(store).await;
    let manager = Manager::of(&server).await;
    let code = manager.enters(&server, "Mia").await;
    let answer = post(&server, "/sign-in/code", "", &format!("code={code}&own=yes")).await;
    let kept = answer.headers()[SET_COOKIE].to_str().expect("ASCII").to_owned();
    assert!(kept.contains("Max-Age=7776000"), "{kept}");
    let phone = session_of(&answer);
    for _ in 0..3 {
        server.wait(chrono::Duration::days(29));
        assert_eq!(fleet(&server, &phone).await.0, StatusCode::OK);
    }
    server.wait(chrono::Duration::days(3));
    assert_eq!(fleet(&server, &phone).await.0, StatusCode::SEE_OTHER, "90 days at most");
}

#[tokio::test]
async fn a_phone_is_signed_in_by_scanning_in_two_taps() {
    let server = TestServer::start(TestStore::sqlite().await).await;
    let desk = Browser::signed_in(&server, DESK, Role::Manager).await;
    desk.open("/people").await;
    desk.type_into("#person-name", "Mia").await;
    desk.tap("form[action='/people'] button").await;
    desk.says(".link-code", "Sign-in code for Mia").await;
    let address =
        desk.run("return document.querySelector('.link-code > p:last-child code').textContent").await;
    let path = address.as_str().expect("an address").strip_prefix(server.url()).expect("our own").to_owned();
    let phone = Browser::start(server.url(), PHONE).await;
    // What the camera opens.
    phone.open(&path).await;
    phone.says("h1", "Sign in as Mia").await;
    phone.tap("form[action='/sign-in/code'] button").await;
    phone.arrives(|path| path == "/fleet").await;
    assert!(phone.taps() <= 2);
}
