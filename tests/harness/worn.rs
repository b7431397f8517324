//! A workshop with bikes on worn rings.

use chrono::{Duration, NaiveDate};
use reqwest::Method;
use serde_json::{Value, json};
use wear_api::domain::Role;

use crate::{TestServer, TestStore};

/// Thirty days of 150 km on a chain, to which a dial then reads `percent`.
async fn ride_and_read(server: &TestServer, id: &str, percent: f64) {
    let rides: Vec<Value> = (1..30)
        .map(|day| {
            let at = server.now().plus(Duration::days(-day)).to_string();
            json!({"bike_id": id, "started_at": at, "distance_km": 150, "source": "log", "source_id": format!("{at}{id}")})
        })
        .collect();
    let _rides = server.post("/v1/rides", &json!({"rides": rides})).await.expect(200);
    let reading = json!({"taken_at": server.now().to_string(), "instrument": "dial", "percent": percent});
    let _read = server.post(&format!("/v1/bikes/{id}/readings"), &reading).await.expect(201);
}

/// A workshop whose bikes are due, all of them with a worn cassette and ring.
pub struct WornRings {
    /// The service.
    pub server: TestServer,
    /// Model of the chains.
    pub chain: String,
    /// Model of the rings.
    pub ring: String,
    /// The day it is.
    pub today: NaiveDate,
}

impl WornRings {
    /// Bikes of these labels, whose one chain stayed on to 2 %: that takes cassette and ring with it.
    ///
    /// # Panics
    /// When the service refuses.
    pub async fn on(store: TestStore, labels: &[&str]) -> Self {
        Self::of(TestServer::start(store).await, labels).await
    }

    /// The same at a service that runs already.
    ///
    /// # Panics
    /// When the service refuses.
    pub async fn of(server: TestServer, labels: &[&str]) -> Self {
        let chain = json!({"name": "Chain 8-speed", "place": "chain", "sprockets": 8});
        let chain = server.post("/v1/part-models", &chain).await.expect(201).id();
        let ring = json!({"name": "Ring 42", "place": "ring", "teeth": 42});
        let ring = server.post("/v1/part-models", &ring).await.expect(201).id();
        let mut bikes = Vec::new();
        for label in labels {
            let id = server.bike(label).await;
            let at = server.now().to_string();
            for (place, model) in [("ring", &ring), ("chain", &chain)] {
                let fitted = json!({"swapped_at": at, "place": place, "part_model_id": model});
                let _fitted = server.post(&format!("/v1/bikes/{id}/swaps"), &fitted).await.expect(201);
            }
            bikes.push(id);
        }
        for percent in [0.4, 0.8, 1.2, 1.6, 2.0] {
            server.wait(Duration::days(31));
            for id in &bikes {
                ride_and_read(&server, id, percent).await;
            }
        }
        let today = server.now().utc_date();
        Self { server, chain, ring, today }
    }

    /// Starts keeping count of a model.
    ///
    /// # Panics
    /// When the service refuses.
    pub async fn count(&self, model: &str, count: u32) {
        let stock = json!({"part_model_id": model, "count": count});
        let _kept = self.server.post("/v1/stock", &stock).await.expect(201);
    }

    /// Counts a model again.
    ///
    /// # Panics
    /// When the service refuses.
    pub async fn count_again(&self, model: &str, count: u32) {
        let path = format!("/v1/stock/{model}");
        let tag = self.server.get(&path).await.expect(200).header("etag").to_owned();
        let change = self.server.request(Method::PATCH, &path).header("if-match", tag);
        let change = change.bearer_auth(self.server.token_of(Role::Manager)).json(&json!({"count": count}));
        let _counted = self.server.send(change).await.expect(200);
    }
}
