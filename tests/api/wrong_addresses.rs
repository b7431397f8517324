//! What a browser meets at addresses where nothing is: a page, in its language; programs get their problem documents.

use reqwest::header::{ACCEPT, ACCEPT_LANGUAGE};
use wear_api::domain::Role;
use wear_tests::{TestServer, TestStore, on_both_stores};

use crate::visitor::Visitor;

on_both_stores!(
    a_browser_gets_a_page,
    whoever_is_signed_in_keeps_the_navigation,
    programs_get_problem_documents
);

/// As browsers ask for a page.
const BROWSER: &str = "text/html,application/xhtml+xml,application/xml;q=0.9,*/*;q=0.8";

async fn ask(server: &TestServer, path: &str, accept: &str, language: &str) -> (u16, String, String) {
    let request = reqwest::Client::new().get(format!("{}{path}", server.url()));
    let answer = request.header(ACCEPT, accept).header(ACCEPT_LANGUAGE, language).send().await;
    let answer = answer.expect("an answer");
    let kind = answer.headers()["content-type"].to_str().expect("ASCII").to_owned();
    (answer.status().as_u16(), kind, answer.text().await.expect("a text"))
}

async fn a_browser_gets_a_page(store: TestStore) {
    let server = TestServer::start(store).await;
    for (path, status, english, german) in [
        ("/nowhere", 404, "Nothing here", "Hier ist nichts"),
        ("/bench/plan", 404, "Nothing here", "Hier ist nichts"),
        ("/v10", 404, "Nothing here", "Hier ist nichts"),
        ("/static/none.css", 404, "Nothing here", "Hier ist nichts"),
    ] {
        for (language, says) in [("en", english), ("de-AT,de;q=0.9", german)] {
            let (found, kind, page) = ask(&server, path, BROWSER, language).await;
            assert_eq!((found, kind.as_str()), (status, "text/html; charset=utf-8"), "{path}: {page}");
            assert!(page.contains(says) && page.contains("href=\"/fleet\""), "{path}: {page}");
            assert!(!page.contains("<nav"), "{path}: a stranger has nowhere to go: {page}");
        }
    }
}

async fn whoever_is_signed_in_keeps_the_navigation(store: TestStore) {
    let server = TestServer::start(store).await;
    let mechanic = Visitor::of(&server, Role::Mechanic, "de").await;
    for (path, status) in [("/nowhere", 404), ("/bikes/of-mine", 404), ("/calibration?asked=soon", 400)] {
        let (found, page) = mechanic.get(path).await;
        assert_eq!(found, status, "{path}: {page}");
        assert!(page.contains("<nav class=\"ways\"") && page.contains("href=\"/measure\""), "{path}: {page}");
        assert!(!page.contains("href=\"/settings\""), "{path}: that is a manager's: {page}");
    }
}

async fn programs_get_problem_documents(store: TestStore) {
    let server = TestServer::start(store).await;
    for (path, accept) in [
        ("/nowhere", "application/json"),
        ("/nowhere", "*/*"),
        ("/v1/nowhere", "*/*"),
        ("/v1/nowhere", "text/html,*/*;q=0.8"),
        ("/health/nowhere", BROWSER),
    ] {
        let (status, kind, body) = ask(&server, path, accept, "en").await;
        assert_eq!((status, kind.as_str()), (404, "application/problem+json"), "{path} {accept}: {body}");
    }
}
