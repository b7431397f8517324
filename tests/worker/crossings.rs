//! Each crossing is told once, whatever happens in between.

use chrono::Duration;
use serde_json::{Value, json};
use wear_api::service::worker;
use wear_tests::{Receiver, TestServer, TestStore, header, on_both_stores};

use crate::hooks::{body_of, hook, ride, server};

on_both_stores!(each_crossing_is_told_once, a_new_chain_crosses_anew, a_listener_for_less_is_told_of_more);

const URGENCY: [&str; 4] = ["ride_on", "measure_by", "swap_by", "swap_now"];

fn urgency(advice: &Value) -> Option<usize> {
    URGENCY.iter().position(|word| advice == word)
}

async fn read(server: &TestServer, bike: &str, percent: f64) -> Value {
    let reading = json!({"taken_at": server.now(), "instrument": "dial", "percent": percent});
    let answer = server.post(&format!("/v1/bikes/{bike}/readings"), &reading).await;
    assert!(answer.status.is_success(), "{}", answer.status);
    answer.body["outlook"].clone()
}

/// A chain from new to worn out, a reading a week, riding on in between: told exactly when the advice is more urgent
/// than the highest since the last reading that lowered it.
async fn each_crossing_is_told_once(store: TestStore) {
    let (server, receiver) = (server(store).await, Receiver::start().await);
    hook(&server, &receiver.url("/")).await;
    let bike = server.bike("041").await;
    ride(&server, &bike, 30.0, 90).await;
    let mut expected: Vec<&str> = Vec::new();
    let mut level = 0;
    // As much more as the rides in between wear off.
    for percent in [0.30, 0.35, 0.40, 0.45, 0.50, 0.55, 0.60, 0.65, 0.70, 0.75, 0.80] {
        server.wait(Duration::days(1));
        let outlook = read(&server, &bike, percent).await;
        let now = urgency(&outlook["advice"]).expect("a chain that is known");
        if now > level {
            expected.push(URGENCY[now]);
        }
        level = now;
        // The same again, and looks at it, are no news.
        read(&server, &bike, percent).await;
        ride(&server, &bike, 600.0, 1).await;
        worker::drain(&server.services).await.expect("a worker's round");
        let later = server.get(&format!("/v1/bikes/{bike}/outlook")).await.expect(200).body;
        let later = urgency(&later["advice"]).expect("a chain that is known");
        if later > level {
            expected.push(URGENCY[later]);
            level = later;
        }
    }
    tokio::time::sleep(std::time::Duration::from_millis(1_200)).await;
    let told: Vec<String> = receiver
        .received()
        .await
        .iter()
        .map(|received| body_of(received)["type"].as_str().unwrap_or_default().replace("outlook.", ""))
        .collect();
    let mut sorted = told.clone();
    sorted.sort_unstable();
    let mut wanted: Vec<String> = expected.iter().map(|word| (*word).to_owned()).collect();
    wanted.sort_unstable();
    assert_eq!(sorted, wanted);
    assert!(told.contains(&"swap_now".to_owned()) && told.len() >= 2, "{told:?}");
    let mut ids: Vec<String> =
        receiver.received().await.iter().map(|received| header(received, "webhook-id").to_owned()).collect();
    ids.sort_unstable();
    ids.dedup();
    assert_eq!(ids.len(), told.len(), "each crossing has an id of its own");
}

async fn a_new_chain_crosses_anew(store: TestStore) {
    let (server, receiver) = (server(store).await, Receiver::start().await);
    hook(&server, &receiver.url("/")).await;
    let bike = server.bike("041").await;
    let mut chains = Vec::new();
    for round in 0..2 {
        server.wait(Duration::days(91));
        ride(&server, &bike, 50.0, 90).await;
        let outlook = read(&server, &bike, 0.95).await;
        assert_eq!(outlook["advice"], "swap_now", "{}", outlook["reason"]);
        let told = body_of(&receiver.wait_for(round + 1).await[round]);
        chains.push(told["data"]["part_id"].as_str().expect("a part").to_owned());
        server.wait(Duration::hours(1));
        server.post(&format!("/v1/bikes/{bike}/swaps"), &json!({"place": "chain"})).await.check(201);
    }
    assert_ne!(chains[0], chains[1]);
    tokio::time::sleep(std::time::Duration::from_millis(800)).await;
    assert_eq!(receiver.received().await.len(), 2);
}

async fn a_listener_for_less_is_told_of_more(store: TestStore) {
    let (server, receiver) = (server(store).await, Receiver::start().await);
    let body = json!({"label": "planner", "url": receiver.url("/"), "events": ["outlook.swap_by"]});
    server.post("/v1/hooks", &body).await.check(201);
    let bike = server.bike("041").await;
    ride(&server, &bike, 50.0, 90).await;
    assert_eq!(read(&server, &bike, 0.95).await["advice"], "swap_now");
    let told = body_of(&receiver.wait_for(1).await[0]);
    assert_eq!((&told["type"], &told["data"]["advice"]), (&json!("outlook.swap_by"), &json!("swap_now")));
}
