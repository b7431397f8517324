//! A yard entered by its labels and walked once with a gauge: what the bench plan says of bikes of which little is known.

use std::fmt::Write as _;

use chrono::Duration;
use reqwest::Method;
use serde_json::{Value, json};
use wear_api::domain::Role;
use wear_tests::{TestServer, TestStore, on_both_stores};

use crate::bench::{labels, plan, planned};

on_both_stores!(
    a_yard_walked_once_is_measured_before_it_is_planned,
    a_promise_is_kept_where_only_a_reading_can_tell,
);

/// Bikes of one kind by CSV, with label and kind alone: their ids in the order of their labels.
async fn yard(server: &TestServer, count: usize) -> Vec<String> {
    let kind = json!({"name": "hire", "use": "town", "drivetrain": {"speeds": 8}, "limit_percent": 0.75});
    let _kind = server.post("/v1/bike-kinds", &kind).await.expect(201);
    let mut table = "label,kind\n".to_owned();
    for bike in 0..count {
        writeln!(table, "{bike:02},hire").expect("memory");
    }
    let request = server.request(Method::POST, "/v1/imports/bikes").header("content-type", "text/csv");
    let report = server.send(request.bearer_auth(server.token_of(Role::Manager)).body(table)).await;
    assert_eq!(report.expect(200).body["accepted"], count);
    let listed = server.get("/v1/bikes?limit=100&sort=label").await.expect(200).body;
    let ids = listed["items"].as_array().expect("bikes").iter().filter_map(|bike| bike["id"].as_str());
    ids.map(str::to_owned).collect()
}

async fn outlook(server: &TestServer, bike: &str) -> Value {
    server.get(&format!("/v1/bikes/{bike}/outlook")).await.expect(200).body
}

/// Looks at each bike, as the worker does each night.
async fn bring_up_to_date(server: &TestServer, bikes: &[String]) {
    for bike in bikes {
        let _outlook = outlook(server, bike).await;
    }
}

async fn a_yard_walked_once_is_measured_before_it_is_planned(store: TestStore) {
    let server = TestServer::start(store).await;
    let bikes = yard(&server, 20).await;
    assert_eq!(bikes.len(), 20);
    let day = |days: i64| server.now().plus(Duration::days(days)).utc_date().to_string();

    // Nobody has measured any: the plan names all.
    bring_up_to_date(&server, &bikes).await;
    let before = plan(&server, &day(0), &day(14)).await;
    assert_eq!((labels(&before["to_measure"]).len(), planned(&before).len()), (20, 0), "{before}");
    let reason = &before["to_measure"][0]["reason"];
    assert!(reason.as_str().is_some_and(|reason| reason.contains("never measured")), "{reason}");
    assert_eq!(before["to_measure"][0]["by"], day(0));

    // A gauge's mark of 1.0 drops in on two, that of 0.75 on three; the others pass at 0.5.
    for (place, bike) in bikes.iter().enumerate() {
        let (mark, drops_in) = match place {
            0 | 1 => (1.0, true),
            2..5 => (0.75, true),
            _ => (0.5, false),
        };
        let reading = json!({"taken_at": server.now().to_string(), "instrument": "drop_in",
            "mark_percent": mark, "drops_in": drops_in});
        let _read = server.post(&format!("/v1/bikes/{bike}/readings"), &reading).await.expect(201);
    }
    let walked = plan(&server, &day(0), &day(14)).await;
    let mut seen: Vec<String> = planned(&walked).into_iter().map(|(label, _)| label).collect();
    seen.sort();
    assert_eq!(seen, ["00", "01"], "{walked}");
    assert_eq!(labels(&walked["to_measure"]), ["02", "03", "04"], "{walked}");
    let reason = walked["to_measure"][0]["reason"].as_str().expect("a reason");
    assert!(reason.contains("a reading will tell whether the chain has to come off"), "{reason}");

    // Five weeks on nobody has told of any riding: those that passed are to be measured again.
    server.wait(Duration::days(35));
    bring_up_to_date(&server, &bikes).await;
    let later = plan(&server, &day(0), &day(14)).await;
    let named = labels(&later["to_measure"]);
    assert_eq!((named.len(), named[0], named[17]), (18, "02", "19"), "{later}");
    for bike in &later["to_measure"].as_array().expect("bikes")[3..] {
        let reason = bike["reason"].as_str().expect("a reason");
        assert!(reason.starts_with("No riding is on record for the 35 days"), "{bike}");
        assert_eq!(bike["by"], day(0));
    }
    let of_one = outlook(&server, &bikes[5]).await;
    assert_eq!((&of_one["advice"], &of_one["swap_by"]), (&json!("measure_by"), &Value::Null), "{of_one}");
    assert_eq!(of_one["measure_by"], day(0));
}

async fn a_promise_is_kept_where_only_a_reading_can_tell(store: TestStore) {
    let server = TestServer::start(store).await;
    let bikes = yard(&server, 1).await;
    let day = |days: i64| server.now().plus(Duration::days(days)).utc_date().to_string();
    let reading = json!({"taken_at": server.now().to_string(), "instrument": "dial", "percent": 0.82});
    let path = format!("/v1/bikes/{}/readings", bikes[0]);
    let read = server.post(&path, &reading).await.expect(201).body;
    let first = plan(&server, &day(0), &day(7)).await;
    let promised = planned(&first);
    assert_eq!(promised.len(), 1, "{first}");
    let _accepted = server.post("/v1/bench-plan/accept", &json!({})).await.expect(200);

    // The reading was of another bike: nobody knows the chain now, so nothing lets it stay.
    let wrong = read["reading"]["id"].as_str().expect("an id");
    let void = server.request(Method::DELETE, &format!("{path}/{wrong}?reason=another+bike"));
    let _void = server.send(void.bearer_auth(server.token_of(Role::Manager))).await.expect(200);
    let unknown = outlook(&server, &bikes[0]).await;
    assert_eq!((&unknown["advice"], &unknown["swap_by"]), (&json!("measure_by"), &Value::Null), "{unknown}");
    let second = plan(&server, &day(0), &day(7)).await;
    assert_eq!(planned(&second), promised, "{second}");
    assert_eq!((&second["moved"], &second["to_measure"]), (&json!([]), &json!([])), "{second}");

    // A reading that lets it stay gives the day back.
    let at = server.now().plus(Duration::minutes(1)).to_string();
    let sound = json!({"taken_at": at, "instrument": "dial", "percent": 0.2});
    let _read = server.post(&path, &sound).await.expect(201);
    let third = plan(&server, &day(0), &day(7)).await;
    assert_eq!((planned(&third).len(), third["moved"][0]["label"].as_str()), (0, Some("00")), "{third}");
}
