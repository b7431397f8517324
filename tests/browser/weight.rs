//! What the first page weighs and how long the server takes for it, at 60 and at 20,000 bikes.

use std::time::Instant;

use serde_json::json;
use wear_api::domain::{
    Advice, BikeFacts, BikeId, Drivetrain, DrivetrainFacts, GroupName, Label, NewBike, OutlookRow,
    OutlookSummary, Role, Use,
};
use wear_core::degradation::Quantiles;
use wear_core::units::Probability;
use wear_tests::{TestServer, TestStore, on_both_stores};

on_both_stores!(the_first_page_is_light_at_60_bikes);
on_both_stores!(ignored: the_first_page_is_light_at_20_000_bikes);

/// Median milliseconds and bytes sent over the wire, with its style sheet and script.
async fn first_page(server: &TestServer, path: &str) -> (f64, usize, usize) {
    let client =
        reqwest::Client::builder().redirect(reqwest::redirect::Policy::none()).build().expect("a client");
    let form = format!("token={}", server.token_of(Role::Manager));
    let request = client.post(format!("{}/sign-in", server.url()));
    let answer = request.header("content-type", "application/x-www-form-urlencoded").body(form).send().await;
    let answer = answer.expect("an answer");
    let cookie =
        answer.headers()["set-cookie"].to_str().expect("ASCII").split(';').next().expect("it").to_owned();
    let get = |path: &str| {
        client
            .get(format!("{}{path}", server.url()))
            .header("cookie", &cookie)
            .header("accept-encoding", "gzip")
            .send()
    };
    let mut times = Vec::new();
    let mut page = 0;
    for _ in 0..15 {
        let began = Instant::now();
        let answer = get(path).await.expect("an answer");
        assert_eq!(answer.status().as_u16(), 200);
        page = answer.bytes().await.expect("a page").len();
        times.push(began.elapsed().as_secs_f64() * 1e3);
    }
    let mut all = page;
    for extra in ["/static/pages.css", "/static/pages.js", "/static/mark.svg"] {
        all += get(extra).await.expect("an answer").bytes().await.expect("a file").len();
    }
    times.sort_by(f64::total_cmp);
    (times[times.len() / 2], page, all)
}

async fn seed(server: &TestServer, count: usize) {
    let workshop = {
        let mut tx = server.services.store.begin_system_read().await.expect("reads");
        tx.workshop_ids().await.expect("workshops")[0]
    };
    let drivetrain = Drivetrain::new(&DrivetrainFacts {
        rings: vec![42],
        cogs: vec![11, 13, 15, 17, 20, 23, 26, 30],
        links: 114,
        ..DrivetrainFacts::default()
    })
    .expect("a drivetrain");
    let now = server.now();
    let today = now.utc_date();
    for batch in (0..count).collect::<Vec<_>>().chunks(2_000) {
        let mut tx = server.services.store.begin_write(workshop).await.expect("writes");
        for &number in batch {
            let id = BikeId::generate();
            let facts = BikeFacts {
                label: Label::new(&format!("{number:05}")).expect("a label"),
                group: GroupName::new(&format!("group-{}", number % 12)).expect("a group"),
                usage: Use::Town,
                drivetrain: drivetrain.clone(),
                is_assumed: false,
                limit: None,
                care: None,
                kind: None,
                external_id: None,
            };
            tx.insert_bike(&NewBike { id, facts, created_at: now }).await.expect("a bike");
            let days = chrono::Days::new((number % 180) as u64);
            let summary = OutlookSummary {
                bike_id: id,
                part_id: None,
                advice: Advice::ALL[number % Advice::ALL.len()],
                attention_on: today.checked_add_days(days),
                swap_by: today.checked_add_days(days),
                measure_by: Some(today),
                probability_over: Some(Probability::new(0.1).expect("a probability")),
                remaining: Some(Quantiles { p10: 100.0, p50: 400.0, p90: 900.0 }),
                computed_at: now,
            };
            tx.save_outlooks(&[(&OutlookRow { summary, payload: json!({}) }, None)])
                .await
                .expect("an outlook");
        }
        tx.commit().await.expect("commits");
    }
}

async fn measured(store: TestStore, count: usize) {
    let server = TestServer::start(store).await;
    seed(&server, count).await;
    for path in ["/fleet", "/fleet?advice=swap_by", "/fleet?search=0012", "/fleet?group=group-3"] {
        let (ms, page, all) = first_page(&server, path).await;
        println!("{count} bikes, {path}: {ms:.1} ms, {page} bytes, {all} with style sheet, script and mark");
        assert!(all < 60_000, "{path}: {all} bytes");
        assert!(cfg!(debug_assertions) || ms < 50.0, "{path}: {ms} ms");
    }
}

async fn the_first_page_is_light_at_60_bikes(store: TestStore) {
    measured(store, 60).await;
}

async fn the_first_page_is_light_at_20_000_bikes(store: TestStore) {
    measured(store, 20_000).await;
}
