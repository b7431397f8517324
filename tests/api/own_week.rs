//! Dates of an outlook follow the days on which a bike is ridden.

use std::collections::BTreeSet;

use chrono::{Datelike as _, Days, NaiveDate, Weekday};
use serde_json::{Value, json};
use wear_tests::{TestServer, TestStore, on_both_stores};

on_both_stores!(a_weekend_bike_reaches_its_limit_on_a_weekend, a_season_needs_a_year);

fn date(text: &Value) -> NaiveDate {
    text.as_str().expect("a date").parse().expect("a date")
}

/// Enters rides of so many kilometres on each day, at nine in the morning.
async fn ride(server: &TestServer, bike: &str, from: &str, km: impl Fn(NaiveDate) -> f64) {
    let from: NaiveDate = from.parse().expect("a date");
    let end = server.now().utc_date();
    let rides: Vec<Value> = from
        .iter_days()
        .take_while(|day| *day < end)
        .filter(|day| km(*day) > 0.0)
        .map(|day| {
            json!({
                "bike_id": bike, "started_at": format!("{day}T09:00:00Z"), "distance_km": km(day),
                "surface": "paved", "wet": false, "source": "log", "source_id": format!("{bike} {day}")
            })
        })
        .collect();
    let count = rides.len();
    let answer = server.post("/v1/rides", &json!({"rides": rides})).await.expect(200).body;
    assert_eq!(answer["accepted"], count);
}

/// The outlook after a reading of today.
async fn read(server: &TestServer, bike: &str, percent: f64) -> Value {
    let reading = json!({"taken_at": "2026-11-25T11:00:00Z", "instrument": "dial", "percent": percent});
    server.post(&format!("/v1/bikes/{bike}/readings"), &reading).await.expect(201).body["outlook"].clone()
}

async fn a_weekend_bike_reaches_its_limit_on_a_weekend(store: TestStore) {
    let server = TestServer::start(store).await;
    let mut weekdays = BTreeSet::new();
    for (number, percent) in [0.52, 0.56, 0.6, 0.64, 0.68].into_iter().enumerate() {
        let at_weekends = server.bike(&format!("w{number}")).await;
        let every_day = server.bike(&format!("d{number}")).await;
        let weekend = |day: NaiveDate| matches!(day.weekday(), Weekday::Sat | Weekday::Sun);
        ride(&server, &at_weekends, "2026-08-31", |day| if weekend(day) { 70.0 } else { 0.0 }).await;
        ride(&server, &every_day, "2026-08-31", |_| 20.0).await;
        let by_weekend = date(&read(&server, &at_weekends, percent).await["limit_on"]["p50"]);
        let by_day = date(&read(&server, &every_day, percent).await["limit_on"]["p50"]);
        // On the morning after the ride at the latest.
        assert!(weekend(by_weekend) || by_weekend.weekday() == Weekday::Mon, "{by_weekend} at {percent} %");
        assert!((by_weekend - by_day).num_days().abs() <= 9, "{by_weekend} {by_day}");
        weekdays.insert(by_day.weekday().num_days_from_monday());
    }
    assert!(weekdays.len() > 2, "the other bike has no such days: {weekdays:?}");
}

async fn a_season_needs_a_year(store: TestStore) {
    let server = TestServer::start(store).await;
    // Much in June, little in December; the present is late November.
    let km = |day: NaiveDate| {
        let turn = std::f64::consts::TAU * (f64::from(day.ordinal()) - 172.0) / 365.25;
        (14.0 * (1.0 + 0.7 * turn.cos()) * 100.0).round() / 100.0
    };
    let mut fitted = Vec::new();
    for (label, fitted_on) in [("old", "2024-11-20"), ("young", "2026-05-01")] {
        let mut body = wear_tests::bike(label);
        body["fitted_on"] = fitted_on.into();
        let bike = server.post("/v1/bikes", &body).await.expect(201).id();
        ride(&server, &bike, fitted_on, km).await;
        fitted.push(bike);
    }
    let mut days = Vec::new();
    for bike in &fitted {
        // The chain came off two weeks ago: the bike's days are known for as long as its cassette was on.
        let swap = json!({"swapped_at": "2026-11-11T18:00:00Z", "place": "chain"});
        server.post(&format!("/v1/bikes/{bike}/swaps"), &swap).await.check(201);
        let outlook = read(&server, bike, 0.06).await;
        let today = server.now().utc_date();
        let days_to = |quantile: &str| (date(&outlook["limit_on"][quantile]) - today).num_days();
        days.push((days_to("p50"), days_to("p90") - days_to("p10")));
        assert!(outlook["basis"]["reference_km_per_day"].as_f64().is_some_and(|rate| rate > 0.0));
        let horizon = today.checked_add_days(Days::new(3_650)).expect("a date");
        assert!(date(&outlook["limit_on"]["p90"]) < horizon);
    }
    // The old bike knows that summer comes; the young one has seen a summer go and leaves room for one.
    let [(old, old_spread), (young, young_spread)] = days[..] else { panic!("two bikes") };
    assert!(old < young && old_spread < young_spread, "{days:?}");
}
