//! What hooks may reach, judged on the address that is connected to.

use std::io;
use std::net::{IpAddr, SocketAddr};
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::Duration;

use serde_json::{Value, json};
use wear_api::domain::{AttemptOutcome, HookSecret, HookSecrets, HookUrl};
use wear_api::webhook::address::Looked;
use wear_api::webhook::courier::Message;
use wear_api::webhook::{AddressPolicy, Courier, Lookup};
use wear_tests::{BrokenServer, Receiver, TestServer, TestStore, at};

/// Answers each look-up with the next of its lists, and the last one for ever; counts them.
#[derive(Clone)]
struct Names {
    answers: Arc<Vec<Vec<IpAddr>>>,
    asked: Arc<AtomicUsize>,
}

impl Names {
    fn new(answers: &[&[&str]]) -> Self {
        let address = |text: &&str| text.parse().expect("an address");
        let answers = answers.iter().map(|list| list.iter().map(address).collect()).collect();
        Self { answers: Arc::new(answers), asked: Arc::default() }
    }
}

impl Lookup for Names {
    fn lookup<'a>(&'a self, _host: &'a str) -> Looked<'a> {
        let place = self.asked.fetch_add(1, Ordering::SeqCst).min(self.answers.len() - 1);
        let found =
            self.answers[place].iter().map(|address| SocketAddr::new(*address, 0)).collect::<Vec<_>>();
        Box::pin(
            async move { if found.is_empty() { Err(io::Error::other("no such name")) } else { Ok(found) } },
        )
    }
}

fn secrets() -> HookSecrets {
    HookSecrets { current: HookSecret::generate().expect("randomness"), previous: None }
}

async fn send(courier: &Courier, url: &str) -> AttemptOutcome {
    let (url, secrets) = (HookUrl::new(url).expect(url), secrets());
    let message = Message { url: &url, secrets: &secrets, id: "msg_1", body: "{}" };
    courier.send(&message, at("2026-11-25T12:00:00Z")).await.outcome
}

fn courier(policy: AddressPolicy, names: &Names) -> Courier {
    Courier::with_lookup(policy, Duration::from_millis(500), names.clone()).expect("a courier")
}

fn plain() -> AddressPolicy {
    AddressPolicy { plain_http: true, networks: Vec::new() }
}

/// A receiver listens on the port each time: what keeps the message from it is the guard alone.
#[tokio::test]
async fn no_spelling_of_this_machine_is_reached() {
    let receiver = Receiver::start().await;
    let port = receiver.address().port();
    let names = Names::new(&[&["127.0.0.1"]]);
    let courier = courier(plain(), &names);
    for host in [
        "127.0.0.1",
        "127.1",
        "2130706433",
        "0x7f000001",
        "017700000001",
        "0.0.0.0",
        "[::1]",
        "[::]",
        "[::ffff:127.0.0.1]",
        "[::ffff:7f00:1]",
        "[::127.0.0.1]",
        "[64:ff9b::127.0.0.1]",
        "[2002:7f00:1::]",
        "localhost",
        "rebound.example",
        "LOCALHOST.",
    ] {
        let outcome = send(&courier, &format!("http://{host}:{port}/")).await;
        assert_eq!(outcome, AttemptOutcome::AddressNotAllowed, "{host}");
    }
    assert_eq!(receiver.received().await.len(), 0);
    // The same machine and port, once its network is allowed.
    let open = AddressPolicy { plain_http: true, networks: vec!["127.0.0.0/8".parse().expect("a network")] };
    assert_eq!(
        send(&self::courier(open, &names), &format!("http://named.example:{port}/")).await,
        AttemptOutcome::Delivered
    );
    assert_eq!(receiver.received().await.len(), 1);
}

#[tokio::test]
async fn a_name_is_judged_by_every_address_it_leads_to() {
    for addresses in [
        vec!["10.0.0.1"],
        vec!["169.254.169.254"],
        vec!["fd00:ec2::254"],
        vec!["fe80::1"],
        vec!["::ffff:192.168.1.1"],
        vec!["100.64.0.1"],
        vec!["1.1.1.1", "127.0.0.1"],
        vec!["2606:4700::1111", "::1"],
    ] {
        let names = Names::new(&[&addresses]);
        let outcome = send(&courier(plain(), &names), "http://app.example/").await;
        assert_eq!(outcome, AttemptOutcome::AddressNotAllowed, "{addresses:?}");
    }
    let nobody = Names::new(&[&[]]);
    assert_eq!(send(&courier(plain(), &nobody), "http://app.example/").await, AttemptOutcome::NoAddress);
}

/// The name leads to an allowed address first and to a closed one ever after. One attempt looks it up once and goes
/// where it was judged to go; the next attempt is judged anew.
#[tokio::test]
async fn a_name_that_changes_its_mind_is_judged_each_time() {
    let receiver = Receiver::start().await;
    let policy =
        AddressPolicy { plain_http: true, networks: vec!["127.0.0.1/32".parse().expect("a network")] };
    let names = Names::new(&[&["127.0.0.1"], &["127.0.0.2"]]);
    let courier = courier(policy, &names);
    let url = format!("http://rebinding.example:{}/", receiver.address().port());
    assert_eq!(send(&courier, &url).await, AttemptOutcome::Delivered);
    assert_eq!(names.asked.load(Ordering::SeqCst), 1, "one look-up for one attempt");
    assert_eq!(send(&courier, &url).await, AttemptOutcome::AddressNotAllowed);
    assert_eq!((receiver.received().await.len(), names.asked.load(Ordering::SeqCst)), (1, 2));
}

#[tokio::test]
async fn plain_http_needs_the_setting_at_delivery_too() {
    let receiver = Receiver::start().await;
    let policy =
        AddressPolicy { plain_http: false, networks: vec!["127.0.0.0/8".parse().expect("a network")] };
    let courier = courier(policy, &Names::new(&[&["127.0.0.1"]]));
    assert_eq!(send(&courier, &receiver.url("/")).await, AttemptOutcome::AddressNotAllowed);
    assert_eq!(receiver.received().await.len(), 0);
}

#[tokio::test]
async fn a_certificate_that_nobody_vouches_for_is_refused() {
    let receiver = BrokenServer::self_signed().await;
    let policy =
        AddressPolicy { plain_http: false, networks: vec!["127.0.0.0/8".parse().expect("a network")] };
    let courier = courier(policy, &Names::new(&[&["127.0.0.1"]]));
    let url = format!("https://localhost:{}/", receiver.address.port());
    assert_eq!(send(&courier, &url).await, AttemptOutcome::Insecure);
    assert_eq!(receiver.count(), 0);
    let no_tls = Receiver::start().await;
    let url = format!("https://localhost:{}/", no_tls.address().port());
    let outcome = send(&courier, &url).await;
    assert!(matches!(outcome, AttemptOutcome::Insecure | AttemptOutcome::NoConnection), "{outcome}");
}

/// Through the whole service: a hook to a name that leads to this machine. It can be entered, as only delivery can
/// tell, and nothing is delivered.
#[tokio::test]
async fn the_service_says_in_its_log_that_the_address_is_not_allowed() {
    let receiver = Receiver::start().await;
    let server = TestServer::start_with(TestStore::sqlite().await, |settings| {
        settings.hook_plain_http = Some(true);
    })
    .await;
    let url = format!("http://localhost:{}/", receiver.address().port());
    let body = json!({"label": "app", "url": url, "events": ["outlook.swap_now"]});
    let made = server.post("/v1/hooks", &body).await.expect(201);
    server.post(&format!("/v1/hooks/{}/test", made.id()), &Value::Null).await.check(202);
    let message =
        crate::hooks::logged(&server, &made.id(), 0, |message| message["attempts"][0].is_object()).await;
    assert_eq!(message["attempts"][0]["outcome"], "address_not_allowed");
    assert_eq!(receiver.received().await.len(), 0);
}
