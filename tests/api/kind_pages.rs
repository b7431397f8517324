//! The page of kinds of bike over plain HTTP: what it refuses, and how it says so.

use serde_json::{Value, json};
use wear_api::domain::Role;
use wear_tests::{TestServer, TestStore, on_both_stores};

use crate::visitor::Visitor;

on_both_stores!(
    a_kind_is_made_and_changed_by_forms,
    a_change_asks_whether_bikes_follow,
    a_kind_with_bikes_is_not_deleted,
    only_managers_change_kinds,
);

async fn kinds(server: &TestServer) -> Vec<Value> {
    server.get("/v1/bike-kinds").await.expect(200).body["items"].as_array().expect("items").clone()
}

async fn kind_with_bikes(server: &TestServer, bikes: &[&str]) -> String {
    let manager = server.token_of(Role::Manager);
    let body = json!({"name": "hire bike", "drivetrain": {"speeds": 8}, "limit_percent": 0.75});
    let request = server.request(reqwest::Method::POST, "/v1/bike-kinds").bearer_auth(manager);
    let kind = server.send(request.json(&body)).await.expect(201).id();
    for label in bikes {
        server.post("/v1/bikes", &json!({"label": label, "kind": "hire bike"})).await.check(201);
    }
    kind
}

async fn a_kind_is_made_and_changed_by_forms(store: TestStore) {
    let server = TestServer::start(store).await;
    let manager = Visitor::of(&server, Role::Manager, "en").await;
    let new = [("name", "cargo"), ("use", "cargo"), ("cogs", "11 13 15"), ("limit", "0,625")];
    let (status, page) = manager.send("/bike-kinds", &new).await;
    assert_eq!(status, 422, "{page}");
    assert!(page.contains("value=\"11 13 15\"") && page.contains("value=\"0,625\""), "typed values stay");
    let whole = [&new[..], &[("rings", "42"), ("links", "114")]].concat();
    assert_eq!(manager.send("/bike-kinds", &whole).await.0, 303);
    let made = kinds(&server).await[0].clone();
    assert_eq!(
        (&made["use"], &made["drivetrain"]["cogs"], &made["limit_percent"]),
        (&json!("cargo"), &json!([11, 13, 15]), &json!(0.625))
    );
    let (_, list) = manager.get("/bike-kinds").await;
    assert!(list.contains("Ring 42, cogs 11 13 15, 114 links") && list.contains("no bikes"), "{list}");

    // A form that is sent as it was shown changes nothing, not even by rounding.
    let path = format!("/bike-kinds/{}", made["id"].as_str().expect("an id"));
    let shown = [
        ("revision", "1"),
        ("name", "Cargo bike"),
        ("use", "cargo"),
        ("rings", "42"),
        ("cogs", "11 13 15"),
        ("links", "114"),
        ("gearing", "derailleur"),
        ("limit", "0.62"),
    ];
    let (_, form) = manager.get(&path).await;
    assert!(form.contains("value=\"0.62\"") && form.contains("value=\"42\""), "{form}");
    assert_eq!(manager.send(&path, &shown).await.0, 303);
    let changed = kinds(&server).await[0].clone();
    assert_eq!((&changed["name"], &changed["limit_percent"]), (&json!("Cargo bike"), &json!(0.625)));
    assert_eq!(changed["drivetrain"], made["drivetrain"]);
    // Someone else's change in between is not overwritten.
    assert_eq!(manager.send(&path, &shown).await.0, 409);
}

async fn a_change_asks_whether_bikes_follow(store: TestStore) {
    let server = TestServer::start(store).await;
    let kind = kind_with_bikes(&server, &["1"]).await;
    let path = format!("/bike-kinds/{kind}");
    let stricter =
        [("revision", "1"), ("name", "hire bike"), ("use", "town"), ("speeds", "8"), ("limit", "0.5")];
    let (english, german) =
        (Visitor::of(&server, Role::Manager, "en").await, Visitor::of(&server, Role::Manager, "de").await);
    for (visitor, says) in [(&english, "1 bike is of this kind"), (&german, "1 Rad ist von diesem Typ")] {
        let (_, form) = visitor.get(&path).await;
        assert!(!form.contains("checked"), "neither is chosen beforehand");
        let (status, page) = visitor.send(&path, &stricter).await;
        let fieldset =
            page.split("<fieldset id=\"follow\"").nth(1).and_then(|it| it.split("</fieldset>").next());
        assert_eq!(status, 422, "{page}");
        assert!(fieldset.is_some_and(|it| it.contains(says) && it.contains("role=\"alert\"")), "{page}");
    }
    server.post("/v1/bikes", &json!({"label": "2", "kind": "hire bike"})).await.check(201);
    let page = english.send(&path, &stricter).await.1;
    assert!(page.contains("2 bikes are of this kind"), "{page}");
    assert!(page.contains("value=\"0.5\""), "what was typed stays");

    let yes = [&stricter[..], &[("follow", "yes")]].concat();
    assert_eq!(english.send(&path, &yes).await.0, 303);
    let bikes = server.get("/v1/bikes").await.expect(200).body["items"].clone();
    let limits: Vec<_> =
        bikes.as_array().expect("bikes").iter().map(|it| &it["drivetrain"]["limit_percent"]).collect();
    assert_eq!(limits, [&json!(0.5), &json!(0.5)]);
    // A name is for new bikes only; nothing is asked.
    let name = [("revision", "2"), ("name", "rental"), ("use", "town"), ("speeds", "8"), ("limit", "0.50")];
    assert_eq!(english.send(&path, &name).await.0, 303);
    let no = [
        ("revision", "3"),
        ("name", "rental"),
        ("use", "town"),
        ("speeds", "9"),
        ("limit", "0.50"),
        ("follow", "no"),
    ];
    assert_eq!(english.send(&path, &no).await.0, 303);
    let bike = server.get("/v1/bikes").await.expect(200).body["items"][0].clone();
    assert_eq!(bike["drivetrain"]["cogs"].as_array().map(Vec::len), Some(8));
    assert_eq!(kinds(&server).await[0]["drivetrain"]["cogs"].as_array().map(Vec::len), Some(9));
}

async fn a_kind_with_bikes_is_not_deleted(store: TestStore) {
    let server = TestServer::start(store).await;
    let kind = kind_with_bikes(&server, &["1"]).await;
    let path = format!("/bike-kinds/{kind}/delete");
    let (english, german) =
        (Visitor::of(&server, Role::Manager, "en").await, Visitor::of(&server, Role::Manager, "de").await);
    let now = [("revision", "1")];
    let (status, page) = english.send(&path, &now).await;
    assert_eq!(status, 422);
    assert!(page.contains("1 bike is of this kind. Give it another kind first."), "{page}");
    let page = german.send(&path, &now).await.1;
    assert!(page.contains("1 Rad ist von diesem Typ. Gib ihm zuerst einen anderen."), "{page}");
    server.post("/v1/bikes", &json!({"label": "2", "kind": "hire bike"})).await.check(201);
    let page = english.send(&path, &now).await.1;
    assert!(page.contains("2 bikes are of this kind. Give them another kind first."), "{page}");
    let page = german.send(&path, &now).await.1;
    assert!(page.contains("2 Räder sind von diesem Typ. Gib ihnen zuerst einen anderen."), "{page}");
    assert_eq!(kinds(&server).await.len(), 1);

    assert_eq!(english.send("/bike-kinds", &[("name", "other"), ("use", "town")]).await.0, 303);
    let other = kinds(&server).await[1]["id"].as_str().expect("an id").to_owned();
    assert_eq!(english.send(&format!("/bike-kinds/{other}/delete"), &now).await.0, 303);
    assert_eq!(kinds(&server).await.len(), 1);
    assert_eq!(english.get(&format!("/bike-kinds/{other}")).await.0, 404);
}

async fn only_managers_change_kinds(store: TestStore) {
    let server = TestServer::start(store).await;
    let kind = kind_with_bikes(&server, &[]).await;
    let mechanic = Visitor::of(&server, Role::Mechanic, "en").await;
    let (status, page) = mechanic.get("/bike-kinds").await;
    assert!(status == 200 && page.contains("hire bike") && page.contains("8 speeds, typical"), "{page}");
    assert!(!page.contains("<form class=\"narrow\""), "nothing to fill in");
    assert_eq!(mechanic.get(&format!("/bike-kinds/{kind}")).await.0, 403);
    assert_eq!(mechanic.send("/bike-kinds", &[("name", "mine"), ("use", "town")]).await.0, 403);
    assert_eq!(mechanic.send(&format!("/bike-kinds/{kind}/delete"), &[("revision", "1")]).await.0, 403);
    assert_eq!(kinds(&server).await.len(), 1);
}
