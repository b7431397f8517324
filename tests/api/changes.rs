//! What was changed, for apps that keep a copy; and answers that they have already.

use std::collections::BTreeSet;

use chrono::Duration;
use reqwest::Method;
use serde_json::{Value, json};
use wear_api::domain::Role;
use wear_tests::{Answer, TestServer, TestStore, on_both_stores};

on_both_stores!(
    a_copy_follows_all_that_happens,
    an_app_is_told_of_what_it_may_read,
    nothing_is_left_out_while_many_write,
    what_is_kept_no_longer_is_said_to_be,
    an_answer_that_is_known_is_not_sent_again,
    outlooks_are_as_small_as_is_asked,
);

/// What a follower has seen, and where it is.
struct Follower {
    next: String,
    seen: Vec<Value>,
}

impl Follower {
    async fn from_now(server: &TestServer) -> Self {
        let answer = server.get("/v1/changes?since=now").await.expect(200).body;
        assert_eq!((&answer["items"], &answer["more"]), (&json!([]), &json!(false)));
        Self { next: answer["next"].as_str().expect("a place").to_owned(), seen: Vec::new() }
    }

    /// Follows until there is no more, so many at a time.
    async fn follow(&mut self, server: &TestServer, limit: usize) -> Vec<Value> {
        let before = self.seen.len();
        loop {
            let path = format!("/v1/changes?since={}&limit={limit}", self.next);
            let answer = server.get(&path).await.expect(200).body;
            let items = answer["items"].as_array().expect("items");
            assert!(items.len() <= limit, "{}", items.len());
            self.seen.extend(items.iter().cloned());
            self.next = answer["next"].as_str().expect("a place").to_owned();
            if answer["more"] == false {
                return self.seen[before..].to_vec();
            }
        }
    }
}

fn said(changes: &[Value]) -> Vec<(&str, bool)> {
    changes.iter().map(|change| (word(&change["kind"]), change["gone"] == true)).collect()
}

fn word(value: &Value) -> &str {
    value.as_str().expect("a word")
}

async fn delete(server: &TestServer, path: &str, tag: Option<&str>) -> Answer {
    let mut request = server.request(Method::DELETE, path).query(&[("reason", "typed wrong")]);
    if let Some(tag) = tag {
        request = request.header("If-Match", tag);
    }
    server.send(request.bearer_auth(server.token_of(Role::Manager))).await
}

async fn ride(server: &TestServer, bike: &str, source_id: &str, km: u32) -> Answer {
    let ride = json!({"started_at": "2026-03-01T08:00:00Z", "distance_km": km, "source": "log", "source_id": source_id});
    server.post(&format!("/v1/bikes/{bike}/rides"), &ride).await
}

async fn a_copy_follows_all_that_happens(store: TestStore) {
    let server = TestServer::start(store).await;
    let mut follower = Follower::from_now(&server).await;
    let bike = server.bike("041").await;
    let made = follower.follow(&server, 2).await;
    let kinds: Vec<&str> = made.iter().map(|change| word(&change["kind"])).collect();
    assert!(kinds.contains(&"bike") && kinds.contains(&"part") && kinds.contains(&"fitting"), "{kinds:?}");
    assert!(
        made.iter().filter(|change| change["kind"] == "fitting").all(|change| change["bike_id"] == *bike)
    );

    let first = ride(&server, &bike, "r1", 10).await.expect(201);
    let _same = ride(&server, &bike, "r1", 10).await.expect(200);
    let told = follower.follow(&server, 100).await;
    assert_eq!(said(&told), [("ride", false)], "the same again is no change");
    assert_eq!((&told[0]["id"], &told[0]["bike_id"]), (&first.body["id"], &json!(bike)));
    let replaced = ride(&server, &bike, "r1", 12).await.expect(200);
    assert_eq!(said(&follower.follow(&server, 100).await), [("ride", false)]);
    let path = format!("/v1/bikes/{bike}/rides/{}", first.id());
    delete(&server, &path, Some(replaced.header("etag"))).await.check(204);
    assert_eq!(said(&follower.follow(&server, 100).await), [("ride", true)]);
    server.post(&format!("{path}/restoration"), &json!({})).await.check(200);
    assert_eq!(said(&follower.follow(&server, 100).await), [("ride", false)]);

    let reading =
        json!({"taken_at": "2026-04-01T08:00:00Z", "instrument": "rule", "percent": 0.2, "odometer_km": 900});
    let reading = server.post(&format!("/v1/bikes/{bike}/readings"), &reading).await.expect(201);
    let mut told = follower.follow(&server, 100).await;
    told.sort_by_key(|change| word(&change["kind"]).to_owned());
    assert_eq!(said(&told), [("odometer", false), ("reading", false)]);
    let path = format!("/v1/bikes/{bike}/readings/{}", word(&reading.body["reading"]["id"]));
    delete(&server, &path, None).await.check(200);
    let mut told = follower.follow(&server, 1).await;
    told.sort_by_key(|change| word(&change["kind"]).to_owned());
    assert_eq!(said(&told), [("odometer", true), ("reading", true)]);

    let swap = json!({"swapped_at": "2026-05-01T08:00:00Z", "place": "chain"});
    server.post(&format!("/v1/bikes/{bike}/swaps"), &swap).await.check(201);
    let told = follower.follow(&server, 100).await;
    let kinds: BTreeSet<&str> = said(&told).into_iter().map(|(kind, _)| kind).collect();
    assert_eq!(kinds, BTreeSet::from(["fitting", "part", "swap"]));

    let table = "bike,started_at,distance_km\n041,2026-06-01T08:00:00Z,11\n041,2026-06-02T08:00:00Z,12\n";
    let request =
        server.request(Method::POST, "/v1/imports/rides").header("Content-Type", "text/csv").body(table);
    server.send(request.bearer_auth(server.token_of(Role::Manager))).await.check(200);
    assert_eq!(said(&follower.follow(&server, 100).await), [("ride", false), ("ride", false)]);
    assert_eq!(follower.follow(&server, 100).await, Vec::<Value>::new());

    // From the beginning it is the same.
    let seen = follower.seen.clone();
    let mut again = Follower { next: "0".to_owned(), seen: Vec::new() };
    assert_eq!(again.follow(&server, 3).await[..], seen[..]);
    for wrong in ["since=x", "since=-1", "limit=0", "limit=1001", "after=3"] {
        let answer = server.get(&format!("/v1/changes?{wrong}")).await.expect(400);
        assert_eq!(answer.body["errors"].as_array().map(Vec::len), Some(1), "{wrong}");
    }
}

async fn an_app_is_told_of_what_it_may_read(store: TestStore) {
    let server = TestServer::start(store).await;
    let model = json!({"name": "C8", "place": "chain", "sprockets": 8});
    server.post("/v1/part-models", &model).await.check(201);
    let bike = server.bike("041").await;
    let _ride = ride(&server, &bike, "r1", 10).await.expect(201);
    let request = server.request(Method::GET, "/v1/changes").bearer_auth(server.token_of(Role::App));
    let told = server.send(request).await.expect(200).body;
    let kinds: BTreeSet<&str> =
        told["items"].as_array().expect("items").iter().map(|change| word(&change["kind"])).collect();
    assert!(kinds.contains("bike") && kinds.contains("ride") && !kinds.contains("stock"), "{kinds:?}");
    let mut elsewhere = server;
    elsewhere.move_to("another").await;
    assert_eq!(elsewhere.get("/v1/changes").await.expect(200).body["items"], json!([]));
}

async fn nothing_is_left_out_while_many_write(store: TestStore) {
    let server = TestServer::start(store).await;
    let mut bikes = Vec::new();
    for label in 0..4 {
        bikes.push(server.bike(&format!("{label:03}")).await);
    }
    let mut follower = Follower::from_now(&server).await;
    let writers = bikes.iter().enumerate().map(|(writer, bike)| {
        let server = &server;
        async move {
            let mut ids = Vec::new();
            for i in 0..25 {
                ids.push(ride(server, bike, &format!("{writer}-{i}"), 5).await.expect(201).id());
            }
            ids
        }
    });
    let writing = futures_util::future::join_all(writers);
    let following = async {
        for _ in 0..30 {
            let _told = follower.follow(&server, 7).await;
        }
    };
    let (written, ()) = futures_util::future::join(writing, following).await;
    let _rest = follower.follow(&server, 7).await;
    let told: BTreeSet<&str> = follower.seen.iter().map(|change| word(&change["id"])).collect();
    let written: BTreeSet<&str> = written.iter().flatten().map(String::as_str).collect();
    assert_eq!(told, written);
    assert_eq!(follower.seen.len(), written.len(), "none twice");
}

async fn what_is_kept_no_longer_is_said_to_be(store: TestStore) {
    let server = TestServer::start(store).await;
    let bike = server.bike("041").await;
    let mut follower = Follower::from_now(&server).await;
    let _ride = ride(&server, &bike, "r1", 10).await.expect(201);
    // Nights on which all of this is younger leave it.
    server.post("/v1/calibration", &json!({})).await.check(202);
    server.settle().await;
    assert_eq!(said(&follower.follow(&server, 100).await), [("ride", false)]);
    // Changes are counted by the machine's clock, which isn't the one that tests move.
    server.wait(Duration::days(2_000));
    let _late = ride(&server, &bike, "r2", 10).await.expect(201);
    server.post("/v1/calibration", &json!({})).await.check(202);
    server.settle().await;
    let answer = server.get(&format!("/v1/changes?since={}", follower.next)).await.expect(410);
    assert_eq!(answer.problem(), "changes-forgotten");
    let mut anew = Follower::from_now(&server).await;
    let _more = ride(&server, &bike, "r3", 10).await.expect(201);
    assert_eq!(said(&anew.follow(&server, 100).await), [("ride", false)]);
    // Without a place, what is left.
    assert_eq!(server.get("/v1/changes").await.expect(200).body["items"].as_array().map(Vec::len), Some(1));
}

async fn an_answer_that_is_known_is_not_sent_again(store: TestStore) {
    let server = TestServer::start(store).await;
    let bike = server.bike("041").await;
    let get = async |path: &str, known: &str| {
        let request = server.request(Method::GET, path).header("If-None-Match", known);
        server.send(request.bearer_auth(server.token_of(Role::Manager))).await
    };
    let part = {
        let fittings = server.get(&format!("/v1/bikes/{bike}/fittings")).await.expect(200).body;
        word(&fittings["items"][0]["part_id"]).to_owned()
    };
    let paths = [
        "/v1/bikes".to_owned(),
        "/v1/outlooks".to_owned(),
        format!("/v1/bikes/{bike}/outlook"),
        format!("/v1/parts/{part}"),
    ];
    for path in paths {
        server.settle().await;
        let tag = server.get(&path).await.expect(200).header("etag").to_owned();
        let known = get(&path, &tag).await.expect(304);
        assert_eq!((known.header("etag"), &known.body), (tag.as_str(), &Value::Null), "{path}");
        get(&path, &format!("\"other\", W/{tag}")).await.check(304);
        get(&path, "\"other\"").await.check(200);
        let label = format!("r of {path}");
        let _ride = ride(&server, &bike, &label, 40).await.expect(201);
        server.settle().await;
        let now = get(&path, &tag).await;
        // A list of bikes says nothing of rides.
        let expected = if path == "/v1/bikes" { 304 } else { 200 };
        now.check(expected);
    }
    // What was read with a tag is changed by it.
    let path = format!("/v1/bikes/{bike}");
    let tag = server.get(&path).await.expect(200).header("etag").to_owned();
    let request = server.request(Method::PATCH, &path).header("If-Match", tag).json(&json!({"label": "042"}));
    server.send(request.bearer_auth(server.token_of(Role::Manager))).await.check(200);
    // A refusal has no tag.
    assert!(!get("/v1/bikes?limit=0", "*").await.expect(400).headers.contains_key("etag"));
}

async fn outlooks_are_as_small_as_is_asked(store: TestStore) {
    let server = TestServer::start(store).await;
    let bike = server.bike("041").await;
    server.settle().await;
    let names =
        |value: &Value| -> Vec<String> { value.as_object().expect("an object").keys().cloned().collect() };
    let path = format!("/v1/bikes/{bike}/outlook");
    let whole = server.get(&path).await.expect(200).body;
    let small = server.get(&format!("{path}?fields=advice,remaining_km")).await.expect(200).body;
    assert_eq!(names(&small), ["advice", "bike_id", "remaining_km"]);
    assert_eq!(small["remaining_km"], whole["remaining_km"]);
    let listed = server.get("/v1/outlooks?fields=label,swap_by&limit=1").await.expect(200).body;
    assert_eq!(names(&listed["items"][0]), ["bike_id", "label", "swap_by"]);
    for wrong in
        [format!("{path}?fields=advise"), "/v1/outlooks?fields=".to_owned(), format!("{path}?field=advice")]
    {
        let answer = server.get(&wrong).await.expect(400);
        assert_eq!(answer.body["errors"].as_array().map(Vec::len), Some(1), "{wrong}");
    }
    let wrong = server.get(&format!("{path}?fields=advise")).await.expect(400).body;
    assert!(
        wrong["errors"][0]["allowed"].as_str().is_some_and(|allowed| allowed.contains("advice")),
        "{wrong}"
    );
}
