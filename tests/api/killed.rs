//! A power cut during posting: what was acknowledged is there, once.

use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::Duration;

use serde_json::{Value, json};
use wear_tests::{Served, TestStore, on_both_stores, program};

on_both_stores!(acknowledged_rides_survive_a_kill);

const POSTERS: usize = 4;

/// Rides that are acknowledged before each kill, however slow the machine is.
const BEFORE_EACH_KILL: usize = 10;

async fn acknowledged_rides_survive_a_kill(store: TestStore) {
    let make = ["token", "--database-url", &store.url, "--workshop", "Harbour", "--role", "manager"];
    let token = String::from_utf8(program().args(make).output().expect("a token").stdout).expect("UTF-8");
    let token = token.trim().to_owned();
    let client = reqwest::Client::new();
    let mut served = Served::start(&store.url);
    let made =
        client.post(format!("{}/v1/bikes", served.url)).bearer_auth(&token).json(&wear_tests::bike("041"));
    let made: Value = made.send().await.expect("an answer").json().await.expect("JSON");
    let rides = format!("/v1/bikes/{}/rides", made["id"].as_str().expect("an id"));

    let next = Arc::new(AtomicUsize::new(0));
    let mut acknowledged: Vec<usize> = Vec::new();
    let heard = Arc::new(AtomicUsize::new(0));
    for round in 1..=3 {
        let posters: Vec<_> = (0..POSTERS)
            .map(|_| {
                let (client, url) = (client.clone(), format!("{}{rides}", served.url));
                let (token, next, heard) = (token.clone(), Arc::clone(&next), Arc::clone(&heard));
                tokio::spawn(async move {
                    let mut known = Vec::new();
                    loop {
                        let number = next.fetch_add(1, Ordering::Relaxed);
                        let ride = json!({"started_at": "2026-03-01T08:00:00Z", "distance_km": 1,
                            "source": "log", "source_id": number.to_string()});
                        let sent = client.post(&url).bearer_auth(&token).json(&ride).send().await;
                        match sent {
                            Ok(answer) if answer.status().as_u16() == 201 => {
                                heard.fetch_add(1, Ordering::Relaxed);
                                known.push(number);
                            }
                            Ok(answer) => panic!("{}", answer.status()),
                            Err(_) => return known,
                        }
                    }
                })
            })
            .collect();
        while heard.load(Ordering::Relaxed) < round * BEFORE_EACH_KILL {
            assert!(posters.iter().all(|poster| !poster.is_finished()), "a poster gave up");
            tokio::time::sleep(Duration::from_millis(5)).await;
        }
        served.kill();
        for poster in posters {
            acknowledged.extend(poster.await.expect("a poster"));
        }
        served = Served::start(&store.url);
    }
    assert!(acknowledged.len() >= 3 * BEFORE_EACH_KILL, "{}", acknowledged.len());

    let mut found: Vec<usize> = Vec::new();
    let mut path = format!("{rides}?limit=100");
    loop {
        let answer =
            client.get(format!("{}{path}", served.url)).bearer_auth(&token).send().await.expect("an answer");
        let link = answer.headers().get("link").and_then(|link| link.to_str().ok()).map(str::to_owned);
        let page: Value = answer.json().await.expect("JSON");
        for ride in page["items"].as_array().expect("items") {
            found.push(ride["source_id"].as_str().and_then(|id| id.parse().ok()).expect("a number"));
        }
        let Some(link) = link else { break };
        path = link.split(['<', '>']).nth(1).expect("a target").to_owned();
    }
    found.sort_unstable();
    let count = found.len();
    found.dedup();
    assert_eq!(found.len(), count, "a ride is there twice");
    for number in &acknowledged {
        assert!(found.binary_search(number).is_ok(), "ride {number} was acknowledged and is gone");
    }
    // The rollup that outlooks rest on tells the same story as the list.
    let outlook =
        client.get(format!("{}{}", served.url, rides.replace("rides", "outlook"))).bearer_auth(&token);
    let outlook: Value = outlook.send().await.expect("an answer").json().await.expect("JSON");
    let km = outlook["basis"]["distance_km"].as_f64().expect("a distance");
    assert!((km - count as f64).abs() < 1e-6, "{km} km of {count} rides");
}
