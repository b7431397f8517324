//! A bound token sees the bikes of its app or its rider, and nothing else is there.

use std::collections::BTreeMap;
use std::fmt::Write as _;

use reqwest::{Method, Url};
use serde_json::{Value, json};
use wear_api::domain::Role;
use wear_tests::{Answer, TestServer, TestStore, bike, on_both_stores};

use crate::document::{operations, served};
use crate::strangers::{and_care, ask, one_of_each};

on_both_stores!(
    two_apps_and_two_riders,
    another_riders_bike_is_not_there,
    nothing_of_others_is_in_a_list,
    an_app_lives_on_its_own_bikes,
    a_ride_is_not_taken_away_from_another_riders_bike,
    a_revoked_token_is_cut_off_at_once,
    a_bike_that_changes_hands_changes_reach,
    refused_rides_are_told_to_their_sender,
    only_apps_are_bound,
    pages_are_of_the_whole_workshop,
    what_reads_a_part_reads_where_it_was_on_own_bikes,
);

/// Who asks with a token of their own.
pub struct Holder<'a> {
    pub server: &'a TestServer,
    pub token: String,
}

impl Holder<'_> {
    pub async fn get(&self, path: &str) -> Answer {
        self.server.send(self.server.request(Method::GET, path).bearer_auth(&self.token)).await
    }

    pub async fn post(&self, path: &str, body: &Value) -> Answer {
        let request = self.server.request(Method::POST, path).bearer_auth(&self.token);
        self.server.send(request.json(body)).await
    }

    pub async fn with_match(
        &self,
        method: Method,
        path: &str,
        revision: i64,
        body: Option<&Value>,
    ) -> Answer {
        let request = self.server.request(method, path).bearer_auth(&self.token);
        let request = request.header("if-match", format!("\"{revision}\""));
        self.server
            .send(match body {
                Some(body) => request.json(body),
                None => request,
            })
            .await
    }

    /// The labels of a list's bikes.
    async fn labels(&self, list: &str) -> Vec<String> {
        let items = self.get(list).await.expect(200).body["items"].clone();
        let labels = items.as_array().expect("a list").iter().map(|item| item["label"].as_str());
        labels.map(|label| label.expect("a label").to_owned()).collect()
    }
}

pub async fn app(server: &TestServer, name: &str) -> String {
    server.post("/v1/apps", &json!({"name": name})).await.expect(201).id()
}

pub async fn rider(server: &TestServer, name: &str) -> String {
    server.post("/v1/riders", &json!({"name": name})).await.expect(201).id()
}

/// The holder of an app's token that is bound to these.
pub async fn bound<'a>(server: &'a TestServer, app: Option<&str>, rider: Option<&str>) -> Holder<'a> {
    let wanted = json!({"role": "app", "label": "bound", "app_id": app, "rider_id": rider});
    let made = server.post("/v1/tokens", &wanted).await.expect(201).body;
    assert_eq!((made["app_id"].as_str(), made["rider_id"].as_str()), (app, rider));
    Holder { server, token: made["secret"].as_str().expect("a secret").to_owned() }
}

fn holder(server: &TestServer, role: Role) -> Holder<'_> {
    Holder { server, token: server.token_of(role).to_owned() }
}

/// Says who rides a bike, as a manager.
async fn give(server: &TestServer, bike: &str, owners: &Value) {
    let path = format!("/v1/bikes/{bike}");
    let revision = server.get(&path).await.expect(200).body["revision"].as_i64().expect("a revision");
    let manager = holder(server, Role::Manager);
    let changed = manager.with_match(Method::PATCH, &path, revision, Some(owners)).await.expect(200).body;
    for (name, owner) in owners.as_object().expect("owners") {
        assert_eq!(&changed[name], owner);
    }
}

/// Show 4 of the issue: two apps and two riders on one workshop.
async fn two_apps_and_two_riders(store: TestStore) {
    let server = TestServer::start(store).await;
    let (log, diary) = (app(&server, "Ride log").await, app(&server, "Diary").await);
    let (anna, ben) = (rider(&server, "Anna").await, rider(&server, "Ben").await);
    let holders = [
        ("manager", holder(&server, Role::Manager)),
        ("app, unbound", holder(&server, Role::App)),
        ("app Ride log", bound(&server, Some(&log), None).await),
        ("app Diary", bound(&server, Some(&diary), None).await),
        ("rider Anna", bound(&server, None, Some(&anna)).await),
        ("rider Ben", bound(&server, None, Some(&ben)).await),
        ("Ride log for Anna", bound(&server, Some(&log), Some(&anna)).await),
        ("Ride log for Ben", bound(&server, Some(&log), Some(&ben)).await),
        ("Diary for Ben", bound(&server, Some(&diary), Some(&ben)).await),
    ];
    let by = |name: &str| &holders.iter().find(|(known, _)| *known == name).expect("a holder").1;
    // Who enters which bike; Anna's city bike is given to her by a manager.
    let mut bikes = Vec::new();
    for (label, who) in [
        ("yard 7", "manager"),
        ("Anna's city", "manager"),
        ("Anna's road", "Ride log for Anna"),
        ("Ben's cargo", "Diary for Ben"),
        ("Ben's mtb", "rider Ben"),
        ("log's own", "app Ride log"),
        ("diary's own", "app Diary"),
    ] {
        bikes.push((label, by(who).post("/v1/bikes", &bike(label)).await.expect(201).id()));
    }
    give(&server, &bikes[1].1, &json!({"rider_id": anna})).await;
    let mut hooks = Vec::new();
    for (who, holder) in &holders {
        let hook = json!({"label": who, "url": "https://app.example/", "events": ["bike.retired"]});
        hooks.push(holder.post("/v1/hooks", &hook).await.expect(201).id());
    }
    let expected: BTreeMap<&str, [bool; 7]> = [
        ("manager", [true; 7]),
        ("app, unbound", [true; 7]),
        ("app Ride log", [false, false, true, false, false, true, false]),
        ("app Diary", [false, false, false, true, false, false, true]),
        ("rider Anna", [false, true, true, false, false, false, false]),
        ("rider Ben", [false, false, false, true, true, false, false]),
        ("Ride log for Anna", [false, true, true, false, false, false, false]),
        ("Ride log for Ben", [false, false, false, true, true, false, false]),
        ("Diary for Ben", [false, false, false, true, true, false, false]),
    ]
    .into();
    for (who, holder) in &holders {
        let seen = expected[who];
        let labels: Vec<&str> =
            bikes.iter().zip(seen).filter(|(_, seen)| *seen).map(|((label, _), _)| *label).collect();
        let mut by_label = labels.clone();
        by_label.sort_by_key(|label| label.to_lowercase());
        assert_eq!(holder.labels("/v1/bikes").await, labels, "{who}");
        assert_eq!(holder.labels("/v1/bikes?sort=label").await, by_label, "{who}");
        for list in ["/v1/outlooks", "/v1/outlooks?advice=ride_on", "/v1/outlooks?advice=measure_by"] {
            let mut listed = holder.labels(list).await;
            listed.sort_by_key(|label| label.to_lowercase());
            if list == "/v1/outlooks" {
                assert_eq!(listed, by_label, "{who}");
            } else {
                assert!(listed.iter().all(|label| by_label.contains(&label.as_str())), "{who} {listed:?}");
            }
        }
        // A page is cut from what is seen, not seen from what was cut.
        let first = holder.get("/v1/bikes?limit=1").await.expect(200);
        assert_eq!(first.body["items"].as_array().map(Vec::len), Some(1), "{who}");
        assert_eq!(first.body["items"][0]["label"], labels[0], "{who}");
        assert_eq!(first.headers.contains_key("link"), labels.len() > 1, "{who}");
        for ((label, id), seen) in bikes.iter().zip(seen) {
            let (read, write) = if seen { (200, 201) } else { (404, 404) };
            let path = format!("/v1/bikes/{id}");
            for read_from in
                ["", "/outlook", "/rides", "/readings", "/fittings", "/care", "/swaps", "/odometer"]
            {
                let answer = holder.get(&format!("{path}{read_from}")).await;
                assert_eq!(answer.status.as_u16(), read, "{who} {label} {read_from} {}", answer.body);
            }
            let ride = json!({"started_at": "2026-03-01T08:00:00Z", "distance_km": 10});
            let answer = holder.post(&format!("{path}/rides"), &ride).await;
            assert_eq!(answer.status.as_u16(), write, "{who} {label} {}", answer.body);
            let batch =
                json!({"rides": [{"bike_id": id, "started_at": "2026-03-02T08:00:00Z", "distance_km": 10}]});
            let report = holder.post("/v1/rides", &batch).await.expect(200).body;
            assert_eq!(report["accepted"], u64::from(seen), "{who} {label} {report}");
        }
    }
    for (_, id) in &bikes {
        let path = format!("/v1/bikes/{id}");
        let revision = server.get(&path).await.expect(200).body["revision"].as_i64().expect("a revision");
        by("manager").with_match(Method::DELETE, &path, revision, None).await.check(204);
    }
    let mut table = String::from("| token |");
    for (label, _) in &bikes {
        let _ = write!(table, " {label} |");
    }
    let _ = writeln!(table, "\n|---|{}", "---|".repeat(bikes.len()));
    for ((who, holder), hook) in holders.iter().zip(&hooks) {
        let log = holder.get(&format!("/v1/hooks/{hook}/deliveries")).await.expect(200).body;
        let told: Vec<&str> = log["items"]
            .as_array()
            .expect("messages")
            .iter()
            .map(|message| message["body"]["data"]["label"].as_str().expect("a label"))
            .collect();
        let _ = write!(table, "| {who} |");
        for ((label, _), seen) in bikes.iter().zip(expected[who]) {
            assert_eq!(told.contains(label), seen, "{who} {label}");
            let _ = write!(table, " {} |", if seen { "sees, enters, is told" } else { "404" });
        }
        table.push('\n');
        let own = holder.get("/v1/hooks").await.expect(200).body["items"].as_array().map(Vec::len);
        assert_eq!(own, Some(if *who == "manager" { holders.len() } else { 1 }), "{who}");
    }
    println!("{table}");
}

/// The whole document, asked by a bound token: what belongs to another's bike is 404 wherever an id names it, and what is
/// the workshop's is refused.
async fn another_riders_bike_is_not_there(store: TestStore) {
    let server = TestServer::start(store).await;
    let mut ids = one_of_each(&server).await;
    and_care(&server, &mut ids).await;
    give(&server, &ids["{bike_id}"], &json!({"rider_id": ids["{rider_id}"]})).await;
    let ben = rider(&server, "Ben").await;
    let log = app(&server, "Log").await;
    let document = served(&server).await;
    let mut tally: BTreeMap<u16, usize> = BTreeMap::new();
    let before = server.get(&format!("/v1/bikes/{}/outlook", ids["{bike_id}"])).await.expect(200).body;
    for holder in [
        bound(&server, None, Some(&ben)).await,
        bound(&server, Some(&log), None).await,
        bound(&server, Some(&log), Some(&ben)).await,
    ] {
        for (path, method, operation) in operations(&document) {
            let roles = operation["security"][0]["bearer"].as_array().cloned().unwrap_or_default();
            if !path.contains('{') || path.ends_with(".ics") {
                continue;
            }
            let answer =
                server.send(ask(&server, &ids, &path, &method, &operation).bearer_auth(&holder.token)).await;
            let status = answer.status.as_u16();
            // A bike isn't there, whatever is asked of it; the workshop's own things are not an app's to ask for.
            let apps_may = roles.contains(&json!("app"));
            // What another's bike is called can't be given to a second one, and isn't said to be whose.
            let expected = match &path {
                _ if method == Method::PUT => 409,
                path if path.contains("{bike_id}") || apps_may => 404,
                _ => 403,
            };
            assert!(!answer.body.to_string().contains(ids["{bike_id}"].as_str()), "{}", answer.body);
            assert_eq!(status, expected, "{method} {path} {}", answer.body);
            *tally.entry(status).or_default() += 1;
        }
        // Named in a body or a query, it isn't there either.
        let bike_id = &ids["{bike_id}"];
        let taken =
            json!({"label": server.get(&format!("/v1/bikes/{bike_id}")).await.expect(200).body["label"]});
        let put = server.request(Method::PUT, "/v1/bikes/by-external-id/new").bearer_auth(&holder.token);
        for refused in [holder.post("/v1/bikes", &taken).await, server.send(put.json(&taken)).await] {
            let detail = refused.expect(409).body["detail"].to_string();
            assert!(detail.contains("has this label; use another"), "{detail}");
        }
        let batch =
            json!({"rides": [{"bike_id": bike_id, "started_at": "2026-03-01T08:00:00Z", "distance_km": 9}]});
        let report = holder.post("/v1/rides", &batch).await.expect(200).body;
        assert_eq!(report["failed"][0]["errors"][0]["message"], "there is no such bike");
        let like = json!({"label": "like it", "drivetrain": {"like_bike_id": bike_id}});
        assert_eq!(
            holder.post("/v1/bikes", &like).await.expect(422).pointers(),
            ["/drivetrain/like_bike_id"]
        );
        // A label in use says so, not on which bike.
        let same = holder.post("/v1/bikes", &bike("041")).await.expect(409);
        assert!(!same.body.to_string().contains(bike_id.as_str()), "{}", same.body);
        for other_spelling in
            [bike_id.replace('-', ""), bike_id.to_uppercase(), bike_id.replacen('0', "%30", 1)]
        {
            holder.get(&format!("/v1/bikes/{other_spelling}/rides/{}", ids["{ride_id}"])).await.check(404);
        }
    }
    assert!(tally[&404] > 100 && tally[&403] > 60, "{tally:?}");
    println!("asked with three bound tokens, by status: {tally:?}");
    let after = server.get(&format!("/v1/bikes/{}/outlook", ids["{bike_id}"])).await.expect(200).body;
    assert_eq!(after["elongation_percent"], before["elongation_percent"]);
}

/// Every list that a bound token may ask for, with another's things in the store.
async fn nothing_of_others_is_in_a_list(store: TestStore) {
    let server = TestServer::start(store).await;
    let mut ids = one_of_each(&server).await;
    and_care(&server, &mut ids).await;
    let ben = rider(&server, "Ben").await;
    let holder = bound(&server, None, Some(&ben)).await;
    let own = holder.post("/v1/bikes", &bike("Ben's")).await.expect(201).id();
    let document = served(&server).await;
    let (mut let_in, mut refused) = (Vec::new(), 0);
    for (path, method, operation) in operations(&document) {
        if method != Method::GET || path.contains('{') || !path.starts_with("/v1/") {
            continue;
        }
        let answer = holder.get(&path).await;
        let may =
            operation["security"][0]["bearer"].as_array().is_some_and(|roles| roles.contains(&json!("app")));
        if !may {
            assert_eq!(answer.status.as_u16(), 403, "{path}");
            refused += 1;
            continue;
        }
        let text = answer.expect(200).body.to_string();
        for (name, id) in &ids {
            assert!(!text.contains(id.as_str()), "{path} holds another's {name}: {text}");
        }
        assert!(!text.contains("041"), "{path}: {text}");
        let_in.push(path);
    }
    assert_eq!(let_in, ["/v1/bikes", "/v1/changes", "/v1/hooks", "/v1/outlooks", "/v1/parts", "/v1/rides"]);
    assert!(refused > 20, "{refused}");
    let parts = holder.get("/v1/parts").await.expect(200).body["items"].as_array().map(Vec::len);
    // Chain, cassette and ring of the own bike.
    assert_eq!(parts, Some(3));
    assert!(holder.get("/v1/outlooks").await.expect(200).body.to_string().contains(&own));
}

/// What an app has to be able to do with a bike of its own: enter, correct, take back.
async fn an_app_lives_on_its_own_bikes(store: TestStore) {
    let server = TestServer::start(store).await;
    let (log, anna) = (app(&server, "Ride log").await, rider(&server, "Anna").await);
    let app = bound(&server, Some(&log), Some(&anna)).await;
    let entered = app.post("/v1/bikes", &bike("Anna's road")).await.expect(201).body;
    assert_eq!((entered["app_id"].as_str(), entered["rider_id"].as_str()), (Some(&*log), Some(&*anna)));
    let path = format!("/v1/bikes/{}", entered["id"].as_str().expect("an id"));
    let changed = app.with_match(Method::PATCH, &path, 1, Some(&json!({"group": "road"}))).await.expect(200);
    assert_eq!(changed.body["group"], "road");
    // Whose it is, is not the app's to say.
    for owner in [json!({"rider_id": null}), json!({"app_id": null})] {
        let refused = app.with_match(Method::PATCH, &path, 2, Some(&owner)).await.expect(403);
        assert_eq!(refused.problem(), "role-not-allowed");
    }
    let odometer = json!({"read_at": "2026-03-02T09:00:00Z", "km": 1_200});
    for (list, thing, body) in [
        ("rides", "", json!({"started_at": "2026-03-01T08:00:00Z", "distance_km": 10})),
        (
            "readings",
            "reading",
            json!({"taken_at": "2026-03-02T08:00:00Z", "instrument": "rule", "percent": 0.1}),
        ),
        ("care", "", json!({"kind": "cleaned", "done_at": "2026-03-02T07:00:00Z"})),
        ("symptoms", "symptom", json!({"reported_at": "2026-03-02T08:00:00Z", "symptom": "noisy"})),
        ("odometer", "statement", odometer),
        ("swaps", "", json!({"swapped_at": "2026-04-01T08:00:00Z", "place": "chain"})),
        ("fittings", "", json!({"place": "jockey_wheels", "fitted_at": "2026-05-01T08:00:00Z"})),
    ] {
        let made = app.post(&format!("{path}/{list}"), &body).await.expect(201).body;
        let made = if thing.is_empty() { &made } else { &made[thing] };
        let id = made["id"].as_str().unwrap_or_else(|| panic!("{list} {made}"));
        assert!(app.get(&format!("{path}/{list}")).await.expect(200).body.to_string().contains(id));
        let void = server.request(Method::DELETE, &format!("{path}/{list}/{id}")).bearer_auth(&app.token);
        let void = void.query(&[("reason", "a slip")]).header("if-match", "\"1\"");
        let void = if list == "rides" {
            server
                .request(Method::DELETE, &format!("{path}/{list}/{id}"))
                .bearer_auth(&app.token)
                .header("if-match", "\"1\"")
        } else {
            void
        };
        let gone = server.send(void).await;
        assert!(gone.status.is_success(), "{list} {}", gone.body);
        // What a swap or a removal put elsewhere since isn't taken back by itself.
        if matches!(list, "swaps" | "fittings") {
            continue;
        }
        let back = app.post(&format!("{path}/{list}/{id}/restoration"), &Value::Null).await;
        assert!(back.status.is_success(), "{list} {}", back.body);
    }
    let hook = json!({"label": "app", "url": "https://app.example/", "events": ["outlook.swap_now"]});
    let hook = app.post("/v1/hooks", &hook).await.expect(201);
    let address = format!("/v1/hooks/{}", hook.id());
    app.post(&format!("{address}/test"), &Value::Null).await.check(202);
    let off = app.with_match(Method::PATCH, &address, 1, Some(&json!({"enabled": false}))).await.expect(200);
    assert_eq!((off.body["enabled"].as_bool(), off.body["token_id"].is_string()), (Some(false), true));
    // Another token of the same app and rider has its own.
    let again = bound(&server, Some(&log), Some(&anna)).await;
    again.get(&address).await.check(404);
    assert_eq!(again.get("/v1/hooks").await.expect(200).body["items"], json!([]));
    app.with_match(Method::DELETE, &address, 2, None).await.check(204);
    let revision = app.get(&path).await.expect(200).body["revision"].as_i64().expect("a revision");
    app.with_match(Method::DELETE, &path, revision, None).await.check(204);
}

/// The same source and id sent for another bike would move the ride there.
async fn a_ride_is_not_taken_away_from_another_riders_bike(store: TestStore) {
    let server = TestServer::start(store).await;
    let (anna, ben) = (rider(&server, "Anna").await, rider(&server, "Ben").await);
    let (annas, bens) = (bound(&server, None, Some(&anna)).await, bound(&server, None, Some(&ben)).await);
    let her = annas.post("/v1/bikes", &bike("Anna's")).await.expect(201).id();
    let his = bens.post("/v1/bikes", &bike("Ben's")).await.expect(201).id();
    let ride =
        json!({"started_at": "2026-03-01T08:00:00Z", "distance_km": 10, "source": "log", "source_id": "r1"});
    let rides = format!("/v1/bikes/{her}/rides");
    let first = annas.post(&rides, &ride).await.expect(201).id();
    // Another's ride isn't there to be moved: the same name is a ride of his own.
    let mut asked = ride.clone();
    (asked["id_scope"], asked["move"]) = (json!("workshop"), json!(true));
    let own = bens.post(&format!("/v1/bikes/{his}/rides"), &asked).await.expect(201).id();
    assert_ne!(own, first);
    let mut other = ride.clone();
    (other["bike_id"], other["source_id"], other["move"]) = (json!(his), json!("r2"), json!(true));
    annas
        .post(&rides, &{
            let mut second = ride.clone();
            second["source_id"] = json!("r2");
            second
        })
        .await
        .check(201);
    let batch = json!({"id_scope": "workshop", "rides": [other]});
    let report = bens.post("/v1/rides", &batch).await.expect(200).body;
    assert_eq!((&report["accepted"], &report["failed"]), (&json!(1), &json!([])), "{report}");
    let kept = annas.get(&rides).await.expect(200).body;
    assert_eq!(kept["items"].as_array().map(Vec::len), Some(2), "{kept}");
    assert_eq!(kept["items"][1]["distance_km"], 10.0);
    // Whoever reaches both moves a ride that only one of them has.
    let third = |source_id: &str| {
        let mut ride = ride.clone();
        (ride["source_id"], ride["id_scope"], ride["move"]) =
            (json!(source_id), json!("workshop"), json!(true));
        ride
    };
    let hers = annas.post(&rides, &third("r3")).await.expect(201).id();
    let moved = server.post(&format!("/v1/bikes/{his}/rides"), &third("r3")).await.expect(200).body;
    assert_eq!((&moved["id"], &moved["bike_id"]), (&json!(hers), &json!(his)));
}

/// Requests, and hooks, with what waits to be delivered.
async fn a_revoked_token_is_cut_off_at_once(store: TestStore) {
    let server = TestServer::start(store).await;
    let anna = rider(&server, "Anna").await;
    let app = bound(&server, None, Some(&anna)).await;
    let bike = app.post("/v1/bikes", &bike("Anna's")).await.expect(201).id();
    let hook =
        json!({"label": "app", "url": "https://app.example/", "events": ["bike.retired", "bike.returned"]});
    let hook = app.post("/v1/hooks", &hook).await.expect(201).id();
    let tokens = server.get("/v1/tokens").await.expect(200).body;
    let token =
        tokens["items"].as_array().expect("tokens").iter().find(|token| token["rider_id"] == anna.as_str());
    let token = token.expect("the token")["id"].as_str().expect("an id").to_owned();
    app.get(&format!("/v1/bikes/{bike}")).await.check(200);
    let manager = holder(&server, Role::Manager);
    let revoke = server.request(Method::DELETE, &format!("/v1/tokens/{token}")).bearer_auth(&manager.token);
    server.send(revoke).await.check(204);
    app.get(&format!("/v1/bikes/{bike}")).await.check(401);
    let switched = manager.get(&format!("/v1/hooks/{hook}")).await.expect(200).body;
    assert_eq!(switched["enabled"], false);
    // Switched on again by hand, it still hears of nothing.
    let on = manager
        .with_match(Method::PATCH, &format!("/v1/hooks/{hook}"), 2, Some(&json!({"enabled": true})))
        .await;
    assert_eq!(on.expect(200).body["enabled"], true);
    manager.with_match(Method::DELETE, &format!("/v1/bikes/{bike}"), 1, None).await.check(204);
    let log = manager.get(&format!("/v1/hooks/{hook}/deliveries")).await.expect(200).body;
    assert_eq!(log["items"], json!([]));
}

/// A manager takes a bike from one rider and gives it to another.
async fn a_bike_that_changes_hands_changes_reach(store: TestStore) {
    let server = TestServer::start(store).await;
    let log = app(&server, "Ride log").await;
    let (anna, ben) = (rider(&server, "Anna").await, rider(&server, "Ben").await);
    let (annas, bens) = (bound(&server, None, Some(&anna)).await, bound(&server, None, Some(&ben)).await);
    let apps = bound(&server, Some(&log), None).await;
    let bike = annas.post("/v1/bikes", &bike("city")).await.expect(201).id();
    let path = format!("/v1/bikes/{bike}");
    annas.get(&path).await.check(200);
    bens.get(&path).await.check(404);
    apps.get(&path).await.check(404);
    give(&server, &bike, &json!({"rider_id": ben, "app_id": log})).await;
    annas.get(&path).await.check(404);
    bens.get(&path).await.check(200);
    apps.get(&path).await.check(200);
    give(&server, &bike, &json!({"rider_id": null})).await;
    bens.get(&path).await.check(404);
    // A rider that isn't there rides nothing.
    let nobody = json!({"rider_id": crate::document::NOBODYS});
    let manager = holder(&server, Role::Manager);
    assert_eq!(
        manager.with_match(Method::PATCH, &path, 3, Some(&nobody)).await.expect(422).pointers(),
        ["/rider_id"]
    );
    let mechanic = holder(&server, Role::Mechanic);
    let annas = json!({"rider_id": anna});
    mechanic.with_match(Method::PATCH, &path, 3, Some(&annas)).await.check(403);
    // In use, neither is deleted; the audit tells ids and no names.
    let path = format!("/v1/riders/{anna}");
    assert_eq!(manager.with_match(Method::DELETE, &path, 1, None).await.expect(409).problem(), "conflict");
    let audit = server.get("/v1/audit").await.expect(200).body.to_string();
    assert!(audit.contains(&anna) && !audit.contains("Anna"), "{audit}");
}

/// And to the workshop; not to another app.
async fn refused_rides_are_told_to_their_sender(store: TestStore) {
    let server = TestServer::start(store).await;
    let (anna, ben) = (rider(&server, "Anna").await, rider(&server, "Ben").await);
    let (annas, bens) = (bound(&server, None, Some(&anna)).await, bound(&server, None, Some(&ben)).await);
    let manager = holder(&server, Role::Manager);
    let her = annas.post("/v1/bikes", &bike("Anna's")).await.expect(201).id();
    let hook = json!({"label": "refused", "url": "https://app.example/", "events": ["ride.rejected"]});
    let mut told = Vec::new();
    for holder in [&annas, &bens, &manager] {
        told.push(holder.post("/v1/hooks", &hook).await.expect(201).id());
    }
    let wrong = json!({"bike_id": her, "started_at": "2030-03-01T08:00:00Z", "distance_km": 10});
    let report = annas.post("/v1/rides", &json!({"rides": [wrong]})).await.expect(200).body;
    assert_eq!(report["failed"][0]["index"], 0);
    for (hook, expected) in told.iter().zip([1, 0, 1]) {
        let log = manager.get(&format!("/v1/hooks/{hook}/deliveries")).await.expect(200).body;
        assert_eq!(log["items"].as_array().map(Vec::len), Some(expected), "{log}");
    }
}

async fn only_apps_are_bound(store: TestStore) {
    let server = TestServer::start(store).await;
    let anna = rider(&server, "Anna").await;
    for role in ["manager", "mechanic"] {
        let wanted = json!({"role": role, "label": "bound", "rider_id": anna});
        assert_eq!(server.post("/v1/tokens", &wanted).await.expect(422).pointers(), ["/role"]);
    }
    let nobodys = json!({"role": "app", "label": "bound", "app_id": crate::document::NOBODYS});
    assert_eq!(server.post("/v1/tokens", &nobodys).await.expect(422).pointers(), ["/app_id"]);
    // A rider is deleted with the last token; the name is nowhere then.
    let manager = holder(&server, Role::Manager);
    let path = format!("/v1/riders/{anna}");
    manager.with_match(Method::DELETE, &path, 1, None).await.check(204);
    manager.get(&path).await.check(404);
    assert_eq!(manager.get("/v1/riders").await.expect(200).body["items"], json!([]));
}

async fn pages_are_of_the_whole_workshop(store: TestStore) {
    let server = TestServer::start(store).await;
    let anna = rider(&server, "Anna").await;
    let app = bound(&server, None, Some(&anna)).await;
    let form = [("token", app.token.as_str()), ("back", "/fleet")];
    let form = Url::parse_with_params("http://form.example/", form).expect("an address");
    let request = server.request(Method::POST, "/sign-in").body(form.query().unwrap_or_default().to_owned());
    let request = request.header("content-type", "application/x-www-form-urlencoded");
    let form = request.send().await.expect("an answer");
    assert_eq!(form.status().as_u16(), 422);
    assert!(form.headers().get("set-cookie").is_none());
    let page = form.text().await.expect("a page");
    assert!(page.contains("sees only"), "{page}");
}

/// A chain that was on two riders' bikes: each sees it, and the kilometres on the own bike.
async fn what_reads_a_part_reads_where_it_was_on_own_bikes(store: TestStore) {
    let server = TestServer::start(store).await;
    let (anna, ben) = (rider(&server, "Anna").await, rider(&server, "Ben").await);
    let (annas, bens) = (bound(&server, None, Some(&anna)).await, bound(&server, None, Some(&ben)).await);
    let her = annas.post("/v1/bikes", &bike("Anna's")).await.expect(201).id();
    let his = bens.post("/v1/bikes", &bike("Ben's")).await.expect(201).id();
    let on = annas.get(&format!("/v1/bikes/{her}/fittings")).await.expect(200).body;
    let chain =
        on["items"].as_array().expect("fittings").iter().find(|stay| stay["place"] == "chain").cloned();
    let chain = chain.expect("a chain");
    let (stay, part) = (chain["id"].as_str().expect("an id"), chain["part_id"].as_str().expect("an id"));
    bens.get(&format!("/v1/parts/{part}")).await.check(404);
    // Nor is it put on a bike of one's own.
    let theirs = json!({"part_id": part, "fitted_at": "2026-06-02T09:00:00Z"});
    assert_eq!(
        bens.post(&format!("/v1/bikes/{his}/fittings"), &theirs).await.expect(422).pointers(),
        ["/part_id"]
    );
    let off = json!({"removed_at": "2026-06-01T09:00:00Z"});
    annas.post(&format!("/v1/bikes/{her}/fittings/{stay}/removal"), &off).await.check(200);
    let his_chain = bens.get(&format!("/v1/bikes/{his}/fittings")).await.expect(200).body;
    let his_chain =
        his_chain["items"].as_array().expect("fittings").iter().find(|stay| stay["place"] == "chain");
    let his_chain = his_chain.expect("a chain")["id"].as_str().expect("an id");
    bens.post(&format!("/v1/bikes/{his}/fittings/{his_chain}/removal"), &off).await.check(200);
    server.post(&format!("/v1/bikes/{his}/fittings"), &theirs).await.check(201);
    for (who, own, other) in [(&annas, &her, &his), (&bens, &his, &her)] {
        let seen = who.get(&format!("/v1/parts/{part}")).await.expect(200).body.to_string();
        assert!(seen.contains(own.as_str()) && !seen.contains(other.as_str()), "{seen}");
    }
    let both = server.get(&format!("/v1/parts/{part}")).await.expect(200).body.to_string();
    assert!(both.contains(&her) && both.contains(&his));
    // The outlook rests on all that the chain went through, whoever asks.
    let path = format!("/v1/bikes/{his}/outlook");
    let by_rider = bens.get(&path).await.expect(200).body;
    assert_eq!(
        by_rider["elongation_percent"],
        server.get(&path).await.expect(200).body["elongation_percent"]
    );
}
