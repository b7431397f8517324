//! Each task with the keyboard alone.

use serde_json::json;
use wear_api::domain::Role;
use wear_tests::{TestServer, TestStore};

use crate::driver::{Browser, DESK, PHONE};
use crate::yard::yard;

/// Presses Tab until the focused element says this.
pub async fn tab_to(browser: &Browser, wanted: &str) {
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
    browser.arrives(|path| path.contains("done=care")).await;
    let path = format!("/v1/bikes/{}", yard.fresh);
    let readings = server.get(&format!("{path}/readings")).await.expect(200).body["items"].clone();
    let care = server.get(&format!("{path}/care")).await.expect(200).body["items"].clone();
    assert_eq!((readings.as_array().map(Vec::len), care.as_array().map(Vec::len)), (Some(1), Some(1)));
}

/// Everything that can be used on a page is reached by Tab, in the page's order, and shows that it is.
#[tokio::test]
async fn every_control_of_every_page_is_reached_by_tab() {
    let server = TestServer::start(TestStore::sqlite().await).await;
    let yard = yard(&server).await;
    let browser = Browser::signed_in(&server, DESK, Role::Manager).await;
    let controls = "[...document.querySelectorAll('a[href], button, input:not([type=hidden]), select, textarea, summary, [tabindex=\"0\"]')]
        .filter(e => e.checkVisibility({visibilityProperty: true}) && !e.disabled)";
    let mut all = 0;
    for path in crate::axe::pages(&yard) {
        browser.open(&path).await;
        let count = format!("window.left = new Set({controls}); return window.left.size;");
        let count = browser.run(&count).await.as_u64().unwrap_or_default();
        assert!(count > 5, "{path} has {count} controls");
        all += count;
        // A radio group is one stop; a field of dates has several.
        for _ in 0..6 * count {
            browser.keys(&["Tab"]).await;
            let step = "const e = document.activeElement; const s = getComputedStyle(e); window.left.delete(e);
                if (e.type === 'radio') for (const o of document.getElementsByName(e.name)) window.left.delete(o);
                return [window.left.size, e === document.body || (parseFloat(s.outlineWidth) >= 2 && s.outlineStyle !== 'none') ? '' : e.outerHTML];";
            let step = browser.run(step).await;
            assert_eq!(step[1], json!(""), "{path}: no focus to be seen");
            if step[0] == json!(0) {
                break;
            }
        }
        let left = browser.run("return [...window.left].map(e => e.outerHTML.slice(0, 120))").await;
        assert_eq!(left, json!([]), "{path}: not reached");
    }
    println!("{all} controls reached");
}

#[tokio::test]
async fn nothing_moves_while_a_page_loads() {
    let server = TestServer::start(TestStore::sqlite().await).await;
    let yard = yard(&server).await;
    for size in [DESK, PHONE] {
        let browser = Browser::signed_in(&server, size, Role::Manager).await;
        let mut most: f64 = 0.0;
        for path in crate::axe::pages(&yard) {
            browser.open(&path).await;
            let shifts = "const done = arguments[arguments.length - 1]; let moved = 0;
                new PerformanceObserver(list => { for (const e of list.getEntries()) moved += e.value; }).observe({type: 'layout-shift', buffered: true});
                setTimeout(() => done(moved), 250);";
            let moved = browser.run_async(shifts).await.as_f64().expect("a number");
            assert!(moved < 0.001, "{path} at width {} moves by {moved}", size.size.0);
            most = most.max(moved);
        }
        println!("largest layout shift at width {}: {most}", size.size.0);
    }
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
