//! Signing in and out, and forms that aren't ours.

use reqwest::header::{COOKIE, LOCATION, ORIGIN, SET_COOKIE};
use reqwest::{Method, StatusCode};
use wear_api::domain::Role;
use wear_tests::{TestServer, TestStore, on_both_stores};

use crate::driver::{Browser, DESK};
use crate::yard::yard;

on_both_stores!(a_session_begins_lasts_and_ends, forms_of_others_are_refused);

pub fn client() -> reqwest::Client {
    reqwest::Client::builder().redirect(reqwest::redirect::Policy::none()).build().expect("a client")
}

pub async fn sign_in(server: &TestServer, token: &str) -> reqwest::Response {
    let form = format!("token={token}&back=%2Fmeasure");
    let request = client().post(format!("{}/sign-in", server.url()));
    let request = request.header("content-type", "application/x-www-form-urlencoded").body(form);
    request.send().await.expect("an answer")
}

pub fn session_of(answer: &reqwest::Response) -> String {
    let cookie = answer.headers().get(SET_COOKIE).expect("a cookie").to_str().expect("ASCII").to_owned();
    assert!(cookie.contains("HttpOnly") && cookie.contains("SameSite=Lax"), "{cookie}");
    cookie.split(';').next().expect("a value").to_owned()
}

pub async fn fleet(server: &TestServer, cookie: &str) -> (StatusCode, String) {
    let request = client().get(format!("{}/fleet", server.url())).header(COOKIE, cookie);
    let answer = request.send().await.expect("an answer");
    (answer.status(), answer.text().await.expect("a page"))
}

pub fn csrf_of(page: &str) -> String {
    let (_, rest) = page.split_once("name=\"csrf\" content=\"").expect("a proof");
    rest.split('"').next().expect("its end").to_owned()
}

async fn a_session_begins_lasts_and_ends(store: TestStore) {
    let server = TestServer::start(store).await;
    let refused = sign_in(&server, "wear_nonsense").await;
    assert_eq!(refused.status(), StatusCode::UNPROCESSABLE_ENTITY);
    let answer = sign_in(&server, server.token_of(Role::Mechanic)).await;
    assert_eq!(answer.headers()[LOCATION], "/measure");
    let cookie = session_of(&answer);
    assert!(!cookie.contains(server.token_of(Role::Mechanic)), "the cookie isn't the token");
    assert_eq!(fleet(&server, &cookie).await.0, StatusCode::OK);
    // Used now and then, it lasts; unused for 12 hours, it is over.
    for _ in 0..3 {
        server.wait(chrono::Duration::hours(11));
        assert_eq!(fleet(&server, &cookie).await.0, StatusCode::OK);
    }
    server.wait(chrono::Duration::hours(12));
    assert_eq!(fleet(&server, &cookie).await.0, StatusCode::SEE_OTHER);

    let cookie = session_of(&sign_in(&server, server.token_of(Role::Mechanic)).await);
    let page = fleet(&server, &cookie).await.1;
    let sign_out = client().post(format!("{}/sign-out", server.url())).header(COOKIE, &cookie);
    let form = format!("csrf={}", csrf_of(&page));
    let out = sign_out.header("content-type", "application/x-www-form-urlencoded").body(form).send().await;
    assert_eq!(out.expect("an answer").status(), StatusCode::SEE_OTHER);
    assert_eq!(fleet(&server, &cookie).await.0, StatusCode::SEE_OTHER, "a copied cookie is worth nothing");
}

async fn forms_of_others_are_refused(store: TestStore) {
    let server = TestServer::start(store).await;
    let bike = server.bike("041").await;
    let cookie = session_of(&sign_in(&server, server.token_of(Role::Mechanic)).await);
    let csrf = csrf_of(&fleet(&server, &cookie).await.1);
    let path = format!("{}/bikes/{bike}/care", server.url());
    let post = |body: String| {
        let request = client().request(Method::POST, &path).header(COOKIE, &cookie);
        request.header("content-type", "application/x-www-form-urlencoded").body(body)
    };
    let status =
        |request: reqwest::RequestBuilder| async { request.send().await.expect("an answer").status() };
    assert_eq!(status(post("kind=cleaned".into())).await, StatusCode::FORBIDDEN);
    assert_eq!(status(post("kind=cleaned&csrf=guess".into())).await, StatusCode::FORBIDDEN);
    let good = format!("kind=cleaned&csrf={csrf}");
    let foreign = post(good.clone()).header(ORIGIN, "https://else.example");
    assert_eq!(status(foreign).await, StatusCode::FORBIDDEN);
    let cross = post(good.clone()).header("sec-fetch-site", "cross-site");
    assert_eq!(status(cross).await, StatusCode::FORBIDDEN);
    let care = format!("/v1/bikes/{bike}/care");
    assert_eq!(server.get(&care).await.expect(200).body["items"].as_array().map(Vec::len), Some(0));
    assert_eq!(status(post(good)).await, StatusCode::SEE_OTHER);
    // An app's token may look at a bike and not work on it.
    let cookie = session_of(&sign_in(&server, server.token_of(Role::App)).await);
    let request = client().get(&path).header(COOKIE, &cookie);
    assert_eq!(status(request).await, StatusCode::FORBIDDEN);
}

#[tokio::test]
async fn one_signs_out_in_a_browser() {
    let server = TestServer::start(TestStore::sqlite().await).await;
    yard(&server).await;
    let browser = Browser::start(server.url(), DESK).await;
    browser.open("/bench").await;
    browser.arrives(|path| path.starts_with("/sign-in?back=%2Fbench")).await;
    browser.type_into("#token", server.token_of(Role::Manager)).await;
    browser.tap("form.narrow button").await;
    browser.arrives(|path| path == "/bench").await;
    browser.tap("form[action='/sign-out'] button").await;
    browser.arrives(|path| path == "/sign-in").await;
    browser.open("/fleet").await;
    browser.arrives(|path| path.starts_with("/sign-in")).await;
}

#[tokio::test]
async fn pages_carry_no_script_or_style_of_their_own() {
    let server = TestServer::start(TestStore::sqlite().await).await;
    let yard = yard(&server).await;
    let cookie = session_of(&sign_in(&server, server.token_of(Role::Manager)).await);
    for path in crate::axe::pages(&yard) {
        let request = client().get(format!("{}{path}", server.url())).header(COOKIE, &cookie);
        let answer = request.send().await.expect("an answer");
        let policy = answer.headers()["content-security-policy"].to_str().expect("ASCII").to_owned();
        assert!(!policy.contains("unsafe") && policy.contains("default-src 'none'"), "{path}: {policy}");
        let page = answer.text().await.expect("a page");
        assert!(
            !page.contains(" style=") && !page.contains("<style") && !page.contains(" onclick"),
            "{path}"
        );
        assert_eq!(page.matches("<script").count(), page.matches("<script src=").count(), "{path}");
    }
}
