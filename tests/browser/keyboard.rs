//! Each task with the keyboard alone.

use serde_json::json;
use wear_api::domain::Role;
use wear_tests::{TestServer, TestStore};

use crate::driver::{Browser, DESK};
use crate::yard::yard;

/// Presses Tab until the focused element says this.
async fn tab_to(browser: &Browser, wanted: &str) {
    for _ in 0..120 {
        if browser.focused().await.contains(wanted) {
            let ring = "const s = getComputedStyle(document.activeElement); return parseFloat(s.outlineWidth) >= 2 && s.outlineStyle !== 'none';";
            assert_eq!(browser.run(ring).await, json!(true), "{wanted} shows no focus");
            return;
        }
        browser.keys(&["Tab"]).await;
    }
    panic!("no way to {wanted} by Tab");
}

#[tokio::test]
async fn signing_in_measuring_and_caring_need_no_mouse() {
    let server = TestServer::start(TestStore::sqlite().await).await;
    let yard = yard(&server).await;
    let browser = Browser::start(server.url(), DESK).await;
    browser.open("/sign-in").await;
    tab_to(&browser, "token").await;
    let token = server.token_of(Role::Mechanic).to_owned();
    let letters: Vec<String> = token.chars().map(String::from).collect();
    browser.keys(&letters.iter().map(String::as_str).collect::<Vec<_>>()).await;
    browser.keys(&["Enter"]).await;
    browser.arrives(|path| path == "/fleet").await;
    browser.keys(&["Tab"]).await;
    assert_eq!(browser.focused().await, "Skip to content");
    browser.open(&format!("/bikes/{}", yard.fresh)).await;
    tab_to(&browser, "Measure").await;
    tab_to(&browser, "Record care").await;
    browser.open(&format!("/bikes/{}/measure", yard.fresh)).await;
    tab_to(&browser, "Drop-in gauge").await;
    browser.keys(&["Enter"]).await;
    tab_to(&browser, "0.5 % stays out").await;
    browser.keys(&["Enter"]).await;
    browser.arrives(|path| path.contains("/readings/")).await;
    tab_to(&browser, "Undo").await;
    browser.open(&format!("/bikes/{}/care", yard.fresh)).await;
    tab_to(&browser, "Record the care").await;
    browser.keys(&["Enter"]).await;
    browser.arrives(|path| path.contains("#history")).await;
    let path = format!("/v1/bikes/{}", yard.fresh);
    let readings = server.get(&format!("{path}/readings")).await.expect(200).body["items"].clone();
    let care = server.get(&format!("{path}/care")).await.expect(200).body["items"].clone();
    assert_eq!((readings.as_array().map(Vec::len), care.as_array().map(Vec::len)), (Some(1), Some(1)));
}

#[tokio::test]
async fn at_twice_the_size_nothing_runs_off_the_page() {
    let server = TestServer::start(TestStore::sqlite().await).await;
    let yard = yard(&server).await;
    let browser = Browser::signed_in(&server, DESK, Role::Manager).await;
    for (width, scale) in [(640, "twice the size"), (320, "four times")] {
        browser.device((width, 700)).await;
        for path in crate::axe::pages(&yard) {
            browser.open(&path).await;
            let over = "return document.documentElement.scrollWidth - document.documentElement.clientWidth;";
            let over = browser.run(over).await.as_f64().unwrap_or(f64::MAX);
            assert!(over <= 1.0, "{path} at {scale} runs {over} pixels off");
        }
    }
}
