//! What those who run the service see of it: metrics, readiness, logs, and how it stops.

use std::time::Duration;

use reqwest::Method;
use serde_json::{Value, json};
use sqlx::{Connection as _, Executor as _};
use wear_api::domain::WorkshopName;
use wear_api::store::{Engine, Store};
use wear_tests::{Served, TestServer, TestStore, on_both_stores, program};

on_both_stores!(
    metrics_have_a_port_of_their_own,
    readiness_tells_what_is_missing,
    no_secret_is_logged,
    requests_under_way_are_finished_before_it_stops,
);

fn token(database_url: &str) -> String {
    let made = program()
        .args(["token", "--database-url", database_url, "--workshop", "Harbour", "--role", "manager"])
        .output()
        .expect("runs");
    String::from_utf8(made.stdout).expect("text").trim().to_owned()
}

async fn metrics_have_a_port_of_their_own(store: TestStore) {
    let served = Served::start_with(&store.url, &["--metrics-listen", "127.0.0.1:0"]);
    let metrics = format!("http://{}/metrics", served.logged("metrics").expect("an address"));
    let (client, token) = (reqwest::Client::new(), token(&store.url));
    let bikes = format!("{}/v1/bikes", served.url);
    let made = client.post(&bikes).bearer_auth(&token).json(&wear_tests::bike("041")).send().await;
    let made: Value = made.expect("an answer").json().await.expect("JSON");
    let bike = made["id"].as_str().expect("an id");
    let ride = json!({"started_at": "2026-03-01T08:00:00Z", "distance_km": 10});
    let rides = client.post(format!("{bikes}/{bike}/rides")).bearer_auth(&token).json(&ride);
    assert_eq!(rides.send().await.expect("an answer").status(), 201);
    let _unknown = client.get(format!("{}/boats", served.url)).send().await.expect("an answer");
    let mut text = String::new();
    for _ in 0..200 {
        let answer = client.get(&metrics).send().await.expect("an answer");
        assert_eq!(answer.status(), 200);
        text = answer.text().await.expect("text");
        // The bike and the ride may get an outlook each, or one together.
        let made = ["1", "2"].map(|count| format!("wear_outlook_delay_seconds_count {count}\n"));
        if made.iter().any(|made| text.contains(made)) && text.contains("wear_outlooks_waiting 0.0") {
            break;
        }
        tokio::time::sleep(Duration::from_millis(50)).await;
    }
    for line in [
        r#"wear_requests_total{method="POST",route="/v1/bikes",status="201"} 1"#,
        r#"wear_requests_total{method="POST",route="/v1/bikes/{bike_id}/rides",status="201"} 1"#,
        r#"wear_requests_total{method="GET",route="other",status="404"} 1"#,
        r#"wear_request_seconds_count{method="POST",route="/v1/bikes"} 1"#,
        "wear_outlook_delay_seconds_count ",
        "wear_outlooks_waiting 0.0",
        "wear_outlooks_oldest_wait_seconds 0.0",
        "wear_jobs_waiting ",
        "wear_jobs_begun ",
        "wear_store_answers 1.0",
        "wear_store_connections_open ",
        "wear_store_connections_idle ",
        "wear_store_connections_most ",
        r#"wear_hook_deliveries_total{outcome="delivered"} 0"#,
    ] {
        assert!(text.contains(line), "no {line} in\n{text}");
    }
    assert!(text.ends_with("# EOF\n") && text.matches("# EOF").count() == 1, "{text}");
    assert!(!text.contains(bike), "an id is a label");
    // The service's own port doesn't tell.
    assert_eq!(client.get(format!("{}/metrics", served.url)).send().await.expect("an answer").status(), 404);
    drop(client);
    assert_eq!(served.terminate(), Some(0));
}

async fn readiness_tells_what_is_missing(store: TestStore) {
    let engine = store.store.engine();
    let server = TestServer::start(store).await;
    let ready = || server.send(server.request(Method::GET, "/health/ready"));
    assert_eq!(ready().await.expect(200).body, json!({"status": "ready"}));
    let behind = "delete from _sqlx_migrations where version > 1";
    match engine {
        Engine::Postgres => {
            let mut connection = sqlx::PgConnection::connect(server.database_url()).await.expect("connects");
            connection.execute(behind).await.expect("deleted");
        }
        Engine::Sqlite => {
            let mut connection =
                sqlx::SqliteConnection::connect(server.database_url()).await.expect("connects");
            connection.execute(behind).await.expect("deleted");
        }
    }
    let answer = ready().await.expect(503);
    assert_eq!((answer.problem(), answer.header("retry-after")), ("unavailable", "5"));
    assert!(
        answer.body["detail"].as_str().is_some_and(|detail| detail.contains("tables")),
        "{}",
        answer.body
    );
    server.services.store.close().await;
}

async fn no_secret_is_logged(store: TestStore) {
    let url = match store.store.engine() {
        Engine::Postgres => {
            format!("{}{}password=hunter2", store.url, if store.url.contains('?') { "&" } else { "?" })
        }
        Engine::Sqlite => store.url.clone(),
    };
    let served = Served::start_with(&url, &["--log-filter", "trace"]);
    let (client, token) = (reqwest::Client::new(), token(&store.url));
    let made = client
        .post(format!("{}/v1/tokens", served.url))
        .bearer_auth(&token)
        .header("idempotency-key", "k1")
        .json(&json!({"role": "app", "label": "ride log"}))
        .send()
        .await
        .expect("an answer");
    assert_eq!(made.status(), 201);
    let made: Value = made.json().await.expect("JSON");
    let secret = made["secret"].as_str().expect("a secret").to_owned();
    let get = |path: &str, token: &str| client.get(format!("{}{path}", served.url)).bearer_auth(token).send();
    assert_eq!(get("/v1/bikes", &secret).await.expect("an answer").status(), 200);
    let wrong = format!("wear_{}", "5".repeat(64));
    assert_eq!(get("/v1/bikes", &wrong).await.expect("an answer").status(), 401);
    let _calendar = get("/v1/calendar/cafebabecafebabe.ics", &token).await.expect("an answer");
    let form = client
        .post(format!("{}/sign-in", served.url))
        .header("content-type", "application/x-www-form-urlencoded")
        .body(format!("token={token}"));
    let _signed_in = form.send().await.expect("an answer");
    // A line is written once its answer has been sent.
    let mut lines = served.log();
    let requests = |lines: &[String]| lines.iter().filter(|line| line.contains("request_id")).count();
    for _ in 0..100 {
        if requests(&lines) >= 5 {
            break;
        }
        tokio::time::sleep(std::time::Duration::from_millis(50)).await;
        lines = served.log();
    }
    assert!(requests(&lines) >= 5, "{} requests were logged", requests(&lines));
    let hidden = [&token[5..], &secret[5..], &wrong[5..], "hunter2", "cafebabecafebabe"];
    for line in &lines {
        for secret in hidden {
            assert!(!line.contains(secret), "a secret is logged: {line}");
        }
    }
    // Each line that tells of a request has the id that its answer had.
    let answer = client.get(format!("{}/health/live", served.url)).header("x-request-id", "mine-17").send();
    assert_eq!(answer.await.expect("an answer").headers()["x-request-id"], "mine-17");
    assert!(served.logged("path").is_some());
    assert!((0..200).any(|_| {
        std::thread::sleep(Duration::from_millis(10));
        served.log().iter().any(|line| line.contains("\"request_id\":\"mine-17\""))
    }));
}

async fn requests_under_way_are_finished_before_it_stops(store: TestStore) {
    let served = Served::start(&store.url);
    let (client, token) = (reqwest::Client::new(), token(&store.url));
    let bikes = format!("{}/v1/bikes", served.url);
    let made = client.post(&bikes).bearer_auth(&token).json(&wear_tests::bike("041")).send().await;
    let made: Value = made.expect("an answer").json().await.expect("JSON");
    let bike = made["id"].as_str().expect("an id").to_owned();
    // Holds what the ride needs, so that it is under way when the program is asked to stop.
    let held = hold(&store.store, &bike).await;
    let ride = json!({"started_at": "2026-03-01T08:00:00Z", "distance_km": 10});
    let under_way = client.post(format!("{bikes}/{bike}/rides")).bearer_auth(&token).json(&ride).send();
    let stopping = async {
        tokio::time::sleep(Duration::from_millis(400)).await;
        served.ask_to_stop();
        tokio::time::sleep(Duration::from_millis(400)).await;
        let refused = reqwest::Client::new().get(format!("{}/health/live", served.url)).send().await;
        drop(held);
        refused.is_err()
    };
    let (answer, refused) = tokio::join!(under_way, stopping);
    assert_eq!(answer.expect("an answer").status(), 201);
    assert!(refused, "it still takes new requests");
    assert_eq!(served.ended(), Some(0));
    let name = WorkshopName::new("Harbour").expect("a name");
    let mut tx = store.store.begin_system_read().await.expect("begins");
    let workshop = tx.find_workshop(&name).await.expect("found").expect("there").id;
    drop(tx);
    let mut tx = store.store.begin_read(workshop).await.expect("begins");
    let kept = tx.rides(bike.parse().expect("an id"), &Default::default()).await.expect("rides");
    assert_eq!(kept.items.len(), 1);
}

async fn hold(store: &Store, bike: &str) -> wear_api::store::Tx {
    let name = WorkshopName::new("Harbour").expect("a name");
    let mut tx = store.begin_system_read().await.expect("begins");
    let workshop = tx.find_workshop(&name).await.expect("found").expect("there").id;
    drop(tx);
    let mut tx = store.begin_write(workshop).await.expect("begins");
    let now = wear_api::clock::Clock::system().now();
    tx.mark_bikes(&[bike.parse().expect("an id")], now).await.expect("marks");
    tx
}
