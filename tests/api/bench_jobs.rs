//! Jobs of a bench plan as people steer them: done, moved, held, and marked as soon as they no longer fit.

use chrono::Duration;
use reqwest::Method;
use serde_json::{Value, json};
use wear_api::domain::Role;
use wear_tests::{TestServer, TestStore, WornRings, on_both_stores};

use crate::bench::{plan, planned, with_tag};
use crate::visitor::Visitor;

on_both_stores!(
    a_job_done_records_its_swaps_and_can_be_undone,
    what_was_to_go_with_the_chain_and_stayed_is_marked,
    a_job_is_moved_and_held_on_its_day,
    a_plan_that_no_longer_fits_says_so_at_once,
    what_is_left_of_today_is_all_that_is_planned,
    every_bike_without_a_day_says_why,
    bench_card_and_parts_say_the_same,
);

async fn id_of(server: &TestServer, label: &str) -> String {
    let bikes = server.get(&format!("/v1/bikes?search={label}")).await.expect(200).body;
    bikes["items"][0]["id"].as_str().expect("an id").to_owned()
}

/// A plan of a week from today on, accepted.
async fn accepted(server: &TestServer, from: chrono::NaiveDate) -> Value {
    let made = plan(server, &from.to_string(), &(from + chrono::Days::new(6)).to_string()).await;
    server.post("/v1/bench-plan/accept", &json!({"id": made["id"]})).await.expect(200).body
}

async fn a_job_done_records_its_swaps_and_can_be_undone(store: TestStore) {
    let worn = WornRings::on(store, &["041"]).await;
    let server = &worn.server;
    let bike = id_of(server, "041").await;
    let made = accepted(server, worn.today).await;
    assert_eq!(planned(&made).len(), 1, "{made}");
    let mechanic = Visitor::of(server, Role::Mechanic, "en").await;
    let page = mechanic.get("/bench").await.1;
    assert!(page.contains(&format!("name=\"bike\" value=\"{bike}\"")), "{page}");
    let form = [("plan", made["id"].as_str().expect("an id")), ("bike", bike.as_str())];
    let before = server.get(&format!("/v1/bikes/{bike}/swaps")).await.expect(200).body;
    let (status, to) = mechanic.send_on("/bench/jobs/done", &form).await;
    assert_eq!(status, 303);
    let after = server.get(&format!("/v1/bikes/{bike}/swaps")).await.expect(200).body;
    let count = |body: &Value| body["items"].as_array().map_or(0, Vec::len);
    let tasks = made["days"][0]["visits"][0]["tasks"].as_array().map_or(0, Vec::len);
    assert!(tasks >= 3, "chain, cassette and ring: {made}");
    assert_eq!(count(&after), count(&before) + tasks);
    let page = mechanic.get(&to).await.1;
    assert!(page.contains("Recorded for bike 041: chain, cassette, ring replaced."), "{page}");
    assert!(page.contains("1 of 1 job done.") && page.contains("Checks before it goes out"), "{page}");
    assert!(!page.contains("<h2 id=\"picks\">"), "nothing is left to lay out: {page}");
    // Tapped twice, it is done once.
    assert_eq!(mechanic.send_on("/bench/jobs/done", &form).await.0, 303);
    let twice = server.get(&format!("/v1/bikes/{bike}/swaps")).await.expect(200).body;
    assert_eq!(count(&twice), count(&after));
    let ids = to.split("swaps=").nth(1).expect("ids").to_owned();
    let mut undo: Vec<(&str, &str)> = ids.split(',').map(|id| ("swap", id)).collect();
    undo.push(("from", "bench"));
    let (status, to) = mechanic.send_on(&format!("/bikes/{bike}/swaps/undo"), &undo).await;
    assert_eq!((status.as_u16(), to.as_str()), (303, "/bench?done=undone"));
    let page = mechanic.get(&to).await.1;
    assert!(page.contains("Undone.") && !page.contains("job done."), "{page}");
}

async fn what_was_to_go_with_the_chain_and_stayed_is_marked(store: TestStore) {
    let worn = WornRings::on(store, &["041"]).await;
    let server = &worn.server;
    let bike = id_of(server, "041").await;
    let made = accepted(server, worn.today).await;
    let swap = json!({"swapped_at": server.now().to_string(), "place": "chain"});
    let _swapped = server.post(&format!("/v1/bikes/{bike}/swaps"), &swap).await.expect(201);
    let mechanic = Visitor::of(server, Role::Mechanic, "en").await;
    let page = mechanic.get("/bench").await.1;
    assert!(page.contains("The chain is done, this is still on: cassette."), "{page}");
    assert!(!page.contains("1 of 1 job done."), "{page}");
    // Done does what is left, and no second chain.
    let form = [("plan", made["id"].as_str().expect("an id")), ("bike", bike.as_str())];
    server.wait(Duration::minutes(5));
    let (_, to) = mechanic.send_on("/bench/jobs/done", &form).await;
    let page = mechanic.get(&to).await.1;
    assert!(page.contains("Recorded for bike 041: cassette, ring replaced."), "{page}");
    assert!(page.contains("1 of 1 job done."), "{page}");
}

async fn a_job_is_moved_and_held_on_its_day(store: TestStore) {
    let worn = WornRings::on(store, &["041", "042"]).await;
    let server = &worn.server;
    let bike = id_of(server, "042").await;
    let made = plan(server, &worn.today.to_string(), &(worn.today + chrono::Days::new(9)).to_string()).await;
    let id = made["id"].as_str().expect("an id").to_owned();
    let was = planned(&made).into_iter().find(|(label, _)| label == "042").expect("planned").1;
    let open: Vec<String> = made["days"]
        .as_array()
        .expect("days")
        .iter()
        .filter_map(|day| day["date"].as_str().map(str::to_owned))
        .collect();
    let to = open.iter().rev().find(|day| **day != was).expect("another day").clone();
    let mechanic = Visitor::of(server, Role::Mechanic, "en").await;
    let page = mechanic.get(&format!("/bench/jobs/{bike}?plan={id}")).await.1;
    assert!(page.contains(&format!("name=\"date\" value=\"{to}\"")), "{page}");
    let path = format!("/bench/jobs/{bike}");
    let (status, back) = mechanic.send_on(&path, &[("plan", &id), ("date", &to)]).await;
    assert_eq!((status.as_u16(), back), (303, format!("/bench?state=proposed#job-{bike}")));
    let on =
        async |plan: &Value| planned(plan).into_iter().find(|(label, _)| label == "042").expect("planned").1;
    let stored = server.get("/v1/bench-plan?state=proposed").await.expect(200).body;
    assert_eq!(on(&stored).await, to);
    assert!(mechanic.get("/bench?state=proposed").await.1.contains("held on this day"));
    // A new plan keeps it, a confirmed one as well, and the dates stay as they were chosen.
    let again = plan(server, &worn.today.to_string(), &(worn.today + chrono::Days::new(9)).to_string()).await;
    assert_eq!(on(&again).await, to);
    let _kept = server.post("/v1/bench-plan/accept", &json!({"id": again["id"]})).await.expect(200);
    let third = plan(server, &worn.today.to_string(), &(worn.today + chrono::Days::new(9)).to_string()).await;
    assert_eq!(on(&third).await, to);
    let visits = third["days"]
        .as_array()
        .expect("days")
        .iter()
        .flat_map(|day| day["visits"].as_array().expect("visits"));
    let held: Vec<_> = visits.filter(|visit| visit["by_hand"] == true).map(|visit| &visit["label"]).collect();
    assert_eq!(held, ["042"]);
    let page = mechanic.get("/bench").await.1;
    let last = worn.today + chrono::Days::new(9);
    assert!(page.contains(&format!("name=\"to\" value=\"{last}\"")), "{page}");
    // A day that has passed or on which nobody works is refused; let go, the planner chooses again.
    let id = third["id"].as_str().expect("an id");
    let closed = worn.today - chrono::Days::new(1);
    let (status, page) = mechanic.send(&path, &[("plan", id), ("date", &closed.to_string())]).await;
    assert_eq!(status, 422);
    assert!(page.contains("a day of the plan on which the bench works"), "{page}");
    assert_eq!(mechanic.send_on(&path, &[("plan", id), ("date", "release")]).await.0, 303);
    let fourth = plan(server, &worn.today.to_string(), &last.to_string()).await;
    assert_eq!(on(&fourth).await, was);
}

async fn a_plan_that_no_longer_fits_says_so_at_once(store: TestStore) {
    let worn = WornRings::on(store, &["041", "042"]).await;
    let server = &worn.server;
    worn.count(&worn.chain, 2).await;
    let made = accepted(server, worn.today).await;
    let days: Vec<(String, String)> = planned(&made);
    assert_eq!(days.len(), 2, "{made}");
    let mechanic = Visitor::of(server, Role::Mechanic, "en").await;
    let fits = mechanic.get("/bench").await.1;
    assert!(!fits.contains("no longer fit"), "{fits}");
    // A chain less on the shelf.
    worn.count_again(&worn.chain, 1).await;
    let page = mechanic.get("/bench").await.1;
    assert!(
        page.contains("1 job no longer fits")
            && page.contains("No part for it by then: chain: Chain 8-speed."),
        "{page}"
    );
    worn.count_again(&worn.chain, 2).await;
    // One bike is away, the other's day is closed.
    let (label, date) = &days[0];
    let away = id_of(server, label).await;
    let booking = json!({"bike_id": away, "from": date, "to": date});
    let booked = server.post("/v1/bookings", &booking).await.expect(201);
    assert!(mechanic.get("/bench").await.1.contains("The bike is away on its day."));
    let path = format!("/v1/bookings/{}", booked.id());
    let _back = with_tag(server, Method::DELETE, &path, "\"1\"", None).await.expect(204);
    let _closed = server.post("/v1/bench-days", &json!({"date": date, "minutes": 30})).await.expect(201);
    let page = mechanic.get("/bench").await.1;
    assert!(page.contains("the day has 30"), "{page}");
    // A week later nothing of it was done.
    server.wait(Duration::days(8));
    let mechanic = Visitor::of(server, Role::Mechanic, "en").await;
    let page = mechanic.get("/bench").await.1;
    assert!(
        page.contains("2 jobs no longer fit") && page.contains("Its day has passed and it isn"),
        "{page}"
    );
}

async fn what_is_left_of_today_is_all_that_is_planned(store: TestStore) {
    let worn = WornRings::on(store, &["041", "042", "043"]).await;
    let server = &worn.server;
    let settings = server.get("/v1/bench-settings").await.expect(200);
    assert_eq!(settings.body["closes_at"], json!("18:00"));
    // Open every day, closed two hours from now.
    let tag = settings.header("etag").to_owned();
    let wrong = Some(json!({"closes_at": "25:00"}));
    let refused = with_tag(server, Method::PATCH, "/v1/bench-settings", &tag, wrong).await.expect(422);
    assert_eq!(refused.pointers(), ["/closes_at"]);
    let open = Some(json!({"week_minutes": [240, 240, 240, 240, 240, 240, 240], "closes_at": "14:00"}));
    let _set = with_tag(server, Method::PATCH, "/v1/bench-settings", &tag, open).await.expect(200);
    let today = worn.today.to_string();
    let made = plan(server, &today, &today).await;
    assert_eq!(made["days"][0]["minutes"], json!(120), "{made}");
    // An hour later one of them is done: what was done counts, and so does the clock.
    server.wait(Duration::minutes(60));
    let bike = id_of(server, "041").await;
    let swap = json!({"swapped_at": server.now().to_string(), "place": "chain"});
    let _swapped = server.post(&format!("/v1/bikes/{bike}/swaps"), &swap).await.expect(201);
    let made = plan(server, &today, &today).await;
    assert_eq!(made["days"][0]["minutes"], json!(60), "{made}");
    server.wait(Duration::minutes(90));
    let made = plan(server, &today, &(worn.today + chrono::Days::new(1)).to_string()).await;
    let dates: Vec<_> =
        made["days"].as_array().expect("days").iter().map(|day| day["date"].clone()).collect();
    assert_eq!(dates, [json!((worn.today + chrono::Days::new(1)).to_string())], "{made}");
}

async fn every_bike_without_a_day_says_why(store: TestStore) {
    let worn = WornRings::on(store, &["041", "042"]).await;
    let server = &worn.server;
    worn.count(&worn.chain, 1).await;
    let unknown = json!({"label": "077", "group": "town-8s", "use": "town"});
    let _found = server.post("/v1/bikes", &unknown).await.expect(201);
    let made = plan(server, &worn.today.to_string(), &(worn.today + chrono::Days::new(6)).to_string()).await;
    assert_eq!(made["left_out"].as_array().map(Vec::len), Some(1), "{made}");
    let mechanic = Visitor::of(server, Role::Mechanic, "en").await;
    let page = mechanic.get("/bench?state=proposed").await.1;
    assert!(page.contains("No part for it in these days: chain: Chain 8-speed."), "{page}");
    assert!(page.contains("Served first"), "who has the one chain, and why: {page}");
    assert!(page.contains("Never measured: nobody knows how worn it is."), "{page}");
    // It can be given a day by hand all the same, and the page says at once that its chain isn't there.
    let left = made["left_out"][0]["bike_id"].as_str().expect("an id").to_owned();
    let date = made["days"].as_array().expect("days").last().expect("a day")["date"]
        .as_str()
        .expect("a date")
        .to_owned();
    let form = [("plan", made["id"].as_str().expect("an id")), ("date", date.as_str())];
    assert_eq!(mechanic.send_on(&format!("/bench/jobs/{left}"), &form).await.0, 303);
    let page = mechanic.get("/bench?state=proposed").await.1;
    assert!(page.contains("1 job no longer fits") && page.contains("No part for it by then"), "{page}");
}

async fn bench_card_and_parts_say_the_same(store: TestStore) {
    let worn = WornRings::on(store, &["041"]).await;
    let server = &worn.server;
    worn.count(&worn.chain, 3).await;
    worn.count(&worn.ring, 1).await;
    let made = accepted(server, worn.today).await;
    let tasks = &made["days"][0]["visits"][0]["tasks"];
    assert_eq!(tasks.as_array().map(Vec::len), Some(3), "{made}");
    let bike = id_of(server, "041").await;
    let mechanic = Visitor::of(server, Role::Mechanic, "en").await;
    let card = mechanic.get(&format!("/bikes/{bike}/card")).await.1;
    for part in
        ["Chain 8-speed", "cassette – worn as well", "ring 42: Ring 42 – worn as well", "On the bench: "]
    {
        assert!(card.contains(part), "{part}: {card}");
    }
    let at = |text: &str| card.find(text).unwrap_or_else(|| panic!("{text}: {card}"));
    assert!(
        at("Loosen pedals") < at("Open the connecting link")
            && at("Put the wheel back") < at("Thread the chain")
    );
    let parts = mechanic.get("/parts").await.1;
    let planned = "data-name=\"For the bench plan\">1<";
    assert_eq!(parts.matches(planned).count(), 2, "one chain, one ring: {parts}");
    let done = [("plan", made["id"].as_str().expect("an id")), ("bike", bike.as_str())];
    assert_eq!(mechanic.send_on("/bench/jobs/done", &done).await.0, 303);
    let parts = mechanic.get("/parts").await.1;
    assert_eq!(parts.matches("data-name=\"For the bench plan\">0<").count(), 2, "{parts}");
    let card = mechanic.get(&format!("/bikes/{bike}/card")).await.1;
    assert!(!card.contains("On the bench: "), "{card}");
}
