//! A workshop with bikes in every state, made through the service's own interface.

use serde_json::{Value, json};
use wear_api::domain::Role;
use wear_tests::{TestServer, bike};

/// What the tests look at.
pub struct Yard {
    /// A bike that was ridden and measured: its page has every plot.
    pub ridden: String,
    /// A bike far over its limit.
    pub overdue: String,
    /// A new bike.
    pub fresh: String,
    /// A kind of bike, of which one is.
    pub kind: String,
    /// A rule with a name.
    pub tool: String,
}

async fn ride(server: &TestServer, id: &str, days: i64, km: f64) {
    let rides: Vec<Value> = (0..days)
        .map(|day| {
            let date = chrono::NaiveDate::from_ymd_opt(2026, 11, 24).expect("a date") - chrono::Days::new(day as u64);
            json!({"bike_id": id, "started_at": format!("{date}T08:00:00Z"), "distance_km": km, "surface": "paved",
                "wet": day % 5 == 0, "climb_m": 40, "source": "log", "source_id": format!("{id}-{day}")})
        })
        .collect();
    let _stored = server.post("/v1/rides", &json!({"rides": rides})).await.expect(200);
}

async fn reading(server: &TestServer, id: &str, at: &str, body: Value) {
    let mut body = body;
    body["taken_at"] = json!(at);
    let _stored = server.post(&format!("/v1/bikes/{id}/readings"), &body).await.expect(201);
}

/// Makes the yard.
pub async fn yard(server: &TestServer) -> Yard {
    let ridden = server.bike("041").await;
    ride(server, &ridden, 120, 14.0).await;
    reading(server, &ridden, "2026-09-20T15:00:00Z", json!({"instrument": "rule", "percent": 0.18})).await;
    reading(server, &ridden, "2026-10-20T15:00:00Z", json!({"instrument": "dial", "percent": 0.29})).await;
    let gauge = json!({"instrument": "drop_in", "mark_percent": 0.75, "drops_in": false});
    reading(server, &ridden, "2026-11-20T15:00:00Z", gauge).await;
    let care = json!({"kind": "cleaned_and_lubricated", "done_at": "2026-10-21T10:00:00Z"});
    let _stored = server.post(&format!("/v1/bikes/{ridden}/care"), &care).await.expect(201);
    let overdue = server.bike("042").await;
    ride(server, &overdue, 150, 20.0).await;
    reading(server, &overdue, "2026-11-23T15:00:00Z", json!({"instrument": "caliper", "percent": 0.98}))
        .await;
    let mut body = bike("043");
    body["fitted_on"] = json!("2026-11-24");
    let fresh = server.post("/v1/bikes", &body).await.expect(201).id();
    ride(server, &fresh, 1, 12.0).await;
    let kind = json!({"name": "hire bike", "drivetrain": {"speeds": 8}});
    let request = server.request(reqwest::Method::POST, "/v1/bike-kinds");
    let kind =
        server.send(request.bearer_auth(server.token_of(Role::Manager)).json(&kind)).await.expect(201).id();
    let tool = json!({"name": "bench rule", "instrument": "rule"});
    let tool = server.post("/v1/tools", &tool).await.expect(201).id();
    Yard { ridden, overdue, fresh, kind, tool }
}
