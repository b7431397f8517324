//! Requests that are sent twice and count once, and changes that another transaction came between.

use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::Duration;

use reqwest::{Method, RequestBuilder};
use serde_json::{Value, json};
use sqlx::{AssertSqlSafe, Connection as _, Executor as _, PgConnection};
use wear_api::domain::{Role, WorkshopName};
use wear_api::service::{idempotency, tokens};
use wear_api::store::Engine;
use wear_tests::{Answer, Served, TestServer, TestStore, bike, on_both_stores, program};

use crate::document::{examples, operations, ready_for, served, with_body, with_ids_of_its_own};

on_both_stores!(
    every_post_takes_a_key,
    the_same_key_at_once_is_in_flight,
    another_process_sees_it_in_flight,
    an_error_leaves_the_key_free,
    a_change_lasts_only_with_its_answer,
    a_key_counts_for_a_day,
    a_key_is_its_tokens_own,
    a_secret_is_kept_sealed,
    odd_keys_are_refused,
    what_a_killed_process_was_asked_can_be_asked_again,
);

fn keyed(server: &TestServer, path: &str, key: &str) -> RequestBuilder {
    server
        .request(Method::POST, path)
        .bearer_auth(server.token_of(Role::Manager))
        .header("idempotency-key", key)
}

async fn bikes(server: &TestServer) -> usize {
    let list = server.get("/v1/bikes?limit=100").await.expect(200).body;
    list["items"].as_array().map_or(0, Vec::len)
}

fn same(first: &Answer, second: &Answer, told: &str) {
    assert_eq!((first.status, &first.body), (second.status, &second.body), "{told}");
    for name in ["location", "etag", "content-type", "link"] {
        assert_eq!(first.headers.get(name), second.headers.get(name), "{name} {told}");
    }
    assert_ne!(first.header("x-request-id"), second.header("x-request-id"), "{told}");
}

async fn every_post_takes_a_key(store: TestStore) {
    let server = TestServer::start(store).await;
    let document = served(&server).await;
    let mut asked = 0;
    for (path, method, operation) in operations(&document) {
        // Who redeems a code has no token yet whose key it could be.
        if method != Method::POST || path == "/v1/link-redemptions" {
            continue;
        }
        let documented = operation["parameters"].as_array().is_some_and(|parameters| {
            parameters.iter().any(|parameter| parameter["name"] == "Idempotency-Key")
        });
        assert!(documented, "{path}");
        let address = ready_for(&server, &path).await;
        let mut body = operation.get("requestBody").and_then(|body| examples(body).into_iter().next());
        if let Some(body) = &mut body {
            with_ids_of_its_own(&server, body).await;
        }
        let send = |body: Option<Value>| {
            let request = keyed(&server, &address, "k1");
            server.send(match body {
                Some(body) => with_body(request, &body),
                None => request,
            })
        };
        let first = send(body.clone()).await;
        assert!(first.status.is_success(), "{path} {}", first.body);
        same(&first, &send(body.clone()).await, &path);
        let other = send(Some(json!({"other": 1}))).await.expect(422);
        assert_eq!(other.problem(), "idempotency-key-reused", "{path}");
        same(&first, &send(body).await, &path);
        asked += 1;
    }
    assert!(asked >= 11, "{asked}");
}

/// Holds what a ride on the bike needs, so that the ride waits.
async fn hold(server: &TestServer, bike: &str) -> wear_api::store::Tx {
    let name = WorkshopName::new("Harbour").expect("a name");
    let workshop = tokens::workshop_named(&server.services, name).await.expect("a workshop");
    let mut tx = server.services.store.begin_write(workshop).await.expect("begins");
    tx.mark_bikes(&[bike.parse().expect("an id")], server.now()).await.expect("marks");
    tx
}

async fn the_same_key_at_once_is_in_flight(store: TestStore) {
    let server = TestServer::start(store).await;
    let bike = server.bike("041").await;
    let rides = format!("/v1/bikes/{bike}/rides");
    let ride = json!({"started_at": "2026-03-01T08:00:00Z", "distance_km": 10});
    let held = hold(&server, &bike).await;
    let first = server.send(keyed(&server, &rides, "k1").json(&ride));
    let meanwhile = async {
        tokio::time::sleep(Duration::from_millis(300)).await;
        let second = server.send(keyed(&server, &rides, "k1").json(&ride)).await.expect(409);
        assert_eq!((second.problem(), second.header("retry-after")), ("request-in-flight", "1"));
        drop(held);
    };
    let (first, ()) = tokio::join!(first, meanwhile);
    let first = first.expect(201);
    same(&first, &server.send(keyed(&server, &rides, "k1").json(&ride)).await, "after");
    let listed = server.get(&rides).await.expect(200).body;
    assert_eq!(listed["items"].as_array().map(Vec::len), Some(1));

    let send = || server.send(keyed(&server, "/v1/bikes", "k2").json(&wear_tests::bike("042")));
    let answers = tokio::join!(send(), send(), send(), send(), send(), send());
    let answers: [Answer; 6] = answers.into();
    for answer in &answers {
        assert!(matches!(answer.status.as_u16(), 201 | 409), "{}", answer.body);
    }
    assert!(answers.iter().any(|answer| answer.status == 201));
    assert_eq!(bikes(&server).await, 2);
}

async fn another_process_sees_it_in_flight(store: TestStore) {
    let server = TestServer::start(store).await;
    let bike = server.bike("041").await;
    let other = server.beside().await;
    let rides = format!("/v1/bikes/{bike}/rides");
    let ride = json!({"started_at": "2026-03-01T08:00:00Z", "distance_km": 10});
    let held = hold(&server, &bike).await;
    let first = server.send(keyed(&server, &rides, "k1").json(&ride));
    let second = async {
        tokio::time::sleep(Duration::from_millis(300)).await;
        let elsewhere = reqwest::Client::new()
            .post(format!("{other}{rides}"))
            .bearer_auth(server.token_of(Role::Manager))
            .header("idempotency-key", "k1")
            .json(&ride);
        let letting_go = async {
            tokio::time::sleep(Duration::from_millis(300)).await;
            drop(held);
        };
        tokio::join!(server.send(elsewhere), letting_go).0
    };
    let (first, second) = tokio::join!(first, second);
    let first = first.expect(201);
    match server.services.store.engine() {
        Engine::Postgres => assert_eq!(second.expect(409).problem(), "request-in-flight"),
        // SQLite's second writer waits until the first has its answer.
        Engine::Sqlite => same(&first, &second, "elsewhere"),
    }
    let listed = server.get(&rides).await.expect(200).body;
    assert_eq!(listed["items"].as_array().map(Vec::len), Some(1));
}

async fn an_error_leaves_the_key_free(store: TestStore) {
    let server = TestServer::start(store).await;
    let wrong = keyed(&server, "/v1/bikes", "k1").json(&json!({"use": "town"}));
    assert_eq!(server.send(wrong).await.expect(422).problem(), "invalid-body");
    let refused = server.request(Method::POST, "/v1/part-models").bearer_auth(server.token_of(Role::App));
    let model = json!({"name": "Chain", "place": "chain"});
    let _refused = server.send(refused.header("idempotency-key", "k1").json(&model)).await.expect(403);
    let _made = server.send(keyed(&server, "/v1/bikes", "k1").json(&bike("041"))).await.expect(201);
    let bike = server.bike("042").await;
    for _ in 0..2 {
        let taken =
            keyed(&server, &format!("/v1/bikes/{bike}/fittings"), "k1").json(&json!({"place": "chain"}));
        assert_eq!(server.send(taken).await.expect(409).problem(), "conflict");
    }
}

/// Answers can't be stored as long as the trigger is there.
const NO_ANSWERS: [(Engine, &str, &str); 2] = [
    (
        Engine::Postgres,
        "create function refuse() returns trigger language plpgsql as $$ begin
             raise exception 'no answers' using errcode = 'XX000';
         end $$;
         create trigger refuse before update on idempotency_keys for each row execute function refuse();",
        "drop trigger refuse on idempotency_keys",
    ),
    (
        Engine::Sqlite,
        "create trigger refuse before update on idempotency_keys begin select raise(abort, 'no answers'); end",
        "drop trigger refuse",
    ),
];

async fn run(server: &TestServer, sql: &'static str) {
    match server.services.store.engine() {
        Engine::Postgres => {
            let mut connection = PgConnection::connect(server.database_url()).await.expect("connects");
            connection.execute(sql).await.expect("runs");
        }
        Engine::Sqlite => {
            let mut connection =
                sqlx::SqliteConnection::connect(server.database_url()).await.expect("connects");
            connection.execute(sql).await.expect("runs");
        }
    }
}

async fn a_change_lasts_only_with_its_answer(store: TestStore) {
    let server = TestServer::start(store).await;
    let engine = server.services.store.engine();
    let (_, refuse, allow) = NO_ANSWERS.into_iter().find(|(of, ..)| *of == engine).expect("a trigger");
    run(&server, refuse).await;
    let send = || server.send(keyed(&server, "/v1/bikes", "k1").json(&bike("041")));
    assert_eq!(send().await.expect(500).problem(), "internal");
    assert_eq!(bikes(&server).await, 0, "the handler has made the bike, and its answer isn't stored");
    let _without_a_key = server.bike("042").await;
    run(&server, allow).await;
    let first = send().await.expect(201);
    same(&first, &send().await, "stored");
    assert_eq!(bikes(&server).await, 2);
}

async fn a_key_counts_for_a_day(store: TestStore) {
    let server = TestServer::start(store).await;
    let send = || server.send(keyed(&server, "/v1/bikes", "k1").json(&bike("041")));
    let first = send().await.expect(201).id();
    server.wait(chrono::Duration::hours(24));
    assert_eq!(idempotency::sweep(&server.services).await.expect("sweeps"), 0);
    assert_eq!(send().await.expect(201).id(), first);
    server.wait(chrono::Duration::seconds(1));
    // Its label is free again.
    let retire = server.request(Method::DELETE, &format!("/v1/bikes/{first}"));
    let retire = retire.bearer_auth(server.token_of(Role::Mechanic)).header("if-match", "\"1\"");
    server.send(retire).await.check(204);
    assert_ne!(send().await.expect(201).id(), first);
    server.wait(chrono::Duration::hours(25));
    assert_eq!(idempotency::sweep(&server.services).await.expect("sweeps"), 1);
}

async fn a_key_is_its_tokens_own(store: TestStore) {
    let server = TestServer::start(store).await;
    let first = server.send(keyed(&server, "/v1/bikes", "k1").json(&bike("041"))).await.expect(201);
    let mechanic = server.request(Method::POST, "/v1/bikes").bearer_auth(server.token_of(Role::Mechanic));
    let other = server.send(mechanic.header("idempotency-key", "k1").json(&bike("042"))).await.expect(201);
    assert_ne!(first.id(), other.id());
    let made = keyed(&server, "/v1/part-models", "k1").json(&json!({"name": "Chain", "place": "chain"}));
    let _elsewhere = server.send(made).await.expect(201);
    // The IETF's draft writes the key in quotes: it is the same key.
    let quoted = keyed(&server, "/v1/bikes", "\"k1\"").json(&bike("041"));
    assert_eq!(server.send(quoted).await.expect(201).id(), first.id());
}

async fn a_secret_is_kept_sealed(store: TestStore) {
    let server = TestServer::start(store).await;
    let send = || {
        let body = json!({"role": "app", "label": "ride log"});
        server.send(keyed(&server, "/v1/tokens", "k1").json(&body))
    };
    let first = send().await.expect(201);
    let secret = first.body["secret"].as_str().expect("a secret").to_owned();
    assert_eq!(send().await.expect(201).body["secret"], secret.as_str());
    let request = server.request(Method::GET, "/v1/bikes").bearer_auth(&secret);
    let _opens = server.send(request).await.expect(200);
    let kept = kept_bodies(&server).await;
    assert_eq!(kept.len(), 1);
    let holds = |needle: &str| kept[0].windows(needle.len()).any(|window| window == needle.as_bytes());
    assert!(!holds(&secret) && !holds("ride log"), "the answer lies open in the store");
}

async fn kept_bodies(server: &TestServer) -> Vec<Vec<u8>> {
    const BODIES: &str = "select body from idempotency_keys where body is not null";
    match server.services.store.engine() {
        Engine::Postgres => {
            let mut connection = PgConnection::connect(server.database_url()).await.expect("connects");
            connection.execute("select set_config('wear.scope', 'all', false)").await.expect("sees all");
            sqlx::query_scalar(BODIES).fetch_all(&mut connection).await.expect("bodies")
        }
        Engine::Sqlite => {
            let mut connection =
                sqlx::SqliteConnection::connect(server.database_url()).await.expect("connects");
            sqlx::query_scalar(BODIES).fetch_all(&mut connection).await.expect("bodies")
        }
    }
}

async fn odd_keys_are_refused(store: TestStore) {
    let server = TestServer::start(store).await;
    for odd in ["", " ", "\"\"", &"k".repeat(256)] {
        let answer = server.send(keyed(&server, "/v1/bikes", odd).json(&bike("041"))).await.expect(400);
        assert_eq!(answer.problem(), "invalid-parameter");
        assert_eq!(answer.body["errors"][0]["header"], "Idempotency-Key", "{}", answer.body);
    }
    let twice = keyed(&server, "/v1/bikes", "k1").header("idempotency-key", "k2").json(&bike("041"));
    let _refused = server.send(twice).await.expect(400);
    assert_eq!(bikes(&server).await, 0);
}

/// Bikes have no identity of their own but the key: one too many or one too few would show.
async fn what_a_killed_process_was_asked_can_be_asked_again(store: TestStore) {
    const POSTERS: usize = 4;
    let made = program()
        .args(["token", "--database-url", &store.url, "--workshop", "Harbour", "--role", "mechanic"])
        .output()
        .expect("runs");
    let token = String::from_utf8(made.stdout).expect("text").trim().to_owned();
    let client = reqwest::Client::new();
    let post = |url: &str, number: usize| {
        client
            .post(format!("{url}/v1/bikes"))
            .bearer_auth(&token)
            .header("idempotency-key", format!("bike {number}"))
            .json(&bike(&number.to_string()))
    };
    let (next, answered) = (AtomicUsize::new(0), AtomicUsize::new(0));
    let mut known: Vec<(usize, String)> = Vec::new();
    for _round in 0..3 {
        let served = Served::start(&store.url);
        let posters = (0..POSTERS).map(|_| async {
            let mut known = Vec::new();
            loop {
                let number = next.fetch_add(1, Ordering::Relaxed);
                match post(&served.url, number).send().await {
                    Ok(answer) => {
                        assert_eq!(answer.status(), 201);
                        answered.fetch_add(1, Ordering::Relaxed);
                        if let Ok(body) = answer.json::<Value>().await {
                            known.push((number, body["id"].as_str().expect("an id").to_owned()));
                        }
                    }
                    Err(_) => return known,
                }
            }
        });
        let killer = async {
            let enough = answered.load(Ordering::Relaxed) + 12;
            while answered.load(Ordering::Relaxed) < enough {
                tokio::time::sleep(Duration::from_millis(1)).await;
            }
            let pid = served.pid().to_string();
            let sent = std::process::Command::new("kill").args(["-KILL", &pid]).status().expect("a signal");
            assert!(sent.success());
        };
        let (acknowledged, ()) = tokio::join!(futures_util::future::join_all(posters), killer);
        known.extend(acknowledged.into_iter().flatten());
    }
    let asked = next.load(Ordering::Relaxed);
    assert!(known.len() > 30 && known.len() < asked, "{} of {asked}", known.len());
    let served = Served::start(&store.url);
    let mut ids = Vec::new();
    for number in 0..asked {
        let answer = post(&served.url, number).send().await.expect("an answer");
        assert_eq!(answer.status(), 201, "{number}");
        let body: Value = answer.json().await.expect("JSON");
        let id = body["id"].as_str().expect("an id").to_owned();
        if let Some((_, first)) = known.iter().find(|(known, _)| *known == number) {
            assert_eq!(&id, first, "{number}");
        }
        ids.push(id);
    }
    let mut found: Vec<String> = Vec::new();
    let mut path = "/v1/bikes?limit=100".to_owned();
    loop {
        let request = client.get(format!("{}{path}", served.url)).bearer_auth(&token);
        let answer = request.send().await.expect("an answer");
        let link = answer.headers().get("link").and_then(|link| link.to_str().ok()).map(str::to_owned);
        let page: Value = answer.json().await.expect("JSON");
        let items = page["items"].as_array().expect("items");
        found.extend(items.iter().map(|item| item["id"].as_str().expect("an id").to_owned()));
        let Some(link) = link else { break };
        path = link.split(['<', '>']).nth(1).expect("a target").to_owned();
    }
    found.sort();
    ids.sort();
    assert_eq!(found, ids);
}

/// Makes the next `times` rides on a Postgres store fail as a deadlock or a failed serialization would.
async fn interrupt(store: &TestStore, code: &str, times: u32) {
    let mut connection = PgConnection::connect(&store.url).await.expect("connects");
    let sql = format!(
        "create sequence interruptions;
         create function interrupt() returns trigger language plpgsql as $$ begin
             if nextval('interruptions') <= {times} then raise exception 'between' using errcode = '{code}'; end if;
             return new;
         end $$;
         create trigger interrupt before insert on rides for each row execute function interrupt();"
    );
    connection.execute(AssertSqlSafe(sql)).await.expect("a trigger");
}

#[tokio::test]
async fn a_change_that_was_interrupted_is_tried_again() {
    for (code, key) in [("40001", None), ("40P01", None), ("40001", Some("k1"))] {
        let store = TestStore::postgres().await;
        interrupt(&store, code, 3).await;
        let server = TestServer::start(store).await;
        let bike = server.bike("041").await;
        let rides = format!("/v1/bikes/{bike}/rides");
        let ride = json!({"started_at": "2026-03-01T08:00:00Z", "distance_km": 10});
        let request = match key {
            Some(key) => keyed(&server, &rides, key),
            None => server.request(Method::POST, &rides).bearer_auth(server.token_of(Role::App)),
        };
        let _stored = server.send(request.json(&ride)).await.expect(201);
        let listed = server.get(&rides).await.expect(200).body;
        assert_eq!(listed["items"].as_array().map(Vec::len), Some(1), "{code}");
    }
}

#[tokio::test]
async fn a_change_that_is_interrupted_forever_is_given_up() {
    let store = TestStore::postgres().await;
    interrupt(&store, "40001", 1_000_000).await;
    let server = TestServer::start(store).await;
    let bike = server.bike("041").await;
    let rides = format!("/v1/bikes/{bike}/rides");
    let ride = json!({"started_at": "2026-03-01T08:00:00Z", "distance_km": 10});
    for key in [None, Some("k1")] {
        let request = match key {
            Some(key) => keyed(&server, &rides, key),
            None => server.request(Method::POST, &rides).bearer_auth(server.token_of(Role::App)),
        };
        let answer = server.send(request.json(&ride)).await.expect(503);
        assert_eq!((answer.problem(), answer.header("retry-after")), ("unavailable", "1"));
        assert_eq!(server.get(&rides).await.expect(200).body["items"], json!([]));
    }
}
