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
    tables_that_are_newer_and_only_add_are_worked_with,
    it_leaves_tables_alone_when_told_to,
    a_store_that_takes_no_changes_is_not_ready,
    a_request_is_logged_with_who_sent_it_and_from_where,
    what_leaves_and_who_was_refused_is_written_down,
    the_cause_of_a_fault_is_logged,
);

const FORM: &str = "application/x-www-form-urlencoded";

/// A client that stays where it is sent.
fn strict() -> reqwest::Client {
    reqwest::Client::builder().redirect(reqwest::redirect::Policy::none()).build().expect("a client")
}

/// The cookie of someone who is signed in with a token.
async fn signed_in(served: &Served, token: &str) -> String {
    let form = strict().post(format!("{}/sign-in", served.url)).header("content-type", FORM);
    let answer = form.body(format!("token={token}")).send().await.expect("an answer");
    let cookie = answer.headers()["set-cookie"].to_str().expect("ASCII");
    cookie.split(';').next().expect("a cookie").to_owned()
}

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
    let page = strict().get(format!("{}/bikes/{bike}", served.url)).send().await.expect("an answer");
    assert_eq!(page.status(), 303);
    let form =
        client.post(format!("{}/sign-in", served.url)).header("content-type", FORM).body("token=wear_1");
    assert_eq!(form.send().await.expect("an answer").status(), 422);
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
        "wear_store_wait_seconds_count{access=\"read\"} ",
        "wear_store_wait_seconds_bucket{le=\"10.0\",access=\"write\"} ",
        "wear_request_seconds_bucket{le=\"1.0\",method=\"POST\",route=\"/v1/bikes\"} 1",
        "wear_request_seconds_bucket{le=\"5.0\",method=\"POST\",route=\"/v1/bikes\"} 1",
        "wear_sign_ins_refused_total 1",
        "wear_requests_total{method=\"POST\",route=\"/sign-in\",status=\"422\"} 1",
        "wear_requests_total{method=\"GET\",route=\"/bikes/{bike_id}\",status=\"303\"} 1",
        "wear_process_cpu_seconds ",
        "wear_process_resident_bytes ",
        "wear_process_open_files ",
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

async fn execute(engine: Engine, url: &str, statement: &'static str) {
    match engine {
        Engine::Postgres => {
            let mut connection = sqlx::PgConnection::connect(url).await.expect("connects");
            connection.execute(statement).await.expect("executed");
        }
        Engine::Sqlite => {
            let mut connection = sqlx::SqliteConnection::connect(url).await.expect("connects");
            connection.execute(statement).await.expect("executed");
        }
    }
}

const ADDS: &str = "
    insert into _sqlx_migrations (version, description, success, checksum, execution_time)
    values (9001, 'later things', true, '', 1)";
const BREAKS: &str = "
    insert into _sqlx_migrations (version, description, success, checksum, execution_time)
    values (9002, 'breaks what was', true, '', 1)";

async fn tables_that_are_newer_and_only_add_are_worked_with(store: TestStore) {
    let (engine, url) = (store.store.engine(), store.url.clone());
    let ready = |served: &Served| reqwest::get(format!("{}/health/ready", served.url));
    let before = Served::start(&url);
    assert_eq!(ready(&before).await.expect("an answer").status(), 200);
    // The newer version migrates beside it.
    execute(engine, &url, ADDS).await;
    execute(engine, &url, "create table later_things (workshop_id text)").await;
    assert_eq!(ready(&before).await.expect("an answer").status(), 200);
    let token = token(&url);
    assert!(token.starts_with("wear_"), "no command works beside newer tables: {token}");
    let bikes = format!("{}/v1/bikes", before.url);
    let made = reqwest::Client::new().post(&bikes).bearer_auth(&token).json(&wear_tests::bike("041"));
    assert_eq!(made.send().await.expect("an answer").status(), 201);
    // It may be started again, as when the newer one is given up.
    let again = Served::start(&url);
    assert_eq!(ready(&again).await.expect("an answer").status(), 200);
    assert_eq!(again.terminate(), Some(0));

    execute(engine, &url, BREAKS).await;
    let answer = ready(&before).await.expect("an answer");
    assert_eq!(answer.status(), 503);
    let body: Value = answer.json().await.expect("JSON");
    assert!(body["detail"].as_str().is_some_and(|why| why.contains("newer version")), "{body}");
    let refused =
        program().args(["serve", "--database-url", &url, "--listen", "127.0.0.1:0"]).output().expect("runs");
    let told = String::from_utf8(refused.stderr).expect("text");
    assert!(refused.status.code() == Some(1) && told.contains("newer version"), "{told}");
}

async fn it_leaves_tables_alone_when_told_to(store: TestStore) {
    let engine = store.store.engine();
    let folder = tempfile::tempdir().expect("a folder");
    let url = match engine {
        Engine::Postgres => store.url.clone(),
        Engine::Sqlite => format!("sqlite:{}", folder.path().join("new.db").display()),
    };
    if engine == Engine::Postgres {
        execute(engine, &url, "drop schema public cascade").await;
        execute(engine, &url, "create schema public").await;
    }
    let refused = || {
        let serve = ["serve", "--no-migrate", "--database-url", &url, "--listen", "127.0.0.1:0"];
        let ended = program().args(serve).output().expect("runs");
        (ended.status.code(), String::from_utf8(ended.stderr).expect("text"))
    };
    let (code, told) = refused();
    assert!(code == Some(1) && told.contains("behind this program"), "{told}");
    assert!(program().args(["migrate", "--database-url", &url]).status().expect("runs").success());
    execute(engine, &url, "delete from _sqlx_migrations where version > 1").await;
    let (code, told) = refused();
    assert!(code == Some(1) && told.contains("behind this program"), "{told}");
    // With its own tables it serves.
    let served = Served::start_with(&store_with_tables(&store, &url).await, &["--no-migrate"]);
    let ready = reqwest::get(format!("{}/health/ready", served.url)).await.expect("an answer");
    assert_eq!(ready.status(), 200);
}

/// An address with this program's tables.
async fn store_with_tables(store: &TestStore, broken: &str) -> String {
    match store.store.engine() {
        Engine::Sqlite => store.url.clone(),
        Engine::Postgres => {
            execute(Engine::Postgres, broken, "drop schema public cascade").await;
            execute(Engine::Postgres, broken, "create schema public").await;
            assert!(program().args(["migrate", "--database-url", broken]).status().expect("runs").success());
            broken.to_owned()
        }
    }
}

async fn a_store_that_takes_no_changes_is_not_ready(store: TestStore) {
    let (engine, url) = (store.store.engine(), store.url.clone());
    let read_only = match engine {
        Engine::Postgres => format!("{url}&options=-c%20default_transaction_read_only%3Don"),
        Engine::Sqlite => format!("{url}?mode=ro"),
    };
    let read_only = Store::connect(&read_only, 2).await.expect("connects");
    assert!(!read_only.takes_changes().await.expect("answers"));
    assert!(!read_only.is_ready().await.expect("answers"));
    assert!(store.store.is_ready().await.expect("answers"));
    // One that is being written takes changes.
    let writing = store.store.begin_system_write().await.expect("begins");
    assert!(store.store.is_ready().await.expect("answers"));
    let beside = Store::connect(&url, 2).await.expect("connects");
    assert!(beside.is_ready().await.expect("answers"));
    drop(writing);
    let served = TestServer::start(store).await;
    served.send(served.request(Method::GET, "/health/ready")).await.check(200);
}

#[test]
fn a_variable_that_is_no_setting_is_refused() {
    let folder = tempfile::tempdir().expect("a folder");
    let url = format!("sqlite:{}", folder.path().join("wear.db").display());
    let serve = ["serve", "--database-url", &url, "--listen", "127.0.0.1:0"];
    let ended = program().args(serve).env("WEAR_LISTENS", "127.0.0.1:1").output().expect("runs");
    let told = String::from_utf8(ended.stderr).expect("text");
    assert!(
        ended.status.code() == Some(1) && told.contains("WEAR_LISTENS") && told.contains("WEAR_LISTEN,"),
        "{told}"
    );
    assert!(!folder.path().join("wear.db").exists());
}

#[tokio::test]
async fn the_file_is_its_owners_alone_and_looked_through_when_asked_to() {
    use std::os::unix::fs::PermissionsExt as _;
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("wear.db");
    let url = format!("sqlite:{}", file.display());
    let mode = || std::fs::metadata(&file).expect("a file").permissions().mode() & 0o777;
    assert!(token(&url).starts_with("wear_"));
    assert_eq!(mode(), 0o600);
    // One that an earlier version made.
    std::fs::set_permissions(&file, std::fs::Permissions::from_mode(0o644)).expect("as it was");
    let served = Served::start_with(&url, &["--check-store"]);
    let ready = reqwest::get(format!("{}/health/ready", served.url)).await.expect("an answer");
    assert_eq!(ready.status(), 200);
    assert_eq!(mode(), 0o600);
    for beside in ["wear.db-wal", "wear.db-shm"] {
        let metadata = std::fs::metadata(folder.path().join(beside)).expect("a file beside it");
        assert_eq!(metadata.permissions().mode() & 0o077, 0, "{beside}");
    }
    assert_eq!(served.terminate(), Some(0));
    // Damage in the middle of it.
    let mut bytes = std::fs::read(&file).expect("the file");
    let middle = bytes.len() / 2;
    bytes[middle..middle + 40_000].fill(0xa5);
    std::fs::write(&file, bytes).expect("damaged");
    let serve = ["serve", "--check-store", "--database-url", &url, "--listen", "127.0.0.1:0"];
    let ended = program().args(serve).output().expect("runs");
    let told = String::from_utf8(ended.stderr).expect("text");
    assert!(ended.status.code() == Some(1) && told.contains("damaged"), "{told}");
}

/// The lines of a program's log that hold a text, once there are so many.
async fn logged(served: &Served, text: &str, count: usize) -> Vec<Value> {
    for _ in 0..600 {
        let log = served.log();
        let lines = log.iter().filter(|line| line.contains(text));
        let lines: Vec<Value> = lines.map(|line| serde_json::from_str(line).expect("JSON")).collect();
        if lines.len() >= count {
            return lines;
        }
        tokio::time::sleep(Duration::from_millis(20)).await;
    }
    panic!("{text} isn't logged {count} times: {:?}", served.log());
}

async fn a_request_is_logged_with_who_sent_it_and_from_where(store: TestStore) {
    let served = Served::start_with(&store.url, &["--trusted-proxy", "127.0.0.0/8"]);
    let (client, token) = (reqwest::Client::new(), token(&store.url));
    let bikes = || client.get(format!("{}/v1/bikes?limit=1", served.url)).bearer_auth(&token);
    assert_eq!(bikes().send().await.expect("an answer").status(), 200);
    let forwarded = bikes().header("x-forwarded-for", "203.0.113.9, 198.51.100.7").send().await;
    assert_eq!(forwarded.expect("an answer").status(), 200);
    let nobody = client.get(format!("{}/v1/bikes", served.url)).send().await.expect("an answer");
    assert_eq!(nobody.status(), 401);
    let lines = logged(&served, "\"/v1/bikes\"", 3).await;
    let of = |field: &str| lines.iter().map(|line| line[field].clone()).collect::<Vec<_>>();
    assert_eq!(of("client"), ["127.0.0.1", "198.51.100.7", "127.0.0.1"]);
    let tokens = client.get(format!("{}/v1/tokens", served.url)).bearer_auth(&token).send().await;
    let tokens: Value = tokens.expect("an answer").json().await.expect("JSON");
    let id = &tokens["items"][0]["id"];
    assert_eq!(of("token"), [id.clone(), id.clone(), Value::Null]);
    assert!(of("workshop")[0].as_str().is_some_and(|workshop| workshop.len() == 36), "{lines:?}");
    assert_eq!(of("workshop")[2], Value::Null);
    // Pages are someone's as well.
    let cookie = signed_in(&served, &token).await;
    let page = client.get(format!("{}/tools", served.url)).header("cookie", cookie).send().await;
    assert_eq!(page.expect("an answer").status(), 200);
    let line = &logged(&served, "\"path\":\"/tools\"", 1).await[0];
    assert_eq!((&line["token"], &line["workshop"]), (id, &of("workshop")[0]));
}

async fn what_leaves_and_who_was_refused_is_written_down(store: TestStore) {
    let server = TestServer::start(store).await;
    let bike = server.bike("041").await;
    let ride = |id: &str, km: f64| json!({"started_at": "2026-03-01T08:00:00Z", "distance_km": km, "source": "log", "source_id": id});
    let rides = format!("/v1/bikes/{bike}/rides");
    for (km, status) in [(18.4, 201), (18.4, 200), (19.0, 200)] {
        server.post(&rides, &ride("r1", km)).await.check(status);
    }
    let of_batch = |id: &str, km: f64| {
        let mut ride = ride(id, km);
        ride["bike_id"] = json!(bike);
        ride["started_at"] = json!("2026-03-02T08:00:00Z");
        ride
    };
    let batch = json!({"rides": [of_batch("r2", 5.0), of_batch("r3", 7.0), of_batch("r4", -1.0)]});
    for _ in 0..2 {
        server.post("/v1/rides", &batch).await.check(200);
    }
    let manager = server.token_of(wear_api::domain::Role::Manager).to_owned();
    server.send(server.request(Method::GET, "/v1/exports/bikes").bearer_auth(&manager)).await.check(200);
    let made = server.post("/v1/tokens", &json!({"role": "mechanic", "label": "bench"})).await.expect(201);
    let secret = made.body["secret"].as_str().expect("a secret").to_owned();
    let revoke = server.request(Method::DELETE, &format!("/v1/tokens/{}", made.id())).bearer_auth(&manager);
    assert!(server.send(revoke).await.status.is_success());
    for token in [secret.as_str(), "wear_nobodys", &format!("wear_{}", "5".repeat(64))] {
        let form = server.request(Method::POST, "/sign-in").header("content-type", FORM);
        server.send(form.body(format!("token={token}"))).await.check(422);
    }
    let audit = server.get("/v1/audit?limit=100").await.expect(200).body;
    let entries = audit["items"].as_array().expect("entries");
    let of = |action: &str| entries.iter().filter(|entry| entry["action"] == action).collect::<Vec<_>>();
    assert_eq!(of("ride.create").len(), 1, "{audit}");
    let [replaced] = of("ride.replace")[..] else { panic!("{audit}") };
    assert_eq!(replaced["detail"]["from"]["distance_km"], 18.4);
    assert_eq!(replaced["detail"]["to"]["distance_km"], 19.0);
    let [batch] = of("ride.batch")[..] else { panic!("{audit}") };
    assert_eq!(batch["detail"], json!({"new": 2, "replaced": 0, "unchanged": 0}));
    let [export] = of("export")[..] else { panic!("{audit}") };
    assert_eq!(export["subject"], "exports/bikes");
    let [refused] = of("session.refuse")[..] else { panic!("{audit}") };
    assert_eq!((&refused["token_label"], &refused["detail"]["why"]), (&json!("bench"), &json!("revoked")));
}

async fn the_cause_of_a_fault_is_logged(store: TestStore) {
    let (engine, url) = (store.store.engine(), store.url.clone());
    let served = Served::start(&url);
    let cookie = signed_in(&served, &token(&url)).await;
    execute(engine, &url, "drop table tools").await;
    let page = strict().get(format!("{}/tools", served.url)).header("cookie", cookie);
    let page = page.header("x-request-id", "question-17").send().await.expect("an answer");
    assert_eq!(page.status(), 500);
    let line = &logged(&served, "request failed", 1).await[0];
    assert_eq!(line["request_id"], "question-17");
    let cause = line["error"].as_str().expect("a cause");
    assert!(cause.contains("no such table") || cause.contains("does not exist"), "{cause}");
}
