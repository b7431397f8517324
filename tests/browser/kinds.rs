//! Kinds of bike, from the empty fleet to the first bike and a change that its bikes take over.

use serde_json::{Value, json};
use wear_api::domain::Role;
use wear_tests::{TestServer, TestStore};

use crate::driver::{Browser, DESK, PLAIN};

async fn only(server: &TestServer, path: &str) -> Value {
    let items = server.get(path).await.expect(200).body["items"].as_array().expect("items").clone();
    let [one] = &items[..] else { panic!("{path}: {items:?}") };
    one.clone()
}

#[tokio::test]
async fn a_kind_is_made_used_and_changed_without_scripts() {
    let server = TestServer::start(TestStore::sqlite().await).await;
    let browser = Browser::signed_in(&server, PLAIN, Role::Manager).await;
    browser.tap(".empty a[href=\"/bike-kinds\"]").await;
    browser.says(".empty", "No kind of bike yet").await;
    browser.type_into("#name", "hire bike").await;
    browser.type_into("#speeds", "8").await;
    browser.type_into("#limit", "7").await;
    browser.tap("form[action=\"/bike-kinds\"] button").await;
    browser.says("#new .wrong", "0.2 to 2").await;
    assert_eq!(browser.value("#speeds").await, "8", "what was typed is kept");
    browser.type_into("#limit", "0,75").await;
    browser.tap("form[action=\"/bike-kinds\"] button").await;
    browser.says(".kept", "The kind is saved").await;
    browser.says(".kinds-of-bike tbody", "8 speeds, typical").await;

    let kind = only(&server, "/v1/bike-kinds").await["id"].as_str().expect("an id").to_owned();
    browser.tap("main a[href=\"/bikes/new\"]").await;
    browser.type_into("#label", "101").await;
    browser.choose("#kind", &kind).await;
    browser.tap("form.narrow button").await;
    browser.says("h1", "Bike 101").await;

    browser.open("/bike-kinds").await;
    browser.says(".kinds-of-bike tbody", "1 bike").await;
    browser.tap(".kinds-of-bike a").await;
    browser.type_into("#limit", "0.5").await;
    browser.tap("form.narrow button").await;
    browser.says("#follow .wrong", "1 bike is of this kind").await;
    browser.tap("#follow input[value=yes]").await;
    browser.tap("form.narrow button").await;
    browser.says(".kept", "The change is saved").await;
    let bike = only(&server, "/v1/bikes").await;
    assert_eq!(bike["drivetrain"]["limit_percent"], json!(0.5));

    browser.open(&format!("/bike-kinds/{kind}")).await;
    browser.tap("#delete summary").await;
    browser.tap("#delete button").await;
    browser.says(".wrong", "1 bike is of this kind. Give it another kind first.").await;
}

#[tokio::test]
async fn a_kind_is_made_with_the_keyboard() {
    let server = TestServer::start(TestStore::sqlite().await).await;
    let browser = Browser::signed_in(&server, DESK, Role::Manager).await;
    browser.open("/bike-kinds").await;
    crate::keyboard::tab_to(&browser, "name").await;
    browser.keys(&["c", "a", "r", "g", "o"]).await;
    crate::keyboard::tab_to(&browser, "speeds").await;
    browser.keys(&["7"]).await;
    crate::keyboard::tab_to(&browser, "Add the kind").await;
    browser.keys(&["Enter"]).await;
    browser.says(".kept", "The kind is saved").await;
    let kind = only(&server, "/v1/bike-kinds").await;
    assert_eq!(
        (&kind["name"], kind["drivetrain"]["cogs"].as_array().map(Vec::len)),
        (&json!("cargo"), Some(7))
    );
}
