//! Rides that two sources told of count once; which one is said, and can be decided otherwise.

use reqwest::Method;
use serde_json::{Value, json};
use wear_api::domain::Role;
use wear_tests::{Answer, TestServer, TestStore, on_both_stores};

on_both_stores!(
    a_ride_told_twice_counts_once_and_says_so,
    two_rides_are_two_where_somebody_says_so,
    a_batch_says_it_of_its_lines,
    a_table_keeps_what_was_decided
);

fn ride(source: &str, started_at: &str, km: f64) -> Value {
    json!({"started_at": format!("2026-03-{started_at}Z"), "distance_km": km, "source": source, "source_id": started_at})
}

async fn patch(server: &TestServer, path: &str, tag: &str, body: &Value) -> Answer {
    let request = server.request(Method::PATCH, path).bearer_auth(server.token_of(Role::App));
    server.send(request.header("if-match", tag).json(body)).await
}

async fn delete(server: &TestServer, path: &str) {
    let tag = server.get(path).await.expect(200).header("etag").to_owned();
    let request = server.request(Method::DELETE, path).bearer_auth(server.token_of(Role::App));
    server.send(request.header("if-match", tag)).await.check(204);
}

async fn km(server: &TestServer, bike: &str) -> f64 {
    let outlook = server.get(&format!("/v1/bikes/{bike}/outlook")).await.expect(200).body;
    outlook["basis"]["distance_km"].as_f64().expect("a distance")
}

fn codes(answer: &Value) -> Vec<(&str, &str)> {
    let warnings = answer["warnings"].as_array().expect("warnings");
    let text = |warning: &Value, name: &str| warning[name].as_str().map(str::to_owned);
    let named = warnings.iter().filter(|warning| text(warning, "ride_id").is_some());
    named.map(|warning| (warning["code"].as_str().unwrap(), warning["ride_id"].as_str().unwrap())).collect()
}

async fn a_ride_told_twice_counts_once_and_says_so(store: TestStore) {
    let server = TestServer::start(store).await;
    let bike = server.bike("041").await;
    let rides = format!("/v1/bikes/{bike}/rides");
    let phone = server.post(&rides, &ride("phone", "01T08:00:00", 18.4)).await.expect(201);
    assert_eq!(
        (&phone.body["counts"], &phone.body["same_as"], &phone.body["separate"]),
        (&json!(true), &Value::Null, &json!(false))
    );
    let mut watch = ride("watch", "01T08:02:00", 18.9);
    let again = server.post(&rides, &watch).await.expect(201);
    assert_eq!(codes(&again.body), [("counted_with", phone.id().as_str())]);
    assert_eq!(again.body["warnings"].as_array().map(Vec::len), Some(1), "{}", again.body);
    assert_eq!(
        (&again.body["counts"], &again.body["same_as"], &again.body["revision"]),
        (&json!(false), &json!(phone.id()), &json!(1))
    );
    assert!((km(&server, &bike).await - 18.4).abs() < 1e-9);
    // The same again says the same.
    let same = server.post(&rides, &watch).await.expect(200);
    assert_eq!((codes(&same.body), same.header("etag")), (codes(&again.body), "\"1\""));
    // With work measured it is the one that counts, and the other one has another ETag since.
    watch["energy_kj"] = json!(300);
    let measured = server.post(&rides, &watch).await.expect(200);
    assert_eq!(codes(&measured.body), [("counts_for", phone.id().as_str())]);
    assert!((km(&server, &bike).await - 18.9).abs() < 1e-9);
    let first = server.get(&format!("{rides}/{}", phone.id())).await.expect(200);
    assert_eq!(first.body["same_as"], json!(again.id()));
    assert!(first.header("etag").starts_with("\"2-"), "{}", first.header("etag"));
    let listed = server.get(&rides).await.expect(200).body;
    let counts: Vec<&Value> =
        listed["items"].as_array().expect("rides").iter().map(|ride| &ride["counts"]).collect();
    assert_eq!(counts, [&json!(true), &json!(false)]);
    // Deleted, it leaves the other one to count; restored, it is as before.
    let path = format!("{rides}/{}", again.id());
    delete(&server, &path).await;
    assert!((km(&server, &bike).await - 18.4).abs() < 1e-9);
    let restored = server.post(&format!("{path}/restoration"), &Value::Null).await.expect(200).body;
    assert_eq!(restored["counts"], true);
    assert!((km(&server, &bike).await - 18.9).abs() < 1e-9);
    // Moved to another time, it is another ride.
    let tag = server.get(&path).await.expect(200).header("etag").to_owned();
    let later = json!({"started_at": "2026-03-01T10:00:00Z"});
    assert_eq!(patch(&server, &path, &tag, &later).await.expect(200).body["counts"], true);
    assert!((km(&server, &bike).await - 37.3).abs() < 1e-9);
    // Another bike's ride is nobody's telling.
    let other = server.bike("042").await;
    let elsewhere =
        server.post(&format!("/v1/bikes/{other}/rides"), &ride("tape", "01T08:00:00", 18.4)).await;
    assert_eq!(elsewhere.expect(201).body["warnings"], json!([]));
}

async fn two_rides_are_two_where_somebody_says_so(store: TestStore) {
    let server = TestServer::start(store).await;
    let bike = server.bike("041").await;
    let rides = format!("/v1/bikes/{bike}/rides");
    let phone = server.post(&rides, &ride("phone", "01T08:00:00", 18.4)).await.expect(201);
    let watch = server.post(&rides, &ride("watch", "01T08:02:00", 18.0)).await.expect(201);
    let path = format!("{rides}/{}", watch.id());
    let two = patch(&server, &path, "\"1\"", &json!({"separate": true})).await.expect(200);
    assert_eq!((&two.body["counts"], &two.body["separate"]), (&json!(true), &json!(true)));
    assert!((km(&server, &bike).await - 36.4).abs() < 1e-9);
    // Sent again, late and changed, they still are two.
    let late = server.post(&rides, &ride("watch", "01T08:02:00", 18.1)).await.expect(200);
    // The file's own id is its first time; only the distance changed.
    assert_eq!((&late.body["separate"], codes(&late.body)), (&json!(true), Vec::new()));
    let _same = server.post(&rides, &ride("phone", "01T08:00:00", 18.4)).await.expect(200);
    assert!((km(&server, &bike).await - 36.5).abs() < 1e-9);
    // A third one is the other one's.
    let third = server.post(&rides, &ride("tape", "01T08:01:00", 18.2)).await.expect(201).body;
    assert_eq!(codes(&third), [("counted_with", phone.id().as_str())]);
    // And back again.
    let stale = patch(&server, &path, "\"1\"", &json!({"separate": false})).await;
    assert_eq!(stale.expect(412).problem(), "stale");
    let one = patch(&server, &path, late.header("etag"), &json!({"separate": false})).await.expect(200);
    assert_eq!((&one.body["counts"], &one.body["same_as"]), (&json!(false), &json!(phone.id())));
    assert!((km(&server, &bike).await - 18.4).abs() < 1e-9);
    // Who said so stands in the audit.
    let audit = server.get("/v1/audit").await.expect(200).body;
    let entries = audit["items"].as_array().expect("entries");
    let said: Vec<&Value> = entries
        .iter()
        .filter(|entry| entry["action"] == "ride.change")
        .map(|entry| &entry["detail"]["to"]["separate"])
        .collect();
    assert_eq!(said, [&json!(false), &json!(true)]);
}

async fn a_batch_says_it_of_its_lines(store: TestStore) {
    let server = TestServer::start(store).await;
    let (bike, other) = (server.bike("041").await, server.bike("042").await);
    let stored =
        server.post(&format!("/v1/bikes/{bike}/rides"), &ride("phone", "01T08:00:00", 18.4)).await.id();
    let of = |bike: &str, mut ride: Value| {
        ride["bike_id"] = json!(bike);
        ride
    };
    let mut measured = ride("computer", "02T08:01:00", 20.1);
    measured["energy_kj"] = json!(350);
    let batch = json!({"rides": [
        of(&bike, ride("watch", "01T08:02:00", 18.0)), of(&bike, ride("phone", "02T08:00:00", 20.0)),
        of(&bike, measured), of(&other, ride("watch", "01T08:02:00", 18.0))
    ]});
    let report = server.post("/v1/rides", &batch).await.expect(200).body;
    let id = |index: usize| report["rides"][index]["id"].as_str().expect("an id").to_owned();
    let said: Vec<(u64, &str, &str)> = report["warnings"]
        .as_array()
        .expect("warnings")
        .iter()
        .filter_map(|warning| {
            Some((
                warning["index"].as_u64()?,
                warning["code"].as_str()?,
                warning["ride_id"].as_str().unwrap_or("none"),
            ))
        })
        .collect();
    assert_eq!(
        said,
        [(0, "counted_with", stored.as_str()), (1, "counted_with", &id(2)), (2, "counts_for", &id(1))]
    );
    assert!((km(&server, &bike).await - 38.5).abs() < 1e-9);
    assert!((km(&server, &other).await - 18.0).abs() < 1e-9);
}

async fn a_table_keeps_what_was_decided(store: TestStore) {
    let server = TestServer::start(store).await;
    let bike = server.bike("041").await;
    let rides = format!("/v1/bikes/{bike}/rides");
    let _phone = server.post(&rides, &ride("phone", "01T08:00:00", 18.4)).await.expect(201);
    for (source, separate) in [("watch", true), ("tape", false)] {
        let told = server.post(&rides, &ride(source, "01T08:02:00", 18.0)).await.expect(201).id();
        let _said = patch(&server, &format!("{rides}/{told}"), "\"1\"", &json!({"separate": separate})).await;
    }
    let table = server.request(Method::GET, "/v1/exports/rides").bearer_auth(server.token_of(Role::Manager));
    let table = table.send().await.expect("an answer").text().await.expect("a table");
    assert!(table.lines().next().is_some_and(|header| header.ends_with(",\"separate\"")), "{table}");
    let elsewhere = server.bike("042").await;
    let table = table.replace(&bike, &elsewhere);
    let import =
        server.request(Method::POST, "/v1/imports/rides").bearer_auth(server.token_of(Role::Manager));
    let done = server.send(import.header("content-type", "text/csv").body(table)).await.expect(200).body;
    assert_eq!(done["accepted"], 3, "{done}");
    assert!((km(&server, &bike).await - 36.4).abs() < 1e-9);
    assert!((km(&server, &elsewhere).await - 36.4).abs() < 1e-9);
}
