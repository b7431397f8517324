//! The workshop's calendar, as a calendar program reads it.

use reqwest::Method;
use serde_json::{Value, json};
use wear_api::domain::Role;
use wear_tests::{TestServer, TestStore, on_both_stores};

on_both_stores!(swaps_stand_in_the_calendar, the_address_is_the_key);

/// A bike whose chain has to come off at once.
async fn worn(server: &TestServer, label: &str) {
    let bike = server.bike(label).await;
    let rides: Vec<Value> = (1..=90)
        .map(|day| {
            let at = server.now().datetime() - chrono::Duration::days(day);
            json!({"bike_id": bike, "started_at": at.to_rfc3339(), "distance_km": 50.0})
        })
        .collect();
    server.post("/v1/rides", &json!({"rides": rides})).await.check(200);
    let reading = json!({"taken_at": server.now(), "instrument": "dial", "percent": 0.95});
    server.post(&format!("/v1/bikes/{bike}/readings"), &reading).await.check(201);
}

/// The lines of a calendar, unfolded, each with its name.
async fn read(server: &TestServer, address: &str) -> Vec<(String, String)> {
    let answer = server.request(Method::GET, address).header("accept", "text/calendar").send().await;
    let answer = answer.expect("an answer");
    assert_eq!(answer.status().as_u16(), 200);
    assert_eq!(answer.headers()["content-type"], "text/calendar; charset=utf-8");
    let text = answer.text().await.expect("a text");
    assert!(text.split("\r\n").all(|line| line.len() <= 75 && !line.contains('\n')), "{text}");
    let unfolded = text.replace("\r\n ", "");
    unfolded
        .split_terminator("\r\n")
        .map(|line| line.split_once(':').map(|(name, value)| (name.to_owned(), value.to_owned())))
        .collect::<Option<_>>()
        .expect("names and values")
}

async fn address(server: &TestServer) -> String {
    let made = server.post("/v1/calendar", &Value::Null).await.expect(201);
    made.body["address"].as_str().expect("an address").to_owned()
}

async fn swaps_stand_in_the_calendar(store: TestStore) {
    let server = TestServer::start(store).await;
    let address = address(&server).await;
    let empty = read(&server, &address).await;
    assert!(empty.iter().all(|(_, value)| value != "VEVENT"));
    let label = "Kühlhaus; gate 3, \\ left: the blue one by the door of the old boat house";
    worn(&server, &label.chars().take(64).collect::<String>()).await;
    worn(&server, "042").await;
    let day = json!({"date": "2026-12-01", "minutes": 240});
    server.post("/v1/bench-days", &day).await.check(201);
    let calendar = read(&server, &address).await;
    let values = |wanted: &str| -> Vec<&str> {
        calendar.iter().filter(|(name, _)| name == wanted).map(|(_, value)| value.as_str()).collect()
    };
    assert_eq!(values("BEGIN"), ["VCALENDAR", "VEVENT", "VEVENT", "VEVENT"]);
    assert_eq!(values("DTSTART;VALUE=DATE"), ["20261125", "20261125", "20261201"]);
    assert_eq!(values("DTEND;VALUE=DATE"), ["20261126", "20261126", "20261202"]);
    assert!(values("SUMMARY")[0].starts_with("Swap the chain of Kühlhaus\\; gate 3\\, \\\\ left: the"));
    assert_eq!(values("DTSTAMP")[0], "20261125T120000Z");
    // The same entry has the same id each time, and each its own.
    let again = read(&server, &address).await;
    assert_eq!(calendar, again);
    let mut uids = values("UID");
    uids.sort_unstable();
    uids.dedup();
    assert_eq!(uids.len(), 3);
}

async fn the_address_is_the_key(store: TestStore) {
    let server = TestServer::start(store).await;
    assert_eq!(server.get("/v1/calendar").await.expect(404).problem(), "not-found");
    let first = address(&server).await;
    read(&server, &first).await;
    let known = server.get("/v1/calendar").await.expect(200).body;
    assert_eq!(known, json!({"created_at": "2026-11-25T12:00:00Z"}));
    let second = address(&server).await;
    read(&server, &second).await;
    let open = |address: String| server.send(server.request(Method::GET, &address));
    open(first).await.check(404);
    for wrong in ["/v1/calendar/0.ics".to_owned(), second.to_uppercase(), second.replace(".ics", "")] {
        assert!(open(wrong).await.status.is_client_error());
    }
    open(format!("/v1/calendar/{}.ics", "0".repeat(64))).await.check(404);
    let manager = server.token_of(Role::Manager);
    server.send(server.request(Method::DELETE, "/v1/calendar").bearer_auth(manager)).await.check(204);
    open(second).await.check(404);
    server.send(server.request(Method::DELETE, "/v1/calendar").bearer_auth(manager)).await.check(404);
}
