//! Hooks as a manager and a receiver meet them.

use chrono::Duration;
use reqwest::Method;
use serde_json::{Value, json};
use wear_api::domain::{HookSecret, Role};
use wear_api::webhook::signature;
use wear_tests::{Answer, Receiver, TestServer, TestStore, header, on_both_stores};
use wiremock::{Request, ResponseTemplate};

on_both_stores!(
    a_message_arrives_signed,
    a_rotated_secret_signs_along_for_a_while,
    a_message_is_sent_again_on_demand,
    a_hook_is_changed_switched_off_and_removed,
    wrong_hooks_are_refused,
    refused_rides_are_told,
);

/// A service whose hooks may reach this machine, and wait for an answer for one second.
pub async fn server(store: TestStore) -> TestServer {
    TestServer::start_with(store, |settings| {
        settings.hook_networks = vec!["127.0.0.0/8".into()];
        settings.hook_plain_http = Some(true);
        settings.hook_seconds = Some(1);
    })
    .await
}

/// Makes a hook that listens for everything; its answer.
pub async fn hook(server: &TestServer, url: &str) -> Answer {
    let events =
        ["outlook.measure_by", "outlook.swap_by", "outlook.swap_now", "ride.rejected", "hook.disabled"];
    server.post("/v1/hooks", &json!({"label": "ride app", "url": url, "events": events})).await.expect(201)
}

/// A ride a day for so many days, up to yesterday.
pub async fn ride(server: &TestServer, bike: &str, distance_km: f64, days: i64) {
    let rides: Vec<Value> = (1..=days)
        .map(|day| {
            let at = server.now().datetime() - Duration::days(day);
            json!({"bike_id": bike, "started_at": at.to_rfc3339(), "distance_km": distance_km,
                "source": "log", "source_id": format!("{bike} {}", at.date_naive())})
        })
        .collect();
    let report = server.post("/v1/rides", &json!({"rides": rides})).await.expect(200).body;
    assert_eq!(report["failed"], json!([]));
}

/// A bike whose chain is over its limit: one crossing.
pub async fn worn_bike(server: &TestServer, label: &str) -> String {
    let bike = server.bike(label).await;
    ride(server, &bike, 50.0, 90).await;
    let reading = json!({"taken_at": server.now(), "instrument": "dial", "percent": 0.95});
    let answer = server.post(&format!("/v1/bikes/{bike}/readings"), &reading).await.expect(201);
    assert_eq!(answer.body["outlook"]["advice"], "swap_now");
    bike
}

/// The message of that place in the hook's log, the latest first, once `ready` likes it; waits for up to ten seconds.
pub async fn logged(server: &TestServer, hook: &str, place: usize, ready: impl Fn(&Value) -> bool) -> Value {
    let mut last = Value::Null;
    for _ in 0..400 {
        let log = server.get(&format!("/v1/hooks/{hook}/deliveries")).await.expect(200).body;
        last = log["items"][place].clone();
        if last.is_object() && ready(&last) {
            return last;
        }
        tokio::time::sleep(std::time::Duration::from_millis(25)).await;
    }
    panic!("the message never came to that: {last}");
}

pub fn is(state: &'static str) -> impl Fn(&Value) -> bool {
    move |message| message["state"] == state
}

/// The body of a message as JSON.
pub fn body_of(request: &Request) -> Value {
    request.body_json().expect("a body in JSON")
}

/// Recomputes the signatures of a message from its parts.
fn signed_by(received: &Request, secrets: &[&str]) -> bool {
    let timestamp = header(received, "webhook-timestamp").parse().expect("seconds");
    let expected: Vec<String> = secrets
        .iter()
        .map(|secret| {
            let secret: HookSecret = secret.parse().expect("a secret");
            signature::sign(&secret, header(received, "webhook-id"), timestamp, &received.body)
        })
        .collect();
    header(received, "webhook-signature") == expected.join(" ")
}

fn secret(answer: &Answer) -> String {
    answer.body["secret"].as_str().expect("a secret").to_owned()
}

async fn a_message_arrives_signed(store: TestStore) {
    let (server, receiver) = (server(store).await, Receiver::start().await);
    let made = hook(&server, &receiver.url("/wear?key=1")).await;
    let bike = worn_bike(&server, "041").await;
    let received = receiver.wait_for(1).await.remove(0);
    assert_eq!((received.method.as_str(), received.url.path()), ("POST", "/wear"));
    assert_eq!(received.url.query(), Some("key=1"));
    assert_eq!(header(&received, "content-type"), "application/json");
    assert!(signed_by(&received, &[&secret(&made)]));
    let sent_at: i64 = header(&received, "webhook-timestamp").parse().expect("seconds");
    assert_eq!(sent_at, server.now().micros() / 1_000_000);
    let body = body_of(&received);
    assert_eq!(
        (&body["type"], &body["timestamp"]),
        (&json!("outlook.swap_now"), &json!("2026-11-25T12:00:00Z"))
    );
    assert_eq!((&body["data"]["bike_id"], &body["data"]["label"]), (&json!(bike), &json!("041")));
    let outlook = server.get(body["data"]["outlook"].as_str().expect("an address")).await.expect(200).body;
    for field in ["part_id", "advice", "reason", "limit_percent", "swap_by", "remaining_km"] {
        assert_eq!(body["data"][field], outlook[field], "{field}");
    }
    // The document shows the fields that are sent.
    let document: Value = server.send(server.request(Method::GET, "/openapi.json")).await.body;
    let example = &document["webhooks"]["outlook.swap_now"]["post"]["requestBody"]["content"];
    let example = &example["application/json"]["example"];
    for (shown, sent) in [(example, &body), (&example["data"], &body["data"])] {
        let names = |value: &Value| -> Vec<String> {
            value.as_object().expect("an object").keys().cloned().collect()
        };
        assert_eq!(names(shown), names(sent));
    }
    let message = logged(&server, &made.id(), 0, is("delivered")).await;
    assert_eq!(message["webhook_id"], header(&received, "webhook-id"));
    assert_eq!(message["body"], body);
    assert_eq!(
        (&message["attempts"][0]["outcome"], &message["attempts"][0]["status"]),
        (&json!("delivered"), &json!(204))
    );
    let address = format!("/v1/hooks/{}/deliveries/{}", made.id(), message["id"].as_str().expect("an id"));
    assert_eq!(server.get(&address).await.expect(200).body, message);
    // What is shown of hooks later holds no secret.
    for path in ["/v1/hooks".to_owned(), format!("/v1/hooks/{}", made.id()), address] {
        assert!(!server.get(&path).await.expect(200).body.to_string().contains("whsec_"), "{path}");
    }
}

async fn a_rotated_secret_signs_along_for_a_while(store: TestStore) {
    let (server, receiver) = (server(store).await, Receiver::start().await);
    let made = hook(&server, &receiver.url("/")).await;
    let path = format!("/v1/hooks/{}", made.id());
    let test = || async { server.post(&format!("{path}/test"), &Value::Null).await.expect(202) };
    let old = secret(&made);
    let rotated = server.post(&format!("{path}/secret"), &json!({"overlap_hours": 2})).await.expect(200);
    let new = secret(&rotated);
    assert_ne!(old, new);
    assert_eq!(rotated.body["previous_secret_until"], "2026-11-25T14:00:00Z");
    test().await;
    let during = receiver.wait_for(1).await.remove(0);
    assert_eq!(body_of(&during)["type"], "hook.test");
    assert!(signed_by(&during, &[&new, &old]));
    server.wait(Duration::hours(2));
    test().await;
    assert!(signed_by(&receiver.wait_for(2).await[1], &[&new]));
    let at_once = server.post(&format!("{path}/secret"), &json!({"overlap_hours": 0})).await.expect(200);
    test().await;
    assert!(signed_by(&receiver.wait_for(3).await[2], &[&secret(&at_once)]));
    for wrong in [json!({"overlap_hours": -1}), json!({"overlap_hours": 169})] {
        let answer = server.post(&format!("{path}/secret"), &wrong).await.expect(422);
        assert_eq!(answer.pointers(), ["/overlap_hours"]);
    }
}

async fn a_message_is_sent_again_on_demand(store: TestStore) {
    let (server, receiver) = (server(store).await, Receiver::start().await);
    let made = hook(&server, &receiver.url("/")).await;
    worn_bike(&server, "041").await;
    let first = receiver.wait_for(1).await.remove(0);
    let message = logged(&server, &made.id(), 0, is("delivered")).await;
    let again =
        format!("/v1/hooks/{}/deliveries/{}/redelivery", made.id(), message["id"].as_str().expect("an id"));
    let asked = server.post(&again, &Value::Null).await.expect(202);
    assert_eq!((&asked.body["state"], &asked.body["id"]), (&json!("waiting"), &message["id"]));
    let second = receiver.wait_for(2).await.remove(1);
    assert_eq!(header(&second, "webhook-id"), header(&first, "webhook-id"));
    assert_eq!(second.body, first.body);
    let message = logged(&server, &made.id(), 0, is("delivered")).await;
    assert_eq!(message["attempts"].as_array().map(Vec::len), Some(2));
    // One that waits for its next attempt is sent at once, and its old plan comes to nothing.
    receiver.then(ResponseTemplate::new(500)).await;
    server.post(&again, &Value::Null).await.check(202);
    receiver.wait_for(3).await;
    logged(&server, &made.id(), 0, |message| message["attempts"].as_array().map(Vec::len) == Some(3)).await;
    server.post(&again, &Value::Null).await.check(202);
    receiver.wait_for(4).await;
    logged(&server, &made.id(), 0, is("delivered")).await;
    server.wait(Duration::hours(1));
    tokio::time::sleep(std::time::Duration::from_millis(1_000)).await;
    assert_eq!(receiver.received().await.len(), 4);
}

async fn a_hook_is_changed_switched_off_and_removed(store: TestStore) {
    let (server, receiver) = (server(store).await, Receiver::start().await);
    let made = hook(&server, &receiver.url("/old")).await;
    let path = format!("/v1/hooks/{}", made.id());
    let change = |etag: &'static str, body: Value| {
        let request = server.request(Method::PATCH, &path).bearer_auth(server.token_of(Role::Manager));
        server.send(request.header("if-match", etag).json(&body))
    };
    let changed = change("\"1\"", json!({"url": receiver.url("/new"), "events": ["outlook.swap_now"]})).await;
    let changed = changed.expect(200);
    assert_eq!((changed.header("etag"), &changed.body["events"]), ("\"2\"", &json!(["outlook.swap_now"])));
    change("\"1\"", json!({"label": "late"})).await.check(412);
    worn_bike(&server, "041").await;
    assert_eq!(receiver.wait_for(1).await[0].url.path(), "/new");
    let off = change("\"2\"", json!({"enabled": false})).await.expect(200);
    assert_eq!((&off.body["enabled"], &off.body["disabled_reason"]), (&json!(false), &json!("by_hand")));
    server.post(&format!("{path}/test"), &Value::Null).await.check(409);
    worn_bike(&server, "042").await;
    let on = change("\"3\"", json!({"enabled": true})).await.expect(200);
    assert_eq!((&on.body["enabled"], &on.body["disabled_at"]), (&json!(true), &Value::Null));
    let third = worn_bike(&server, "043").await;
    // What happened while it was off is not sent.
    assert_eq!(body_of(&receiver.wait_for(2).await[1])["data"]["bike_id"], third);
    let delete = |etag: &'static str| {
        let request = server.request(Method::DELETE, &path).bearer_auth(server.token_of(Role::Manager));
        server.send(request.header("if-match", etag))
    };
    delete("\"3\"").await.check(412);
    delete("\"4\"").await.check(204);
    server.get(&path).await.check(404);
    server.get(&format!("{path}/deliveries")).await.check(404);
    worn_bike(&server, "044").await;
    tokio::time::sleep(std::time::Duration::from_millis(800)).await;
    assert_eq!(receiver.received().await.len(), 2);
}

async fn wrong_hooks_are_refused(store: TestStore) {
    let server = TestServer::start(store).await;
    let with = |field: &str, value: Value| {
        let mut body = json!({"label": "app", "url": "https://app.example/", "events": ["outlook.swap_now"]});
        body[field] = value;
        body
    };
    let table = [
        (with("url", json!("http://app.example/")), "/url"),
        (with("url", json!("https://127.0.0.1/")), "/url"),
        (with("url", json!("https://[::1]/")), "/url"),
        (with("url", json!("https://0x7f000001/")), "/url"),
        (with("url", json!("https://user@app.example/")), "/url"),
        (with("url", json!("ftp://app.example/")), "/url"),
        (with("url", json!("")), "/url"),
        (with("events", json!([])), "/events"),
        (with("events", json!(["outlook.swap_now", "everything"])), "/events/1"),
        (with("label", json!("")), "/label"),
        (with("secret", json!("mine")), "/secret"),
    ];
    for (body, pointer) in table {
        let answer = server.post("/v1/hooks", &body).await.expect(422);
        assert_eq!(answer.pointers(), [pointer], "{body}");
    }
    for number in 0..20 {
        server.post("/v1/hooks", &with("label", json!(number.to_string()))).await.check(201);
    }
    assert_eq!(server.post("/v1/hooks", &with("label", json!("21"))).await.expect(409).problem(), "conflict");
}

async fn refused_rides_are_told(store: TestStore) {
    let (server, receiver) = (server(store).await, Receiver::start().await);
    hook(&server, &receiver.url("/")).await;
    let bike = server.bike("041").await;
    let ride = |id: &str, km: f64| {
        json!({"bike_id": bike, "started_at": "2026-03-01T08:00:00Z", "distance_km": km,
            "source": "log", "source_id": id})
    };
    let mut stranger = ride("r3", 5.0);
    stranger["bike_id"] = json!("019abf3e-6a34-7d6e-9a51-0d3c5e1f2a10");
    let batch = json!({"rides": [ride("r1", 5.0), ride("r2", -5.0), stranger]});
    let report = server.post("/v1/rides", &batch).await.expect(200).body;
    let told = body_of(&receiver.wait_for(1).await[0]);
    assert_eq!((&told["type"], &told["data"]["count"]), (&json!("ride.rejected"), &json!(2)));
    for (place, failed) in report["failed"].as_array().expect("failures").iter().enumerate() {
        let rejected = &told["data"]["rejected"][place];
        assert_eq!((&rejected["index"], &rejected["errors"]), (&failed["index"], &failed["errors"]));
        assert_eq!(rejected["source_id"], format!("r{}", place + 2));
    }
    let mut alone = ride("r4", -1.0);
    alone.as_object_mut().expect("an object").remove("bike_id");
    server.post(&format!("/v1/bikes/{bike}/rides"), &alone).await.check(422);
    let told = body_of(&receiver.wait_for(2).await[1]);
    let rejected = &told["data"]["rejected"][0];
    assert_eq!((&rejected["bike_id"], &rejected["source_id"]), (&json!(bike), &json!("r4")));
    assert_eq!(rejected["errors"][0]["pointer"], "/distance_km");
    // With a key too, though the error answer undoes what the request changed.
    let token = server.token_of(Role::Manager);
    let keyed = server.request(Method::POST, &format!("/v1/bikes/{bike}/rides")).bearer_auth(token);
    server.send(keyed.header("idempotency-key", "k1").json(&alone)).await.check(422);
    let told = body_of(&receiver.wait_for(3).await[2]);
    assert_eq!(told["data"]["rejected"][0]["source_id"], "r4");
    // A batch without a mistake is no news.
    server.post("/v1/rides", &json!({"rides": [ride("r5", 5.0)]})).await.check(200);
    tokio::time::sleep(std::time::Duration::from_millis(800)).await;
    assert_eq!(receiver.received().await.len(), 3);
}
