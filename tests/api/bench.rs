//! The bench: its days, bookings, and a plan that is computed, accepted and kept.

use chrono::Duration;
use reqwest::Method;
use serde_json::{Value, json};
use wear_api::domain::Role;
use wear_tests::{Answer, TestServer, TestStore, on_both_stores};

on_both_stores!(
    bench_days_are_entered_changed_and_removed,
    bookings_are_entered_changed_and_removed,
    the_benchs_settings_have_defaults,
    a_plan_is_kept_once_it_is_accepted,
    a_full_bench_says_what_it_lacks,
    a_booked_bike_waits,
    a_worn_cassette_goes_on_the_same_visit,
    what_is_swapped_is_not_planned_again,
    chains_that_are_not_there_are_waited_for,
    only_the_plan_that_was_seen_is_accepted,
    a_chain_that_turns_out_sound_gives_its_day_back,
    what_a_reading_decides_is_measured_first,
    a_bike_of_a_kept_promise_is_measured_first_only_when_it_is_due,
);

pub async fn with_tag(
    server: &TestServer,
    method: Method,
    path: &str,
    tag: &str,
    body: Option<Value>,
) -> Answer {
    let request = server.request(method, path).bearer_auth(server.token_of(Role::Manager));
    let request = request.header("if-match", tag);
    server
        .send(match body {
            Some(body) => request.json(&body),
            None => request,
        })
        .await
}

/// A bike with a month of riding, as much as wears a chain to `percent`, whose chain reads that today.
async fn worn(server: &TestServer, label: &str, percent: f64) -> String {
    let id = server.bike(label).await;
    let rides: Vec<Value> = (0..30)
        .map(|day| {
            let at = server.now().plus(Duration::days(-1 - day)).to_string();
            json!({"bike_id": id, "started_at": at, "distance_km": 220.0 * percent, "source": "log",
                "source_id": format!("{label}-{day}")})
        })
        .collect();
    let report = server.post("/v1/rides", &json!({"rides": rides})).await.expect(200).body;
    assert_eq!(report["accepted"], 30);
    let reading = json!({"taken_at": server.now().to_string(), "instrument": "dial", "percent": percent});
    let _read = server.post(&format!("/v1/bikes/{id}/readings"), &reading).await.expect(201);
    id
}

pub async fn plan(server: &TestServer, from: &str, to: &str) -> Value {
    server.post("/v1/bench-plan", &json!({"from": from, "to": to})).await.expect(201).body
}

/// Label and date of every planned visit.
pub fn planned(plan: &Value) -> Vec<(String, String)> {
    let days = plan["days"].as_array().expect("days");
    days.iter()
        .flat_map(|day| {
            let visits = day["visits"].as_array().expect("visits");
            visits.iter().map(|visit| {
                assert_eq!(visit["date"], day["date"]);
                (
                    visit["label"].as_str().unwrap_or("").to_owned(),
                    day["date"].as_str().unwrap_or("").to_owned(),
                )
            })
        })
        .collect()
}

pub fn labels(list: &Value) -> Vec<&str> {
    list.as_array().expect("a list").iter().filter_map(|entry| entry["label"].as_str()).collect()
}

pub fn assert_within_capacity(plan: &Value) {
    for day in plan["days"].as_array().expect("days") {
        let visits = day["visits"].as_array().expect("visits");
        let used: i64 = visits.iter().filter_map(|visit| visit["minutes"].as_i64()).sum();
        assert_eq!(day["minutes_used"], used);
        assert!(used <= day["minutes"].as_i64().expect("minutes"), "{day}");
    }
    assert!(plan["bound_minor"].as_i64() <= plan["cost_minor"].as_i64(), "{plan}");
}

async fn bench_days_are_entered_changed_and_removed(store: TestStore) {
    let server = TestServer::start(store).await;
    let body = json!({"date": "2026-12-01", "minutes": 300, "note": "two of us"});
    let made = server.post("/v1/bench-days", &body).await.expect(201);
    assert_eq!(server.post("/v1/bench-days", &body).await.expect(409).problem(), "conflict");
    let path = format!("/v1/bench-days/{}", made.id());
    assert_eq!(made.header("location"), path);
    assert_eq!(server.get(&path).await.expect(200).body, made.body);
    let change = Some(json!({"minutes": 0, "note": null}));
    let changed = with_tag(&server, Method::PATCH, &path, "\"1\"", change.clone()).await.expect(200);
    assert_eq!((&changed.body["minutes"], &changed.body["note"]), (&json!(0), &Value::Null));
    let _stale = with_tag(&server, Method::PATCH, &path, "\"1\"", change).await.expect(412);
    let other = json!({"date": "2026-11-30", "minutes": 60});
    let _other = server.post("/v1/bench-days", &other).await.expect(201);
    let listed = server.get("/v1/bench-days?limit=1").await.expect(200);
    assert_eq!(listed.body["items"][0]["date"], "2026-11-30");
    assert!(listed.header("link").contains("after="));
    let later = server.get("/v1/bench-days?from=2026-12-01").await.expect(200).body;
    assert_eq!(later["items"].as_array().map(Vec::len), Some(1));
    let _stale = with_tag(&server, Method::DELETE, &path, "\"1\"", None).await.expect(412);
    let _gone = with_tag(&server, Method::DELETE, &path, "\"2\"", None).await.expect(204);
    let _nothing = server.get(&path).await.expect(404);
    for (body, pointer) in [
        (json!({"date": "2026-12-01", "minutes": -1}), "/minutes"),
        (json!({"date": "soon", "minutes": 1}), "/date"),
        (json!({"date": "2026-12-01"}), "/minutes"),
    ] {
        assert_eq!(server.post("/v1/bench-days", &body).await.expect(422).pointers(), [pointer], "{body}");
    }
}

async fn bookings_are_entered_changed_and_removed(store: TestStore) {
    let server = TestServer::start(store).await;
    let bike = server.bike("041").await;
    let body = json!({"bike_id": bike, "from": "2026-12-01", "to": "2026-12-04"});
    let made = server.post("/v1/bookings", &body).await.expect(201);
    let path = format!("/v1/bookings/{}", made.id());
    assert_eq!(server.get(&path).await.expect(200).body, made.body);
    let change = Some(json!({"to": "2026-12-10", "note": "longer"}));
    let changed = with_tag(&server, Method::PATCH, &path, "\"1\"", change).await.expect(200).body;
    assert_eq!((&changed["from"], &changed["to"]), (&json!("2026-12-01"), &json!("2026-12-10")));
    let back = Some(json!({"to": "2026-11-30"}));
    assert_eq!(with_tag(&server, Method::PATCH, &path, "\"2\"", back).await.expect(422).pointers(), ["/to"]);
    for (query, count) in [
        (String::new(), 1),
        (format!("?bike_id={bike}"), 1),
        ("?from=2026-12-11".to_owned(), 0),
        ("?to=2026-11-30".to_owned(), 0),
        ("?from=2026-12-10&to=2026-12-10".to_owned(), 1),
    ] {
        let items = server.get(&format!("/v1/bookings{query}")).await.expect(200).body;
        assert_eq!(items["items"].as_array().map(Vec::len), Some(count), "{query}");
    }
    for (body, pointer) in [
        (json!({"bike_id": made.id(), "from": "2026-12-01", "to": "2026-12-04"}), "/bike_id"),
        (json!({"bike_id": bike, "from": "2026-12-05", "to": "2026-12-04"}), "/to"),
    ] {
        assert_eq!(server.post("/v1/bookings", &body).await.expect(422).pointers(), [pointer], "{body}");
    }
    let _gone = with_tag(&server, Method::DELETE, &path, "\"2\"", None).await.expect(204);
    let _nothing = server.get(&path).await.expect(404);
}

async fn the_benchs_settings_have_defaults(store: TestStore) {
    let server = TestServer::start(store).await;
    let before = server.get("/v1/bench-settings").await.expect(200);
    assert_eq!(before.body["week_minutes"], json!([240, 240, 240, 240, 240, 0, 0]));
    let tag = before.header("etag").to_owned();
    let change = Some(json!({"week_minutes": [0, 0, 60, 0, 0, 90, 0]}));
    let patch = |tag: String, body| {
        let server = &server;
        async move { with_tag(server, Method::PATCH, "/v1/bench-settings", &tag, body).await }
    };
    let changed = patch(tag.clone(), change.clone()).await.expect(200);
    assert_eq!(changed.body["chain_minutes"], before.body["chain_minutes"]);
    let _stale = patch(tag, change).await.expect(412);
    let second = patch(changed.header("etag").to_owned(), Some(json!({"chain_minutes": 15}))).await;
    assert_eq!(second.expect(200).body["week_minutes"], changed.body["week_minutes"]);
    let tag = server.get("/v1/bench-settings").await.header("etag").to_owned();
    let refused = patch(tag, Some(json!({"setup_minutes": 16}))).await.expect(422);
    assert_eq!(refused.pointers(), ["/setup_minutes"]);
    let plan = plan(&server, "2026-11-25", "2026-12-01").await;
    let days: Vec<_> = plan["days"].as_array().into_iter().flatten().map(|day| &day["date"]).collect();
    assert_eq!(days, ["2026-11-25", "2026-11-28"]);
}

async fn a_plan_is_kept_once_it_is_accepted(store: TestStore) {
    let server = TestServer::start(store).await;
    let _none = server.get("/v1/bench-plan").await.expect(404);
    let _none = server.post("/v1/bench-plan/accept", &json!({})).await.expect(404);
    for (label, percent) in [("1", 0.72), ("2", 0.74), ("3", 0.76), ("4", 0.80), ("fresh", 0.1)] {
        worn(&server, label, percent).await;
    }
    // Each of these days has room for two chains.
    for date in ["2026-11-25", "2026-11-26", "2026-11-27", "2026-11-30", "2026-12-01"] {
        let _day = server.post("/v1/bench-days", &json!({"date": date, "minutes": 45})).await.expect(201);
    }
    let first = plan(&server, "2026-11-25", "2026-12-01").await;
    assert_within_capacity(&first);
    let on: Vec<_> = planned(&first);
    assert_eq!(on.len(), 4, "{first}");
    assert!(!on.iter().any(|(label, _)| label == "fresh"));
    assert_eq!(first["accepted_at"], Value::Null);
    let accepted = server.post("/v1/bench-plan/accept", &json!({"id": first["id"]})).await.expect(200).body;
    assert!(accepted["accepted_at"].is_string());
    let again = server.post("/v1/bench-plan/accept", &json!({"id": first["id"]})).await.expect(200).body;
    assert_eq!(again["accepted_at"], accepted["accepted_at"]);

    // One more bike that has to come off at once doesn't move the others.
    worn(&server, "5", 0.9).await;
    let second = plan(&server, "2026-11-25", "2026-12-01").await;
    assert_within_capacity(&second);
    assert_eq!(second["moved"], json!([]));
    let kept: Vec<_> = planned(&second).into_iter().filter(|(label, _)| label != "5").collect();
    let sorted = |mut list: Vec<(String, String)>| {
        list.sort();
        list
    };
    assert_eq!(sorted(kept), sorted(on.clone()));
    assert!(second["summary"].to_string().contains("All 4 promised days are kept"), "{}", second["summary"]);
    assert_eq!(server.get("/v1/bench-plan").await.expect(200).body["id"], first["id"]);
    assert_eq!(server.get("/v1/bench-plan?state=proposed").await.expect(200).body["id"], second["id"]);

    // A promised day that is closed moves those who were on it, and says so.
    let closed = &on[0].1;
    let days = server.get(&format!("/v1/bench-days?from={closed}&to={closed}")).await.expect(200).body;
    let path = format!("/v1/bench-days/{}", days["items"][0]["id"].as_str().expect("an id"));
    let _closed =
        with_tag(&server, Method::PATCH, &path, "\"1\"", Some(json!({"minutes": 0}))).await.expect(200);
    let third = plan(&server, "2026-11-25", "2026-12-01").await;
    let mut on_it: Vec<_> = on.iter().filter(|(_, date)| date == closed).map(|(label, _)| label).collect();
    let mut moved = labels(&third["moved"]);
    on_it.sort();
    moved.sort_unstable();
    assert_eq!(moved, on_it);
    for entry in third["moved"].as_array().into_iter().flatten() {
        assert_eq!(entry["from"], *closed);
        assert_eq!(entry["reason"], "the bench no longer works on that day");
    }
}

async fn a_full_bench_says_what_it_lacks(store: TestStore) {
    let server = TestServer::start(store).await;
    for label in ["1", "2", "3", "4", "5"] {
        worn(&server, label, 0.82).await;
    }
    let week = Some(json!({"week_minutes": [0, 0, 0, 50, 0, 0, 0]}));
    let _set = with_tag(&server, Method::PATCH, "/v1/bench-settings", "\"1\"", week).await.expect(200);
    let plan = plan(&server, "2026-11-25", "2026-12-01").await;
    assert_within_capacity(&plan);
    assert_eq!(planned(&plan).len(), 2, "{plan}");
    assert_eq!(labels(&plan["left_out"]).len(), 3);
    let load = &plan["load"];
    let needed = load["minutes_needed"].as_i64().expect("minutes");
    assert_eq!((&load["minutes_available"], &load["minutes_over"]), (&json!(50), &json!(needed - 50)));
    let short = &plan["short_of"][0];
    assert_eq!((&short["constraint"], &short["date"]), (&json!("minutes"), &json!("2026-11-26")));
    assert!(short["missing"].as_f64().is_some_and(|missing| missing > 0.0), "{short}");
    assert_eq!(short["bikes"].as_array().map(Vec::len), Some(3), "{short}");
    let said = plan["summary"].to_string();
    assert!(said.contains("Left out:") && said.contains("too few"), "{said}");

    let week = Some(json!({"week_minutes": [0, 0, 0, 0, 0, 0, 0]}));
    let _set = with_tag(&server, Method::PATCH, "/v1/bench-settings", "\"2\"", week).await.expect(200);
    let closed = self::plan(&server, "2026-11-25", "2026-12-01").await;
    assert_eq!(closed["short_of"][0]["constraint"], "days");
    assert_eq!(labels(&closed["left_out"]).len(), 5);
}

async fn a_booked_bike_waits(store: TestStore) {
    let server = TestServer::start(store).await;
    let [away, here] = [worn(&server, "away", 0.9).await, worn(&server, "here", 0.9).await];
    let booking = json!({"bike_id": away, "from": "2026-11-20", "to": "2026-11-29"});
    let _booked = server.post("/v1/bookings", &booking).await.expect(201);
    let first = plan(&server, "2026-11-25", "2026-12-04").await;
    let expected =
        [("here".to_owned(), "2026-11-25".to_owned()), ("away".to_owned(), "2026-11-30".to_owned())];
    assert_eq!(planned(&first), expected);
    let _accepted = server.post("/v1/bench-plan/accept", &json!({"id": first["id"]})).await.expect(200);
    let booking = json!({"bike_id": away, "from": "2026-11-30", "to": "2026-12-30"});
    let _booked = server.post("/v1/bookings", &booking).await.expect(201);
    let second = plan(&server, "2026-11-25", "2026-12-04").await;
    assert_eq!((labels(&second["left_out"]), labels(&second["moved"])), (vec!["away"], vec!["away"]));
    assert_eq!(second["moved"][0]["reason"], "the bike is away on that day");
    assert_eq!(second["short_of"][0]["constraint"], "away");
    // A promised day that has passed with the old chain still on.
    server.wait(Duration::days(1));
    let third = plan(&server, "2026-11-26", "2026-12-04").await;
    let moved = third["moved"].as_array().into_iter().flatten().find(|entry| entry["bike_id"] == *here);
    assert_eq!(moved.expect("moved")["reason"], "the promised day has passed and its chain is still on");
    let past = json!({"from": "2026-11-25", "to": "2026-12-04"});
    assert_eq!(server.post("/v1/bench-plan", &past).await.expect(422).pointers(), ["/from"]);
    for to in ["2026-11-25", "2027-02-26"] {
        let window = json!({"from": "2026-11-26", "to": to});
        assert_eq!(server.post("/v1/bench-plan", &window).await.expect(422).pointers(), ["/to"], "{to}");
    }
}

async fn a_worn_cassette_goes_on_the_same_visit(store: TestStore) {
    let server = TestServer::start(store).await;
    // Three chains run to 1.2 % have used up the cassette.
    let id = server.bike("041").await;
    for (month, source) in [(2, "a"), (5, "b"), (8, "c")] {
        let rides: Vec<Value> = (1..28)
            .map(|day| {
                json!({"bike_id": id, "started_at": format!("2026-{month:02}-{day:02}T08:00:00Z"), "distance_km": 150,
                    "source": source, "source_id": format!("{source}{day}")})
            })
            .collect();
        let _rides = server.post("/v1/rides", &json!({"rides": rides})).await.expect(200);
        let swap = json!({"swapped_at": format!("2026-{month:02}-28T16:00:00Z"), "place": "chain",
            "reading": {"instrument": "dial", "percent": 1.2}});
        let _swap = server.post(&format!("/v1/bikes/{id}/swaps"), &swap).await.expect(201);
    }
    let rides: Vec<Value> = (1..24)
        .map(|day| {
            json!({"bike_id": id, "started_at": format!("2026-11-{day:02}T08:00:00Z"), "distance_km": 150,
            "source": "d", "source_id": format!("d{day}")})
        })
        .collect();
    let _rides = server.post("/v1/rides", &json!({"rides": rides})).await.expect(200);
    let reading = json!({"taken_at": "2026-11-25T11:00:00Z", "instrument": "dial", "percent": 0.9});
    let read = server.post(&format!("/v1/bikes/{id}/readings"), &reading).await.expect(201).body;
    let skips = read["outlook"]["cassette"]["probability_skips"].as_f64().expect("a probability");
    assert!(skips > 0.5, "{skips}");
    let plan = plan(&server, "2026-11-25", "2026-12-01").await;
    let visit = &plan["days"][0]["visits"][0];
    let places: Vec<_> = visit["tasks"].as_array().into_iter().flatten().map(|task| &task["place"]).collect();
    assert_eq!(&places[..2], ["chain", "cassette"]);
    let rings = places.len() as i64 - 2;
    assert_eq!(visit["minutes"], 20 + 25 + 30 * rings - 10 * (1 + rings));
    assert_eq!(visit["setup_minutes_saved"], 10 * (1 + rings));
}

async fn what_is_swapped_is_not_planned_again(store: TestStore) {
    let server = TestServer::start(store).await;
    let id = worn(&server, "041", 0.9).await;
    let first = plan(&server, "2026-11-25", "2026-12-01").await;
    assert_eq!(planned(&first).len(), 1);
    let _accepted = server.post("/v1/bench-plan/accept", &json!({})).await.expect(200);
    let swap = json!({"swapped_at": "2026-11-25T11:30:00Z", "place": "chain"});
    let _swapped = server.post(&format!("/v1/bikes/{id}/swaps"), &swap).await.expect(201);
    let second = plan(&server, "2026-11-25", "2026-12-01").await;
    assert_eq!((planned(&second).len(), &second["moved"]), (0, &json!([])));
    assert_eq!((&second["status"], &second["cost_minor"]), (&json!("optimal"), &json!(0)));
}

async fn chains_that_are_not_there_are_waited_for(store: TestStore) {
    let server = TestServer::start(store).await;
    let model = json!({"name": "Chain 8-speed", "place": "chain", "sprockets": 8, "price_minor": 1490, "currency": "EUR"});
    let model = server.post("/v1/part-models", &model).await.expect(201).id();
    let _kept = server.post("/v1/stock", &json!({"part_model_id": model, "count": 4})).await.expect(201);
    for label in ["1", "2", "3"] {
        let id = worn(&server, label, 0.3).await;
        let later = server.now().plus(Duration::minutes(1)).to_string();
        let swap = json!({"swapped_at": later, "place": "chain", "part_model_id": model});
        let _swap = server.post(&format!("/v1/bikes/{id}/swaps"), &swap).await.expect(201);
    }
    server.wait(Duration::days(30));
    for label in ["1", "2", "3"] {
        let bikes = server.get(&format!("/v1/bikes?search={label}")).await.expect(200).body;
        let id = bikes["items"][0]["id"].as_str().expect("an id");
        let rides: Vec<Value> = (1..30)
            .map(|day| {
                let at = server.now().plus(Duration::days(-day)).to_string();
                json!({"bike_id": id, "started_at": at, "distance_km": 200, "source": "log",
                    "source_id": format!("second-{label}-{day}")})
            })
            .collect();
        let _rides = server.post("/v1/rides", &json!({"rides": rides})).await.expect(200);
        let reading = json!({"taken_at": server.now().to_string(), "instrument": "dial", "percent": 0.85});
        let _read = server.post(&format!("/v1/bikes/{id}/readings"), &reading).await.expect(201);
    }
    // Three went on in November, one is left and one comes before the last day.
    let delivery = json!({"part_model_id": model, "count": 1, "expected_on": "2026-12-30"});
    let _under_way = server.post("/v1/deliveries", &delivery).await.expect(201);
    let plan = plan(&server, "2026-12-25", "2026-12-31").await;
    assert_within_capacity(&plan);
    let dates: Vec<String> = planned(&plan).into_iter().map(|(_, date)| date).collect();
    assert_eq!(dates, ["2026-12-25", "2026-12-30"], "{plan}");
    assert_eq!(labels(&plan["left_out"]).len(), 1);
    let short = plan["short_of"].as_array().into_iter().flatten().find(|short| short["constraint"] == "part");
    let short = short.expect("parts are missing");
    assert_eq!((&short["part_model_id"], &short["missing"]), (&json!(model), &json!(2.0)), "{short}");
    assert!(short["message"].as_str().is_some_and(|text| text.contains("Chain 8-speed")), "{short}");
}

async fn only_the_plan_that_was_seen_is_accepted(store: TestStore) {
    let server = TestServer::start(store).await;
    worn(&server, "041", 0.9).await;
    let first = plan(&server, "2026-11-25", "2026-12-01").await;
    let second = plan(&server, "2026-11-25", "2026-12-02").await;
    let answer = server.post("/v1/bench-plan/accept", &json!({"id": first["id"]})).await.expect(409);
    assert!(
        answer.body["detail"]
            .as_str()
            .is_some_and(|detail| detail.contains(second["id"].as_str().unwrap_or("?")))
    );
    let _accepted = server.post("/v1/bench-plan/accept", &json!({"id": second["id"]})).await.expect(200);
    let _none_left = server.post("/v1/bench-plan/accept", &json!({})).await.expect(404);
    let stranger = server.token("Hill", Role::Manager).await;
    let asked = server.request(Method::GET, "/v1/bench-plan").bearer_auth(stranger);
    let _not_theirs = server.send(asked).await.expect(404);
}

async fn a_chain_that_turns_out_sound_gives_its_day_back(store: TestStore) {
    let server = TestServer::start(store).await;
    let id = worn(&server, "041", 0.78).await;
    let first = plan(&server, "2026-11-25", "2026-12-01").await;
    assert_eq!(planned(&first).len(), 1, "{first}");
    let _accepted = server.post("/v1/bench-plan/accept", &json!({})).await.expect(200);
    // The dial was misread.
    let readings = server.get(&format!("/v1/bikes/{id}/readings")).await.expect(200).body;
    let wrong = readings["items"][0]["id"].as_str().expect("an id");
    let void = server.request(Method::DELETE, &format!("/v1/bikes/{id}/readings/{wrong}?reason=misread"));
    let _void = server.send(void.bearer_auth(server.token_of(Role::Manager))).await.expect(200);
    let right = json!({"taken_at": server.now().plus(Duration::minutes(1)).to_string(), "instrument": "dial", "percent": 0.3});
    let _right = server.post(&format!("/v1/bikes/{id}/readings"), &right).await.expect(201);
    let second = plan(&server, "2026-11-25", "2026-12-01").await;
    assert_eq!(planned(&second), [], "{second}");
    let moved = &second["moved"][0];
    assert_eq!((&moved["label"], &moved["to"]), (&json!("041"), &Value::Null), "{second}");
    assert!(moved["reason"].as_str().is_some_and(|reason| reason.contains("lets its chain stay")), "{moved}");
    let _accepted = server.post("/v1/bench-plan/accept", &json!({})).await.expect(200);
    let third = plan(&server, "2026-11-25", "2026-12-01").await;
    assert_eq!(
        (&third["moved"], third["left_out"].as_array().map(Vec::len)),
        (&json!([]), Some(0)),
        "{third}"
    );
}

async fn what_a_reading_decides_is_measured_first(store: TestStore) {
    let server = TestServer::start(store).await;
    // Never measured, and far enough for the accepted risk.
    let id = server.bike("041").await;
    let rides: Vec<Value> = (0..30)
        .map(|day| {
            let at = server.now().plus(Duration::days(-1 - day)).to_string();
            json!({"bike_id": id, "started_at": at, "distance_km": 80, "source": "log", "source_id": format!("{day}")})
        })
        .collect();
    let _rides = server.post("/v1/rides", &json!({"rides": rides})).await.expect(200);
    let outlook = server.get(&format!("/v1/bikes/{id}/outlook")).await.expect(200).body;
    assert_eq!(outlook["advice"], "measure_by", "{outlook}");
    let before = plan(&server, "2026-11-25", "2026-12-08").await;
    assert_eq!(planned(&before), [], "{before}");
    assert_eq!(labels(&before["to_measure"]), ["041"], "{before}");
    assert_eq!(before["to_measure"][0]["by"], outlook["measure_by"]);
    let said = before["summary"].as_array().into_iter().flatten().filter_map(Value::as_str);
    assert!(
        said.into_iter().any(|text| text == "To be measured before they are given a day: 041"),
        "{before}"
    );
    let reading = json!({"taken_at": server.now().to_string(), "instrument": "dial", "percent": 0.8});
    let _read = server.post(&format!("/v1/bikes/{id}/readings"), &reading).await.expect(201);
    let after = plan(&server, "2026-11-25", "2026-12-08").await;
    assert_eq!((planned(&after).len(), &after["to_measure"]), (1, &json!([])), "{after}");
}

async fn a_bike_of_a_kept_promise_is_measured_first_only_when_it_is_due(store: TestStore) {
    let server = TestServer::start(store).await;
    let id = worn(&server, "041", 0.9).await;
    let first = plan(&server, "2026-11-25", "2026-12-01").await;
    assert_eq!(planned(&first).len(), 1, "{first}");
    let _accepted = server.post("/v1/bench-plan/accept", &json!({})).await.expect(200);
    let at = server.now().plus(Duration::minutes(1)).to_string();
    let swap = json!({"swapped_at": at, "place": "chain"});
    let _swapped = server.post(&format!("/v1/bikes/{id}/swaps"), &swap).await.expect(201);
    server.wait(Duration::days(31));
    let rides: Vec<Value> = (1..30)
        .map(|day| {
            let at = server.now().plus(Duration::days(-day)).to_string();
            json!({"bike_id": id, "started_at": at, "distance_km": 62, "source": "log", "source_id": format!("new-{day}")})
        })
        .collect();
    let _rides = server.post("/v1/rides", &json!({"rides": rides})).await.expect(200);
    let outlook = server.get(&format!("/v1/bikes/{id}/outlook")).await.expect(200).body;
    assert_eq!(outlook["advice"], "measure_by", "{outlook}");
    let today = server.now().utc_date();
    let swap_by: chrono::NaiveDate =
        outlook["swap_by"].as_str().and_then(|day| day.parse().ok()).expect("a day");
    let before = swap_by - Duration::days(1);
    assert!(today <= before, "{outlook}");
    for (last, expected) in [(before, vec![]), (swap_by, vec!["041"])] {
        let plan = plan(&server, &today.to_string(), &last.to_string()).await;
        assert_eq!((labels(&plan["to_measure"]), planned(&plan).len()), (expected, 0), "{last}: {plan}");
    }
}
