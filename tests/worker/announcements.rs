//! What hooks hear besides advice that has become more urgent: what is due soon, what has to be checked, worn sprockets, what is
//! over, parts to order, and a track record that drifts. Each once.

use chrono::Duration;
use reqwest::Method;
use serde_json::{Value, json};
use wear_api::domain::Role;
use wear_tests::{Receiver, TestServer, TestStore, WornRings, on_both_stores};

use crate::hooks::{ride, server};

on_both_stores!(
    what_is_due_soon_is_told_when_only_time_passes,
    a_record_in_doubt_is_told_and_taken_back,
    worn_sprockets_are_told_once_and_taken_back_with_the_part,
    bikes_of_which_nothing_is_known_are_no_news,
    a_part_to_order_is_told_once_until_it_is_there,
    a_drifting_record_is_told_once_until_it_is_mended,
);

/// A hook whose log says what it is told; its receiver takes everything, as one that fails for a day is disabled.
async fn listening(server: &TestServer, receiver: &Receiver, events: &[&str]) -> String {
    let hook = json!({"label": "app", "url": receiver.url("/"), "events": events});
    server.post("/v1/hooks", &hook).await.expect(201).id()
}

/// What the hook was told so far, the first message first.
async fn told(server: &TestServer, hook: &str) -> Vec<Value> {
    let log = server.get(&format!("/v1/hooks/{hook}/deliveries?limit=100")).await.expect(200).body;
    let items = log["items"].as_array().expect("a log");
    items.iter().rev().map(|message| message["body"].clone()).collect()
}

fn kinds(messages: &[Value]) -> Vec<&str> {
    messages.iter().filter_map(|message| message["type"].as_str()).collect()
}

async fn read(server: &TestServer, bike: &str, percent: f64) -> Value {
    let reading = json!({"taken_at": server.now(), "instrument": "dial", "percent": percent});
    server.post(&format!("/v1/bikes/{bike}/readings"), &reading).await.expect(201).body
}

async fn outlook(server: &TestServer, bike: &str) -> Value {
    server.get(&format!("/v1/bikes/{bike}/outlook")).await.expect(200).body
}

/// Days from today to the date that the advice names.
fn days_ahead(server: &TestServer, outlook: &Value) -> Option<i64> {
    let field = match outlook["advice"].as_str()? {
        "measure_by" => "measure_by",
        "swap_by" => "swap_by",
        _ => return None,
    };
    let date: chrono::NaiveDate = outlook[field].as_str()?.parse().ok()?;
    Some((date - server.now().utc_date()).num_days())
}

async fn what_is_due_soon_is_told_when_only_time_passes(store: TestStore) {
    let (server, receiver) = (server(store).await, Receiver::start().await);
    let soon = ["outlook.measure_soon", "outlook.swap_soon"];
    let hook = listening(&server, &receiver, &soon).await;
    let all =
        listening(&server, &receiver, &["outlook.swap_by", "outlook.swap_soon", "outlook.no_longer_due"])
            .await;
    let bike = server.bike("041").await;
    ride(&server, &bike, 30.0, 90).await;
    let declared = json!({"km_per_week": 210, "from": "2026-11-25"});
    server.post(&format!("/v1/bikes/{bike}/declared-use"), &declared).await.check(201);
    let first = read(&server, &bike, 0.42).await["outlook"].clone();
    assert!(days_ahead(&server, &first).is_none_or(|days| days > 7), "{first}");
    assert_eq!(told(&server, &hook).await, Vec::<Value>::new());
    let now = loop {
        server.wait(Duration::days(1));
        server.settle().await;
        let now = outlook(&server, &bike).await;
        let within = days_ahead(&server, &now).is_some_and(|days| days <= 7);
        assert_eq!(told(&server, &hook).await.len(), usize::from(within), "{now}");
        if within {
            break now;
        }
    };
    let messages = told(&server, &hook).await;
    assert_eq!(messages[0]["type"], "outlook.measure_soon");
    let data = &messages[0]["data"];
    for field in ["part_id", "advice", "reason_code", "reason_parameters", "swap_by", "measure_by"] {
        assert_eq!(data[field], now[field], "{field}");
    }
    // A reading says that the swap is due: that is told, and the reading is done.
    let near = read(&server, &bike, 0.74).await["outlook"].clone();
    assert!(
        days_ahead(&server, &near).is_some_and(|days| days <= 7) || near["advice"] == "swap_now",
        "{near}"
    );
    let messages = told(&server, &hook).await;
    assert_eq!(kinds(&messages), ["outlook.measure_soon", "outlook.swap_soon"]);
    let data = &messages[1]["data"];
    // Another day, and another look: no news.
    server.settle().await;
    assert_eq!(told(&server, &hook).await.len(), messages.len());
    // Done: everything that was told of the chain is over, once.
    server.wait(Duration::hours(1));
    server.post(&format!("/v1/bikes/{bike}/swaps"), &json!({"place": "chain"})).await.check(201);
    server.settle().await;
    let messages = told(&server, &all).await;
    let over: Vec<&Value> = messages
        .iter()
        .filter(|it| it["type"] == "outlook.no_longer_due" && it["data"]["reason_code"] == "came_off")
        .collect();
    assert_eq!(over.len(), 1, "{messages:#?}");
    let over = &over[0]["data"];
    assert_eq!(over["part_id"], data["part_id"]);
    assert!(over["announced"].as_array().expect("words").contains(&json!("outlook.swap_soon")), "{over}");
    assert_eq!(over["advice"], outlook(&server, &bike).await["advice"]);
    // Who listens for two of a kind is told of the more urgent one where both come at once.
    assert_eq!(kinds(&messages).iter().filter(|kind| **kind == "outlook.swap_soon").count(), 1);
}

async fn a_record_in_doubt_is_told_and_taken_back(store: TestStore) {
    let (server, receiver) = (server(store).await, Receiver::start().await);
    let hook = listening(&server, &receiver, &["outlook.check", "outlook.no_longer_due"]).await;
    let bike = server.bike("041").await;
    ride(&server, &bike, 20.0, 60).await;
    read(&server, &bike, 0.10).await;
    server.wait(Duration::days(1));
    let wrong = read(&server, &bike, 0.62).await;
    assert_eq!(wrong["outlook"]["advice"], "hold", "{wrong}");
    let messages = told(&server, &hook).await;
    assert_eq!(kinds(&messages), ["outlook.check"]);
    assert_eq!(messages[0]["data"]["reason_code"], wrong["outlook"]["reason_code"]);
    server.wait(Duration::days(1));
    server.settle().await;
    assert_eq!(told(&server, &hook).await.len(), 1, "told once");
    let id = wrong["reading"]["id"].as_str().expect("an id");
    let void = server.request(Method::DELETE, &format!("/v1/bikes/{bike}/readings/{id}?reason=another"));
    let voided = server.send(void.bearer_auth(server.token_of(Role::Manager))).await;
    assert!(voided.status.is_success(), "{}", voided.body);
    let messages = told(&server, &hook).await;
    assert_eq!(kinds(&messages), ["outlook.check", "outlook.no_longer_due"]);
    let over = &messages[1]["data"];
    assert_eq!((&over["announced"], &over["reason_code"]), (&json!(["outlook.check"]), &json!("not_due")));
    // A change of mind is told again.
    read(&server, &bike, 0.66).await;
    assert_eq!(kinds(&told(&server, &hook).await).last(), Some(&"outlook.check"));
}

async fn worn_sprockets_are_told_once_and_taken_back_with_the_part(store: TestStore) {
    let (server, receiver) = (server(store).await, Receiver::start().await);
    let hook = listening(&server, &receiver, &["cassette.worn", "ring.worn", "outlook.no_longer_due"]).await;
    let worn = WornRings::of(server, &["041"]).await;
    let server = &worn.server;
    server.settle().await;
    let messages = told(server, &hook).await;
    let of = |kind: &str| -> Vec<&Value> { messages.iter().filter(|it| it["type"] == kind).collect() };
    let (cassettes, rings) = (of("cassette.worn"), of("ring.worn"));
    assert_eq!((cassettes.len(), rings.len()), (1, 1), "{messages:?}");
    let (cassette, ring) = (&cassettes[0]["data"], &rings[0]["data"]);
    assert_eq!((&ring["part_model_id"], &ring["shape"]), (&json!(worn.ring), &json!("42 teeth")));
    assert_eq!((&cassette["place"], &cassette["reason_code"]), (&json!("cassette"), &json!("cassette_worn")));
    assert!(cassette["reason"].as_str().is_some_and(|why| why.contains("off traffic")), "{cassette}");
    assert!(cassette["probability"].as_f64().is_some_and(|p| p >= 0.5), "{cassette}");
    let bike = cassette["bike_id"].as_str().expect("an id");
    for place in ["cassette", "ring"] {
        server.wait(Duration::minutes(1));
        let swap = json!({"swapped_at": server.now(), "place": place});
        server.post(&format!("/v1/bikes/{bike}/swaps"), &swap).await.check(201);
    }
    server.settle().await;
    let messages = told(server, &hook).await;
    for (part, event) in [(cassette, "cassette.worn"), (ring, "ring.worn")] {
        let over: Vec<&Value> = messages
            .iter()
            .filter(|it| it["type"] == "outlook.no_longer_due" && it["data"]["part_id"] == part["part_id"])
            .collect();
        assert_eq!(over.len(), 1, "{messages:?}");
        assert_eq!(over[0]["data"]["announced"], json!([event]));
    }
}

async fn bikes_of_which_nothing_is_known_are_no_news(store: TestStore) {
    let (server, receiver) = (server(store).await, Receiver::start().await);
    let events = [
        "outlook.measure_by",
        "outlook.swap_by",
        "outlook.swap_now",
        "outlook.measure_soon",
        "outlook.swap_soon",
        "outlook.check",
        "outlook.no_longer_due",
        "cassette.worn",
        "ring.worn",
    ];
    let hook = listening(&server, &receiver, &events).await;
    for number in 0..20 {
        let bike = json!({"label": format!("{number:03}"), "group": "town-8s", "use": "town", "drivetrain": {"speeds": 8}});
        server.post("/v1/bikes", &bike).await.check(201);
    }
    server.settle().await;
    server.wait(Duration::days(2));
    server.settle().await;
    let counts = server.get("/v1/outlooks?limit=1").await.expect(200).body;
    assert!(counts["items"][0]["advice"].is_string(), "{counts}");
    assert_eq!(told(&server, &hook).await, Vec::<Value>::new());
}

async fn a_night(server: &TestServer) {
    server.wait(Duration::days(1));
    server.settle().await;
}

async fn a_part_to_order_is_told_once_until_it_is_there(store: TestStore) {
    let receiver = Receiver::start().await;
    let worn = WornRings::of(server(store).await, &["041"]).await;
    let server = &worn.server;
    // With enough on the shelf there is nothing to tell.
    worn.count(&worn.chain, 20).await;
    server.settle().await;
    a_night(server).await;
    let hook = listening(server, &receiver, &["order.needed"]).await;
    worn.count_again(&worn.chain, 0).await;
    let of_chain = async || {
        let messages = told(server, &hook).await;
        messages.into_iter().filter(|it| it["data"]["part_model_id"] == *worn.chain).collect::<Vec<_>>()
    };
    a_night(server).await;
    let first = of_chain().await;
    assert_eq!(first.len(), 1, "{first:?}");
    let data = &first[0]["data"];
    let needed = server.get("/v1/orders-needed").await.expect(200).body;
    let part =
        needed["items"].as_array().expect("items").iter().find(|it| it["part_model_id"] == *worn.chain);
    let part = part.expect("the chain");
    for field in ["name", "place", "order_quantity", "order_packs", "on_shelf", "lead_time_days"] {
        assert_eq!(data[field], part[field], "{field}");
    }
    a_night(server).await;
    assert_eq!(of_chain().await.len(), 1, "told once");
    worn.count_again(&worn.chain, 20).await;
    a_night(server).await;
    worn.count_again(&worn.chain, 0).await;
    a_night(server).await;
    assert_eq!(of_chain().await.len(), 2, "told again after it was there");
}

async fn a_drifting_record_is_told_once_until_it_is_mended(store: TestStore) {
    let (server, receiver) = (server(store).await, Receiver::start().await);
    let hook = listening(&server, &receiver, &["track_record.drifted"]).await;
    let mut bikes = Vec::new();
    for number in 0..8 {
        let mut bike = wear_tests::bike(&format!("{number:03}"));
        bike["fitted_on"] = json!("2026-11-25");
        bikes.push(server.post("/v1/bikes", &bike).await.expect(201).id());
    }
    server.settle().await;
    server.wait(Duration::days(30));
    let mut readings = Vec::new();
    for bike in &bikes {
        ride(&server, bike, 40.0, 10).await;
        // Four times as fast as anyone would have thought.
        let read = read(&server, bike, 0.45).await;
        readings.push((bike, read["reading"]["id"].as_str().expect("an id").to_owned()));
    }
    server.settle().await;
    a_night(&server).await;
    let messages = told(&server, &hook).await;
    // Of all groups together, and of the one that there is.
    assert_eq!(kinds(&messages), ["track_record.drifted"; 2], "{messages:?}");
    let groups: Vec<&Value> = messages.iter().map(|it| &it["data"]["group"]).collect();
    assert!(groups.contains(&&Value::Null) && groups.contains(&&json!("town-8s")), "{groups:?}");
    assert_eq!(messages[0]["data"]["reason_code"], "intervals_too_narrow");
    // Chains are scored anew while the fleet is told: those that are still to come aren't counted yet.
    let record = server.get("/v1/track-record").await.expect(200).body;
    let readings_of = |told: &Value| told["readings"].as_i64().expect("a count");
    let (told_of, in_all) = (readings_of(&messages[0]["data"]), readings_of(&record["overall"]));
    assert!(0 < told_of && told_of <= in_all, "{told_of} of {in_all}: {record}");
    a_night(&server).await;
    assert_eq!(told(&server, &hook).await.len(), 2, "told once");
    for (bike, id) in &readings {
        let void = server.request(Method::DELETE, &format!("/v1/bikes/{bike}/readings/{id}?reason=another"));
        assert!(server.send(void.bearer_auth(server.token_of(Role::Manager))).await.status.is_success());
    }
    server.settle().await;
    a_night(&server).await;
    for (bike, _) in &readings {
        read(&server, bike, 0.5).await;
    }
    server.settle().await;
    a_night(&server).await;
    assert_eq!(told(&server, &hook).await.len(), 4, "told again after it was mended");
}
