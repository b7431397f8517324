//! What a mechanic does with a phone.

use std::time::{Duration, Instant};

use serde_json::{Value, json};
use wear_api::domain::Role;
use wear_tests::{TestServer, TestStore};

use crate::driver::{Browser, DESK, PHONE};
use crate::yard::yard;

async fn readings(server: &TestServer, id: &str) -> Vec<Value> {
    let answer = server.get(&format!("/v1/bikes/{id}/readings?limit=100")).await.expect(200);
    answer.body["items"].as_array().expect("items").clone()
}

#[tokio::test]
async fn a_gauge_is_read_in_two_taps_and_undone() {
    let server = TestServer::start(TestStore::sqlite().await).await;
    let yard = yard(&server).await;
    let browser = Browser::signed_in(&server, PHONE, Role::Mechanic).await;
    // A scanned code leads here.
    browser.open(&format!("/bikes/{}/measure", yard.fresh)).await;
    let began = Instant::now();
    browser.tap("#way-drop_in summary").await;
    browser.tap("#way-drop_in button[value=\"0.5 out\"]").await;
    browser.arrives(|path| path.contains("/readings/")).await;
    println!("gauge: {} taps, {:.1} s", browser.taps(), began.elapsed().as_secs_f64());
    browser.says(".sentence", "Most likely").await;
    let stored = readings(&server, &yard.fresh).await;
    assert_eq!(stored.len(), 1, "{stored:?}");
    assert_eq!((&stored[0]["instrument"], &stored[0]["drops_in"]), (&json!("drop_in"), &json!(false)));
    browser.tap(".undo button").await;
    browser.says("h1", "Undone").await;
    let stored = readings(&server, &yard.fresh).await;
    assert!(stored[0]["voided"].is_object() || stored[0]["voided_at"].is_string(), "{stored:?}");
}

#[tokio::test]
async fn undo_ends_after_a_minute() {
    let server = TestServer::start(TestStore::sqlite().await).await;
    let yard = yard(&server).await;
    let browser = Browser::signed_in(&server, PHONE, Role::Mechanic).await;
    browser.open(&format!("/bikes/{}/measure", yard.fresh)).await;
    browser.tap("#way-rule_inches summary").await;
    browser.tap("#way-rule_inches button[value=\"12 1/32\"]").await;
    browser.arrives(|path| path.contains("/readings/")).await;
    server.wait(chrono::Duration::seconds(61));
    browser.tap(".undo button").await;
    browser.arrives(|path| path.contains("late=1")).await;
    browser.says("main", "The minute is over").await;
    assert!(readings(&server, &yard.fresh).await[0]["voided"].is_null());
}

#[tokio::test]
async fn a_dial_is_read_in_four_taps_and_the_way_is_remembered() {
    let server = TestServer::start(TestStore::sqlite().await).await;
    let yard = yard(&server).await;
    let browser = Browser::signed_in(&server, PHONE, Role::Mechanic).await;
    browser.open(&format!("/bikes/{}/measure", yard.fresh)).await;
    let began = Instant::now();
    browser.tap("#way-dial summary").await;
    browser.tap_text("#way-dial .pad button", "0.3").await;
    browser.tap_text("#way-dial .pad button", "…1").await;
    browser.tap("#way-dial .typed > button").await;
    browser.arrives(|path| path.contains("/readings/")).await;
    let (taps, seconds) = (browser.taps(), began.elapsed().as_secs_f64());
    println!("dial: {taps} taps, {seconds:.1} s");
    assert!(taps <= 4 && seconds < 10.0);
    let stored = readings(&server, &yard.fresh).await;
    assert_eq!(stored[0]["percent"], json!(0.31), "{stored:?}");
    browser.open(&format!("/bikes/{}/measure", yard.ridden)).await;
    assert!(browser.has("#way-dial[open]").await, "the way used last is open");
    browser.type_into("#value-dial", "0,44").await;
    browser.tap("#way-dial .typed > button").await;
    browser.arrives(|path| path.contains("/readings/")).await;
    let stored = readings(&server, &yard.ridden).await;
    assert_eq!(stored[0]["percent"], json!(0.44), "a decimal comma is read: {stored:?}");
}

#[tokio::test]
async fn a_reading_outlives_a_cut_connection_and_counts_once() {
    let server = TestServer::start(TestStore::sqlite().await).await;
    let yard = yard(&server).await;
    let browser = Browser::signed_in(&server, PHONE, Role::Mechanic).await;
    browser.open(&format!("/bikes/{}/measure", yard.fresh)).await;
    browser.offline(true).await;
    let began = Instant::now();
    browser.tap("#way-rule_mm summary").await;
    browser.tap_text("#way-rule_mm .pad button", "305").await;
    browser.tap_text("#way-rule_mm .pad button", ".7").await;
    browser.tap("#way-rule_mm .typed > button").await;
    browser.says("#kept", "kept on this device").await;
    let (taps, seconds) = (browser.taps(), began.elapsed().as_secs_f64());
    println!("connection cut: {taps} taps, kept after {seconds:.1} s");
    assert!(taps <= 4 && seconds < 10.0);
    assert!(readings(&server, &yard.fresh).await.is_empty());
    let mended = Instant::now();
    browser.offline(false).await;
    browser.says("#queue", "Sent").await;
    println!("sent {:.1} s after the connection came back", mended.elapsed().as_secs_f64());
    // The same again from a page that never heard of the answer.
    let stored = readings(&server, &yard.fresh).await;
    assert_eq!(stored.len(), 1, "{stored:?}");
    assert_eq!(stored[0]["length_mm"], json!(305.7));
    browser.open("/fleet").await;
    tokio::time::sleep(Duration::from_millis(600)).await;
    assert_eq!(readings(&server, &yard.fresh).await.len(), 1);
    assert_eq!(browser.run("return localStorage.getItem('wear-queue')").await, json!("[]"));
}

#[tokio::test]
async fn an_answer_that_was_lost_makes_no_second_reading() {
    let server = TestServer::start(TestStore::sqlite().await).await;
    let yard = yard(&server).await;
    let browser = Browser::signed_in(&server, PHONE, Role::Mechanic).await;
    browser.open(&format!("/bikes/{}/measure", yard.fresh)).await;
    browser.tap("#way-drop_in summary").await;
    browser.tap("#way-drop_in button[value=\"0.75 out\"]").await;
    browser.arrives(|path| path.contains("/readings/")).await;
    let taken_at = readings(&server, &yard.fresh).await[0]["taken_at"].as_str().expect("a time").to_owned();
    // What a phone keeps when it sent the reading and never saw the answer.
    let entry = json!([{"key": "k", "to": format!("/bikes/{}/measure", yard.fresh), "label": "043",
        "fields": [["way", "drop_in"], ["taken_at", taken_at], ["gauge", "0.75 out"]]}]);
    browser.run(&format!("localStorage.setItem('wear-queue', {})", json!(entry.to_string()))).await;
    browser.open("/fleet").await;
    browser.says("#queue", "Sent").await;
    assert_eq!(readings(&server, &yard.fresh).await.len(), 1);
}

#[tokio::test]
async fn a_wrong_number_is_explained_and_kept() {
    let server = TestServer::start(TestStore::sqlite().await).await;
    let yard = yard(&server).await;
    let browser = Browser::signed_in(&server, PHONE, Role::Mechanic).await;
    browser.open(&format!("/bikes/{}/measure", yard.fresh)).await;
    browser.tap("#way-rule_mm summary").await;
    browser.type_into("#value-rule_mm", "12,06").await;
    browser.tap("#way-rule_mm .typed > button").await;
    browser.says("#error-rule_mm", "304.0 to 311.0 mm").await;
    assert_eq!(browser.value("#value-rule_mm").await, "12,06");
    assert!(readings(&server, &yard.fresh).await.is_empty());
}

#[tokio::test]
async fn a_bike_is_found_by_its_label() {
    let server = TestServer::start(TestStore::sqlite().await).await;
    let yard = yard(&server).await;
    let browser = Browser::signed_in(&server, PHONE, Role::Mechanic).await;
    browser.tap("nav a[href='/measure']").await;
    browser.type_into("#search", "04").await;
    browser.says("#found", "043").await;
    browser.type_into("#search", "043").await;
    browser.tap(".pick button").await;
    browser.arrives(|path| path == format!("/bikes/{}/measure", yard.fresh)).await;
}

#[tokio::test]
async fn swaps_care_and_fittings_are_recorded() {
    let server = TestServer::start(TestStore::sqlite().await).await;
    let yard = yard(&server).await;
    let id = &yard.overdue;
    let browser = Browser::signed_in(&server, DESK, Role::Mechanic).await;
    browser.open(&format!("/bikes/{id}")).await;
    browser.says(".to-do", "swap before the next ride").await;
    assert!(browser.text("main").await.contains("Keep the bike in"), "an overdue chain has its caution");
    browser.tap(&format!("a[href='/bikes/{id}/swap']")).await;
    browser.type_into("#percent", "1,02").await;
    browser.type_into("#note", "links stiff").await;
    for step in ["stand", "link_seated", "end_stops"] {
        browser.tap(&format!("#step-{step}")).await;
    }
    browser.tap("#entry button").await;
    browser.arrives(|path| path.starts_with(&format!("/bikes/{id}?done"))).await;
    let swaps = server.get(&format!("/v1/bikes/{id}/swaps")).await.expect(200).body["items"].clone();
    assert_eq!((&swaps[0]["place"], &swaps[0]["note"]), (&json!("chain"), &json!("links stiff")), "{swaps}");
    assert_eq!(readings(&server, id).await[0]["percent"], json!(1.02));
    assert_eq!(
        swaps[0]["checklist"],
        json!(["stand", "link_seated", "end_stops"]),
        "ticks are kept: {swaps}"
    );
    let left = browser.text(".kept").await;
    assert!(left.contains("First ride off traffic") && !left.contains("End stops"), "{left}");
    assert!(!browser.text(".to-do").await.contains("before the next ride"));

    browser.tap(&format!("a[href='/bikes/{id}/care']")).await;
    browser.tap("input[value='lubricated']").await;
    browser.tap("form.narrow button").await;
    browser.arrives(|path| path == format!("/bikes/{id}?done=care")).await;
    browser.says(".kept", "The care is recorded").await;
    let care = server.get(&format!("/v1/bikes/{id}/care")).await.expect(200).body["items"].clone();
    assert_eq!(care[0]["kind"], json!("lubricated"), "{care}");

    server.wait(chrono::Duration::minutes(1));
    browser.tap("button[aria-label='Take off: chain']").await;
    browser.says(".to-do", "needs checking").await;
    server.wait(chrono::Duration::minutes(1));
    browser.tap_text("summary", "Fit a new part to an empty place").await;
    browser.choose("select[name='place']", "chain").await;
    browser.tap("form[action$='/fittings'] button").await;
    browser.sees("button[aria-label='Take off: chain']").await;
    let fittings = server.get(&format!("/v1/bikes/{id}/fittings")).await.expect(200).body["items"].clone();
    let chains = fittings.as_array().expect("items").iter().filter(|it| it["place"] == "chain").count();
    assert_eq!(chains, 3, "{fittings}");
}

/// Taps until something is in the store, from the page that a scanned label opens.
#[tokio::test]
async fn each_job_takes_few_taps_from_the_label() {
    let server = TestServer::start(TestStore::sqlite().await).await;
    let yard = yard(&server).await;
    let browser = Browser::signed_in(&server, PHONE, Role::Mechanic).await;
    let jobs: [(&str, &str, &str, &[&str], &str); 6] = [
        (
            "rule",
            "readings",
            &yard.fresh,
            &["#way-rule_inches summary", "button[value=\"12 1/32\"]"],
            "/readings/",
        ),
        (
            "gauge",
            "readings",
            &yard.ridden,
            &["#way-drop_in summary", "button[value=\"0.5 in\"]"],
            "/readings/",
        ),
        (
            "percent",
            "readings",
            &yard.overdue,
            &[
                "#way-rule_percent summary",
                "#way-rule_percent .pad > div:first-child button:nth-child(10)",
                "#way-rule_percent .pad > div:last-child button:nth-child(8)",
                "#way-rule_percent .typed > button",
            ],
            "/readings/",
        ),
        (
            "symptom",
            "symptoms",
            &yard.ridden,
            &["a[href$='/symptom']", "button[value='skips_under_load 13']"],
            "/symptoms/",
        ),
        ("care", "care", &yard.ridden, &["a[href$='/care']", "form.narrow button"], "done=care"),
        ("swap", "swaps", &yard.overdue, &["a[href$='/swap']", "#entry button"], "done=swap"),
    ];
    for (job, kind, id, taps, end) in jobs {
        let stored = format!("/v1/bikes/{id}/{kind}");
        let count = async || server.get(&stored).await.expect(200).body["items"].as_array().map(Vec::len);
        let before = count().await;
        browser.open(&format!("/bikes/{id}/measure")).await;
        browser.taps();
        let began = Instant::now();
        for tap in taps {
            browser.tap(tap).await;
        }
        browser.arrives(|path| path.contains(end)).await;
        let (taps, seconds) = (browser.taps(), began.elapsed().as_secs_f64());
        println!("{job}: {taps} taps, {seconds:.1} s");
        assert!(taps <= 4 && seconds < 10.0, "{job}: {taps} taps, {seconds} s");
        assert_eq!(count().await, before.map(|count| count + 1), "{job}");
    }
}

#[tokio::test]
async fn work_outlives_a_cut_connection_and_counts_once() {
    let server = TestServer::start(TestStore::sqlite().await).await;
    let yard = yard(&server).await;
    let browser = Browser::signed_in(&server, PHONE, Role::Mechanic).await;
    let jobs: [(&str, &str, &str, &str); 3] = [
        ("care", "care", &yard.ridden, "form.narrow button"),
        ("symptom", "symptoms", &yard.ridden, "button[value='skips_under_load 13']"),
        ("swap", "swaps", &yard.overdue, "#entry button"),
    ];
    for (page, kind, id, button) in jobs {
        let stored = format!("/v1/bikes/{id}/{kind}");
        let items = async || server.get(&stored).await.expect(200).body["items"].clone();
        let before = items().await.as_array().map(Vec::len).unwrap_or_default();
        browser.open(&format!("/bikes/{id}/{page}")).await;
        browser.offline(true).await;
        browser.type_into("#note", "no signal in the cellar").await;
        browser.taps();
        let began = Instant::now();
        browser.tap(button).await;
        browser.says("#kept", "kept on this device").await;
        println!(
            "{page}, connection cut: {} taps, kept after {:.1} s",
            browser.taps(),
            began.elapsed().as_secs_f64()
        );
        assert_eq!(browser.value("#note").await, "no signal in the cellar", "what was typed is kept");
        assert!(browser.has(&format!("{button}[disabled]")).await, "it can't be entered twice");
        assert_eq!(items().await.as_array().map(Vec::len), Some(before));
        let kept = browser.run("return localStorage.getItem('wear-queue')").await;
        let mended = Instant::now();
        browser.offline(false).await;
        browser.says("#queue", "Sent").await;
        println!("{page}: sent {:.1} s after the connection came back", mended.elapsed().as_secs_f64());
        // What a phone keeps when it never sees the answer.
        browser.run(&format!("localStorage.setItem('wear-queue', {kept})")).await;
        browser.open("/fleet").await;
        browser.says("#queue", "Sent").await;
        let stored = items().await;
        assert_eq!(stored.as_array().map(Vec::len), Some(before + 1), "{stored}");
        assert_eq!(stored[0]["note"], json!("no signal in the cellar"), "{stored}");
    }
}

#[tokio::test]
async fn a_reading_is_marked_as_not_counting() {
    let server = TestServer::start(TestStore::sqlite().await).await;
    let yard = yard(&server).await;
    let browser = Browser::signed_in(&server, DESK, Role::Mechanic).await;
    browser.open(&format!("/bikes/{}", yard.ridden)).await;
    browser.tap(".void-form summary").await;
    browser.type_into(".void-form[open] input[name='reason']", "another bike's chain").await;
    browser.tap(".void-form[open] button").await;
    browser.says(".log", "marked as wrong: another bike's chain").await;
    assert!(!readings(&server, &yard.ridden).await[0]["voided"].is_null());
}

#[tokio::test]
async fn a_swap_that_never_was_is_taken_back() {
    let server = TestServer::start(TestStore::sqlite().await).await;
    let yard = yard(&server).await;
    let id = &yard.overdue;
    let browser = Browser::signed_in(&server, DESK, Role::Mechanic).await;
    browser.open(&format!("/bikes/{id}/swap")).await;
    browser.tap("#entry button").await;
    browser.arrives(|path| path.contains("done=swap")).await;
    assert!(!browser.text(".to-do").await.contains("before the next ride"));
    browser.tap_text("summary", "Undo this swap…").await;
    browser.type_into(".void-form[open] input[name='reason']", "wrong bike").await;
    browser.tap(".void-form[open] button").await;
    browser.says(".log", "marked as wrong: wrong bike").await;
    browser.says(".to-do", "swap before the next ride").await;
    let swaps = server.get(&format!("/v1/bikes/{id}/swaps")).await.expect(200).body["items"].clone();
    assert_eq!(swaps[0]["voided_reason"], json!("wrong bike"), "{swaps}");
}

#[tokio::test]
async fn a_symptom_is_noted_in_two_taps() {
    let server = TestServer::start(TestStore::sqlite().await).await;
    let yard = yard(&server).await;
    let id = &yard.ridden;
    let browser = Browser::signed_in(&server, PHONE, Role::Mechanic).await;
    browser.open(&format!("/bikes/{id}")).await;
    let began = Instant::now();
    browser.tap(&format!("a[href='/bikes/{id}/symptom']")).await;
    browser.tap("button[value='skips_under_load 13']").await;
    browser.arrives(|path| path.contains("/symptoms/")).await;
    println!("symptom: {} taps, {:.1} s", browser.taps(), began.elapsed().as_secs_f64());
    assert!(browser.taps() <= 2);
    browser.says("main", "counts as evidence").await;
    assert!(browser.text(".caution").await.contains("off traffic"), "a skip has its caution");
    let reports = server.get(&format!("/v1/bikes/{id}/symptoms")).await.expect(200).body["items"].clone();
    assert_eq!(reports[0]["cog_teeth"], json!(13), "{reports}");
    // The clock of the service stands still in a test, that of the page goes on.
    server.wait(chrono::Duration::minutes(1));
    browser.open(&format!("/bikes/{id}/symptom")).await;
    browser.tap("button[value='noisy']").await;
    browser.arrives(|path| path.contains("/symptoms/")).await;
    browser.says("main", "a lead, not evidence").await;
    browser.says(".leads", "Dirty or dry chain").await;
    browser.tap(".undo button").await;
    browser.says(".log", "marked as wrong: taken back on the page").await;
    let reports = server.get(&format!("/v1/bikes/{id}/symptoms")).await.expect(200).body["items"].clone();
    assert!(reports[0]["voided_at"].is_string() && reports[1]["voided_at"].is_null(), "{reports}");
}
