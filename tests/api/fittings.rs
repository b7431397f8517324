//! Single stays of parts on bikes: since when one has been on is corrected, and everything follows.

use reqwest::Method;
use serde_json::{Value, json};
use wear_api::domain::Role;
use wear_tests::{Answer, TestServer, TestStore, on_both_stores};

on_both_stores!(
    a_fitting_is_corrected_and_everything_follows,
    what_was_found_becomes_new_on_a_day,
    what_rules_a_correction_out_is_named,
    a_fitting_that_changed_meanwhile_is_not_overwritten,
);

/// The bike's fitting at a place, the latest.
async fn at_place(server: &TestServer, bike: &str, place: &str) -> Value {
    let fittings = server.get(&format!("/v1/bikes/{bike}/fittings")).await.expect(200).body;
    let items = fittings["items"].as_array().expect("fittings");
    items.iter().rfind(|fitting| fitting["place"] == place).expect("a fitting").clone()
}

async fn correct(server: &TestServer, fitting: &Value, fitted_at: &str) -> Answer {
    let of = |name: &str| fitting[name].as_str().expect("an id").to_owned();
    let path = format!("/v1/bikes/{}/fittings/{}", of("bike_id"), of("id"));
    let tag = server.get(&path).await.expect(200).header("etag").to_owned();
    let request = server.request(Method::PATCH, &path).bearer_auth(server.token_of(Role::Mechanic));
    server.send(request.header("if-match", tag).json(&json!({"fitted_at": fitted_at}))).await
}

async fn ride(server: &TestServer, bike: &str, day: &str, km: f64) {
    let ride = json!({"started_at": format!("{day}T08:00:00Z"), "distance_km": km, "source": "log",
        "source_id": format!("{bike}-{day}")});
    server.post(&format!("/v1/bikes/{bike}/rides"), &ride).await.check(201);
}

/// An outlook without what differs from bike to bike.
fn bare(outlook: &Value) -> Value {
    let mut outlook = outlook.clone();
    for own in ["bike_id", "part_id", "computed_at"] {
        outlook.as_object_mut().expect("an object").remove(own);
    }
    outlook
}

async fn a_fitting_is_corrected_and_everything_follows(store: TestStore) {
    let server = TestServer::start(store).await;
    let bike = server.bike("041").await;
    for (day, km) in [("2026-02-01", 30.0), ("2026-03-01", 31.5), ("2026-05-01", 400.0)] {
        ride(&server, &bike, day, km).await;
    }
    let before = server.get(&format!("/v1/bikes/{bike}/outlook")).await.expect(200).body;
    let chain = at_place(&server, &bike, "chain").await;
    let later = correct(&server, &chain, "2026-04-01T09:00:00Z").await.expect(200);
    assert_eq!(later.header("etag"), "\"2\"");
    let after = later.body;
    assert_eq!(
        (&after["fitting"]["fitted_at"], &after["fitting"]["start"]),
        (&json!("2026-04-01T09:00:00Z"), &json!("new"))
    );
    // Two rides were on the chain before; the outlook has 61.5 km less, and so has the part.
    assert_eq!(after["outside"], json!({"rides": 2, "distance_km": 61.5}));
    let km = |outlook: &Value| outlook["basis"]["reference_km"].as_f64().expect("a number");
    assert!(km(&after["outlook"]) < 0.9 * km(&before), "{after}");
    let part = chain["part_id"].as_str().expect("a part");
    let life = server.get(&format!("/v1/parts/{part}")).await.expect(200).body;
    assert!((life["life"]["distance_km"].as_f64().expect("a number") - 400.0).abs() < 1e-9, "{life}");
    assert_eq!(server.get(&format!("/v1/bikes/{bike}/outlook")).await.expect(200).body, after["outlook"]);

    // Put back it is as if nothing had been.
    let first = chain["fitted_at"].as_str().expect("a time");
    let back = correct(&server, &chain, first).await.expect(200).body;
    assert_eq!(back["outside"]["rides"], 0);
    assert_eq!(bare(&back["outlook"]), bare(&before));

    // A cassette by itself, and who did it when.
    let cassette = at_place(&server, &bike, "cassette").await;
    let _changed = correct(&server, &cassette, "2026-04-15T09:00:00Z").await.expect(200);
    assert_eq!(at_place(&server, &bike, "chain").await["fitted_at"], chain["fitted_at"]);
    let request = server.request(Method::GET, "/v1/audit").bearer_auth(server.token_of(Role::Manager));
    let audit = server.send(request).await.expect(200).body;
    let latest = &audit["items"][0];
    assert_eq!(latest["action"], "fitting.change");
    assert_eq!(
        latest["detail"]["fitted_at"],
        json!({"from": cassette["fitted_at"], "to": "2026-04-15T09:00:00Z"}),
        "{latest}"
    );
}

async fn what_was_found_becomes_new_on_a_day(store: TestStore) {
    let server = TestServer::start(store).await;
    let mut body = wear_tests::bike("041");
    body.as_object_mut().expect("an object").remove("fitted_on");
    let bike = server.post("/v1/bikes", &body).await.expect(201).id();
    ride(&server, &bike, "2026-03-01", 100.0).await;
    let unknown = server.get(&format!("/v1/bikes/{bike}/outlook")).await.expect(200).body;
    assert_eq!(unknown["reason_code"], "age_unknown", "{unknown}");
    let chain = at_place(&server, &bike, "chain").await;
    assert_eq!(chain["start"], "as_found");
    let known = correct(&server, &chain, "2026-02-01T00:00:00Z").await.expect(200).body;
    assert_eq!(known["fitting"]["start"], "new");
    assert_ne!(known["outlook"]["reason_code"], "age_unknown", "{known}");
    assert_eq!(at_place(&server, &bike, "ring").await["start"], "as_found");
    let start = server.get(&format!("/v1/bikes/{bike}")).await.expect(200).body["start"].clone();
    assert_eq!((&start["state"], &start["fitted_on"]), (&json!("new"), &json!("2026-02-01")));
}

async fn what_rules_a_correction_out_is_named(store: TestStore) {
    let server = TestServer::start(store).await;
    let bike = server.bike("041").await;
    let reading = json!({"taken_at": "2026-03-01T12:00:00Z", "instrument": "dial", "percent": 0.2});
    server.post(&format!("/v1/bikes/{bike}/readings"), &reading).await.check(201);
    let chain = at_place(&server, &bike, "chain").await;
    let pointer = async |fitting: &Value, at: &str| {
        correct(&server, fitting, at).await.expect(422).pointers().first().map(|it| (*it).to_owned())
    };
    let refused = Some("/fitted_at".to_owned());
    for at in ["2026-03-01T12:00:01Z", "2027-01-01T00:00:00Z", "soon"] {
        assert_eq!(pointer(&chain, at).await, refused, "{at}");
    }

    // A chain that a swap put on goes with its swap; what was on before it ends before it.
    let swap = json!({"swapped_at": "2026-06-01T09:00:00Z", "place": "chain"});
    server.post(&format!("/v1/bikes/{bike}/swaps"), &swap).await.check(201);
    let by_swap = correct(&server, &at_place(&server, &bike, "chain").await, "2026-06-02T09:00:00Z").await;
    let by_swap = by_swap.expect(409).body;
    assert!(by_swap["detail"].as_str().is_some_and(|said| said.contains("void that swap")), "{by_swap}");
    assert_eq!(pointer(&chain, "2026-06-01T09:00:00Z").await, refused);

    // A ring that was taken off and one that came by itself: their stays may touch and not overlap.
    let ring = at_place(&server, &bike, "ring").await;
    let removal = format!("/v1/bikes/{bike}/fittings/{}/removal", ring["id"].as_str().expect("an id"));
    server.post(&removal, &json!({"removed_at": "2026-05-01T09:00:00Z"})).await.check(200);
    let fit = json!({"place": "ring", "fitted_at": "2026-07-01T09:00:00Z"});
    server.post(&format!("/v1/bikes/{bike}/fittings"), &fit).await.check(201);
    let second = at_place(&server, &bike, "ring").await;
    let taken = correct(&server, &second, "2026-04-30T09:00:00Z").await.expect(409).body;
    assert!(taken["detail"].as_str().is_some_and(|said| said.contains("not empty")), "{taken}");
    let touching = correct(&server, &second, "2026-05-01T09:00:00Z").await.expect(200).body;
    assert_eq!(touching["fitting"]["fitted_at"], "2026-05-01T09:00:00Z");
}

async fn a_fitting_that_changed_meanwhile_is_not_overwritten(store: TestStore) {
    let server = TestServer::start(store).await;
    let bike = server.bike("041").await;
    let chain = at_place(&server, &bike, "chain").await;
    let path = format!("/v1/bikes/{bike}/fittings/{}", chain["id"].as_str().expect("an id"));
    let seen = server.get(&path).await.expect(200);
    assert_eq!(seen.body, chain);
    let tag = seen.header("etag").to_owned();
    let body = json!({"fitted_at": "2026-02-01T09:00:00Z"});
    let request = |tag: Option<&str>| {
        let request =
            server.request(Method::PATCH, &path).bearer_auth(server.token_of(Role::Mechanic)).json(&body);
        match tag {
            Some(tag) => request.header("if-match", tag.to_owned()),
            None => request,
        }
    };
    server.send(request(None)).await.check(428);
    let removal = json!({"removed_at": "2026-06-01T09:00:00Z"});
    server.post(&format!("{path}/removal"), &removal).await.check(200);
    server.send(request(Some(&tag))).await.check(412);
    let now = server.get(&path).await.expect(200).header("etag").to_owned();
    let corrected = server.send(request(Some(&now))).await.expect(200).body;
    assert_eq!(corrected["fitting"]["removed_at"], "2026-06-01T09:00:00Z");
    let stranger = server.token("Hill", Role::Manager).await;
    let of_stranger = server.request(Method::GET, &path).bearer_auth(stranger);
    server.send(of_stranger).await.check(404);
}
