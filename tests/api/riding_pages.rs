//! What pages ask about riding: the odometer with swaps and care, and how far a bike or each bike of a group goes.

use serde_json::{Value, json};
use wear_api::domain::Role;
use wear_tests::{TestServer, TestStore, on_both_stores};

use crate::visitor::Visitor;

on_both_stores!(
    an_odometer_is_read_with_swap_and_care,
    what_was_typed_stays_when_it_is_not_taken,
    a_groups_use_is_declared_and_taken_back,
    a_read_chain_of_unknown_riding_says_kilometres_and_the_step_to_a_date,
    a_routine_is_typed_in_the_workshops_unit,
);

async fn listed(server: &TestServer, path: &str) -> Vec<Value> {
    server.get(path).await.expect(200).body["items"].as_array().expect("items").clone()
}

async fn an_odometer_is_read_with_swap_and_care(store: TestStore) {
    let server = TestServer::start(store).await;
    let bike = server.bike("7").await;
    let mechanic = Visitor::of(&server, Role::Mechanic, "en").await;
    let care = [("kind", "cleaned"), ("odometer", "812,5")];
    assert_eq!(mechanic.send(&format!("/bikes/{bike}/care"), &care).await.0, 303);
    let swap = [("place", "chain 0"), ("at", "2026-11-24T09:00"), ("odometer", "790")];
    assert_eq!(mechanic.send(&format!("/bikes/{bike}/swap"), &swap).await.0, 303);
    let mut shown = listed(&server, &format!("/v1/bikes/{bike}/odometer")).await;
    shown.sort_by_key(|it| it["km"].to_string());
    let told: Vec<_> =
        shown.iter().map(|it| (&it["km"], it["swap_id"].is_string(), it["care_id"].is_string())).collect();
    assert_eq!(told, [(&json!(790.0), true, false), (&json!(812.5), false, true)]);
}

async fn what_was_typed_stays_when_it_is_not_taken(store: TestStore) {
    let server = TestServer::start(store).await;
    let bike = server.bike("7").await;
    let mechanic = Visitor::of(&server, Role::Mechanic, "en").await;
    for (path, fields) in [
        ("care", &[("kind", "cleaned"), ("odometer", "lots"), ("note", "wet")][..]),
        ("swap", &[("place", "chain 0"), ("odometer", "1000001"), ("note", "wet")]),
        ("odometer", &[("odometer", "-3")]),
        ("declared-use", &[("per_week", "60"), ("from", "2026-11-20"), ("until", "2026-11-10")]),
        ("care-setting", &[("care", "every_weeks"), ("care_every", "105"), ("revision", "1")]),
        ("start", &[("fitted_on", "2026-13-01"), ("chain_km", "many")]),
    ] {
        let (status, page) = mechanic.send(&format!("/bikes/{bike}/{path}"), fields).await;
        assert_eq!(status, 422, "{path}");
        assert!(page.contains("role=\"alert\""), "{path}: {page}");
        for (name, typed) in
            fields.iter().filter(|(name, _)| !["kind", "place", "care", "revision"].contains(name))
        {
            let kept = page.contains(&format!("value=\"{typed}\""))
                || page.contains(&format!(">{typed}</textarea>"));
            assert!(kept, "{path}: {name} is gone: {page}");
        }
    }
    assert!(listed(&server, &format!("/v1/bikes/{bike}/odometer")).await.is_empty());
    assert!(listed(&server, &format!("/v1/bikes/{bike}/care")).await.is_empty());

    let some_weeks = [("per_week", "60"), ("from", "2026-11-02"), ("until", "2026-12-31")];
    assert_eq!(mechanic.send(&format!("/bikes/{bike}/declared-use"), &some_weeks).await.0, 303);
    let declared = listed(&server, &format!("/v1/bikes/{bike}/declared-use")).await;
    assert_eq!((&declared[0]["from"], &declared[0]["until"]), (&json!("2026-11-02"), &json!("2026-12-31")));
    let page = mechanic.get(&format!("/bikes/{bike}")).await.1.replace('\u{a0}', " ");
    assert!(page.contains("about 60 km a week from 2 Nov 2026 to 31 Dec 2026"), "{page}");
}

async fn a_groups_use_is_declared_and_taken_back(store: TestStore) {
    let server = TestServer::start(store).await;
    let group = {
        let bike = server.bike("7").await;
        server.get(&format!("/v1/bikes/{bike}")).await.expect(200).body["group"]
            .as_str()
            .expect("one")
            .to_owned()
    };
    let mechanic = Visitor::of(&server, Role::Mechanic, "en").await;
    let (_, page) = mechanic.get("/groups").await;
    assert!(page.contains(&group) && page.contains("1 bike") && page.contains("nothing declared"), "{page}");
    let wrong = [("group", group.as_str()), ("per_week", "far"), ("from", "2026-11-01")];
    let (status, page) = mechanic.send("/groups/declared-use", &wrong).await;
    assert_eq!(status, 422);
    assert!(page.contains("value=\"far\"") && page.contains("value=\"2026-11-01\""), "{page}");
    assert!(page.contains("Use is 0 to 10,000 km a week.") || page.contains("km a week."), "{page}");
    let right = [("group", group.as_str()), ("per_week", "80"), ("from", "2026-11-01")];
    assert_eq!(mechanic.send("/groups/declared-use", &right).await.0, 303);
    let declared = listed(&server, "/v1/declared-use").await;
    assert_eq!(
        (&declared[0]["group"], &declared[0]["km_per_week"], &declared[0]["from"]),
        (&json!(group), &json!(80.0), &json!("2026-11-01"))
    );
    let page = mechanic.get("/groups").await.1.replace('\u{a0}', " ");
    assert!(page.contains("about 80 km a week from 1 Nov 2026"), "{page}");
    let remove = format!("/groups/declared-use/{}/remove", declared[0]["id"].as_str().expect("an id"));
    assert_eq!(mechanic.send(&remove, &[]).await.0, 303);
    assert_eq!(mechanic.send(&remove, &[]).await.0, 303, "twice is once");
    assert!(listed(&server, "/v1/declared-use").await.is_empty());
}

async fn a_read_chain_of_unknown_riding_says_kilometres_and_the_step_to_a_date(store: TestStore) {
    let server = TestServer::start(store).await;
    let bike = server.post("/v1/bikes", &json!({"label": "7"})).await.expect(201).id();
    let (mechanic, german) =
        (Visitor::of(&server, Role::Mechanic, "en").await, Visitor::of(&server, Role::Mechanic, "de").await);
    let read = [("way", "rule_percent"), ("value", "0.2")];
    assert_eq!(mechanic.send(&format!("/bikes/{bike}/measure"), &read).await.0, 303);
    let reading = listed(&server, &format!("/v1/bikes/{bike}/readings")).await[0]["id"].clone();
    let path = format!("/bikes/{bike}/readings/{}", reading.as_str().expect("an id"));
    let page = mechanic.get(&path).await.1.replace('\u{a0}', " ");
    assert!(page.contains("going by what the bike is used for") && page.contains(" km left"), "{page}");
    assert!(page.contains(&format!("href=\"/bikes/{bike}#riding\">Say how far it is ridden")), "{page}");
    assert!(german.get(&path).await.1.contains("Niemand hat angegeben, wie weit es fährt"));
    // Once it is said there is a date, and the step is gone.
    assert_eq!(mechanic.send(&format!("/bikes/{bike}/declared-use"), &[("per_week", "60")]).await.0, 303);
    let page = mechanic.get(&path).await.1.replace('\u{a0}', " ");
    assert!(page.contains("until about") && !page.contains("Say how far it is ridden"), "{page}");
}

async fn a_routine_is_typed_in_the_workshops_unit(store: TestStore) {
    let server = TestServer::start(store).await;
    let bike = server.bike("7").await;
    let manager = server.token_of(Role::Manager);
    let tag = server.get("/v1/workshop").await.header("etag").to_owned();
    let miles = server.request(reqwest::Method::PATCH, "/v1/workshop").bearer_auth(manager);
    server.send(miles.header("If-Match", tag).json(&json!({"units_shown": "miles"}))).await.check(200);
    let mechanic = Visitor::of(&server, Role::Mechanic, "en").await;
    let path = format!("/bikes/{bike}/care-setting");
    let stored = async || server.get(&format!("/v1/bikes/{bike}")).await.expect(200).body["care"].clone();
    let set = |every, revision| [("care", "every_km"), ("care_every", every), ("revision", revision)];
    assert_eq!(mechanic.send(&path, &set("200", "1")).await.0, 303);
    assert_eq!(stored().await, json!({"state": "routine", "every_km": 322}));
    let page = mechanic.get(&format!("/bikes/{bike}")).await.1;
    assert!(page.contains("every so many miles") && page.contains("value=\"200\""), "{page}");
    assert_eq!(mechanic.send(&path, &set("200", "2")).await.0, 303);
    assert_eq!(stored().await, json!({"state": "routine", "every_km": 322}));
    let (status, page) = mechanic.send(&path, &set("5", "3")).await;
    assert_eq!(status, 422);
    assert!(page.contains("6 to 6,214 miles or 1 to 104 weeks"), "{page}");
}
