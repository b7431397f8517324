//! The bench: worn rings that no day has room for, or of which there are too few, don't keep a chain on.

use chrono::Duration;
use reqwest::Method;
use serde_json::{Value, json};
use wear_tests::{TestStore, WornRings, on_both_stores};

use crate::bench::{assert_within_capacity, labels, plan, planned, with_tag};

on_both_stores!(
    a_worn_ring_that_no_day_has_room_for_waits,
    a_ring_of_which_there_are_too_few_waits,
    who_lacks_more_than_a_ring_waits_with_it,
);

/// The plan of a week.
async fn plan_of(worn: &WornRings) -> Value {
    let last = worn.today + Duration::days(6);
    let plan = plan(&worn.server, &worn.today.to_string(), &last.to_string()).await;
    assert_within_capacity(&plan);
    plan
}

fn visits(plan: &Value) -> Vec<&Value> {
    let days = plan["days"].as_array().into_iter().flatten();
    days.flat_map(|day| day["visits"].as_array().into_iter().flatten()).collect()
}

fn places(visit: &Value) -> Vec<&str> {
    let tasks = visit["tasks"].as_array().into_iter().flatten();
    tasks.filter_map(|task| task["place"].as_str()).collect()
}

/// The planned visits with the ring, and those without whose ring waits for the part.
fn with_ring_and_without(plan: &Value) -> (usize, usize) {
    let all = visits(plan);
    let with = all.iter().filter(|visit| places(visit) == ["chain", "cassette", "ring"]);
    let with = with.filter(|visit| visit["waiting"] == json!([])).count();
    let without = all.iter().filter(|visit| places(visit) == ["chain", "cassette"]);
    let without = without.filter(|visit| {
        let waiting = &visit["waiting"][0];
        let said = visit["tasks"][0]["reason"].as_str().unwrap_or_default();
        waiting["waits_for"] == "part"
            && waiting["task"]["part_model"] == "Ring 42"
            && said.contains("a worn ring waits for its part")
    });
    (with, without.count())
}

async fn a_worn_ring_that_no_day_has_room_for_waits(store: TestStore) {
    let worn = WornRings::on(store, &["041"]).await;
    let roomy = plan_of(&worn).await;
    assert_eq!(with_ring_and_without(&roomy), (1, 0), "{roomy}");
    let week = Some(json!({"week_minutes": [40, 40, 40, 40, 40, 40, 40]}));
    let set = with_tag(&worn.server, Method::PATCH, "/v1/bench-settings", "\"1\"", week).await;
    let _week = set.expect(200);
    let short = plan_of(&worn).await;
    let visit = visits(&short)[0];
    assert_eq!(places(visit), ["chain", "cassette"], "{short}");
    let reason = visit["tasks"][0]["reason"].as_str().unwrap_or_default();
    assert!(reason.contains("a worn ring waits for a day"), "{reason}");
    let waiting = &visit["waiting"][0];
    assert_eq!(
        (&waiting["waits_for"], &waiting["task"]["place"]),
        (&json!("day"), &json!("ring")),
        "{visit}"
    );
    // Nor does the chain wait for a ring that isn't to be had.
    worn.count(&worn.ring, 0).await;
    let missing = plan_of(&worn).await;
    assert_eq!(with_ring_and_without(&missing), (0, 1), "{missing}");
}

async fn a_ring_of_which_there_are_too_few_waits(store: TestStore) {
    let worn = WornRings::on(store, &["041", "042"]).await;
    worn.count(&worn.ring, 1).await;
    let one = plan_of(&worn).await;
    assert_eq!(with_ring_and_without(&one), (1, 1), "{one}");
    assert_eq!((&one["left_out"], &one["short_of"]), (&json!([]), &json!([])), "{one}");
    let without = visits(&one).into_iter().find(|visit| visit["waiting"] != json!([])).expect("one waits");
    assert_eq!(without["minutes"], 20 + 25 - 10, "no minutes are kept for a ring that waits: {without}");
    let label = without["label"].as_str().unwrap_or("?");
    let said =
        format!("A worn ring stays on for now, as its part or a day that is long enough is missing: {label}");
    assert!(one["summary"].as_array().into_iter().flatten().any(|line| *line == said), "{one}");
    // A promise that was made without a ring doesn't wait for it either, once it is on its way.
    let _accepted = worn.server.post("/v1/bench-plan/accept", &json!({"id": one["id"]})).await.expect(200);
    let expected = (worn.today + Duration::days(2)).to_string();
    let delivery = json!({"part_model_id": worn.ring, "count": 1, "expected_on": expected});
    let _under_way = worn.server.post("/v1/deliveries", &delivery).await.expect(201);
    let promised = plan_of(&worn).await;
    assert_eq!((planned(&promised), &promised["moved"]), (planned(&one), &json!([])), "{promised}");
    assert_eq!(with_ring_and_without(&promised), (1, 1), "{promised}");
    worn.count_again(&worn.ring, 2).await;
    let two = plan_of(&worn).await;
    assert_eq!(with_ring_and_without(&two), (2, 0), "{two}");
}

async fn who_lacks_more_than_a_ring_waits_with_it(store: TestStore) {
    let worn = WornRings::on(store, &["041", "042"]).await;
    worn.count(&worn.ring, 1).await;
    worn.count(&worn.chain, 1).await;
    let short = plan_of(&worn).await;
    assert_eq!(with_ring_and_without(&short), (1, 0), "{short}");
    assert_eq!(labels(&short["left_out"]).len(), 1, "{short}");
    let left_out = &short["left_out"][0];
    assert_eq!((places(left_out), &left_out["waiting"]), (vec!["chain", "cassette", "ring"], &json!([])));
    worn.count_again(&worn.chain, 2).await;
    let chains = plan_of(&worn).await;
    assert_eq!(with_ring_and_without(&chains), (1, 1), "{chains}");
}
