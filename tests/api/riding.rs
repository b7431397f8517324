//! What is known of riding and care beside rides and entries: odometers, declared use, and how far care is told.

use reqwest::Method;
use serde_json::{Value, json};
use wear_api::domain::Role;
use wear_tests::{Answer, TestServer, TestStore, on_both_stores};

on_both_stores!(
    an_odometer_counts_as_riding_does,
    rides_that_exceed_the_counter_stand_and_are_named,
    a_smaller_total_is_a_new_counter,
    an_odometer_comes_with_readings_swaps_and_care,
    wrong_odometers_are_named,
    tables_tell_of_odometers_and_care,
    declared_use_gives_dates_and_a_bikes_own_goes_first,
    care_is_told_as_bike_and_workshop_say,
    an_app_enters_care_and_odometers,
    a_bike_without_riding_is_told_in_its_groups_kilometres,
    one_wet_ride_does_not_colour_what_nobody_logged,
);

async fn outlook(server: &TestServer, bike: &str) -> Value {
    server.get(&format!("/v1/bikes/{bike}/outlook")).await.expect(200).body
}

fn read_at(month: u32) -> String {
    format!("2026-{month:02}-01T12:00:00Z")
}

fn median(outlook: &Value) -> f64 {
    outlook["remaining_km"]["p50"].as_f64().unwrap_or_else(|| panic!("no kilometres in {outlook}"))
}

fn codes(warnings: &Value) -> Vec<&str> {
    warnings.as_array().into_iter().flatten().filter_map(|warning| warning["code"].as_str()).collect()
}

async fn import(server: &TestServer, kind: &str, table: impl Into<reqwest::Body>) -> Answer {
    let request = server.request(Method::POST, &format!("/v1/imports/{kind}"));
    let request = request.bearer_auth(server.token_of(Role::Manager)).header("content-type", "text/csv");
    server.send(request.body(table)).await
}

async fn an_odometer_counts_as_riding_does(store: TestStore) {
    let server = TestServer::start(store).await;
    let (counted, idle) = (server.bike("041").await, server.bike("042").await);
    let before = median(&outlook(&server, &idle).await);
    let odometer = format!("/v1/bikes/{counted}/odometer");
    for (month, km) in [(2, 100.0), (6, 1_300.0), (10, 2_500.5)] {
        let shown = json!({"read_at": read_at(month), "km": km});
        let answer = server.post(&odometer, &shown).await.expect(201).body;
        assert_eq!(answer["statement"]["km"], km);
        assert_eq!(answer["warnings"], json!([]));
        let again = server.post(&odometer, &shown).await.expect(200).body;
        assert_eq!(again["statement"]["id"], answer["statement"]["id"]);
        assert_eq!(median(&again["outlook"]), median(&answer["outlook"]));
    }
    let with = outlook(&server, &counted).await;
    let counted_km = with["basis"]["unlogged_km"].as_f64().expect("a distance");
    // Since the last statement it goes on at its pace.
    assert!((2_400.4..3_500.0).contains(&counted_km), "{with}");
    assert!(median(&with) < before, "{} {before}", median(&with));
    assert!(with["swap_by"].is_string(), "{with}");

    // The part's kilometres are the counter's.
    let fittings = server.get(&format!("/v1/bikes/{counted}/fittings")).await.expect(200).body;
    let chain = fittings["items"].as_array().and_then(|all| all.iter().find(|it| it["place"] == "chain"));
    let part = chain.and_then(|chain| chain["part_id"].as_str()).expect("a chain");
    let life = server.get(&format!("/v1/parts/{part}")).await.expect(200).body;
    let km = life["life"]["distance_km"].as_f64().expect("a distance");
    assert!(km >= 2_400.4, "{life}");

    let listed = server.get(&odometer).await.expect(200).body;
    let ids: Vec<&str> =
        listed["items"].as_array().into_iter().flatten().filter_map(|item| item["id"].as_str()).collect();
    assert_eq!(ids.len(), 3);
    let mut after = Value::Null;
    for id in ids {
        let void = server.request(Method::DELETE, &format!("{odometer}/{id}?reason=another%20bike"));
        after = server.send(void.bearer_auth(server.token_of(Role::App))).await.expect(200).body;
        let twice = server.request(Method::DELETE, &format!("{odometer}/{id}?reason=again"));
        server.send(twice.bearer_auth(server.token_of(Role::App))).await.check(409);
    }
    assert_eq!(median(&after), before);
    let listed = server.get(&odometer).await.expect(200).body;
    assert_eq!(listed["items"][0]["voided_reason"], "another bike");
}

async fn rides_that_exceed_the_counter_stand_and_are_named(store: TestStore) {
    let server = TestServer::start(store).await;
    let bike = server.bike("041").await;
    let ride =
        json!({"started_at": "2026-03-15T08:00:00Z", "distance_km": 300, "source": "log", "source_id": "r"});
    server.post(&format!("/v1/bikes/{bike}/rides"), &ride).await.check(201);
    let alone = outlook(&server, &bike).await;
    let odometer = format!("/v1/bikes/{bike}/odometer");
    server.post(&odometer, &json!({"read_at": read_at(3), "km": 1_000})).await.check(201);
    let answer = server.post(&odometer, &json!({"read_at": read_at(4), "km": 1_200})).await.expect(201).body;
    assert_eq!(codes(&answer["warnings"]), ["rides_exceed_counter"]);
    let message = answer["warnings"][0]["message"].as_str().expect("a sentence");
    assert!(
        message.contains("2026-03-01") && message.contains("300 km") && message.contains("200 km"),
        "{message}"
    );
    assert!(codes(&answer["outlook"]["warnings"]).contains(&"rides_exceed_counter"));
    assert!(median(&answer["outlook"]) <= median(&alone) + 1e-6);
}

async fn a_smaller_total_is_a_new_counter(store: TestStore) {
    let server = TestServer::start(store).await;
    let bike = server.bike("041").await;
    let odometer = format!("/v1/bikes/{bike}/odometer");
    server.post(&odometer, &json!({"read_at": read_at(5), "km": 80})).await.check(201);
    // The order in which they are entered makes no difference.
    let answer = server.post(&odometer, &json!({"read_at": read_at(3), "km": 1_000})).await.expect(201).body;
    assert_eq!(codes(&answer["warnings"]), ["new_counter"]);
    let message = answer["warnings"][0]["message"].as_str().expect("a sentence");
    assert!(
        message.contains("1000 km on 2026-03-01") && message.contains("80 km on 2026-05-01"),
        "{message}"
    );
}

async fn an_odometer_comes_with_readings_swaps_and_care(store: TestStore) {
    let server = TestServer::start(store).await;
    let bike = server.bike("041").await;
    let of = |what: &str| format!("/v1/bikes/{bike}/{what}");
    let reading = json!({"taken_at": read_at(3), "instrument": "rule", "percent": 0.1, "odometer_km": 500});
    let reading = server.post(&of("readings"), &reading).await.expect(201).body;
    let care = json!({"done_at": read_at(4), "odometer_km": 700.25});
    let care = server.post(&of("care"), &care).await.expect(201).body;
    assert_eq!(care["warnings"], json!([]));
    let swap = json!({"swapped_at": read_at(5), "place": "chain", "odometer_km": 10});
    let swap = server.post(&of("swaps"), &swap).await.expect(201).body;
    assert!(codes(&swap["warnings"]).contains(&"new_counter"), "{swap}");
    let listed = server.get(&of("odometer")).await.expect(200).body;
    let told: Vec<(f64, &Value)> = listed["items"]
        .as_array()
        .into_iter()
        .flatten()
        .zip(["swap_id", "care_id", "reading_id"])
        .map(|(item, with)| (item["km"].as_f64().expect("km"), &item[with]))
        .collect();
    assert_eq!(told, [(10.0, &swap["id"]), (700.25, &care["id"]), (500.0, &reading["reading"]["id"])]);

    for (what, id) in [("readings", &reading["reading"]["id"]), ("swaps", &swap["id"])] {
        let address = format!("{}/{}?reason=wrong%20bike", of(what), id.as_str().expect("an id"));
        let void = server.request(Method::DELETE, &address).bearer_auth(server.token_of(Role::Mechanic));
        server.send(void).await.check(200);
    }
    let listed = server.get(&of("odometer")).await.expect(200).body;
    let voided: Vec<bool> = listed["items"]
        .as_array()
        .into_iter()
        .flatten()
        .map(|item| item["voided_reason"] == "wrong bike")
        .collect();
    assert_eq!(voided, [true, false, true]);
}

async fn wrong_odometers_are_named(store: TestStore) {
    let server = TestServer::start(store).await;
    let bike = server.bike("041").await;
    let of = |what: &str| format!("/v1/bikes/{bike}/{what}");
    for (what, body, pointer, allowed) in [
        ("odometer", json!({"km": -1}), "/km", "0 to 1000000 km"),
        ("odometer", json!({"km": 1_000_001}), "/km", "0 to 1000000 km"),
        ("odometer", json!({"km": 1, "read_at": "2026-12-25T12:00:00Z"}), "/read_at", "up to"),
        ("odometer", json!({"km": 1, "read_at": "soon"}), "/read_at", "RFC 3339"),
        ("care", json!({"odometer_km": 2e6}), "/odometer_km", "0 to 1000000 km"),
        ("swaps", json!({"place": "chain", "odometer_km": -5}), "/odometer_km", "0 to 1000000 km"),
        (
            "readings",
            json!({"instrument": "rule", "percent": 0.1, "odometer_km": 2e6}),
            "/odometer_km",
            "0 to 1000000 km",
        ),
        ("declared-use", json!({"km_per_week": 5_001}), "/km_per_week", "0 to 5000 km"),
        (
            "declared-use",
            json!({"km_per_week": 50, "from": "2026-03-02", "until": "2026-03-01"}),
            "/until",
            "a last day not before the first",
        ),
    ] {
        let answer = server.post(&of(what), &body).await.expect(422);
        assert_eq!(answer.pointers(), [pointer], "{body}");
        let told = answer.body["errors"][0]["allowed"].as_str().expect("what is allowed");
        assert!(told.contains(allowed), "{told}");
    }
    assert_eq!(server.get(&of("odometer")).await.expect(200).body["items"], json!([]));
}

async fn tables_tell_of_odometers_and_care(store: TestStore) {
    let server = TestServer::start(store).await;
    let bikes = "label,group,use,rings,cogs,links,care,fitted_on\n\
        041,town-8s,town,42,11 13 15 17 20 23 26 30,114,every 300 km,2026-01-01\n";
    import(&server, "bikes", bikes).await.check(200);
    let bike = server.get("/v1/bikes").await.expect(200).body["items"][0].clone();
    assert_eq!(bike["care"], json!({"state": "routine", "every_km": 300}));
    let bike = bike["id"].as_str().expect("an id");
    let table = "bike,read_at,km\n041,2026-03-01T12:00:00Z,1000\n041,2026-04-01T12:00:00Z,1200.5\n";
    let told = import(&server, "odometer", table).await.expect(200).body;
    assert_eq!((&told["accepted"], &told["notices"]), (&json!(2), &json!([])));
    let told = import(&server, "odometer", table).await.expect(200).body;
    assert_eq!((&told["accepted"], &told["unchanged"]), (&json!(0), &json!(2)));

    let readings = "bike,taken_at,instrument,percent,odometer_km\n041,2026-05-01T12:00:00Z,rule,0.1,40\n";
    let told = import(&server, "readings", readings).await.expect(200).body;
    assert_eq!((&told["notices"][0]["bike"], codes(&told["notices"])), (&json!("041"), vec!["new_counter"]));
    let care = "bike,done_at,kind,odometer_km\n041,2026-06-01T12:00:00Z,cleaned,60\n";
    import(&server, "care", care).await.check(200);
    let swaps = "bike,swapped_at,place,odometer_km\n041,2026-07-01T12:00:00Z,chain,80\n";
    import(&server, "swaps", swaps).await.check(200);
    let listed = server.get(&format!("/v1/bikes/{bike}/odometer")).await.expect(200).body;
    let km: Vec<f64> =
        listed["items"].as_array().into_iter().flatten().filter_map(|item| item["km"].as_f64()).collect();
    assert_eq!(km, [80.0, 60.0, 40.0, 1200.5, 1000.0]);
    for (kind, table, column) in [
        ("odometer", "bike,read_at,km\n041,2026-04-01T12:00:00Z,1000001\n", "km"),
        ("care", "bike,done_at,kind,odometer_km\n041,2026-06-01T12:00:00Z,cleaned,-1\n", "odometer_km"),
        ("bikes", "label,group,use,rings,cogs,links,care\n041,town-8s,town,42,17,98,often\n", "care"),
    ] {
        let refused = import(&server, kind, table).await.expect(422).body;
        assert!(refused["errors"].to_string().contains(column), "{refused}");
    }

    // What is exported and imported again says nothing new.
    for kind in ["bikes", "odometer"] {
        let export = server.request(Method::GET, &format!("/v1/exports/{kind}"));
        let export = export.bearer_auth(server.token_of(Role::Manager)).send().await.expect("an answer");
        let export = export.text().await.expect("a table");
        let told = import(&server, kind, export).await.expect(200).body;
        assert_eq!((&told["accepted"], &told["replaced"]), (&json!(0), &json!(0)), "{told}");
    }
}

async fn declared_use_gives_dates_and_a_bikes_own_goes_first(store: TestStore) {
    let server = TestServer::start(store).await;
    let (bike, own) = (server.bike("041").await, server.bike("042").await);
    let never = outlook(&server, &bike).await;
    let group = json!({"group": "town-8s", "km_per_week": 70});
    let declared = server.post("/v1/declared-use", &group).await.expect(201).body;
    assert_eq!(declared["group"], "town-8s");
    let again = server.post("/v1/declared-use", &group).await.expect(200).body;
    assert_eq!(again["id"], declared["id"]);
    let half = server.post(&format!("/v1/bikes/{own}/declared-use"), &json!({"km_per_week": 35})).await;
    let half = half.expect(201).body;
    let (of_group, of_own) = (outlook(&server, &bike).await, outlook(&server, &own).await);
    assert!(median(&of_group) < median(&never), "{} {}", median(&of_group), median(&never));
    assert!(median(&of_own) > median(&of_group));
    assert_eq!(server.get("/v1/declared-use?group=cargo").await.expect(200).body["items"], json!([]));
    assert_eq!(
        server.get("/v1/declared-use?group=town-8s").await.expect(200).body["items"],
        json!([declared])
    );
    let list = server.get(&format!("/v1/bikes/{own}/declared-use")).await.expect(200).body;
    assert_eq!(list["items"], json!([half]));

    let remove = |address: String| {
        server.request(Method::DELETE, &address).bearer_auth(server.token_of(Role::Mechanic))
    };
    let (half, declared) = (half["id"].as_str().expect("an id"), declared["id"].as_str().expect("an id"));
    server.send(remove(format!("/v1/bikes/{bike}/declared-use/{half}"))).await.check(404);
    server.send(remove(format!("/v1/declared-use/{half}"))).await.check(404);
    server.send(remove(format!("/v1/bikes/{own}/declared-use/{half}"))).await.check(204);
    let back = outlook(&server, &own).await;
    assert!((median(&back) - median(&of_group)).abs() < 1e-6);
    server.send(remove(format!("/v1/declared-use/{declared}"))).await.check(204);
    assert!((median(&outlook(&server, &bike).await) - median(&never)).abs() < 1e-6);
}

async fn care_is_told_as_bike_and_workshop_say(store: TestStore) {
    let server = TestServer::start(store).await;
    let bike = server.bike("041").await;
    for day in 1..=20 {
        let ride = json!({"started_at": format!("2026-10-{day:02}T08:00:00Z"), "distance_km": 100,
            "source": "log", "source_id": format!("r{day}")});
        server.post(&format!("/v1/bikes/{bike}/rides"), &ride).await.check(201);
    }
    let address = format!("/v1/bikes/{bike}");
    let shown = server.get(&address).await.expect(200).body;
    assert_eq!(shown["care"], Value::Null);
    let unsaid = median(&outlook(&server, &bike).await);
    let mut revision = 1;
    let mut change = async |path: &str, body: Value, status: u16| {
        let request = server.request(Method::PATCH, path).bearer_auth(server.token_of(Role::Manager));
        let etag = if path == address { format!("\"{revision}\"") } else { "\"1\"".to_owned() };
        let answer = server.send(request.header("if-match", etag).json(&body)).await.expect(status);
        if path == address && status == 200 {
            revision += 1;
        }
        answer
    };
    let mut medians = Vec::new();
    for care in [
        json!({"state": "unrecorded"}),
        json!({"state": "routine", "every_km": 200}),
        json!({"state": "routine", "every_weeks": 1}),
        json!({"state": "recorded"}),
    ] {
        let changed = change(&address, json!({"care": care}), 200).await.body;
        assert_eq!(changed["care"], care);
        medians.push(median(&outlook(&server, &bike).await));
    }
    let [unrecorded, every_km, every_week, recorded] = medians[..] else { unreachable!() };
    assert!((unrecorded - unsaid).abs() < 1e-6, "{unrecorded} {unsaid}");
    assert!(
        recorded < 0.8 * unrecorded && every_km > 1.2 * recorded && every_week > 1.2 * recorded,
        "{medians:?}"
    );

    for (care, pointer) in [
        (json!({"state": "sometimes"}), "/care/state"),
        (json!({"state": "routine"}), "/care/every_km"),
        (json!({"state": "routine", "every_km": 5}), "/care/every_km"),
        (json!({"state": "routine", "every_weeks": 105}), "/care/every_weeks"),
        (json!({"state": "recorded", "every_weeks": 2}), "/care/every_weeks"),
    ] {
        let refused = change(&address, json!({"care": care}), 422).await;
        assert_eq!(refused.pointers(), [pointer], "{care}");
    }

    // The bike says nothing any more, so the workshop's holds; what else was set stays.
    let kept = change(&address, json!({"label": "041b"}), 200).await.body;
    assert_eq!(kept["care"], json!({"state": "recorded"}));
    let left = change(&address, json!({"care": null}), 200).await.body;
    assert_eq!(left["care"], Value::Null);
    assert!((median(&outlook(&server, &bike).await) - unsaid).abs() < 1e-6);
    let workshop = change("/v1/workshop", json!({"care": {"state": "recorded"}}), 200).await.body;
    assert_eq!(workshop["care"], json!({"state": "recorded"}));
    assert!((median(&outlook(&server, &bike).await) - recorded).abs() < 1e-6);
}

async fn an_app_enters_care_and_odometers(store: TestStore) {
    let server = TestServer::start(store).await;
    let bike = server.bike("041").await;
    let app = |method, path: String| server.request(method, &path).bearer_auth(server.token_of(Role::App));
    let care = app(Method::POST, format!("/v1/bikes/{bike}/care")).json(&json!({"done_at": read_at(10)}));
    server.send(care).await.check(201);
    let shown = app(Method::POST, format!("/v1/bikes/{bike}/odometer")).json(&json!({"km": 12}));
    server.send(shown).await.check(201);
    let declared =
        app(Method::POST, format!("/v1/bikes/{bike}/declared-use")).json(&json!({"km_per_week": 12}));
    server.send(declared).await.check(403);
}

async fn a_bike_without_riding_is_told_in_its_groups_kilometres(store: TestStore) {
    let server = TestServer::start(store).await;
    let (idle, ridden) = (server.bike("041").await, server.bike("042").await);
    let mut stranger = wear_tests::bike("043");
    stranger["group"] = json!("another");
    let stranger = server.post("/v1/bikes", &stranger).await.expect(201).id();
    let ratio = |outlook: &Value| {
        let basis = &outlook["basis"];
        (
            basis["kilometres_from"].as_str().expect("a word").to_owned(),
            basis["km_per_reference_km"].as_f64().expect("a number"),
        )
    };
    let ride = async |id: &str, km: f64, surface: &str| {
        let ride = json!({"started_at": format!("2026-10-{id}T08:00:00Z"), "distance_km": km,
            "surface": surface, "source": "log", "source_id": id});
        server.post(&format!("/v1/bikes/{ridden}/rides"), &ride).await.check(201);
    };
    let learn = async || {
        server.post("/v1/calibration", &json!({})).await.check(202);
        server.settle().await;
    };
    let (_, of_use) = ratio(&outlook(&server, &idle).await);

    // Too little is no habit of the group.
    ride("01", 200.0, "gravel").await;
    learn().await;
    assert_eq!(ratio(&outlook(&server, &idle).await), ("use".to_owned(), of_use));

    ride("02", 200.0, "gravel").await;
    learn().await;
    // Gravel wears 1.8 times as fast, so the group comes so much less far.
    let (from, of_group) = ratio(&outlook(&server, &idle).await);
    assert_eq!(from, "group");
    assert!((of_use / of_group - 1.8).abs() < 1e-6, "{of_use} {of_group}");
    let outlook_of_idle = outlook(&server, &idle).await;
    let reference = outlook_of_idle["remaining_reference_km"]["p50"].as_f64().expect("a number");
    assert!((median(&outlook_of_idle) - of_group * reference).abs() < 1e-6);
    // What has rides of its own goes by them, and another group has its own kilometres.
    assert_eq!(ratio(&outlook(&server, &ridden).await).0, "bike");
    assert_eq!(ratio(&outlook(&server, &stranger).await), ("use".to_owned(), of_use));
}

async fn one_wet_ride_does_not_colour_what_nobody_logged(store: TestStore) {
    let server = TestServer::start(store).await;
    let mut exposures = Vec::new();
    for (label, wet) in [("041", false), ("042", true)] {
        let bike = server.bike(label).await;
        let ride = json!({"started_at": "2026-06-02T08:00:00Z", "distance_km": 20, "wet": wet,
            "source": "log", "source_id": label});
        server.post(&format!("/v1/bikes/{bike}/rides"), &ride).await.check(201);
        for (month, km) in [(6, 0.0), (10, 1_020.0)] {
            let shown = json!({"read_at": read_at(month), "km": km});
            server.post(&format!("/v1/bikes/{bike}/odometer"), &shown).await.check(201);
        }
        let basis = outlook(&server, &bike).await["basis"].clone();
        exposures.push(basis["reference_km"].as_f64().expect("a number"));
    }
    // All of 1,020 km wet would be more than twice the exposure; 20 in 320 are a sixteenth, and the ride itself.
    let ratio = exposures[1] / exposures[0];
    assert!((1.08..1.15).contains(&ratio), "{ratio}");
}
