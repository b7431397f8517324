//! Several processes on one Postgres, one of them killed all the time: nothing is lost, nothing is told twice.

use std::collections::BTreeMap;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::time::{Duration, Instant};

use rand::{RngExt as _, SeedableRng as _};
use rand_chacha::ChaCha8Rng;
use serde_json::{Value, json};
use tokio::sync::Mutex;
use wear_api::clock::Clock;
use wear_api::domain::{BikeId, Label, Role, WorkshopId, WorkshopName};
use wear_api::service::{Actor, Services, tokens};
use wear_tests::{Receiver, Served, TestStore, bike, header};

/// A minute, as the issue that asked for it says. By hand:
/// `cargo nextest run -p wear-tests --test worker --run-ignored only --no-capture killed_for_a_minute`.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
#[ignore = "run by hand: a minute and a half"]
async fn killed_for_a_minute() {
    under_kills(Duration::from_secs(60), 40).await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn killed_a_few_times() {
    under_kills(Duration::from_secs(4), 6).await;
}

const HOOKS: [&str; 6] =
    ["--hook-network", "127.0.0.0/8", "--hook-plain-http", "true", "--hook-seconds", "2"];

/// Servers that clients post to; the others only work in the background.
const SERVERS: usize = 2;
const PROCESSES: usize = 5;

type Fleet = Arc<Mutex<Vec<Served>>>;

struct Yard {
    services: Services,
    workshop: WorkshopId,
    token: String,
}

async fn yard(store: &TestStore) -> Yard {
    let services = Services::new(store.store.clone(), Clock::system());
    let name = WorkshopName::new("Harbour").expect("a name");
    let workshop = tokens::workshop_named(&services, name).await.expect("a workshop");
    let program = Actor::program(workshop);
    let label = Label::new("test").expect("a label");
    let made = services
        .change(&program, async |work| tokens::create(&services, work, Role::Manager, label).await)
        .await;
    let (_, secret) = made.expect("a token");
    Yard { services, workshop, token: secret.reveal() }
}

/// Posts until it is acknowledged, at whichever server answers; how often that took.
async fn insist(
    client: &reqwest::Client,
    fleet: &Fleet,
    token: &str,
    path: &str,
    body: &Value,
) -> (Value, usize) {
    for attempt in 1.. {
        let url = fleet.lock().await[attempt % SERVERS].url.clone();
        let sent = client.post(format!("{url}{path}")).bearer_auth(token).json(body).send().await;
        if let Ok(answer) = sent
            && answer.status().is_success()
            && let Ok(body) = answer.json().await
        {
            return (body, attempt);
        }
        assert!(attempt < 600, "nobody answers to {path}");
        tokio::time::sleep(Duration::from_millis(50)).await;
    }
    unreachable!("the loop has no end")
}

async fn under_kills(time: Duration, bikes: usize) {
    let store = TestStore::postgres().await;
    let yard = yard(&store).await;
    let receiver = Receiver::start().await;
    let url = store.url.clone();
    let start = move || Served::start_with(&url, &HOOKS);
    let fleet: Fleet = Arc::new(Mutex::new((0..PROCESSES).map(|_| start()).collect()));
    let client = reqwest::Client::builder().timeout(Duration::from_secs(10)).build().expect("a client");

    let hook = json!({"label": "app", "url": receiver.url("/"),
        "events": ["outlook.measure_by", "outlook.swap_by", "outlook.swap_now"]});
    insist(&client, &fleet, &yard.token, "/v1/hooks", &hook).await;
    let mut ids: Vec<String> = Vec::new();
    for number in 0..bikes {
        let (made, _) = insist(&client, &fleet, &yard.token, "/v1/bikes", &bike(&number.to_string())).await;
        ids.push(made["id"].as_str().expect("an id").to_owned());
    }

    let over = Arc::new(AtomicBool::new(false));
    let retried = Arc::new(AtomicUsize::new(0));
    let posters: Vec<_> = (0..4)
        .map(|poster| {
            let (client, fleet, token) = (client.clone(), Arc::clone(&fleet), yard.token.clone());
            let (over, retried) = (Arc::clone(&over), Arc::clone(&retried));
            let mine: Vec<String> = ids.iter().skip(poster).step_by(4).cloned().collect();
            tokio::spawn(async move {
                let mut acknowledged: BTreeMap<String, usize> = BTreeMap::new();
                'posting: for ride in 0_i64.. {
                    for bike in &mine {
                        if over.load(Ordering::Relaxed) {
                            break 'posting;
                        }
                        let at =
                            chrono::Utc::now() - chrono::Duration::days(200) + chrono::Duration::hours(ride);
                        let body = json!({"started_at": at.to_rfc3339(), "distance_km": 60.0,
                            "source": "log", "source_id": format!("{bike} {ride}")});
                        let path = format!("/v1/bikes/{bike}/rides");
                        let (_, attempts) = insist(&client, &fleet, &token, &path, &body).await;
                        retried.fetch_add(attempts - 1, Ordering::Relaxed);
                        *acknowledged.entry(bike.clone()).or_default() += 1;
                    }
                }
                acknowledged
            })
        })
        .collect();

    let mut chance = ChaCha8Rng::seed_from_u64(20_261_125);
    let (began, mut kills) = (Instant::now(), 0);
    while began.elapsed() < time {
        tokio::time::sleep(Duration::from_secs(1)).await;
        let victim = chance.random_range(0..PROCESSES);
        let start = start.clone();
        let mut fleet = fleet.lock().await;
        let dead = fleet.remove(victim);
        let heir = tokio::task::spawn_blocking(move || {
            dead.kill();
            start()
        });
        fleet.insert(victim, heir.await.expect("another process"));
        kills += 1;
    }
    over.store(true, Ordering::Relaxed);
    let mut acknowledged: BTreeMap<String, usize> = BTreeMap::new();
    for poster in posters {
        acknowledged.extend(poster.await.expect("a poster"));
    }

    // A killed worker's lease ends after half a minute; then another does its work.
    let quiet = Instant::now();
    loop {
        let (waiting, undelivered) = unfinished(&yard, &client, &fleet).await;
        if waiting == 0 && undelivered == 0 {
            break;
        }
        assert!(quiet.elapsed() < Duration::from_secs(120), "{waiting} bikes, {undelivered} messages wait");
        tokio::time::sleep(Duration::from_millis(500)).await;
    }
    let settled = quiet.elapsed();

    let mut rides = 0;
    for (bike, count) in &acknowledged {
        let mut tx = yard.services.store.begin_read(yard.workshop).await.expect("begins");
        let id: BikeId = bike.parse().expect("an id");
        let stored = tx.outlook(id).await.expect("the store answers").expect("an outlook").payload;
        let km = stored["basis"]["distance_km"].as_f64().expect("a distance");
        assert!(
            (km - 60.0 * *count as f64).abs() < 1e-6,
            "{km} km in the outlook, {count} rides acknowledged"
        );
        rides += count;
    }
    let log = messages(&yard, &client, &fleet).await;
    let mut by_crossing: BTreeMap<(String, String), usize> = BTreeMap::new();
    for message in &log {
        let data = &message["body"]["data"];
        let key = (data["part_id"].to_string(), message["event"].to_string());
        *by_crossing.entry(key).or_default() += 1;
        assert_eq!(message["state"], "delivered");
    }
    assert!(by_crossing.values().all(|count| *count == 1), "{by_crossing:?}");
    let mut received: BTreeMap<String, usize> = BTreeMap::new();
    for request in receiver.received().await {
        *received.entry(header(&request, "webhook-id").to_owned()).or_default() += 1;
    }
    let known: Vec<&str> = log.iter().filter_map(|message| message["webhook_id"].as_str()).collect();
    assert_eq!(received.len(), known.len(), "each message arrived, and nothing else");
    assert!(received.keys().all(|id| known.contains(&id.as_str())));
    let again: usize = received.values().map(|count| count - 1).sum();
    // A worker that dies between the receiver's answer and its own commit leaves a message that is sent again under
    // the same id; a receiver tells it by that.
    println!(
        "{kills} kills in {time:?}: {rides} rides acknowledged, {} sent more than once; quiet after {settled:.1?}; \
         {} crossings, {} messages, each with an id of its own; {} requests at the receiver, {again} of them a \
         repetition with the id of the first",
        retried.load(Ordering::Relaxed),
        by_crossing.len(),
        log.len(),
        received.values().sum::<usize>(),
    );
    assert!(!by_crossing.is_empty() || time < Duration::from_secs(10));
}

/// Bikes without an outlook that knows everything, and messages that aren't delivered.
async fn unfinished(yard: &Yard, client: &reqwest::Client, fleet: &Fleet) -> (i64, usize) {
    let mut tx = yard.services.store.begin_system_read().await.expect("begins");
    let (waiting, _) = tx.outlook_backlog().await.expect("the store answers");
    drop(tx);
    let undelivered = messages(yard, client, fleet).await;
    (waiting, undelivered.iter().filter(|message| message["state"] == "waiting").count())
}

/// The whole log of the first hook.
async fn messages(yard: &Yard, client: &reqwest::Client, fleet: &Fleet) -> Vec<Value> {
    let url = fleet.lock().await[0].url.clone();
    let get = async |path: String| {
        let answer =
            client.get(format!("{url}{path}")).bearer_auth(&yard.token).send().await.expect("an answer");
        let link = answer.headers().get("link").and_then(|link| link.to_str().ok()).map(str::to_owned);
        let body: Value = answer.json().await.expect("JSON");
        (body, link.and_then(|link| link.split(['<', '>']).nth(1).map(str::to_owned)))
    };
    let (hooks, _) = get("/v1/hooks".to_owned()).await;
    let hook = hooks["items"][0]["id"].as_str().expect("a hook").to_owned();
    let mut found = Vec::new();
    let mut next = Some(format!("/v1/hooks/{hook}/deliveries?limit=100"));
    while let Some(path) = next {
        let (page, link) = get(path).await;
        found.extend(page["items"].as_array().cloned().unwrap_or_default());
        next = link;
    }
    found
}

/// How long a ride takes to reach the outlook when nobody is killed: from the acknowledgement to the commit of an
/// outlook that knows it, seen by looking every 20 ms. By hand:
/// `cargo nextest run -p wear-tests --test worker --run-ignored only --no-capture time_to_the_outlook`.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
#[ignore = "run by hand: half a minute"]
async fn time_to_the_outlook() {
    let store = TestStore::postgres().await;
    let yard = yard(&store).await;
    let url = store.url.clone();
    let fleet: Fleet = Arc::new(Mutex::new((0..2).map(|_| Served::start_with(&url, &HOOKS)).collect()));
    let client = reqwest::Client::new();
    let mut ids: Vec<String> = Vec::new();
    for number in 0..200 {
        let (made, _) = insist(&client, &fleet, &yard.token, "/v1/bikes", &bike(&number.to_string())).await;
        ids.push(made["id"].as_str().expect("an id").to_owned());
    }
    let mut watched = Vec::new();
    let began = Instant::now();
    let mut posted = 0_usize;
    while began.elapsed() < Duration::from_secs(20) {
        let bike = ids[posted % ids.len()].clone();
        let at = chrono::Utc::now() - chrono::Duration::days(100) + chrono::Duration::minutes(posted as i64);
        let body = json!({"started_at": at.to_rfc3339(), "distance_km": 10.0, "source": "log",
            "source_id": posted.to_string()});
        insist(&client, &fleet, &yard.token, &format!("/v1/bikes/{bike}/rides"), &body).await;
        let acknowledged = (Instant::now(), yard.services.now());
        posted += 1;
        if posted.is_multiple_of(5) {
            let (services, workshop) = (yard.services.clone(), yard.workshop);
            watched.push(tokio::spawn(async move {
                let id: BikeId = bike.parse().expect("an id");
                loop {
                    let mut tx = services.store.begin_read(workshop).await.expect("begins");
                    let stored = tx.outlook(id).await.expect("the store answers");
                    let known = stored.is_some_and(|row| row.summary.computed_at >= acknowledged.1);
                    if known || !tx.is_marked(id).await.expect("the store answers") {
                        return acknowledged.0.elapsed();
                    }
                    drop(tx);
                    tokio::time::sleep(Duration::from_millis(20)).await;
                }
            }));
        }
    }
    let spent = began.elapsed();
    let mut waits = Vec::new();
    for wait in watched {
        waits.push(wait.await.expect("a watcher"));
    }
    waits.sort_unstable();
    let at = |share: f64| waits[((waits.len() - 1) as f64 * share) as usize];
    println!(
        "{posted} rides in {spent:.1?}, {} watched: outlook after p50 {:.0?}, p90 {:.0?}, p99 {:.0?}, most {:.0?}",
        waits.len(),
        at(0.5),
        at(0.9),
        at(0.99),
        at(1.0)
    );
    assert!(at(0.99) < Duration::from_secs(2), "{:?}", at(0.99));
}
