//! Senders that mean harm, against the real program: it says no, and goes on answering everyone else.

use std::io::{Read as _, Write as _};
use std::net::TcpStream;
use std::time::{Duration, Instant};

use serde_json::{Value, json};
use wear_tests::{Served, TestServer, TestStore, on_both_stores, program};

on_both_stores!(deep_and_wide_json_is_refused);

fn address(served: &Served) -> String {
    served.url.trim_start_matches("http://").to_owned()
}

fn alive(served: &Served) -> Duration {
    let began = Instant::now();
    let mut stream = TcpStream::connect(address(served)).expect("it listens");
    stream.set_read_timeout(Some(Duration::from_secs(5))).expect("a time limit");
    stream
        .write_all(b"GET /health/live HTTP/1.1\r\nhost: x\r\nconnection: close\r\n\r\n")
        .expect("a request");
    let mut answer = String::new();
    stream.read_to_string(&mut answer).expect("an answer");
    assert!(answer.starts_with("HTTP/1.1 200"), "{answer}");
    began.elapsed()
}

async fn deep_and_wide_json_is_refused(store: TestStore) {
    let server = TestServer::start(store).await;
    let bike = server.bike("041").await;
    let deep = |open: &str, close: &str| format!("{}{}", open.repeat(100_000), close.repeat(100_000));
    let table = [
        ("/v1/bikes".to_owned(), deep("[", "]")),
        ("/v1/rides".to_owned(), deep("{\"rides\":", "}")),
        ("/v1/rides".to_owned(), format!("{{\"rides\":[{}]}}", deep("[", "]"))),
        ("/v1/estimates".to_owned(), deep("{\"a\":", "}")),
        (format!("/v1/bikes/{bike}/readings"), deep("[{\"a\":", "}]")),
    ];
    for (path, body) in table {
        let answer = server.post_text(&path, body).await;
        assert!(matches!(answer.status.as_u16(), 400 | 413 | 422), "{path} {}", answer.status);
        assert!(answer.body.to_string().len() < 2_000, "{path}");
    }
    let wide = format!("{{{}}}", (0..20_000).map(|n| format!("\"k{n}\":1")).collect::<Vec<_>>().join(","));
    server.post_text("/v1/bikes", wide).await.check(422);
    let rides = json!({"rides": vec![Value::Null; 10_001]});
    server.post("/v1/rides", &rides).await.check(422);
    server.get("/v1/bikes").await.check(200);
}

/// Headers without end, in number and in length, and heads that never end.
#[tokio::test]
async fn endless_heads_are_cut_off() {
    let store = TestStore::sqlite().await;
    let served = Served::start(&store.url);
    let long = "x".repeat(16_384);
    for kind in ["one long header", "many headers", "a long target"] {
        let mut stream = TcpStream::connect(address(&served)).expect("it listens");
        stream.set_read_timeout(Some(Duration::from_secs(10))).expect("a time limit");
        let first = if kind == "a long target" { "GET /" } else { "GET /health/live HTTP/1.1\r\n" };
        stream.write_all(first.as_bytes()).expect("a line");
        let mut sent = 0;
        let cut = loop {
            let piece = match kind {
                "many headers" => format!("x-{sent}: {long}\r\n"),
                "one long header" if sent == 0 => format!("x-long: {long}"),
                _ => long.clone(),
            };
            if stream.write_all(piece.as_bytes()).is_err() {
                break true;
            }
            sent += piece.len();
            if sent > 4_000_000 {
                break false;
            }
        };
        let mut answer = Vec::new();
        // A reset is an answer too.
        let ended = stream.read_to_end(&mut answer);
        let text = String::from_utf8_lossy(&answer);
        assert!(cut || ended.is_err() || text.is_empty() || text.starts_with("HTTP/1.1 4"), "{kind}: {text}");
        assert!(alive(&served) < Duration::from_secs(1), "{kind}");
    }
}

/// Two hundred senders that write a byte a second: others are answered all the while, and the drippers are cut off.
#[tokio::test]
async fn drippers_do_not_keep_others_out() {
    let store = TestStore::sqlite().await;
    let make = ["token", "--database-url", &store.url, "--workshop", "Harbour", "--role", "manager"];
    let token = String::from_utf8(program().args(make).output().expect("a token").stdout).expect("UTF-8");
    let served = Served::start(&store.url);
    let head = format!(
        "POST /v1/bikes HTTP/1.1\r\nhost: x\r\nauthorization: Bearer {}\r\ncontent-type: application/json\r\n\
         content-length: 1000\r\n\r\n",
        token.trim()
    );
    let mut drippers: Vec<(TcpStream, bool)> = (0..200)
        .map(|number| {
            let mut stream = TcpStream::connect(address(&served)).expect("it listens");
            let in_body = number % 2 == 0;
            stream
                .write_all(if in_body { head.as_bytes() } else { b"GET / HTTP/1.1\r\nx: " })
                .expect("a start");
            (stream, in_body)
        })
        .collect();
    let mut slowest = Duration::ZERO;
    for _ in 0..8 {
        for (stream, _) in &mut drippers {
            // It may be cut off by now.
            let _sent = stream.write_all(b" ");
        }
        slowest = slowest.max(alive(&served));
        std::thread::sleep(Duration::from_secs(1));
    }
    assert!(slowest < Duration::from_secs(1), "{slowest:?}");
    // Heads have three seconds, bodies a minute.
    let mut cut = 0;
    for (stream, in_body) in &mut drippers {
        if *in_body {
            continue;
        }
        stream.set_read_timeout(Some(Duration::from_millis(50))).expect("a time limit");
        let mut answer = Vec::new();
        let ended = stream.read_to_end(&mut answer);
        let open = ended.is_err_and(|error| matches!(error.kind(), std::io::ErrorKind::WouldBlock));
        cut += usize::from(!open || answer.starts_with(b"HTTP/1.1 408"));
    }
    assert_eq!(cut, 100, "heads that never end are cut off");
}
