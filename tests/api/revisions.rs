//! Nobody's change is lost under another's.

use reqwest::Method;
use serde_json::json;
use wear_api::domain::Role;
use wear_tests::{Answer, TestServer, TestStore, on_both_stores};

on_both_stores!(a_change_names_the_state_it_changes, a_retired_bike_leaves_the_lists);

async fn change(server: &TestServer, method: Method, path: &str, tag: Option<&str>) -> Answer {
    let mut request = server.request(method.clone(), path).bearer_auth(server.token_of(Role::Manager));
    if let Some(tag) = tag {
        request = request.header("if-match", tag);
    }
    if method == Method::PATCH {
        request = request.json(&json!({"label": "042"}));
    }
    server.send(request).await
}

async fn a_change_names_the_state_it_changes(store: TestStore) {
    let server = TestServer::start(store).await;
    let made = server.post("/v1/bikes", &wear_tests::bike("041")).await.expect(201);
    let path = format!("/v1/bikes/{}", made.id());
    let tag = server.get(&path).await.expect(200).header("etag").to_owned();
    assert_eq!(made.header("etag"), "\"1\"");
    assert!(tag.starts_with("\"1-"), "{tag}");
    assert_eq!(
        change(&server, Method::PATCH, &path, None).await.expect(428).problem(),
        "precondition-required"
    );
    assert_eq!(change(&server, Method::PATCH, &path, Some("\"99\"")).await.expect(412).problem(), "stale");
    assert_eq!(
        change(&server, Method::PATCH, &path, Some("\"7\", \"9\"")).await.expect(412).problem(),
        "stale"
    );
    assert_eq!(change(&server, Method::PATCH, &path, Some("W/\"1\"")).await.expect(412).problem(), "stale");
    let changed = change(&server, Method::PATCH, &path, Some(&tag)).await.expect(200);
    assert_eq!(changed.body["label"], "042");
    assert_ne!(changed.header("etag"), tag);
    assert_eq!(change(&server, Method::DELETE, &path, Some(&tag)).await.expect(412).problem(), "stale");
    // One of several, and whichever there is.
    let listed = format!("{tag}, {}", changed.header("etag"));
    change(&server, Method::PATCH, &path, Some(&listed)).await.check(200);
    change(&server, Method::DELETE, &path, Some("*")).await.check(204);
    let nobodys = format!("/v1/bikes/{}", crate::document::NOBODYS);
    change(&server, Method::DELETE, &nobodys, Some("*")).await.check(404);
}

async fn a_retired_bike_leaves_the_lists(store: TestStore) {
    let server = TestServer::start(store).await;
    let made = server.post("/v1/bikes", &wear_tests::bike("041")).await.expect(201);
    let path = format!("/v1/bikes/{}", made.id());
    let _gone = change(&server, Method::DELETE, &path, Some(made.header("etag"))).await.expect(204);
    for (list, count) in [("/v1/bikes", 0), ("/v1/bikes?retired=true", 1), ("/v1/outlooks", 0)] {
        let items = server.get(list).await.expect(200).body["items"].as_array().map(Vec::len);
        assert_eq!(items, Some(count), "{list}");
    }
    assert!(server.get(&path).await.expect(200).body["retired_at"].is_string());
}
