//! The page of what the fleet has taught: while nothing has, and for whom it may learn now.

use serde_json::json;
use wear_api::domain::Role;
use wear_api::service::jobs;
use wear_tests::{TestServer, TestStore, on_both_stores};

use crate::visitor::Visitor;

on_both_stores!(an_empty_page_says_what_is_assumed_and_what_would_teach, managers_have_the_fleet_learn_now);

async fn an_empty_page_says_what_is_assumed_and_what_would_teach(store: TestStore) {
    let server = TestServer::start(store).await;
    let (english, german) =
        (Visitor::of(&server, Role::Mechanic, "en").await, Visitor::of(&server, Role::Mechanic, "de").await);
    let (status, page) = english.get("/calibration").await;
    let page = page.replace('\u{a0}', " ");
    assert_eq!(status, 200, "{page}");
    for says in [
        "Nothing learned of wear yet",
        "It takes 10 measured chains.",
        "<a href=\"/measure\">Measure 10 chains, each twice or more, some weeks apart</a>",
        "<a href=\"/tools\">Name your tools",
        "The middle chain wears 0.125 % per 1,000 km of dry road",
        "A drop-in gauge drops in 0.12 % early, a caliper reads 0.02 % high",
        "Not learned yet. The usual values hold until 5 cassettes",
        "No season: dates are less certain for it.",
    ] {
        assert!(page.contains(says), "{says}: {page}");
    }
    assert!(!page.contains("Learn now") && !page.contains("id=\"rates\""), "{page}");
    let page = german.get("/calibration").await.1.replace('\u{a0}', " ");
    for says in [
        "Über den Verschleiß noch nichts gelernt",
        "längt sich um 0,125 % je 1.000 km trockener Straße",
        "fällt 0,12 % zu früh hinein",
        "bis 5 Kassetten gezeigt haben",
    ] {
        assert!(page.contains(says), "{says}: {page}");
    }
    // A workshop that thinks in miles reads of miles.
    let manager = server.token_of(Role::Manager);
    let patch = server.request(reqwest::Method::PATCH, "/v1/workshop").bearer_auth(manager);
    let patch = patch.header("If-Match", "\"1\"").json(&json!({"units_shown": "miles"}));
    server.send(patch).await.check(200);
    let page = english.get("/calibration").await.1.replace('\u{a0}', " ");
    assert!(page.contains("The middle chain wears 0.201 % per 1,000 miles"), "{page}");
}

async fn managers_have_the_fleet_learn_now(store: TestStore) {
    let server = TestServer::start(store).await;
    let mechanic = Visitor::of(&server, Role::Mechanic, "en").await;
    assert_eq!(mechanic.send("/calibration", &[]).await.0, 403);
    for bike in 0..10 {
        let label = format!("{bike:03}");
        let bike = server.bike(&label).await;
        let ride = json!({"started_at": "2026-09-01T08:00:00Z", "distance_km": 800.0, "source": "log",
            "source_id": label});
        server.post(&format!("/v1/bikes/{bike}/rides"), &ride).await.check(201);
        let reading = json!({"taken_at": "2026-10-01T17:00:00Z", "instrument": "rule", "percent": 0.2});
        server.post(&format!("/v1/bikes/{bike}/readings"), &reading).await.check(201);
    }
    let manager = Visitor::of(&server, Role::Manager, "en").await;
    let page = manager.get("/calibration").await.1;
    assert!(page.contains("action=\"/calibration\"") && !page.contains("Last learned"), "{page}");
    let (status, to) = manager.send_on("/calibration", &[]).await;
    assert_eq!(status, 303);
    let asked = to.strip_prefix("/calibration?asked=").and_then(|at| at.parse::<i64>().ok());
    assert!(asked.is_some(), "{to}");
    // The server's own worker may do it first.
    let page = loop {
        let _done = jobs::drain(&server.services).await.expect("a store");
        let page = manager.get(&to).await.1;
        if !page.contains("See whether it is done") {
            break page;
        }
        assert!(page.contains("The fleet is learning."), "{page}");
        tokio::time::sleep(std::time::Duration::from_millis(200)).await;
    };
    for says in
        ["Done: what stands below was learned just now.", "Learned from 10 measured chains", "town-8s"]
    {
        assert!(page.contains(says), "{says}: {page}");
    }
    let page = mechanic.get("/calibration").await.1;
    assert!(page.contains("Last learned on") && !page.contains("Learn now"), "{page}");
}
