//! Lists come in pages that neither repeat nor skip, also while something is added.

use serde_json::json;
use wear_tests::{TestServer, TestStore, on_both_stores};

on_both_stores!(a_list_is_walked_by_its_links, a_cursor_of_another_list_is_refused);

async fn walk(server: &TestServer, first: &str, between: Option<&str>) -> Vec<String> {
    let mut path = first.to_owned();
    let mut labels = Vec::new();
    loop {
        let answer = server.get(&path).await.expect(200);
        let items = answer.body["items"].as_array().expect("items").clone();
        labels.extend(items.iter().filter_map(|item| item["label"].as_str().map(str::to_owned)));
        let Some(link) = answer.headers.get("link").and_then(|link| link.to_str().ok()) else {
            return labels;
        };
        let (target, rel) = link.split_once("; ").expect("a target and a relation");
        assert_eq!(rel, "rel=\"next\"");
        path = target.trim_matches(['<', '>']).to_owned();
        if let Some(label) = between {
            server.bike(&format!("{label}-{}", labels.len())).await;
        }
    }
}

async fn a_list_is_walked_by_its_links(store: TestStore) {
    let server = TestServer::start(store).await;
    let all: Vec<String> = (0..7).map(|number| format!("b{number}")).collect();
    for label in &all {
        server.bike(label).await;
    }
    for limit in [1, 2, 3, 7, 100] {
        assert_eq!(walk(&server, &format!("/v1/bikes?limit={limit}"), None).await, all, "limit {limit}");
        let sorted = walk(&server, &format!("/v1/bikes?sort=label&limit={limit}"), None).await;
        assert_eq!(sorted, all, "limit {limit}");
        let mut fleet = walk(&server, &format!("/v1/outlooks?limit={limit}"), None).await;
        fleet.sort();
        assert_eq!(fleet, all, "limit {limit}");
    }
    assert_eq!(walk(&server, "/v1/bikes?search=B3", None).await, ["b3"]);
    // New bikes sort before the cursor by label, so a walk that goes on doesn't meet them.
    assert_eq!(walk(&server, "/v1/bikes?sort=label&limit=2", Some("a")).await, all);
}

async fn a_cursor_of_another_list_is_refused(store: TestStore) {
    let server = TestServer::start(store).await;
    for label in ["a", "b"] {
        server.bike(label).await;
    }
    let link = server.get("/v1/bikes?sort=label&limit=1").await.expect(200).header("link").to_owned();
    let cursor = link.split("after=").nth(1).and_then(|rest| rest.split('>').next()).expect("a cursor");
    let answer = server.get(&format!("/v1/outlooks?after={cursor}")).await;
    assert_eq!(
        (answer.status.as_u16(), &answer.body["errors"][0]["parameter"]),
        (400, &json!("after")),
        "{}",
        answer.body
    );
}
