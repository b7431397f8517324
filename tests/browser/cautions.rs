//! Cautions are read before hands are at work: they stand above what is done or ticked off on their page.

use serde_json::json;
use wear_api::domain::Role;
use wear_tests::{TestServer, TestStore};

use crate::axe::pages;
use crate::driver::{Browser, PHONE};
use crate::yard::yard;

/// For the open page, in order: `caution`, or what work begins or is ticked off with.
const IN_ORDER: &str = "return [...document.querySelectorAll(
    'main .caution, main button:not(.quiet), main .box, main .boxes')].map(it => it.className || it.textContent)";

#[tokio::test]
async fn a_caution_stands_above_the_work() {
    let server = TestServer::start(TestStore::sqlite().await).await;
    let yard = yard(&server).await;
    let window = json!({"from": "2026-11-25", "to": "2026-12-08"});
    let planned = server.post("/v1/bench-plan", &window).await.expect(201).body;
    assert!(planned["days"].to_string().contains("\"042\""), "the list to print has work on it: {planned}");
    let browser = Browser::signed_in(&server, PHONE, Role::Manager).await;
    let mut cautious = Vec::new();
    for path in pages(&yard) {
        browser.open(&path).await;
        let order = browser.run(IN_ORDER).await;
        let order: Vec<&str> = order.as_array().into_iter().flatten().filter_map(|it| it.as_str()).collect();
        if order.contains(&"caution") {
            assert_eq!(order[0], "caution", "{path}: {order:?}");
            cautious.push((path, order.len()));
        }
    }
    for work in ["/swap", "/symptom", "/care", "/card", "/chain-length", "/bench/list"] {
        let found = cautious.iter().find(|(path, _)| path.ends_with(work));
        assert!(found.is_some_and(|(_, marks)| *marks > 1), "{work} has a caution and work: {cautious:?}");
    }
}
