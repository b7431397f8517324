//! Accessibility: axe-core finds nothing on any page, light, dark and on a phone, in both languages.

use std::path::Path;

use serde_json::Value;
use wear_api::domain::Role;
use wear_tests::{TestServer, TestStore};

use crate::driver::{Browser, DESK};
use crate::yard::{Yard, yard};

/// Every page.
pub fn pages(yard: &Yard) -> Vec<String> {
    let Yard { ridden, overdue, fresh, kind, tool } = yard;
    vec![
        "/fleet".to_owned(),
        "/fleet?search=nothing".to_owned(),
        "/fleet/worklist".to_owned(),
        format!("/fleet/care?bike={ridden}&bike={fresh}"),
        "/walk".to_owned(),
        "/rides/files".to_owned(),
        "/help".to_owned(),
        format!("/bikes/{ridden}?all=1"),
        format!("/bikes/{overdue}"),
        format!("/bikes/{fresh}"),
        "/bikes/new".to_owned(),
        "/groups".to_owned(),
        "/bike-kinds".to_owned(),
        format!("/bike-kinds/{kind}"),
        format!("/bikes/{ridden}/swap"),
        format!("/bikes/{ridden}/swap?of=cassette"),
        format!("/bikes/{ridden}/edit"),
        format!("/bikes/{ridden}/symptom"),
        format!("/bikes/{ridden}/care"),
        format!("/bikes/{ridden}/card"),
        "/measure".to_owned(),
        "/chain-length".to_owned(),
        format!("/chain-length?bike={ridden}&stay=455"),
        format!("/bikes/{ridden}/measure"),
        "/bench".to_owned(),
        "/bench/list".to_owned(),
        "/parts".to_owned(),
        "/track-record".to_owned(),
        "/calibration".to_owned(),
        "/tools".to_owned(),
        format!("/tools/{tool}"),
        "/policy".to_owned(),
        "/parts/lives".to_owned(),
        "/audit".to_owned(),
        "/hooks".to_owned(),
        "/settings".to_owned(),
        "/people".to_owned(),
        "/me".to_owned(),
        "/settings/tables".to_owned(),
        "/labels".to_owned(),
    ]
}

fn axe_core() -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../target/axe/node_modules/axe-core/axe.min.js");
    std::fs::read_to_string(&path)
        .unwrap_or_else(|error| panic!("{}: {error}; tests/run fetches it", path.display()))
}

/// What axe-core objects to on the open page.
async fn violations(browser: &Browser, axe: &str) -> Vec<String> {
    browser.run(axe).await;
    let script = "const done = arguments[arguments.length - 1];
        axe.run(document, {resultTypes: ['violations']}).then(r => done(r.violations.map(v =>
            [v.id, v.impact, v.nodes.map(n => n.target.join(' ') + ' ' + n.failureSummary).slice(0, 3).join(' | ')])));";
    let found = browser.run_async(script).await;
    let found = found.as_array().cloned().unwrap_or_else(|| panic!("axe said {found}"));
    found.iter().map(Value::to_string).collect()
}

#[tokio::test]
async fn axe_finds_nothing_on_any_page() {
    let server = TestServer::start(TestStore::sqlite().await).await;
    let yard = yard(&server).await;
    let axe = axe_core();
    let browser = Browser::start(server.url(), DESK).await;
    let mut all = Vec::new();
    browser.open("/sign-in").await;
    all.extend(violations(&browser, &axe).await);
    browser.sign_in(server.token_of(Role::Manager)).await;
    // An empty page and a full one of each.
    let mut looked = 1;
    for round in ["empty", "full"] {
        if round == "full" {
            fill(&browser, &yard).await;
        }
        for (look, scheme, phone) in
            [("light", "light", false), ("dark", "dark", false), ("phone", "light", true)]
        {
            browser.media("", scheme).await;
            if phone {
                browser.device((390, 844)).await;
            } else {
                browser.own("Emulation.clearDeviceMetricsOverride", serde_json::json!({})).await;
            }
            for path in pages(&yard) {
                browser.open(&path).await;
                browser
                    .run("for (const d of document.querySelectorAll('details:not([name])')) d.open = true;")
                    .await;
                looked += 1;
                let found = violations(&browser, &axe).await;
                all.extend(found.into_iter().map(|violation| format!("{round} {look} {path}: {violation}")));
            }
        }
    }
    // The days that a job could have.
    browser.open("/bench?state=proposed").await;
    browser.tap(".job-acts a[href*='/bench/jobs/']").await;
    browser.arrives(|path| path.contains("/bench/jobs/")).await;
    looked += 1;
    all.extend(violations(&browser, &axe).await);
    println!("axe-core looked at {looked} pages and found {} violations", all.len());
    assert!(all.is_empty(), "{}", all.join("\n"));
}

/// Makes what the empty pages lack, through the pages.
async fn fill(browser: &Browser, yard: &Yard) {
    browser.open("/bench").await;
    browser.tap("form[action='/bench/plan'] button").await;
    browser.arrives(|path| path.contains("state=proposed")).await;
    browser.open("/parts").await;
    browser.type_into("#model-name", "Chain, eight").await;
    browser.type_into("#model-price", "12.50").await;
    browser.tap("form[action='/parts/models'] button").await;
    browser.tap_text("summary", "Start counting a model").await;
    browser.type_into("form[action='/parts/stock'] input[name='count']", "3").await;
    browser.tap("form[action='/parts/stock'] button").await;
    browser.says("main > .scroll tbody", "Chain, eight").await;
    browser.open("/groups").await;
    browser.type_into("input[name=per_week]", "70").await;
    browser.tap("form.row button").await;
    browser.says(".groups", "about 70 km a week").await;
    browser.open("/hooks").await;
    browser.type_into("#hook-label", "ride app").await;
    browser.type_into("#hook-url", "https://app.example/wear").await;
    browser.tap("form[action='/hooks'] button").await;
    browser.says(".kept", "whsec_").await;
    browser.open(&format!("/bikes/{}/measure", yard.fresh)).await;
    browser.tap("#way-dial summary").await;
    browser.type_into("#value-dial", "44").await;
    browser.tap("#way-dial .typed > button").await;
    browser.says(".wrong", "percent").await;
    browser.type_into("#value-dial", "0.1").await;
    browser.tap("#way-dial .typed > button").await;
    browser.arrives(|path| path.contains("/readings/")).await;
    // In the other language from here on.
    browser.tap(".tongue button").await;
    browser.says(".undo", "Zurücknehmen").await;
}
