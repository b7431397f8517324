//! How a year goes: learned by the night of a workshop's bikes, and used in the morning.

use chrono::{Datelike as _, Duration, NaiveDate};
use serde_json::{Value, json};
use wear_api::domain::Role;
use wear_tests::{TestServer, TestStore, on_both_stores};

use crate::visitor::Visitor;

on_both_stores!(a_yards_season_is_learned_and_its_dates_go_by_it, use_is_remembered_beyond_a_new_cassette,);

/// Days of riding behind the service's present.
const DAYS: i64 = 720;

async fn bike(server: &TestServer, label: &str, group: &str) -> String {
    let mut body = wear_tests::bike(label);
    body["group"] = json!(group);
    body["fitted_on"] = json!("2024-11-01");
    server.post("/v1/bikes", &body).await.expect(201).id()
}

/// Rides every third day, as long as the day of the year asks for.
async fn ride(server: &TestServer, id: &str, km: impl Fn(f64) -> f64) {
    let rides: Vec<Value> = (1..=DAYS)
        .filter(|ago| ago % 3 == 0)
        .map(|ago| {
            let at = server.now().plus(Duration::days(-ago));
            let share = f64::from(at.utc_date().ordinal0()) / 365.0;
            json!({"bike_id": id, "started_at": at.to_string(), "distance_km": (10.0 * km(share)).round() / 10.0,
                "source": "log", "source_id": format!("{id}{ago}")})
        })
        .collect();
    let answer = server.post("/v1/rides", &json!({"rides": rides})).await.expect(200).body;
    assert_eq!(answer["accepted"], json!(rides.len()), "{answer}");
}

/// Summer is five times winter.
fn hired(share: f64) -> f64 {
    9.0 * (-0.8 * (std::f64::consts::TAU * (share - 0.04)).cos()).exp()
}

async fn learn(server: &TestServer) {
    server.settle().await;
    server.post("/v1/calibration", &json!({})).await.check(202);
    server.settle().await;
}

async fn outlook(server: &TestServer, id: &str) -> Value {
    server.get(&format!("/v1/bikes/{id}/outlook")).await.expect(200).body
}

async fn a_yards_season_is_learned_and_its_dates_go_by_it(store: TestStore) {
    let server = TestServer::start(store).await;
    let mut hire = Vec::new();
    for label in 0..5 {
        let id = bike(&server, &format!("h{label}"), "hire").await;
        ride(&server, &id, |share| hired(share) * (0.8 + 0.1 * f64::from(label))).await;
        hire.push(id);
    }
    for label in 0..3 {
        let id = bike(&server, &format!("t{label}"), "town").await;
        ride(&server, &id, |_| 14.0).await;
    }
    let lone = bike(&server, "l0", "lone").await;
    ride(&server, &lone, |_| 6.0).await;
    // Of a bike that is new since the autumn only its group knows what summers are like.
    let young = bike(&server, "h9", "hire").await;
    let rides: Vec<Value> = (1..60)
        .map(|ago| {
            let at = server.now().plus(Duration::days(-ago)).to_string();
            json!({"bike_id": young, "started_at": at, "distance_km": 9, "source": "log", "source_id": format!("y{ago}")})
        })
        .collect();
    server.post("/v1/rides", &json!({"rides": rides})).await.check(200);
    let before = outlook(&server, &young).await;
    assert_eq!(before["basis"]["use_season"], "assumed");
    assert_eq!(outlook(&server, &hire[0]).await["basis"]["use_season"], "bike");
    let nothing = server.get("/v1/calibration").await.expect(200).body;
    assert_eq!(nothing["seasons"], json!([]));

    learn(&server).await;
    let learned = server.get("/v1/calibration").await.expect(200).body;
    let seasons = learned["seasons"].as_array().expect("seasons");
    let groups: Vec<&Value> = seasons.iter().map(|season| &season["group"]).collect();
    assert_eq!(groups, [&Value::Null, &json!("hire"), &json!("town")]);
    let [_, of_hire, of_town] = &seasons[..] else { panic!("{seasons:?}") };
    assert_eq!((&of_hire["bikes"], &of_hire["learned"]), (&json!(6), &json!(true)));
    let times = |season: &Value, month: usize| {
        let month = &season["months"][month - 1];
        ["times_p10", "times_p50", "times_p90"].map(|of| month[of].as_f64().expect("a number"))
    };
    let truth = |month: f64| {
        let year: f64 = (0..365).map(|day| hired(f64::from(day) / 365.0)).sum::<f64>() / 365.0;
        hired((month - 0.5) / 12.0) / year
    };
    for month in [1, 4, 7, 10] {
        let [p10, p50, p90] = times(of_hire, month);
        assert!((p50 / truth(month as f64)).ln().abs() < 0.15, "{month}: {p50}");
        assert!(p10 < p50 && p50 < p90 && p90 < 1.5 * p10, "{month}: {p10} {p50} {p90}");
    }
    assert!((times(of_town, 7)[1] / times(of_town, 1)[1]).ln().abs() < 0.3, "{of_town}");
    let said = of_hire["said"].as_str().expect("a sentence");
    assert!(said.starts_with("Most is ridden in July: ") && said.contains("least in January: 0."), "{said}");
    for (language, says, months) in
        [("en", "most in July, ", "Jul</text>"), ("de", "am meisten im Juli, das 1,", "Dez</text>")]
    {
        let page = Visitor::of(&server, Role::Mechanic, language).await.get("/calibration").await.1;
        assert!(page.contains(says) && page.contains(months), "{language}: {page}");
    }

    let after = outlook(&server, &young).await;
    assert_eq!(after["basis"]["use_season"], "group");
    assert_eq!(outlook(&server, &lone).await["basis"]["use_season"], "workshop");
    // Winter has come: less is ridden than of late until spring, and more after it.
    let date = |outlook: &Value, level: &str| -> NaiveDate {
        outlook["limit_on"][level].as_str().expect("a date").parse().expect("a date")
    };
    let spread = |outlook: &Value| {
        let days = |level| (date(outlook, level) - server.now().utc_date()).num_days() as f64;
        (days("p90") / days("p10")).ln()
    };
    assert!(spread(&after) < spread(&before), "{before} {after}");
}

async fn use_is_remembered_beyond_a_new_cassette(store: TestStore) {
    let server = TestServer::start(store).await;
    let id = bike(&server, "041", "hire").await;
    ride(&server, &id, |_| 9.0).await;
    for ago in [400, 40] {
        let at = server.now().plus(Duration::days(-ago)).to_string();
        for place in ["chain", "cassette", "ring"] {
            let swap = json!({"swapped_at": at, "place": place});
            server.post(&format!("/v1/bikes/{id}/swaps"), &swap).await.check(201);
        }
    }
    for _ in 0..2 {
        let mut system = server.services.store.begin_system_read().await.expect("a store");
        let workshops = system.workshop_ids().await.expect("workshops");
        drop(system);
        let mut tx = server.services.store.begin_read(workshops[0]).await.expect("a store");
        let used = tx.use_histories().await.expect("histories");
        let years = wear_core::forecast::UsualYear::of(&[used[0].history.clone()]);
        assert!((690..=721).contains(&years.days_on_record()), "{}", years.days_on_record());
        drop(tx);
        server.wait(Duration::days(1));
        let _outlook = outlook(&server, &id).await;
    }
}
