//! The log of the real program, at its most talkative, holds no secret.

use serde_json::{Value, json};
use wear_tests::{Receiver, Served, TestStore, bike, header, on_both_stores, program};
use wiremock::ResponseTemplate;

on_both_stores!(no_secret_is_logged);

async fn no_secret_is_logged(store: TestStore) {
    let make = ["token", "--database-url", &store.url, "--workshop", "Harbour", "--role", "manager"];
    let made = program().args(make).env("WEAR_LOG_FILTER", "trace").output().expect("a token");
    assert!(made.stderr.is_empty(), "{}", String::from_utf8_lossy(&made.stderr));
    let token = String::from_utf8(made.stdout).expect("UTF-8").trim().to_owned();
    let settings = [
        "--hook-network",
        "127.0.0.0/8",
        "--hook-plain-http",
        "true",
        "--hook-seconds",
        "1",
        "--log-filter",
        "wear_api=trace,actix=debug,hyper=debug,rustls=debug,info",
    ];
    let served = Served::start_with(&store.url, &settings);
    let client = reqwest::Client::new();
    let post = async |path: &str, body: Value| {
        let request = client.post(format!("{}{path}", served.url)).bearer_auth(&token).json(&body);
        let answer = request.send().await.expect("an answer");
        let status = answer.status();
        let body: Value = answer.json().await.unwrap_or(Value::Null);
        (status.as_u16(), body)
    };
    let text = |body: &Value, field: &str| body[field].as_str().expect("a text").to_owned();

    let mut secrets = vec![token.clone()];
    let (_, other) = post("/v1/tokens", json!({"role": "app", "label": "ride log"})).await;
    secrets.push(text(&other, "secret"));
    let receiver = Receiver::start().await;
    receiver.then(ResponseTemplate::new(500)).await;
    let path = "/hidden-path?key=hidden-key";
    let hook = json!({"label": "app", "url": receiver.url(path), "events": ["outlook.swap_now"]});
    let (status, hook) = post("/v1/hooks", hook).await;
    assert_eq!(status, 201);
    secrets.extend([text(&hook, "secret"), "hidden-path".to_owned(), "hidden-key".to_owned()]);
    let id = text(&hook, "id");
    let (_, rotated) = post(&format!("/v1/hooks/{id}/secret"), json!({})).await;
    secrets.push(text(&rotated, "secret"));
    let dead =
        json!({"label": "dead", "url": "http://127.0.0.1:9/hidden-port", "events": ["outlook.swap_now"]});
    let (_, dead) = post("/v1/hooks", dead).await;
    secrets.extend([text(&dead, "secret"), "hidden-port".to_owned()]);
    post(&format!("/v1/hooks/{}/test", text(&dead, "id")), Value::Null).await;
    post(&format!("/v1/hooks/{id}/test"), Value::Null).await;
    let signature = header(&receiver.wait_for(1).await[0], "webhook-signature").to_owned();
    secrets.extend(signature.split(' ').map(|one| one.trim_start_matches("v1,").to_owned()));
    let (_, calendar) = post("/v1/calendar", Value::Null).await;
    let address = text(&calendar, "address");
    let feed = client.get(format!("{}{address}", served.url)).send().await.expect("an answer");
    assert_eq!(feed.status().as_u16(), 200);
    secrets.push(address.trim_start_matches("/v1/calendar/").trim_end_matches(".ics").to_owned());
    // Wrong ones are someone's secrets too: a digit missed, another service's.
    let wrong = format!("wear_{}", "ab".repeat(32));
    client.get(format!("{}/v1/bikes", served.url)).bearer_auth(&wrong).send().await.expect("an answer");
    secrets.push("ab".repeat(32));
    let (status, _) = post("/v1/bikes", bike("041")).await;
    assert_eq!(status, 201);

    for _ in 0..100 {
        if served.log().join("\n").contains("no_connection") && served.log().join("\n").contains("refused") {
            break;
        }
        tokio::time::sleep(std::time::Duration::from_millis(50)).await;
    }
    let log = served.log().join("\n");
    assert!(
        log.contains("\"delivery\"") && log.contains("/v1/calendar/") && log.contains("/v1/hooks"),
        "{log}"
    );
    for secret in secrets {
        assert!(secret.len() > 8);
        assert!(!log.contains(&secret), "{secret} is in the log");
    }
}
