//! Forecasts are kept and held against what is read later, and the fleet learns from its chains.

use std::time::Duration;

use chrono::TimeDelta;
use serde_json::{Value, json};
use wear_tests::{Answer, TestServer, TestStore, on_both_stores};

on_both_stores!(
    a_forecast_is_kept_before_its_reading_and_scored_by_it,
    a_fleet_learns_that_its_chains_wear_fast,
    a_handful_of_chains_teaches_nothing,
    months_are_checked
);

/// A fleet whose chains are read every 30 days after 400 km; what they show grows by `percent` each time.
struct Fleet {
    server: TestServer,
    bikes: Vec<String>,
    rounds: usize,
}

impl Fleet {
    async fn of(store: TestStore, bikes: usize) -> Self {
        let server = TestServer::start(store).await;
        let mut made = Vec::new();
        for number in 0..bikes {
            let mut bike = wear_tests::bike(&format!("{number:03}"));
            bike["fitted_on"] = json!("2026-11-25");
            made.push(server.post("/v1/bikes", &bike).await.expect(201).id());
        }
        let fleet = Self { server, bikes: made, rounds: 0 };
        fleet.settle().await;
        fleet
    }

    /// Until the worker of the service and this one have nothing left to do.
    async fn settle(&self) {
        self.server.settle().await;
    }

    async fn round(&mut self, percent: f64) -> Vec<Answer> {
        self.rounds += 1;
        self.server.clock.advance(TimeDelta::days(30));
        let now = self.server.clock.now();
        let mut answers = Vec::new();
        for (number, bike) in self.bikes.iter().enumerate() {
            let ride = json!({"started_at": now.plus(TimeDelta::days(-10)).to_string(), "distance_km": 400.0,
                "surface": "paved", "wet": false, "source": "log", "source_id": format!("{}-{number}", self.rounds)});
            let _ride = self.server.post(&format!("/v1/bikes/{bike}/rides"), &ride).await.expect(201);
            let spread = 0.01 * (number % 5) as f64;
            let reading =
                json!({"taken_at": now.to_string(), "instrument": "dial", "percent": percent + spread});
            answers.push(self.server.post(&format!("/v1/bikes/{bike}/readings"), &reading).await.expect(201));
        }
        self.settle().await;
        answers
    }

    async fn get_until(&self, path: &str, holds: impl Fn(&Value) -> bool) -> Value {
        for _ in 0..200 {
            let body = self.server.get(path).await.expect(200).body;
            if holds(&body) {
                return body;
            }
            tokio::time::sleep(Duration::from_millis(50)).await;
        }
        panic!("{path} never came to hold: {}", self.server.get(path).await.body);
    }
}

async fn a_forecast_is_kept_before_its_reading_and_scored_by_it(store: TestStore) {
    let mut fleet = Fleet::of(store, 3).await;
    let empty = fleet.server.get("/v1/track-record").await.expect(200).body;
    assert_eq!((&empty["overall"]["readings"], &empty["overall"]["coverage"]), (&json!(0), &Value::Null));
    let first = fleet.round(0.12).await;
    fleet.round(0.17).await;
    let path = "/v1/track-record?from=2026-11&to=2027-03";
    let scored = fleet.get_until(path, |body| body["overall"]["readings"] == 6).await;
    assert_eq!(scored["overall"]["kept_before"], 6, "{scored}");
    assert_eq!(scored["groups"][0]["group"], "town-8s");
    let months: Vec<&str> =
        scored["months"].as_array().expect("months").iter().filter_map(|it| it["month"].as_str()).collect();
    assert_eq!(months, ["2026-12", "2027-01"]);
    for name in ["loss_percent", "loss_fixed_distance_percent", "loss_straight_line_percent"] {
        assert!(scored["overall"][name].as_f64().is_some_and(|loss| loss > 0.0), "{name}: {scored}");
    }
    // A reading that is void leaves the record; one entered late is scored by a forecast computed afterwards.
    let bike = &fleet.bikes[0];
    let reading = first[0].body["reading"]["id"].as_str().expect("an id");
    let void = fleet
        .server
        .request(reqwest::Method::DELETE, &format!("/v1/bikes/{bike}/readings/{reading}?reason=another"))
        .bearer_auth(fleet.server.token_of(wear_api::domain::Role::Mechanic));
    assert!(fleet.server.send(void).await.status.is_success());
    fleet.settle().await;
    fleet.get_until(path, |body| body["overall"]["readings"] == 5).await;
    let late = json!({"taken_at": "2026-11-25T11:00:00Z", "instrument": "dial", "percent": 0.04});
    let _late = fleet.server.post(&format!("/v1/bikes/{bike}/readings"), &late).await.expect(201);
    fleet.settle().await;
    let scored = fleet.get_until(path, |body| body["overall"]["readings"] == 6).await;
    assert_eq!(scored["overall"]["kept_before"], 5, "{scored}");
    let other = fleet.server.get("/v1/track-record?group=hire-9s").await.expect(200).body;
    assert_eq!(other["overall"]["readings"], 0);
}

async fn a_fleet_learns_that_its_chains_wear_fast(store: TestStore) {
    let mut fleet = Fleet::of(store, 12).await;
    let before = fleet.server.get("/v1/calibration").await.expect(200).body;
    assert_eq!((&before["learned_at"], &before["rates"]), (&Value::Null, &json!([])));
    let first = fleet.round(0.22).await;
    assert_eq!(first[0].body["outlook"]["basis"]["wear_rate_from"], "default");
    for percent in [0.38, 0.54] {
        fleet.round(percent).await;
    }
    let record = fleet.server.get("/v1/track-record?from=2026-11&to=2027-03").await.expect(200).body;
    let loss = |name: &str| record["overall"][name].as_f64().expect("a loss");
    assert!(loss("loss_percent") < loss("loss_fixed_distance_percent"), "{record}");
    let asked = fleet.server.post("/v1/calibration", &json!({})).await.expect(202).body;
    assert!(asked["asked_at"].is_string(), "{asked}");
    fleet.settle().await;
    let learned = fleet.get_until("/v1/calibration", |body| body["learned_at"].is_string()).await;
    let group = &learned["rates"][1];
    assert_eq!((&group["group"], &group["chains_read"]), (&json!("town-8s"), &json!(12)), "{learned}");
    // 0.16 % in 400 km of dry town riding is more than twice the default of 0.125 % in 1,000.
    let rate = group["percent_per_1000_reference_km"].as_f64().expect("a rate");
    assert!(rate > 0.16, "{learned}");
    fleet.settle().await;
    let path = format!("/v1/bikes/{}/outlook", fleet.bikes[0]);
    let from = "group town-8s, 12 chains read";
    fleet.get_until(&path, |body| body["basis"]["wear_rate_from"] == from).await;
}

async fn a_handful_of_chains_teaches_nothing(store: TestStore) {
    let mut fleet = Fleet::of(store, 2).await;
    fleet.round(0.30).await;
    // The night comes: the job that every workshop has runs, and asks for the next night's.
    fleet.server.clock.advance(TimeDelta::hours(15));
    fleet.settle().await;
    let learned = fleet.server.get("/v1/calibration").await.expect(200).body;
    assert_eq!(learned["rates"], json!([]));
    let outlook = fleet.server.get(&format!("/v1/bikes/{}/outlook", fleet.bikes[0])).await.expect(200).body;
    assert_eq!(outlook["basis"]["wear_rate_from"], "default");
}

async fn months_are_checked(store: TestStore) {
    let server = TestServer::start(store).await;
    for wrong in ["2026", "2026-13", "2026-1", "26-01-01"] {
        let answer = server.get(&format!("/v1/track-record?from={wrong}")).await.expect(400);
        assert_eq!(answer.body["errors"][0]["allowed"], "YYYY-MM", "{}", answer.body);
    }
}
