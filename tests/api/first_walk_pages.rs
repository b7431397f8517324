//! A yard entered by label and kind and walked once with a gauge: what the fleet's page and the bench plan say of it.

use serde_json::{Value, json};
use wear_api::domain::Role;
use wear_tests::{TestServer, TestStore, on_both_stores};

use crate::visitor::Visitor;

on_both_stores!(
    a_yard_that_was_walked_once_says_what_it_knows,
    readings_that_contradict_each_other_give_no_single_number,
);

async fn gauged(server: &TestServer, bike: &str, mark: f64, drops_in: bool) {
    let reading = json!({"taken_at": "2026-11-25T07:00:00Z", "instrument": "drop_in", "mark_percent": mark,
        "drops_in": drops_in});
    server.post(&format!("/v1/bikes/{bike}/readings"), &reading).await.check(201);
}

async fn a_yard_that_was_walked_once_says_what_it_knows(store: TestStore) {
    let server = TestServer::start(store).await;
    let manager = server.token_of(Role::Manager);
    let kind = json!({"name": "hire", "drivetrain": {"speeds": 8}, "limit_percent": 0.75});
    let kind = server.request(reqwest::Method::POST, "/v1/bike-kinds").bearer_auth(manager).json(&kind);
    server.send(kind).await.check(201);
    let table: String = (1..=12).map(|number| format!("{number:03},hire\n")).collect();
    let table = server
        .request(reqwest::Method::POST, "/v1/imports/bikes")
        .bearer_auth(manager)
        .header("content-type", "text/csv")
        .body(format!("label,kind\n{table}"));
    server.send(table).await.check(200);
    let bikes = server.get("/v1/bikes?sort=label&limit=100").await.expect(200).body["items"].clone();
    let id = |number: usize| bikes[number - 1]["id"].as_str().expect("an id").to_owned();
    // Nobody came past 1 to 4; 5 to 10 have worn little; the gauge's last mark drops into 11 and 12.
    for number in 5..=12 {
        gauged(&server, &id(number), 0.75, number > 10).await;
    }

    server.settle().await;

    let mechanic = Visitor::of(&server, Role::Mechanic, "en").await;
    let page = mechanic.get("/fleet").await.1.replace('\u{a0}', " ");
    let row = |label: &str| -> String {
        let rows = page.split("<tr>").find(|row| row.contains(&format!("<bdi>{label}</bdi></a>")));
        rows.unwrap_or_else(|| panic!("no row of {label}: {page}")).to_owned()
    };
    for label in ["001", "004"] {
        let row = row(label);
        assert!(row.contains("measure now") && row.contains("Never measured: nobody knows"), "{row}");
        assert!(
            row.contains("class=\"left\" data-name=\"Left in the chain\">unknown") && !row.contains("chance"),
            "no number that nobody knows: {row}"
        );
    }
    for label in ["005", "010"] {
        let row = row(label);
        assert!(row.contains("ride on") && row.contains(" km is left"), "{row}");
    }
    for label in ["011", "012"] {
        let row = row(label);
        assert!(row.contains("Already worn out") && !row.contains("ride on"), "{row}");
    }
    let german = Visitor::of(&server, Role::Mechanic, "de").await.get("/fleet").await.1;
    assert!(german.contains("Nie gemessen: niemand weiß"), "{german}");

    let window = json!({"from": "2026-11-25", "to": "2026-12-05"});
    let plan = server.post("/v1/bench-plan", &window).await.expect(201).body;
    let to_measure: Vec<&str> = plan["to_measure"]
        .as_array()
        .map(|all| all.iter().filter_map(|it| it["label"].as_str()).collect())
        .unwrap_or_default();
    // The gauge dropped into 011 and 012 at its last mark: another reading says by how much.
    for label in ["001", "002", "003", "004", "011", "012"] {
        assert!(to_measure.contains(&label), "{label} isn't measured first: {plan}");
    }
    let page = mechanic.get("/bench?state=proposed").await.1;
    assert!(page.contains("Measure first") && page.contains("6 bikes have to be measured first"), "{page}");
}

async fn readings_that_contradict_each_other_give_no_single_number(store: TestStore) {
    let server = TestServer::start(store).await;
    let bike = server.bike("7").await;
    let rides: Vec<Value> = (0..90)
        .map(|day| {
            let date =
                chrono::NaiveDate::from_ymd_opt(2026, 11, 24).expect("a date") - chrono::Days::new(day);
            json!({"bike_id": bike, "started_at": format!("{date}T08:00:00Z"), "distance_km": 25.0,
                "surface": "paved", "source": "log", "source_id": format!("{day}")})
        })
        .collect();
    server.post("/v1/rides", &json!({"rides": rides})).await.check(200);
    for (at, percent) in
        [("2026-10-05", 0.45), ("2026-10-12", 0.46), ("2026-11-20", 0.12), ("2026-11-21", 0.13)]
    {
        let reading =
            json!({"taken_at": format!("{at}T12:00:00Z"), "instrument": "rule", "percent": percent});
        server.post(&format!("/v1/bikes/{bike}/readings"), &reading).await.check(201);
    }
    let page = Visitor::of(&server, Role::Mechanic, "en").await.get(&format!("/bikes/{bike}")).await.1;
    let page = page.replace('\u{a0}', " ").replace("&#39;", "'");
    assert!(page.contains("A new chain was fitted between"), "{page}");
    assert!(!page.contains("0 km of riding") && !page.contains(">0 %</td>"), "{page}");
    let verdict =
        page.split("class=\"verdict\"").nth(1).and_then(|rest| rest.split("</div>").next()).expect("one");
    assert!(
        verdict.contains("needs checking") && verdict.contains("so no single number can be given"),
        "{verdict}"
    );
    assert!(!verdict.contains("Most likely") && !verdict.contains("Over the limit"), "{verdict}");
    assert!(page.contains("more than 99 %") && !page.contains(">100 %"), "{page}");
    for said_by_the_explanations in ["Readings contradict each other.", "Most likely"] {
        assert!(!page.contains(said_by_the_explanations), "{page}");
    }
}
