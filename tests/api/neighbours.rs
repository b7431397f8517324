//! What one workshop does isn't felt by another.

use std::io::{self, BufRead, Read};
use std::sync::mpsc::{Receiver, Sender, channel};

use reqwest::Method;
use serde_json::{Value, json};
use tokio::io::{AsyncReadExt as _, AsyncWriteExt as _};
use tokio::net::TcpStream;
use wear_api::domain::{Role, WorkshopName};
use wear_api::service::imports::{self, Ended};
use wear_api::service::{Actor, tokens};
use wear_api::store::Engine;
use wear_api::transfer::TableKind;
use wear_tests::{Answer, TestServer, TestStore, on_both_stores};

on_both_stores!(
    what_an_import_holds_is_told_and_others_are_answered,
    a_dry_run_holds_nothing_while_it_waits,
    an_endless_body_ends_with_its_answer,
    a_batch_of_junk_is_refused_by_its_count,
);

/// Lines that come up to a place, and the rest only when somebody says so.
struct Held {
    text: io::Cursor<Vec<u8>>,
    until: u64,
    reached: Sender<()>,
    go_on: Receiver<()>,
}

impl Held {
    fn wait(&mut self) {
        if self.until <= self.text.position() {
            self.until = u64::MAX;
            let _gone = self.reached.send(());
            let _gone = self.go_on.recv();
        }
    }
}

impl Read for Held {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        self.wait();
        let piece = into.len().min(512);
        Read::read(&mut self.text, &mut into[..piece])
    }
}

impl BufRead for Held {
    fn fill_buf(&mut self) -> io::Result<&[u8]> {
        self.wait();
        let piece = self.text.fill_buf()?;
        Ok(&piece[..piece.len().min(512)])
    }

    fn consume(&mut self, amount: usize) {
        self.text.consume(amount);
    }
}

fn ride(day: usize) -> Value {
    json!({"started_at": format!("2026-03-{day:02}T08:00:00Z"), "distance_km": 10})
}

async fn post_to(server: &TestServer, bike: &str, day: usize) -> Answer {
    server.post(&format!("/v1/bikes/{bike}/rides"), &ride(day)).await
}

/// Begins an import into the workshop of the server's tokens, which waits when most of its lines are read; asks meanwhile, and
/// gives what was answered and how the import ended.
async fn during_an_import(
    server: &TestServer,
    dry_run: bool,
    meanwhile: impl AsyncFnOnce(),
) -> imports::Imported {
    let mut table = String::from("bike,source,source_id,started_at,distance_km\n");
    // One ride is told twice, far apart, and once more in other words.
    for number in (0..2_500).chain([3]) {
        table += &format!("041,log,r{number},2026-04-{:02}T08:00:00Z,10\n", number % 28 + 1);
    }
    table += "041,log,r4,2026-04-05T08:00:00Z,11\n";
    let (reached, is_reached) = channel();
    let (go, go_on) = channel();
    let until = table.len() as u64 * 9 / 10;
    let source = Held { text: io::Cursor::new(table.into_bytes()), until, reached, go_on };
    let services = server.services.clone();
    let name = WorkshopName::new("Harbour").expect("a name");
    let workshop_id = tokens::workshop_named(&services, name).await.expect("a workshop");
    let importing = async {
        let program = Actor::program(workshop_id);
        let import = services.change(&program, async |work| {
            imports::import(&services, work, TableKind::Rides, Box::new(source), dry_run).await
        });
        import.await.expect("an import")
    };
    let asking = async {
        tokio::task::spawn_blocking(move || is_reached.recv())
            .await
            .expect("no panic")
            .expect("most is read");
        meanwhile().await;
        go.send(()).expect("the import waits");
    };
    let (ended, ()) = tokio::join!(importing, asking);
    match ended {
        Ended::Done(done) => done,
        Ended::Refused(findings) => panic!("{findings:?}"),
    }
}

async fn what_an_import_holds_is_told_and_others_are_answered(store: TestStore) {
    let mut server = TestServer::start_with(store, |settings| settings.lock_seconds = Some(1)).await;
    let bike = server.bike("041").await;
    let harbour = server.token_of(Role::Manager).to_owned();
    server.move_to("Hilltop").await;
    let other = server.bike("041").await;
    let done = during_an_import(&server, false, async || {
        let path = format!("/v1/bikes/{bike}/rides");
        let request = server.request(Method::POST, &path).bearer_auth(&harbour).json(&ride(1));
        let refused = server.send(request).await.expect(503);
        assert_eq!(refused.problem(), "unavailable");
        assert!(refused.header("retry-after").parse::<u64>().is_ok_and(|seconds| seconds > 0));
        // It reads all the same, and others write too where more than one can.
        server.send(server.request(Method::GET, "/v1/bikes").bearer_auth(&harbour)).await.check(200);
        server.get("/v1/bikes").await.check(200);
        server.get("/health/ready").await.check(200);
        if server.services.store.engine() == Engine::Postgres {
            post_to(&server, &other, 1).await.check(201);
        }
    })
    .await;
    assert_eq!((done.accepted, done.unchanged, done.replaced), (2_500, 1, 1));
    let request = server.request(Method::POST, &format!("/v1/bikes/{bike}/rides")).bearer_auth(&harbour);
    server.send(request.json(&ride(1))).await.check(201);
}

async fn a_dry_run_holds_nothing_while_it_waits(store: TestStore) {
    let server = TestServer::start_with(store, |settings| settings.lock_seconds = Some(1)).await;
    let bike = server.bike("041").await;
    let done = during_an_import(&server, true, async || {
        post_to(&server, &bike, 1).await.check(201);
    })
    .await;
    assert_eq!((done.accepted, done.unchanged, done.replaced), (2_500, 1, 1));
    let rides = server.get(&format!("/v1/bikes/{bike}/rides")).await.expect(200).body;
    assert_eq!(rides["items"].as_array().map(Vec::len), Some(1));
}

async fn an_endless_body_ends_with_its_answer(store: TestStore) {
    const ENOUGH: usize = 4 << 30;
    let server = TestServer::start(store).await;
    let bearer = format!("Authorization: Bearer {}\r\n", server.token_of(Role::Manager));
    let cases = [
        ("/v1/rides", "application/json", "", "401"),
        ("/v1/bikes", "application/json", bearer.as_str(), "413"),
        ("/nowhere", "text/plain", "", "404"),
        ("/sign-in", "application/x-www-form-urlencoded", "", "400"),
    ];
    for (path, kind, bearer, status) in cases {
        let address = server.url().trim_start_matches("http://").to_owned();
        let connection = TcpStream::connect(address).await.expect("a connection");
        let (mut reads, mut writes) = connection.into_split();
        let head = format!(
            "POST {path} HTTP/1.1\r\nHost: localhost\r\n{bearer}Content-Type: {kind}\r\nTransfer-Encoding: chunked\r\n\r\n"
        );
        writes.write_all(head.as_bytes()).await.expect("sent");
        let piece = [&b"10000\r\n"[..], &vec![b'x'; 1 << 16], b"\r\n"].concat();
        let answer = tokio::spawn(async move {
            let mut begins = [0; 12];
            let read = reads.read_exact(&mut begins).await;
            let mut rest = Vec::new();
            let _end = reads.read_to_end(&mut rest).await;
            read.map(|_| String::from_utf8_lossy(&begins).into_owned())
        });
        let mut sent = 0;
        while sent < ENOUGH && writes.write_all(&piece).await.is_ok() {
            sent += piece.len();
        }
        assert!(sent < ENOUGH, "{path} took {sent} bytes and went on");
        assert_eq!(
            answer.await.expect("no panic").expect("an answer"),
            format!("HTTP/1.1 {status}"),
            "{path}"
        );
    }
}

async fn a_batch_of_junk_is_refused_by_its_count(store: TestStore) {
    let server = TestServer::start(store).await;
    let junk = format!("{{\"rides\":[{}]}}", vec!["[[[[[]]]]]"; 300_000].join(","));
    let refused = server.post_text("/v1/rides", junk).await.expect(422);
    assert_eq!(refused.pointers(), ["/rides"]);
    assert!(refused.body["detail"].as_str().is_some_and(|text| text.contains("300000")), "{}", refused.body);
    let few = format!("{{\"rides\":[[{}],7]}}", vec!["[]"; 300_000].join(","));
    let refused = server.post_text("/v1/rides", few).await.expect(200).body;
    assert_eq!(refused["failed"].as_array().map(Vec::len), Some(2));
}
