//! Odometer, declared use and how far care is told, on a bike's page, when measuring and in the settings.

use serde_json::{Value, json};
use wear_api::domain::Role;
use wear_tests::{TestServer, TestStore};

use crate::driver::{Browser, DESK, PHONE, PLAIN};
use crate::yard::yard;

async fn listed(server: &TestServer, path: &str) -> Vec<Value> {
    server.get(path).await.expect(200).body["items"].as_array().expect("items").clone()
}

#[tokio::test]
async fn an_odometer_is_read_with_the_chain() {
    let server = TestServer::start(TestStore::sqlite().await).await;
    let yard = yard(&server).await;
    let browser = Browser::signed_in(&server, PHONE, Role::Mechanic).await;
    browser.open(&format!("/bikes/{}/measure", yard.fresh)).await;
    browser.tap("#way-drop_in summary").await;
    browser.type_into("#odometer-drop_in", "many").await;
    browser.tap("#way-drop_in button[value=\"0.5 out\"]").await;
    browser.says("#error-drop_in", "1,000,000 km").await;
    browser.type_into("#odometer-drop_in", "1204.5").await;
    browser.tap("#way-drop_in button[value=\"0.5 out\"]").await;
    browser.arrives(|path| path.contains("/readings/")).await;
    let odometer = format!("/v1/bikes/{}/odometer", yard.fresh);
    let shown = listed(&server, &odometer).await;
    assert_eq!((shown.len(), &shown[0]["km"]), (1, &json!(1204.5)));
    assert!(shown[0]["reading_id"].is_string());
}

#[tokio::test]
async fn use_is_declared_and_care_is_set() {
    let server = TestServer::start(TestStore::sqlite().await).await;
    let yard = yard(&server).await;
    let browser = Browser::signed_in(&server, DESK, Role::Manager).await;
    browser.open(&format!("/bikes/{}", yard.fresh)).await;
    browser.type_into("input[name=per_week]", "60").await;
    browser.tap("form[action*=\"/declared-use#\"] button").await;
    browser.says("section[aria-labelledby=riding] .fitted", "about 60 km a week").await;
    let declared = listed(&server, &format!("/v1/bikes/{}/declared-use", yard.fresh)).await;
    assert_eq!((&declared[0]["km_per_week"], &declared[0]["from"]), (&json!(60.0), &Value::Null));

    browser.choose("select[name=care]", "every_km").await;
    browser.type_into("input[name=care_every]", "5").await;
    browser.tap("form[action*=\"/care-setting#\"] button").await;
    browser.says("section[aria-labelledby=riding] .wrong", "10 to 10,000 km").await;
    browser.choose("select[name=care]", "every_km").await;
    browser.type_into("input[name=care_every]", "300").await;
    browser.tap("form[action*=\"/care-setting#\"] button").await;
    browser.arrives(|path| path.ends_with("#riding") && !path.contains("care-setting")).await;
    let bike = server.get(&format!("/v1/bikes/{}", yard.fresh)).await.expect(200).body;
    assert_eq!(bike["care"], json!({"state": "routine", "every_km": 300}));

    browser.open("/settings").await;
    browser.choose("#care", "recorded").await;
    browser.tap("form[action=\"/settings\"] button").await;
    browser.says(".kept", "Saved").await;
    let workshop = server.get("/v1/workshop").await.expect(200).body;
    assert_eq!(workshop["care"], json!({"state": "recorded"}));
}

/// A statement is entered on the bike's page with a thumb, stands in its history, and is marked as wrong there.
#[tokio::test]
async fn an_odometer_is_stated_and_voided_on_a_phone() {
    let server = TestServer::start(TestStore::sqlite().await).await;
    let yard = yard(&server).await;
    let browser = Browser::signed_in(&server, PHONE, Role::Mechanic).await;
    for bike in [&yard.ridden, &yard.fresh] {
        browser.open(&format!("/bikes/{bike}")).await;
        browser.type_into("form[action*=\"/odometer#riding\"] input[name=odometer]", "2310").await;
        browser.tap("form[action*=\"/odometer#riding\"] button").await;
        browser.says("section[aria-labelledby=history] tbody", "2,310 km").await;
        let odometer = format!("/v1/bikes/{bike}/odometer");
        assert_eq!(listed(&server, &odometer).await.len(), 1);

        let form = "details:has(form[action*=\"/odometer/\"])";
        browser.tap(&format!("{form} summary")).await;
        browser.type_into(&format!("{form} input[name=reason]"), "of another bike").await;
        browser.tap(&format!("{form} button")).await;
        browser.says("section[aria-labelledby=history] tr.void", "of another bike").await;
        let stated = &listed(&server, &odometer).await[0];
        assert!(stated["voided_at"].is_string() || stated["voided"].is_object(), "{stated}");
    }
}

#[tokio::test]
async fn a_wrong_odometer_is_said_where_it_was_typed() {
    let server = TestServer::start(TestStore::sqlite().await).await;
    let yard = yard(&server).await;
    for start in [PHONE, PLAIN] {
        let browser = Browser::signed_in(&server, start, Role::Mechanic).await;
        browser.open(&format!("/bikes/{}", yard.ridden)).await;
        browser.type_into("form[action*=\"/odometer\"] input[name=odometer]", "12000000").await;
        browser.tap("form[action*=\"/odometer#riding\"] button").await;
        browser.says("section[aria-labelledby=riding] .wrong", "0 to 1,000,000 km").await;
        assert_eq!(browser.value("input[name=odometer]").await, "12000000");
        let top = browser.run("return document.querySelector('#riding').getBoundingClientRect().top").await;
        assert!(
            top.as_f64().is_some_and(|top| (-1.0..844.0).contains(&top)),
            "the error is out of sight: {top}"
        );
    }
}
