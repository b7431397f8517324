//! What riders report, and the steps of a swap with their ticks.

use reqwest::Method;
use serde_json::{Value, json};
use wear_api::domain::Role;
use wear_tests::{TestServer, TestStore, on_both_stores};

on_both_stores!(
    a_skip_is_evidence_until_it_is_voided,
    other_symptoms_come_back_with_leads,
    wrong_reports_are_named,
    a_swap_keeps_its_ticks,
    the_steps_are_those_of_the_bike,
);

async fn ridden(server: &TestServer) -> String {
    let bike = server.bike("041").await;
    for day in 1..=28 {
        let ride = json!({"started_at": format!("2026-10-{day:02}T08:00:00Z"), "distance_km": 160,
            "source": "log", "source_id": format!("r{day}")});
        let _ridden = server.post(&format!("/v1/bikes/{bike}/rides"), &ride).await.expect(201);
    }
    bike
}

fn skips(outlook: &Value) -> f64 {
    outlook["cassette"]["probability_skips"].as_f64().expect("a probability")
}

async fn a_skip_is_evidence_until_it_is_voided(store: TestStore) {
    let server = TestServer::start(store).await;
    let bike = ridden(&server).await;
    let before = server.get(&format!("/v1/bikes/{bike}/outlook")).await.expect(200).body;
    let skip = json!({"reported_at": "2026-11-20T16:00:00Z", "symptom": "skips_under_load", "cog_teeth": 17});
    let symptoms = format!("/v1/bikes/{bike}/symptoms");
    let heard = server.post(&symptoms, &skip).await.expect(201).body;
    assert_eq!(heard["is_evidence"], true);
    assert!(
        skips(&heard["outlook"]) > skips(&before),
        "{} {}",
        heard["outlook"]["cassette"],
        before["cassette"]
    );
    assert!(heard["outlook"]["warnings"].to_string().contains("skip_reported"));
    let again = server.post(&symptoms, &skip).await.expect(200).body;
    assert_eq!(again["symptom"]["id"], heard["symptom"]["id"]);
    assert_eq!(again["outlook"]["cassette"], heard["outlook"]["cassette"]);

    let seen = json!({"reported_at": "2026-11-21T16:00:00Z", "symptom": "skips_under_load", "cog_teeth": 17, "new_chain": true});
    let seen = server.post(&symptoms, &seen).await.expect(201).body;
    assert!(skips(&seen["outlook"]) > skips(&heard["outlook"]));
    let unknown = json!({"symptom": "skips_under_load"});
    let unknown = server.post(&symptoms, &unknown).await.expect(201).body;
    assert_eq!(unknown["is_evidence"], true);
    assert!(skips(&unknown["outlook"]) >= skips(&seen["outlook"]));

    let mut after = Value::Null;
    for document in [&heard, &seen, &unknown] {
        let id = document["symptom"]["id"].as_str().expect("an id");
        let void = server.request(Method::DELETE, &format!("{symptoms}/{id}"));
        let void = void.bearer_auth(server.token_of(Role::Mechanic)).query(&[("reason", "a stiff link")]);
        after = server.send(void).await.expect(200).body;
    }
    assert!((skips(&after) - skips(&before)).abs() < 1e-12);
    let listed = server.get(&symptoms).await.expect(200).body;
    let items = listed["items"].as_array().expect("items");
    assert_eq!(items.len(), 3);
    assert_eq!(items.iter().filter(|item| item["voided_reason"] == "a stiff link").count(), 3);
    let id = heard["symptom"]["id"].as_str().expect("an id");
    let twice = server.request(Method::DELETE, &format!("{symptoms}/{id}?reason=again"));
    let _refused = server.send(twice.bearer_auth(server.token_of(Role::Manager))).await.expect(409);
}

async fn other_symptoms_come_back_with_leads(store: TestStore) {
    let server = TestServer::start(store).await;
    let bike = server.bike("041").await;
    for (symptom, first) in
        [("drops_chain", "end_stops"), ("noisy", "dirty_or_dry"), ("slow_shifts", "cable")]
    {
        let body = json!({"symptom": symptom, "note": "said the rider"});
        let heard = server.post(&format!("/v1/bikes/{bike}/symptoms"), &body).await.expect(201).body;
        assert_eq!(
            (heard["is_evidence"].as_bool(), heard["leads_source"].as_str()),
            (Some(false), Some("common practice"))
        );
        assert_eq!(heard["leads"][0]["cause"], first);
        assert_eq!(heard["symptom"]["reported_at"], "2026-11-25T12:00:00Z");
        assert!(
            heard["leads"]
                .as_array()
                .is_some_and(|leads| leads.iter().any(|lead| lead["caution"].is_string()))
        );
    }
}

async fn wrong_reports_are_named(store: TestStore) {
    let server = TestServer::start(store).await;
    let bike = server.bike("041").await;
    for (body, pointer) in [
        (json!({"symptom": "squeaks"}), "/symptom"),
        (json!({"symptom": "noisy", "cog_teeth": 13}), "/cog_teeth"),
        (json!({"symptom": "noisy", "new_chain": true}), "/new_chain"),
        (json!({"symptom": "skips_under_load", "cog_teeth": 12}), "/cog_teeth"),
        (json!({"symptom": "skips_under_load", "cog_teeth": 8}), "/cog_teeth"),
        (json!({"symptom": "noisy", "reported_at": "2026-12-25T12:00:00Z"}), "/reported_at"),
        (json!({"symptom": "noisy", "note": ""}), "/note"),
    ] {
        let answer = server.post(&format!("/v1/bikes/{bike}/symptoms"), &body).await.expect(422);
        assert_eq!(answer.pointers(), [pointer], "{body}");
    }
    assert_eq!(server.get(&format!("/v1/bikes/{bike}/symptoms")).await.expect(200).body["items"], json!([]));
}

async fn a_swap_keeps_its_ticks(store: TestStore) {
    let server = TestServer::start(store).await;
    let bike = server.bike("041").await;
    let swaps = format!("/v1/bikes/{bike}/swaps");
    let steps = server.get(&format!("/v1/bikes/{bike}/swap-procedure?place=chain")).await.expect(200).body;
    let checks: Vec<&str> = steps["steps"]
        .as_array()
        .into_iter()
        .flatten()
        .filter(|step| step["check"] == true)
        .filter_map(|step| step["id"].as_str())
        .collect();
    assert!(checks.contains(&"link_seated") && checks.contains(&"end_stops"), "{checks:?}");
    let body = json!({"swapped_at": "2026-06-01T16:00:00Z", "place": "chain", "checklist": checks});
    let swap = server.post(&swaps, &body).await.expect(201).body;
    assert_eq!(swap["checklist"], json!(checks));
    let plain = json!({"swapped_at": "2026-07-01T16:00:00Z", "place": "chain"});
    assert_eq!(server.post(&swaps, &plain).await.expect(201).body["checklist"], Value::Null);
    let listed = server.get(&swaps).await.expect(200).body;
    assert_eq!(listed["items"][1]["checklist"], json!(checks));
    let wrong =
        json!({"swapped_at": "2026-08-01T16:00:00Z", "place": "chain", "checklist": ["stand", "tea"]});
    assert_eq!(server.post(&swaps, &wrong).await.expect(422).pointers(), ["/checklist/1"]);
}

async fn the_steps_are_those_of_the_bike(store: TestStore) {
    let server = TestServer::start(store).await;
    let ids = |steps: &Value| -> Vec<String> {
        let steps = steps["steps"].as_array().expect("steps");
        steps.iter().filter_map(|step| step["id"].as_str()).map(str::to_owned).collect()
    };
    let bike = server.bike("041").await;
    let path = format!("/v1/bikes/{bike}/swap-procedure");
    let cassette = server.get(&format!("{path}?place=cassette&shifting=electronic")).await.expect(200).body;
    assert_eq!(
        cassette["bike"],
        json!({"gearing": "derailleur", "cogs": "one_piece", "shifting": "electronic", "motor": false})
    );
    for id in ["battery", "lock_ring_on", "end_stops", "cog_clearance", "indexing", "first_ride"] {
        assert!(ids(&cassette).iter().any(|step| step == id), "{id}");
    }
    let lock_ring =
        cassette["steps"].as_array().into_iter().flatten().find(|step| step["id"] == "lock_ring_on");
    assert_eq!(lock_ring.expect("the step")["torque"], "from the maker");
    let hub = json!({"label": "042", "group": "hub", "use": "e_bike", "fitted_on": "2026-01-01",
        "drivetrain": {"rings": [42], "cogs": [18], "links": 104, "gearing": "hub_gear"}});
    let hub = server.post("/v1/bikes", &hub).await.expect(201).id();
    let chain = server.get(&format!("/v1/bikes/{hub}/swap-procedure?place=chain")).await.expect(200).body;
    assert_eq!(ids(&chain)[0], "motor_off");
    assert!(ids(&chain).contains(&"slack_set".to_owned()) && !ids(&chain).contains(&"end_stops".to_owned()));
    let wrong = server.get(&format!("{path}?place=fork")).await.expect(400);
    assert_eq!(wrong.body["errors"][0]["parameter"], "place");
}
