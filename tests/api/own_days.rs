//! Days and weekdays are those of the workshop, wherever it is.

use std::collections::BTreeSet;

use chrono::{Datelike as _, Days, NaiveDate, Weekday};
use chrono_tz::Tz;
use reqwest::Method;
use reqwest::header::IF_MATCH;
use serde_json::{Value, json};
use wear_api::domain::{Role, Timestamp};
use wear_tests::{TestServer, TestStore, on_both_stores};

on_both_stores!(a_weekend_in_auckland_is_a_weekend, days_follow_a_clock_that_is_set_later);

const THERE: Tz = Tz::Pacific__Auckland;

async fn move_to(server: &TestServer, zone: Tz) {
    let got = server.get("/v1/workshop").await.expect(200);
    let patch = server.request(Method::PATCH, "/v1/workshop").bearer_auth(server.token_of(Role::Manager));
    let patch = patch.header(IF_MATCH, got.header("etag")).json(&json!({"time_zone": zone.name()}));
    server.send(patch).await.check(200);
}

fn is_weekend(day: NaiveDate) -> bool {
    matches!(day.weekday(), Weekday::Sat | Weekday::Sun)
}

/// Rides at eight in the morning of each Saturday and Sunday there, which is the evening before in UTC.
async fn ride_at_weekends(server: &TestServer, bike: &str) -> usize {
    let first = NaiveDate::from_ymd_opt(2026, 8, 31).expect("a date");
    let today = server.now().date_in(THERE);
    let days = first.iter_days().take_while(|day| *day < today).filter(|day| is_weekend(*day));
    let rides: Vec<Value> = days
        .map(|day| {
            let at = Timestamp::start_of(day, THERE).expect("a day").plus(chrono::Duration::hours(8));
            json!({"bike_id": bike, "started_at": at.to_string(), "distance_km": 70,
                "source": "log", "source_id": format!("{bike} {day}")})
        })
        .collect();
    let answer = server.post("/v1/rides", &json!({"rides": rides})).await.expect(200).body;
    assert_eq!(answer["accepted"], rides.len());
    rides.len()
}

async fn limit_on(server: &TestServer, bike: &str, percent: f64) -> NaiveDate {
    let at = server.now().plus(chrono::Duration::minutes(-5)).to_string();
    let reading = json!({"taken_at": at, "instrument": "dial", "percent": percent});
    let read = server.post(&format!("/v1/bikes/{bike}/readings"), &reading).await.expect(201).body;
    read["outlook"]["limit_on"]["p50"].as_str().expect("a date").parse().expect("a date")
}

/// On the morning after the ride at the latest.
fn is_of_a_weekend(day: NaiveDate) -> bool {
    is_weekend(day) || day.weekday() == Weekday::Mon
}

async fn a_weekend_in_auckland_is_a_weekend(store: TestStore) {
    let server = TestServer::start(store).await;
    move_to(&server, THERE).await;
    let mut dates = BTreeSet::new();
    for (number, percent) in [0.52, 0.56, 0.6, 0.64, 0.68].into_iter().enumerate() {
        let bike = server.bike(&format!("w{number}")).await;
        ride_at_weekends(&server, &bike).await;
        let date = limit_on(&server, &bike, percent).await;
        assert!(is_of_a_weekend(date), "{date} ({}) at {percent} %", date.weekday());
        dates.insert(date);
    }
    assert!(dates.len() > 1, "{dates:?}");
}

async fn days_follow_a_clock_that_is_set_later(store: TestStore) {
    let server = TestServer::start(store).await;
    let bike = server.bike("041").await;
    let rides = ride_at_weekends(&server, &bike).await;
    server.settle().await;
    let path = format!("/v1/bikes/{bike}/outlook");
    let before = server.get(&path).await.expect(200).body;

    move_to(&server, THERE).await;
    server.settle().await;
    let after = server.get(&path).await.expect(200).body;
    let km = |outlook: &Value| outlook["basis"]["distance_km"].as_f64().expect("km");
    assert_eq!((km(&before), km(&after)), (70.0 * rides as f64, 70.0 * rides as f64));
    // What is told of the past stands where it stood.
    assert_eq!(before["basis"]["fitted_at"], after["basis"]["fitted_at"]);
    let date = limit_on(&server, &bike, 0.6).await;
    assert!(is_of_a_weekend(date), "{date}");

    // Rides of the time before are deleted and changed as ever, and new ones counted with the others of their day.
    let page = server.get(&format!("/v1/bikes/{bike}/rides?limit=3")).await.expect(200).body;
    let one = server
        .get(&format!("/v1/bikes/{bike}/rides/{}", page["items"][1]["id"].as_str().expect("an id")))
        .await;
    let at = format!("/v1/bikes/{bike}/rides/{}", one.body["id"].as_str().expect("an id"));
    let delete = server.request(Method::DELETE, &at).bearer_auth(server.token_of(Role::Manager));
    server.send(delete.header(IF_MATCH, one.header("etag"))).await.check(204);
    let again =
        json!({"started_at": "2026-11-20T09:00:00Z", "distance_km": 5, "source": "log", "source_id": "late"});
    server.post(&format!("/v1/bikes/{bike}/rides"), &again).await.check(201);
    server.settle().await;
    let last = server.get(&path).await.expect(200).body;
    assert_eq!(km(&last), 70.0 * (rides as f64 - 1.0) + 5.0);

    // Back again, where the day of each is another.
    move_to(&server, Tz::America__Los_Angeles).await;
    server.settle().await;
    let there = server.get(&path).await.expect(200).body;
    assert_eq!(km(&there), km(&last));
    assert_eq!(there["basis"]["last_reading_at"], last["basis"]["last_reading_at"]);
    let today = server.now().date_in(Tz::America__Los_Angeles);
    assert!(
        there["measure_by"].is_null()
            || there["measure_by"].as_str().expect("a date").parse::<NaiveDate>().expect("a date")
                >= today - Days::new(1)
    );
}
