//! Receivers that fail, each in its way: what the log says, and when the message is tried again.

use std::net::TcpListener;

use chrono::{DateTime, Duration, Utc};
use serde_json::{Value, json};
use wear_tests::{BrokenServer, Fault, Receiver, TestServer, TestStore, header, on_both_stores};
use wiremock::ResponseTemplate;

use crate::hooks::{body_of, hook, is, logged, server, worn_bike};

on_both_stores!(
    each_fault_is_logged_and_tried_again,
    a_receiver_that_wants_no_more_disables_its_hook,
    a_day_of_failure_disables_the_hook_and_others_are_told,
    a_wish_to_wait_is_kept_to,
    a_slow_receiver_does_not_hold_up_others,
);

fn attempts(message: &Value) -> usize {
    message["attempts"].as_array().map_or(0, Vec::len)
}

/// Sends a test message to a receiver that fails once, and then takes it.
async fn fails_once(server: &TestServer, url: &str, outcome: &str, status: Option<u16>) {
    let made = hook(server, url).await;
    server.post(&format!("/v1/hooks/{}/test", made.id()), &Value::Null).await.check(202);
    let message = logged(server, &made.id(), 0, |message| attempts(message) == 1).await;
    let attempt = &message["attempts"][0];
    assert_eq!((&attempt["outcome"], &attempt["status"]), (&json!(outcome), &json!(status)), "{message}");
    assert_eq!(message["state"], "waiting", "{message}");
    let next: DateTime<Utc> = message["next_at"].as_str().and_then(|at| at.parse().ok()).expect("a time");
    let pause = next - server.now().datetime();
    assert!((4_000..=6_000).contains(&pause.num_milliseconds()), "{pause}, {message}");
    assert!(attempt["milliseconds"].as_i64().is_some_and(|took| took < 3_500), "{attempt}");
    server.wait(Duration::seconds(6));
    let message = logged(server, &made.id(), 0, is("delivered")).await;
    assert_eq!(attempts(&message), 2, "{message}");
    let known = server.get(&format!("/v1/hooks/{}", made.id())).await.expect(200).body;
    assert_eq!((&known["failing_since"], &known["enabled"]), (&Value::Null, &json!(true)));
}

fn same_message_signed_anew(ids: &[String], signatures: &[String]) {
    assert_eq!((ids.len(), &ids[0]), (2, &ids[1]));
    assert_ne!(signatures[0], signatures[1]);
}

async fn each_fault_is_logged_and_tried_again(store: TestStore) {
    let (server, elsewhere) = (server(store).await, Receiver::start().await);
    let redirect = |status| ResponseTemplate::new(status).insert_header("location", elsewhere.url("/"));
    let silence = ResponseTemplate::new(204).set_delay(std::time::Duration::from_secs(20));
    let answers = [
        (ResponseTemplate::new(500), "refused", Some(500)),
        (ResponseTemplate::new(404), "refused", Some(404)),
        (ResponseTemplate::new(429), "refused", Some(429)),
        (redirect(302), "redirected", Some(302)),
        (redirect(307), "redirected", Some(307)),
        (redirect(308), "redirected", Some(308)),
        (silence, "timed_out", None),
    ];
    for (reply, outcome, status) in answers {
        let receiver = Receiver::start().await;
        receiver.then(reply).await;
        fails_once(&server, &receiver.url("/"), outcome, status).await;
        let received = receiver.received().await;
        let each = |name| received.iter().map(|one| header(one, name).to_owned()).collect::<Vec<_>>();
        same_message_signed_anew(&each("webhook-id"), &each("webhook-signature"));
    }
    assert_eq!(elsewhere.received().await.len(), 0, "a redirect was followed");
    let faults = [
        (Fault::EndlessHead, "no_connection", None),
        (Fault::SlowBody(503), "refused", Some(503)),
        (Fault::BreakOff, "no_connection", None),
        (Fault::Garbage, "no_connection", None),
    ];
    for (fault, outcome, status) in faults {
        let broken = BrokenServer::start(fault).await;
        fails_once(&server, &broken.url("/"), outcome, status).await;
        same_message_signed_anew(&broken.headers("webhook-id"), &broken.headers("webhook-signature"));
    }
    // A body that is slow or has no end comes after the answer, and changes nothing about it.
    for fault in [Fault::SlowBody(200), Fault::EndlessBody(200)] {
        let broken = BrokenServer::start(fault).await;
        let made = hook(&server, &broken.url("/")).await;
        server.post(&format!("/v1/hooks/{}/test", made.id()), &Value::Null).await.check(202);
        let message = logged(&server, &made.id(), 0, is("delivered")).await;
        assert_eq!(attempts(&message), 1, "{fault:?}");
        assert!(
            message["attempts"][0]["milliseconds"].as_i64().is_some_and(|took| took < 3_500),
            "{message}"
        );
    }
    // Nobody listens there.
    let gone = TcpListener::bind("127.0.0.1:0").and_then(|listener| listener.local_addr()).expect("a port");
    let made = hook(&server, &format!("http://{gone}/")).await;
    server.post(&format!("/v1/hooks/{}/test", made.id()), &Value::Null).await.check(202);
    let message = logged(&server, &made.id(), 0, |message| attempts(message) == 1).await;
    assert_eq!(message["attempts"][0]["outcome"], "no_connection");
}

async fn a_receiver_that_wants_no_more_disables_its_hook(store: TestStore) {
    let server = server(store).await;
    let (receiver, other) = (Receiver::start().await, Receiver::start().await);
    let made = hook(&server, &receiver.url("/")).await;
    hook(&server, &other.url("/")).await;
    receiver.usually(ResponseTemplate::new(410)).await;
    server.post(&format!("/v1/hooks/{}/test", made.id()), &Value::Null).await.check(202);
    let message = logged(&server, &made.id(), 0, is("given_up")).await;
    assert_eq!((attempts(&message), &message["attempts"][0]["outcome"]), (1, &json!("gone")));
    let known = server.get(&format!("/v1/hooks/{}", made.id())).await.expect(200).body;
    assert_eq!((&known["enabled"], &known["disabled_reason"]), (&json!(false), &json!("gone")));
    let told = body_of(&other.wait_for(1).await[0]);
    assert_eq!(told["type"], "hook.disabled");
    assert_eq!((&told["data"]["hook_id"], &told["data"]["reason"]), (&json!(made.id()), &json!("gone")));
    worn_bike(&server, "041").await;
    other.wait_for(2).await;
    assert_eq!(receiver.received().await.len(), 1);
}

async fn a_day_of_failure_disables_the_hook_and_others_are_told(store: TestStore) {
    let server = server(store).await;
    let (receiver, other) = (Receiver::start().await, Receiver::start().await);
    receiver.usually(ResponseTemplate::new(503)).await;
    let made = hook(&server, &receiver.url("/")).await;
    hook(&server, &other.url("/")).await;
    worn_bike(&server, "041").await;
    let began = server.now().datetime();
    let mut pauses = Vec::new();
    for count in 1..=10 {
        let message = logged(&server, &made.id(), 0, |message| attempts(message) == count).await;
        assert_eq!(message["state"], "waiting");
        let next: DateTime<Utc> = message["next_at"].as_str().and_then(|at| at.parse().ok()).expect("a time");
        let pause = next - server.now().datetime();
        pauses.push(pause);
        server.wait(pause);
    }
    let message = logged(&server, &made.id(), 0, is("given_up")).await;
    assert_eq!(attempts(&message), 11);
    assert!(pauses.windows(2).all(|two| two[0] < two[1]), "{pauses:?}");
    let span = server.now().datetime() - began;
    assert!((18..30).contains(&span.num_hours()), "{span}");
    let known = server.get(&format!("/v1/hooks/{}", made.id())).await.expect(200).body;
    assert_eq!((&known["enabled"], &known["disabled_reason"]), (&json!(false), &json!("failing")));
    let told = other.wait_for(2).await;
    let told: Vec<Value> = told.iter().map(body_of).collect();
    let disabled = told.iter().find(|body| body["type"] == "hook.disabled").expect("the others are told");
    assert_eq!(
        (&disabled["data"]["hook_id"], &disabled["data"]["reason"]),
        (&json!(made.id()), &json!("failing"))
    );
    // One receiver's failure is no other's.
    assert!(told.iter().any(|body| body["type"] == "outlook.swap_now"));
}

async fn a_wish_to_wait_is_kept_to(store: TestStore) {
    let (server, receiver) = (server(store).await, Receiver::start().await);
    let made = hook(&server, &receiver.url("/")).await;
    let wishes = [
        ("90".to_owned(), 90),
        (
            (server.now().datetime() + Duration::seconds(200))
                .format("%a, %d %b %Y %H:%M:%S GMT")
                .to_string(),
            200,
        ),
    ];
    for (place, (wish, seconds)) in wishes.into_iter().enumerate() {
        receiver.then(ResponseTemplate::new(429).insert_header("retry-after", wish)).await;
        server.post(&format!("/v1/hooks/{}/test", made.id()), &Value::Null).await.check(202);
        let message = logged(&server, &made.id(), 0, |message| attempts(message) == 1).await;
        let next: DateTime<Utc> = message["next_at"].as_str().and_then(|at| at.parse().ok()).expect("a time");
        assert_eq!((next - server.now().datetime()).num_seconds(), seconds, "{place}");
    }
}

async fn a_slow_receiver_does_not_hold_up_others(store: TestStore) {
    let server = TestServer::start_with(store, |settings| {
        settings.hook_networks = vec!["127.0.0.0/8".into()];
        settings.hook_plain_http = Some(true);
        settings.hook_seconds = Some(20);
    })
    .await;
    let (slow, quick) = (Receiver::start().await, Receiver::start().await);
    slow.usually(ResponseTemplate::new(204).set_delay(std::time::Duration::from_secs(600))).await;
    let made = hook(&server, &slow.url("/")).await;
    for _ in 0..40 {
        server.post(&format!("/v1/hooks/{}/test", made.id()), &Value::Null).await.check(202);
    }
    slow.wait_for(4).await;
    let prompt = hook(&server, &quick.url("/")).await;
    server.post(&format!("/v1/hooks/{}/test", prompt.id()), &Value::Null).await.check(202);
    // The clock stands still, so what was put back stays back; in life it comes round each second.
    quick.wait_for(1).await;
    assert_eq!(slow.received().await.len(), 4);
}
