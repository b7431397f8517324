//! The fleet's list: turning pages, and what is done with several bikes at once.

use reqwest::StatusCode;
use reqwest::header::COOKIE;
use serde_json::{Value, json};
use wear_api::domain::Role;
use wear_tests::{TestServer, TestStore, bike, on_both_stores};

use crate::driver::{Browser, DESK, PHONE};
use crate::session::{client, csrf_of, session_of, sign_in};

on_both_stores!(
    several_bikes_have_their_list_labels_and_care,
    a_tap_a_bike_measures_the_yard,
    pages_turn_both_ways,
);

async fn get(server: &TestServer, path: &str, cookie: &str) -> (StatusCode, String) {
    let request = client().get(format!("{}{path}", server.url())).header(COOKIE, cookie);
    let answer = request.send().await.expect("an answer");
    (answer.status(), answer.text().await.expect("a page"))
}

async fn post(server: &TestServer, path: &str, cookie: &str, body: &str) -> reqwest::Response {
    let request = client().post(format!("{}{path}", server.url())).header(COOKIE, cookie);
    let request = request.header("content-type", "application/x-www-form-urlencoded").body(body.to_owned());
    request.send().await.expect("an answer")
}

async fn care_of(server: &TestServer, bike: &str) -> Vec<Value> {
    let listed = server.get(&format!("/v1/bikes/{bike}/care")).await.expect(200).body;
    listed["items"].as_array().expect("care").clone()
}

async fn several_bikes_have_their_list_labels_and_care(store: TestStore) {
    let server = TestServer::start(store).await;
    let mut bikes = Vec::new();
    for label in ["041", "042", "=043"] {
        bikes.push(server.post("/v1/bikes", &bike(label)).await.expect(201).id());
    }
    let cookie = session_of(&sign_in(&server, server.token_of(Role::Mechanic)).await);
    let chosen = format!("bike={}&bike={}", bikes[2], bikes[0]);
    let (status, list) = get(&server, &format!("/fleet/worklist?{chosen}"), &cookie).await;
    assert_eq!(status, StatusCode::OK);
    assert!(list.contains("2 bikes") && list.contains("<bdi>=043</bdi>") && !list.contains("<bdi>042</bdi>"));
    let (_, table) = get(&server, &format!("/fleet/worklist.csv?{chosen}"), &cookie).await;
    let lines: Vec<&str> = table.lines().collect();
    assert_eq!(lines.len(), 3, "{table}");
    assert!(lines[0].starts_with("\"Bike\",\"Group\",\"What to do\",\"Reason\",\"Due\""), "{table}");
    assert!(
        lines[1].starts_with("\"'=043\",") && lines[2].starts_with("041,"),
        "in the order they were chosen: {table}"
    );
    // With none chosen it is what the filter lets through.
    let (_, table) = get(&server, "/fleet/worklist.csv?search=04&sort=label", &cookie).await;
    assert_eq!(table.lines().count(), 4, "{table}");
    let (_, none) = get(&server, "/fleet/worklist.csv?search=nothing", &cookie).await;
    assert_eq!(none.lines().count(), 1, "{none}");
    let (_, labels) = get(&server, &format!("/labels?{chosen}"), &cookie).await;
    assert_eq!(labels.matches("<svg class=\"code\"").count(), 2);
    let (_, form) = get(&server, &format!("/fleet/care?{chosen}"), &cookie).await;
    let csrf = csrf_of(&form);
    let unknown = wear_api::domain::BikeId::generate();
    let wrong = format!("csrf={csrf}&kind=lubricated&{chosen}&bike={unknown}");
    assert_eq!(post(&server, "/fleet/care", &cookie, &wrong).await.status(), StatusCode::NOT_FOUND);
    for bike in &bikes {
        assert!(care_of(&server, bike).await.is_empty(), "all or nothing");
    }
    // Sent twice within the minute it is recorded once.
    for _ in 0..2 {
        let done =
            post(&server, "/fleet/care", &cookie, &format!("csrf={csrf}&kind=lubricated&{chosen}")).await;
        assert_eq!(done.status(), StatusCode::SEE_OTHER);
    }
    let counts = [
        care_of(&server, &bikes[0]).await,
        care_of(&server, &bikes[1]).await,
        care_of(&server, &bikes[2]).await,
    ];
    assert_eq!(counts.map(|care| care.len()), [1, 0, 1]);
    let none = post(&server, "/fleet/care", &cookie, &format!("csrf={csrf}&kind=lubricated")).await;
    assert_eq!(none.status(), StatusCode::UNPROCESSABLE_ENTITY);
    let app = session_of(&sign_in(&server, server.token_of(Role::App)).await);
    assert_eq!(get(&server, "/fleet/worklist", &app).await.0, StatusCode::FORBIDDEN);
}

async fn a_tap_a_bike_measures_the_yard(store: TestStore) {
    let server = TestServer::start(store).await;
    let (one, two) = (server.bike("041").await, server.bike("042").await);
    let cookie = session_of(&sign_in(&server, server.token_of(Role::Mechanic)).await);
    let (_, page) = get(&server, "/walk?gauge=0.5%20drop_in", &cookie).await;
    assert!(page.contains("0 of 2 measured today") && page.contains("041: 0.5\u{a0}% stays out"), "{page}");
    let csrf = csrf_of(&page);
    let tap = |answer: &str| {
        format!("csrf={csrf}&gauge=0.5+drop_in&answer={answer}&back=%2Fwalk%3Fgauge%3D0.5%2520drop_in")
    };
    let taken = post(&server, &format!("/walk/{one}"), &cookie, &tap("out")).await;
    assert_eq!(taken.status(), StatusCode::SEE_OTHER);
    let back = taken.headers()["location"].to_str().expect("ASCII").to_owned();
    assert_eq!(back, format!("/walk?gauge=0.5%20drop_in#bike-{one}"));
    // Tapped twice by a trembling thumb.
    assert_eq!(
        post(&server, &format!("/walk/{one}"), &cookie, &tap("out")).await.status(),
        StatusCode::SEE_OTHER
    );
    let readings = server.get(&format!("/v1/bikes/{one}/readings")).await.expect(200).body;
    assert_eq!(readings["items"].as_array().map(Vec::len), Some(1), "{readings}");
    assert_eq!(
        (&readings["items"][0]["mark_percent"], &readings["items"][0]["drops_in"]),
        (&json!(0.5), &json!(false))
    );
    let (_, page) = get(&server, "/walk", &cookie).await;
    assert!(page.contains("1 of 2 measured today"), "{page}");
    for wrong in [
        "csrf=guess&gauge=0.5+drop_in&answer=in".to_owned(),
        format!("csrf={csrf}&gauge=0.6+drop_in&answer=in"),
    ] {
        let refused = post(&server, &format!("/walk/{two}"), &cookie, &wrong).await.status();
        assert!(refused == StatusCode::FORBIDDEN || refused == StatusCode::BAD_REQUEST, "{refused}");
    }
    let elsewhere = format!("csrf={csrf}&gauge=0.5+drop_in&answer=in&back=https%3A%2F%2Felse.example");
    let back = post(&server, &format!("/walk/{two}"), &cookie, &elsewhere).await;
    assert_eq!(back.headers()["location"].to_str().expect("ASCII"), format!("/walk#bike-{two}"));
}

async fn pages_turn_both_ways(store: TestStore) {
    let server = TestServer::start(store).await;
    for number in 0..53 {
        let _bike = server.post("/v1/bikes", &bike(&format!("{number:03}"))).await.expect(201);
    }
    let cookie = session_of(&sign_in(&server, server.token_of(Role::Mechanic)).await);
    let (_, first) = get(&server, "/fleet?sort=label", &cookie).await;
    assert!(first.contains("1–50 of 53") && !first.contains("rel=\"prev\""), "{first}");
    assert!(
        first.contains("href=\"/fleet?sort=label&#38;page=2\"")
            || first.contains("href=\"/fleet?sort=label&amp;page=2\"")
    );
    let (_, second) = get(&server, "/fleet?sort=label&page=2", &cookie).await;
    assert!(
        second.contains("51–53 of 53") && second.contains("rel=\"prev\"") && !second.contains("rel=\"next\"")
    );
    assert!(second.contains("<bdi>052</bdi>") && !second.contains("<bdi>049</bdi>"));
    // Beyond the end it is the last page.
    let (_, beyond) = get(&server, "/fleet?sort=label&page=99", &cookie).await;
    assert!(beyond.contains("51–53 of 53"));
}

#[tokio::test]
async fn two_bikes_are_chosen_and_cared_for_in_a_browser() {
    let server = TestServer::start(TestStore::sqlite().await).await;
    for label in ["041", "042", "043"] {
        let _bike = server.bike(label).await;
    }
    let browser = Browser::signed_in(&server, DESK, Role::Mechanic).await;
    browser.open("/fleet?sort=label").await;
    browser.tap("tbody tr:nth-child(1) input[type=checkbox]").await;
    browser.tap("tbody tr:nth-child(3) input[type=checkbox]").await;
    browser.tap("button[formaction='/fleet/care']").await;
    browser.arrives(|path| path.starts_with("/fleet/care?")).await;
    browser.tap("form.narrow button").await;
    browser.says(".kept", "The care of 2 bikes is recorded.").await;
    println!("care of two bikes: {} taps", browser.taps());
}

#[tokio::test]
async fn the_yard_is_walked_with_a_thumb() {
    let server = TestServer::start(TestStore::sqlite().await).await;
    for number in 0..20 {
        let _bike = server.bike(&format!("{number:03}")).await;
    }
    let browser = Browser::signed_in(&server, PHONE, Role::Mechanic).await;
    browser.open("/walk").await;
    let began = std::time::Instant::now();
    for number in 1..=20 {
        browser.tap(&format!(".walk li:nth-child({number}) button[value=out]")).await;
        browser.says("#walk > p", &format!("{number} of 20 measured today")).await;
    }
    println!("20 bikes: {} taps, {:.1} s", browser.taps(), began.elapsed().as_secs_f64());
}
