//! Tables over slow, broken and endless connections.

use std::time::{Duration, Instant};

use reqwest::Method;
use serde_json::{Value, json};
use tokio::io::{AsyncReadExt as _, AsyncWriteExt as _};
use tokio::net::TcpStream;
use wear_api::domain::Role;
use wear_api::transfer::TableKind;
use wear_tests::{TestServer, TestStore, on_both_stores};

use crate::tables::{export, import};

on_both_stores!(
    a_table_above_the_limit_is_refused,
    a_slow_sender_is_told_and_holds_nobody_up,
    half_a_table_changes_nothing,
    who_takes_no_export_holds_nobody_up,
);

const HEADER: &str = "bike,source,source_id,started_at,distance_km\n";

fn line(number: usize) -> String {
    format!("041,log,r{number:0127},2026-03-{:02}T08:00:00Z,10\n", number % 28 + 1)
}

async fn open(server: &TestServer) -> TcpStream {
    let address = server.url().trim_start_matches("http://").to_owned();
    TcpStream::connect(address).await.expect("a connection")
}

/// A connection that has sent the beginning of an import of `length` bytes.
async fn begun(server: &TestServer, length: usize) -> TcpStream {
    let mut connection = open(server).await;
    let head = format!(
        "POST /v1/imports/rides HTTP/1.1\r\nHost: localhost\r\nAuthorization: Bearer {}\r\nContent-Type: text/csv\r\nContent-Length: {length}\r\n\r\n{HEADER}{}",
        server.token_of(Role::Manager),
        line(1),
    );
    connection.write_all(head.as_bytes()).await.expect("sent");
    connection
}

async fn rides_of(server: &TestServer, bike: &str) -> usize {
    let rides = server.get(&format!("/v1/bikes/{bike}/rides?limit=100")).await.expect(200).body;
    rides["items"].as_array().expect("items").len()
}

async fn a_table_above_the_limit_is_refused(store: TestStore) {
    let server = TestServer::start_with(store, |settings| settings.import_mib = Some(1)).await;
    let bike = server.bike("041").await;
    let mut table = HEADER.to_owned();
    let mut number = 0;
    while table.len() < (1 << 20) {
        number += 1;
        table += &line(number);
    }
    let token = server.token_of(Role::Manager).to_owned();
    let refused = import(&server, &token, TableKind::Rides, "", table.clone()).await.expect(413);
    assert_eq!(refused.problem(), "body-too-large");
    assert!(refused.body["detail"].as_str().expect("a text").contains("1048576 bytes"), "{}", refused.body);
    // A body of unknown length is refused once it is past the limit.
    let pieces: Vec<Result<Vec<u8>, std::io::Error>> =
        table.as_bytes().chunks(64 * 1024).map(|piece| Ok(piece.to_vec())).collect();
    let body = reqwest::Body::wrap_stream(futures_util::stream::iter(pieces));
    let request = server.request(Method::POST, "/v1/imports/rides").bearer_auth(&token);
    let _refused = server.send(request.header("content-type", "text/csv").body(body)).await.expect(413);
    assert_eq!(rides_of(&server, &bike).await, 0);
    let just_below = &table[..table.trim_end().rfind('\n').expect("lines") + 1];
    let done = import(&server, &token, TableKind::Rides, "?dry_run=true", just_below).await.expect(200).body;
    assert_eq!(done["accepted"], json!(number - 1));
}

async fn a_slow_sender_is_told_and_holds_nobody_up(store: TestStore) {
    let server = TestServer::start_with(store, |settings| settings.import_seconds = Some(1)).await;
    let bike = server.bike("041").await;
    let began = Instant::now();
    let mut slow = begun(&server, 100_000).await;
    // While it waits, others write.
    let ride = json!({"started_at": "2026-03-01T08:00:00Z", "distance_km": 10});
    let _ridden = server.post(&format!("/v1/bikes/{bike}/rides"), &ride).await.expect(201);
    assert!(began.elapsed() < Duration::from_millis(900), "{:?}", began.elapsed());
    let mut answer = vec![0; 12];
    let _read = slow.read_exact(&mut answer).await.expect("an answer");
    assert_eq!(String::from_utf8_lossy(&answer), "HTTP/1.1 408");
    assert!(began.elapsed() < Duration::from_secs(4), "{:?}", began.elapsed());
    assert_eq!(rides_of(&server, &bike).await, 1);
}

async fn half_a_table_changes_nothing(store: TestStore) {
    let server = TestServer::start(store).await;
    let bike = server.bike("041").await;
    for _ in 0..20 {
        drop(begun(&server, 100_000).await);
    }
    let token = server.token_of(Role::Manager).to_owned();
    let done = import(&server, &token, TableKind::Rides, "", format!("{HEADER}{}", line(2))).await;
    assert_eq!(done.expect(200).body["accepted"], 1);
    assert_eq!(rides_of(&server, &bike).await, 1);
}

async fn who_takes_no_export_holds_nobody_up(store: TestStore) {
    // One export at a time: a quarter of four connections.
    let server = TestServer::start(store).await;
    let bike = server.bike("041").await;
    let token = server.token_of(Role::Manager).to_owned();
    let table: String = std::iter::once(HEADER.to_owned()).chain((0..40_000).map(line)).collect();
    let done = import(&server, &token, TableKind::Rides, "", table).await.expect(200).body;
    assert_eq!(done["accepted"], 40_000);
    let mut waiting = open(&server).await;
    let ask =
        format!("GET /v1/exports/rides HTTP/1.1\r\nHost: localhost\r\nAuthorization: Bearer {token}\r\n\r\n");
    waiting.write_all(ask.as_bytes()).await.expect("sent");
    let mut begins = vec![0; 15];
    let _read = waiting.read_exact(&mut begins).await.expect("an answer");
    assert_eq!(String::from_utf8_lossy(&begins), "HTTP/1.1 200 OK");
    // It isn't read on: others work, another export is told to come again.
    let began = Instant::now();
    let ride = json!({"started_at": "2026-04-01T08:00:00Z", "distance_km": 10});
    let _ridden = server.post(&format!("/v1/bikes/{bike}/rides"), &ride).await.expect(201);
    assert!(began.elapsed() < Duration::from_secs(2), "{:?}", began.elapsed());
    let second = server.send(server.request(Method::GET, "/v1/exports/rides").bearer_auth(&token)).await;
    let second = second.expect(503);
    assert_eq!((second.problem(), second.header("retry-after")), ("unavailable", "10"));
    drop(waiting);
    let whole = export(&server, &token, TableKind::Rides, "").await;
    assert_eq!(whole.lines().count(), 40_002);
    let half: Value = server.get("/v1/exports/boats").await.expect(404).body;
    assert_eq!(half["status"], 404);
}
