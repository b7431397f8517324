//! The same without scripts.

use serde_json::json;
use wear_api::domain::Role;
use wear_tests::{TestServer, TestStore};

use crate::driver::{Browser, PLAIN};
use crate::yard::yard;

#[tokio::test]
async fn everything_works_without_scripts() {
    let server = TestServer::start(TestStore::sqlite().await).await;
    let yard = yard(&server).await;
    let browser = Browser::signed_in(&server, PLAIN, Role::Mechanic).await;
    assert!(!browser.has("#queue:not([hidden])").await);
    browser.type_into("#search", "043").await;
    browser.tap(".filter button").await;
    browser.says("h1", "1 bike").await;
    browser.open("/measure").await;
    browser.type_into("#search", "043").await;
    browser.tap(".pick button").await;
    browser.arrives(|path| path.ends_with("/measure")).await;
    assert!(!browser.has(".pad").await, "no script ran");
    browser.tap("#way-dial summary").await;
    browser.type_into("#value-dial", "0,12 0,14 0,13").await;
    browser.tap("#way-dial button").await;
    browser.arrives(|path| path.contains("/readings/")).await;
    browser.says(".sentence", "Most likely").await;
    let path = format!("/v1/bikes/{}/readings", yard.fresh);
    let stored = server.get(&path).await.expect(200).body["items"].clone();
    assert_eq!(stored[0]["spots"], json!([0.12, 0.14, 0.13]), "{stored}");
    // Sent twice by an impatient thumb, and once more with what the odometer shows.
    for odometer in ["", "1234"] {
        browser.open(&format!("/bikes/{}/measure", yard.fresh)).await;
        browser.type_into("#value-dial", "0,12 0,14 0,13").await;
        browser.type_into("#odometer-dial", odometer).await;
        browser.tap("#way-dial button").await;
        browser.arrives(|path| path.contains("/readings/")).await;
        assert_eq!(server.get(&path).await.expect(200).body["items"].as_array().expect("items").len(), 1);
    }
    let odometer = server.get(&format!("/v1/bikes/{}/odometer", yard.fresh)).await.expect(200).body;
    let shown = &odometer["items"][0];
    assert_eq!((&shown["km"], &shown["reading_id"]), (&json!(1234.0), &stored[0]["id"]), "{odometer}");
    assert_eq!(shown["read_at"], stored[0]["taken_at"]);

    browser.open(&format!("/bikes/{}/swap", yard.fresh)).await;
    browser.tap("#entry button").await;
    browser.says(".wrong", "").await;
    browser.open(&format!("/bikes/{}/care", yard.fresh)).await;
    browser.tap("form.narrow button").await;
    browser.arrives(|path| path.contains("done=care")).await;
    // Again, by an impatient thumb, and with what the odometer shows.
    browser.open(&format!("/bikes/{}/care", yard.fresh)).await;
    browser.type_into("#odometer", "1250").await;
    browser.tap("form.narrow button").await;
    browser.arrives(|path| path.contains("done=care")).await;
    let care = server.get(&format!("/v1/bikes/{}/care", yard.fresh)).await.expect(200).body["items"].clone();
    assert_eq!(care[0]["kind"], json!("cleaned_and_lubricated"));
    assert_eq!(care.as_array().expect("items").len(), 1, "{care}");
    let odometer = server.get(&format!("/v1/bikes/{}/odometer", yard.fresh)).await.expect(200).body;
    let with_care = odometer["items"].as_array().expect("items").iter().find(|shown| shown["km"] == 1250.0);
    assert_eq!(with_care.expect("a statement")["care_id"], care[0]["id"], "{odometer}");
    for _ in 0..2 {
        browser.open(&format!("/bikes/{}/symptom", yard.ridden)).await;
        browser.tap("button[value='skips_under_load 13']").await;
        browser.arrives(|path| path.contains("/symptoms/")).await;
    }
    let path = format!("/v1/bikes/{}/symptoms", yard.ridden);
    let reports = server.get(&path).await.expect(200).body["items"].clone();
    assert_eq!(reports.as_array().expect("items").len(), 1, "{reports}");
    for _ in 0..2 {
        browser.open(&format!("/bikes/{}/swap", yard.overdue)).await;
        browser.tap("#entry button").await;
        browser.arrives(|path| path.contains("done=swap")).await;
    }
    let path = format!("/v1/bikes/{}/swaps", yard.overdue);
    let swaps = server.get(&path).await.expect(200).body["items"].clone();
    assert_eq!(swaps.as_array().expect("items").len(), 1, "{swaps}");
    browser.open(&format!("/chain-length?bike={}", yard.ridden)).await;
    browser.type_into("#stay", "455").await;
    browser.tap("form.narrow button").await;
    browser.says(".to-do", "110 links").await;
    browser.open("/bench").await;
    browser.tap("form[action='/bench/plan'] button").await;
    browser.arrives(|path| path.contains("state=proposed")).await;
    browser.tap("form[action='/bench/accept'] button").await;
    browser.says(".to-do", "Confirmed").await;
}
