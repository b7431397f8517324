//! Cassettes that hold, skip and come off: what is told of a bike, and what the fleet learns.

use reqwest::Method;
use serde_json::{Value, json};
use wear_api::domain::Role;
use wear_tests::{TestServer, TestStore, on_both_stores};

use super::visitor::Visitor;

on_both_stores!(
    a_reason_is_of_a_cassette_a_cog_or_a_ring,
    the_page_asks_why_a_cassette_came_off,
    a_new_chain_on_a_worn_cassette_is_not_ride_on,
    the_fleet_learns_what_cassettes_bear,
);

/// Rides of 160 km on so many days from one on.
async fn ride(server: &TestServer, bike: &str, (month, first): (u32, u32), days: u32) {
    let rides: Vec<Value> = (first..first + days)
        .map(|day| {
            let (month, day) = (month + (day - 1) / 28, (day - 1) % 28 + 1);
            json!({"bike_id": bike, "started_at": format!("2026-{month:02}-{day:02}T08:00:00Z"),
                "distance_km": 160, "source": "log", "source_id": format!("{bike}-{month}-{day}")})
        })
        .collect();
    server.post("/v1/rides", &json!({"rides": rides})).await.check(200);
}

async fn swap(server: &TestServer, bike: &str, swap: Value) -> Value {
    server.post(&format!("/v1/bikes/{bike}/swaps"), &swap).await.expect(201).body
}

async fn new_chain(server: &TestServer, bike: &str, at: &str) {
    let reading = json!({"instrument": "dial", "percent": 0.74});
    let _swapped = swap(server, bike, json!({"swapped_at": at, "place": "chain", "reading": reading})).await;
}

/// Three chains to 0.74 % on one cassette; the third came off on 10 August.
async fn with_three_chains(server: &TestServer, label: &str) -> String {
    let bike = server.bike(label).await;
    ride(server, &bike, (1, 2), 24).await;
    new_chain(server, &bike, "2026-03-15T16:00:00Z").await;
    ride(server, &bike, (4, 1), 24).await;
    new_chain(server, &bike, "2026-05-30T16:00:00Z").await;
    ride(server, &bike, (6, 1), 24).await;
    new_chain(server, &bike, "2026-08-10T16:00:00Z").await;
    bike
}

async fn outlook(server: &TestServer, bike: &str) -> Value {
    server.get(&format!("/v1/bikes/{bike}/outlook")).await.expect(200).body
}

async fn a_reason_is_of_a_cassette_a_cog_or_a_ring(store: TestStore) {
    let server = TestServer::start(store).await;
    let bike = server.bike("041").await;
    let of = |place: &str, reason: &str| json!({"swapped_at": "2026-06-01T16:00:00Z", "place": place, "reason": reason});
    let path = format!("/v1/bikes/{bike}/swaps");
    for wrong in [of("chain", "worn"), of("cassette", "ugly"), of("jockey_wheels", "worn")] {
        assert_eq!(server.post(&path, &wrong).await.expect(422).pointers(), ["/reason"], "{wrong}");
    }
    assert_eq!(swap(&server, &bike, of("cassette", "skips")).await["reason"], "skips");
    assert_eq!(swap(&server, &bike, of("ring", "worn")).await["reason"], "worn");
    let listed = server.get(&path).await.expect(200).body["items"].clone();
    assert!(listed.as_array().expect("swaps").iter().all(|swap| !swap["reason"].is_null()), "{listed}");

    let manager =
        |method, path: &str| server.request(method, path).bearer_auth(server.token_of(Role::Manager));
    let table = manager(Method::GET, "/v1/exports/swaps").send().await.expect("an answer");
    let table = table.text().await.expect("a table");
    assert!(table.lines().next().is_some_and(|header| header.ends_with(r#","reason""#)), "{table}");
    assert_eq!(table.matches(r#","skips""#).count() + table.matches(r#","worn""#).count(), 2, "{table}");
    let import = |table: &str| {
        let request = manager(Method::POST, "/v1/imports/swaps").header("content-type", "text/csv");
        server.send(request.body(table.to_owned()))
    };
    import(&table).await.check(200);
    let line =
        |place: &str| format!("bike,swapped_at,place,reason\n041,2026-07-01T16:00:00Z,{place},damaged\n");
    let refused = import(&line("chain")).await.expect(422);
    assert!(refused.body.to_string().contains("reason"), "{}", refused.body);
    import(&line("cassette")).await.check(200);
    let listed = server.get(&path).await.expect(200).body["items"].clone();
    assert_eq!(listed[0]["reason"], "damaged");
}

async fn the_page_asks_why_a_cassette_came_off(store: TestStore) {
    let server = TestServer::start(store).await;
    let bike = server.bike("041").await;
    let visitor = Visitor::of(&server, Role::Mechanic, "en").await;
    let page = visitor.get(&format!("/bikes/{bike}/swap?of=cassette")).await.1;
    assert!(
        page.contains("Why the old cassette or ring came off") && page.contains("it skipped under load"),
        "{page}"
    );
    let of_chain = visitor.get(&format!("/bikes/{bike}/swap?of=chain")).await.1;
    assert!(of_chain.contains(r#"name="reason""#), "the cassette can go with the chain");
    let fields = [("place", "cassette 0"), ("at", "2026-06-01T16:00"), ("reason", "skips")];
    let _done = visitor.send(&format!("/bikes/{bike}/swap?of=cassette"), &fields).await;
    let listed = server.get(&format!("/v1/bikes/{bike}/swaps")).await.expect(200).body["items"].clone();
    assert_eq!(listed[0]["reason"], "skips", "{listed}");
}

async fn a_new_chain_on_a_worn_cassette_is_not_ride_on(store: TestStore) {
    let server = TestServer::start(store).await;
    let bike = with_three_chains(&server, "041").await;
    let fresh = outlook(&server, &bike).await;
    assert_eq!((&fresh["advice"], &fresh["reason_code"]), (&json!("hold"), &json!("cassette_untried")));
    assert!(fresh["reason"].as_str().is_some_and(|reason| reason.contains("cassette")), "{fresh}");
    assert!(fresh["cassette"]["said"].as_str().is_some_and(|said| said.contains("next chain")));
    assert_eq!(fresh["basis"]["cassette"], json!({"learned": false, "chains_held": 2, "skips_reported": 0}));
    let visitor = Visitor::of(&server, Role::Mechanic, "en").await;
    let page = visitor.get(&format!("/bikes/{bike}")).await.1;
    assert!(page.contains("New chain on a worn cassette"), "{page}");
    assert!(page.contains("2 new chains have held on it so far"), "{page}");
    // Ridden 160 km without a word it has held.
    ride(&server, &bike, (8, 12), 1).await;
    let held = outlook(&server, &bike).await;
    assert_ne!(held["advice"], "hold", "{held}");
    assert_eq!(held["basis"]["cassette"]["chains_held"], 3);
    let skips = |outlook: &Value| outlook["cassette"]["probability_skips"].as_f64().expect("a probability");
    assert!(skips(&held) < 0.6 * skips(&fresh));
    // A report of those days says that it had not.
    let report = json!({"symptom": "skips_under_load", "reported_at": "2026-08-12T12:00:00Z"});
    let heard = server.post(&format!("/v1/bikes/{bike}/symptoms"), &report).await.expect(201).body;
    assert_eq!(heard["outlook"]["reason_code"], "cassette_skips", "{heard}");
    assert_eq!(heard["outlook"]["basis"]["cassette"]["skips_reported"], 1);
    // A new cassette ends it.
    let _swapped = swap(
        &server,
        &bike,
        json!({"swapped_at": "2026-08-13T12:00:00Z", "place": "cassette", "reason": "skips"}),
    )
    .await;
    let mended = outlook(&server, &bike).await;
    assert_ne!(mended["advice"], "hold");
    assert!(skips(&mended) < 0.01, "{mended}");
}

async fn the_fleet_learns_what_cassettes_bear(store: TestStore) {
    let server = TestServer::start(store).await;
    let assumed = server.get("/v1/calibration").await.expect(200).body["cassettes"].clone();
    assert_eq!((&assumed["learned"], &assumed["sigma"]), (&json!(false), &json!(0.6)));
    let mut bikes = Vec::new();
    for number in 0..6 {
        let bike = with_three_chains(&server, &format!("{number:03}")).await;
        // Two cassettes skip with the fourth chain and are replaced before it has gone far, one is swapped for a better one.
        let reason = match number {
            0 | 1 => Some("skips"),
            2 => Some("upgrade"),
            _ => None,
        };
        if let Some(reason) = reason {
            let swapped =
                json!({"swapped_at": "2026-08-11T16:00:00Z", "place": "cassette", "reason": reason});
            let _swapped = swap(&server, &bike, swapped).await;
        }
        ride(&server, &bike, (8, 13), 2).await;
        bikes.push(bike);
    }
    let before = outlook(&server, &bikes[5]).await;
    server.settle().await;
    server.post("/v1/calibration", &Value::Null).await.check(202);
    let learned = once_learned(&server).await;
    // Each second and third chain held, and the fourth on the three cassettes that stayed.
    assert_eq!((&learned["tests_held"], &learned["used_up"]), (&json!(15), &json!(2)), "{learned}");
    let number = |of: &str| learned[of].as_f64().expect("a number");
    assert!((0.5..3.0).contains(&number("median_damage")) && (0.2..1.0).contains(&number("sigma")));
    assert!((0.05..0.5).contains(&number("median_ln_sd")), "{learned}");
    assert!(learned["said"].as_str().is_some_and(|said| said.starts_with("Your cassettes bear ")));
    let after = outlook(&server, &bikes[5]).await;
    assert_eq!(after["basis"]["cassette"], json!({"learned": true, "chains_held": 3, "skips_reported": 0}));
    assert_ne!(after["cassette"], before["cassette"]);
    // The same events teach the same.
    server.post("/v1/calibration", &Value::Null).await.check(202);
    server.settle().await;
    assert_eq!(server.get("/v1/calibration").await.expect(200).body["cassettes"], learned);
}

/// What was learned; the server's own worker may be at it.
async fn once_learned(server: &TestServer) -> Value {
    for _ in 0..200 {
        server.settle().await;
        let known = server.get("/v1/calibration").await.expect(200).body["cassettes"].clone();
        if known["learned"] == true {
            return known;
        }
        tokio::time::sleep(std::time::Duration::from_millis(50)).await;
    }
    panic!("nothing was learned");
}
