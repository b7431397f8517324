//! A workshop's tools and people: kept by name, learned by the night, allowed for in the morning.

use chrono::TimeDelta;
use rand::SeedableRng as _;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution as _, LogNormal, Normal};
use reqwest::{Method, RequestBuilder};
use serde_json::{Value, json};
use wear_api::domain::Role;
use wear_core::degradation::WearParameters;
use wear_tests::{Answer, TestServer, TestStore, on_both_stores};

use crate::visitor::Visitor;

on_both_stores!(
    a_tool_has_a_name_of_its_own_while_it_is_in_use,
    a_reading_names_its_tool_and_its_person,
    a_tool_that_cannot_have_been_used_is_refused,
    tables_name_tools_and_people,
    a_rule_that_reads_low_is_found_out
);

fn as_manager(server: &TestServer, method: Method, path: &str) -> RequestBuilder {
    server.request(method, path).bearer_auth(server.token_of(Role::Manager))
}

async fn import(server: &TestServer, table: String) -> Answer {
    let request = as_manager(server, Method::POST, "/v1/imports/readings").header("content-type", "text/csv");
    server.send(request.body(table)).await
}

async fn tool(server: &TestServer, name: &str, instrument: &str) -> String {
    server.post("/v1/tools", &json!({"name": name, "instrument": instrument})).await.expect(201).id()
}

async fn a_tool_has_a_name_of_its_own_while_it_is_in_use(store: TestStore) {
    let server = TestServer::start(store).await;
    let rule = tool(&server, "bench rule", "rule").await;
    let twin = json!({"name": "Bench Rule", "instrument": "dial"});
    server.post("/v1/tools", &twin).await.check(409);
    server.post("/v1/tools", &json!({"name": "x", "instrument": "thumb"})).await.check(422);
    let patch = |revision: &str, change: Value| {
        let request = as_manager(&server, Method::PATCH, &format!("/v1/tools/{rule}"));
        server.send(request.header("If-Match", format!("\"{revision}\"")).json(&change))
    };
    let retired = patch("1", json!({"retired_at": "2026-11-20T08:00:00Z"})).await.expect(200).body;
    assert_eq!((&retired["revision"], &retired["name"]), (&json!(2), &json!("bench rule")));
    patch("1", json!({"name": "old rule"})).await.check(412);
    // Its name is free now; it can't come back under it.
    server.post("/v1/tools", &twin).await.check(201);
    patch("2", json!({"retired_at": null})).await.check(409);
    patch("2", json!({"retired_at": null, "name": "old rule"})).await.check(200);
    let names: Vec<Value> = server.get("/v1/tools").await.expect(200).body["items"]
        .as_array()
        .expect("tools")
        .iter()
        .map(|tool| tool["name"].clone())
        .collect();
    assert_eq!(names, ["old rule", "Bench Rule"]);
}

async fn a_reading_names_its_tool_and_its_person(store: TestStore) {
    let server = TestServer::start(store).await;
    let bike = server.bike("041").await;
    let rule = tool(&server, "bench rule", "rule").await;
    let path = format!("/v1/bikes/{bike}/readings");
    let named = json!({"taken_at": "2026-03-01T17:00:00Z", "instrument": "rule", "percent": 0.1, "tool_id": rule,
        "read_by": "Anna"});
    let reading = server.post(&path, &named).await.expect(201).body["reading"].clone();
    assert_eq!((&reading["tool_id"], &reading["read_by"]), (&json!(rule), &json!("Anna")));
    // Without a name it is whoever the token is of.
    let plain = json!({"taken_at": "2026-03-02T17:00:00Z", "instrument": "rule", "percent": 0.1});
    let reading = server.post(&path, &plain).await.expect(201).body["reading"].clone();
    assert_eq!(reading["tool_id"], Value::Null);
    let tokens = server.get("/v1/tokens").await.expect(200).body["items"].clone();
    let labels: Vec<&Value> = tokens.as_array().expect("tokens").iter().map(|it| &it["label"]).collect();
    assert!(labels.contains(&&reading["read_by"]), "{reading} {labels:?}");
    let swap = json!({"swapped_at": "2026-04-01T16:00:00Z", "place": "chain",
        "reading": {"instrument": "rule", "percent": 0.74, "tool_id": rule, "read_by": "Ben"}});
    server.post(&format!("/v1/bikes/{bike}/swaps"), &swap).await.check(201);
    let listed = server.get(&path).await.expect(200).body["items"].clone();
    assert_eq!((&listed[0]["tool_id"], &listed[0]["read_by"]), (&json!(rule), &json!("Ben")));
    let app = server.token_of(Role::App).to_owned();
    let asked = server.request(Method::GET, "/v1/tools").bearer_auth(app);
    server.send(asked).await.check(403);
}

async fn a_tool_that_cannot_have_been_used_is_refused(store: TestStore) {
    let mut server = TestServer::start(store).await;
    let bike = server.bike("041").await;
    let path = format!("/v1/bikes/{bike}/readings");
    let (rule, dial) = (tool(&server, "bench rule", "rule").await, tool(&server, "dial", "dial").await);
    let with =
        |tool: &str, at: &str| json!({"taken_at": at, "instrument": "rule", "percent": 0.1, "tool_id": tool});
    let unknown = "019abf3e-6a34-7d6e-9a51-0d3c5e1f2a10";
    for tool in [unknown, &dial] {
        let refused = server.post(&path, &with(tool, "2026-03-01T17:00:00Z")).await.expect(422);
        assert_eq!(refused.pointers(), ["/tool_id"]);
    }
    let retire = as_manager(&server, Method::PATCH, &format!("/v1/tools/{rule}")).header("If-Match", "\"1\"");
    server.send(retire.json(&json!({"retired_at": "2026-03-01T12:00:00Z"}))).await.check(200);
    let refused = server.post(&path, &with(&rule, "2026-03-01T17:00:00Z")).await.expect(422);
    assert_eq!(refused.pointers(), ["/tool_id"]);
    // What was read with it before counts.
    server.post(&path, &with(&rule, "2026-03-01T09:00:00Z")).await.check(201);
    let swap = json!({"swapped_at": "2026-04-01T16:00:00Z", "place": "chain",
        "reading": {"instrument": "rule", "percent": 0.74, "tool_id": dial}});
    let refused = server.post(&format!("/v1/bikes/{bike}/swaps"), &swap).await.expect(422);
    assert_eq!(refused.pointers(), ["/reading/tool_id"]);
    server.move_to("Depot").await;
    server.get(&format!("/v1/tools/{dial}")).await.check(404);
}

async fn tables_name_tools_and_people(store: TestStore) {
    let server = TestServer::start(store).await;
    let _bike = server.bike("041").await;
    let _rule = tool(&server, "bench rule", "rule").await;
    let line = |tool: &str| {
        format!(
            "bike,taken_at,instrument,percent,tool,read_by\n041,2026-03-01T17:00:00Z,rule,0.10,{tool},Anna\n"
        )
    };
    let refused = import(&server, line("lost rule")).await.expect(422);
    assert!(refused.body.to_string().contains("tool"), "{}", refused.body);
    import(&server, line("Bench Rule")).await.check(200);
    let asked = as_manager(&server, Method::GET, "/v1/exports/readings").send().await.expect("an answer");
    let table = asked.text().await.expect("a table");
    assert!(table.contains(r#","bench rule","Anna""#), "{table}");
}

/// Forty chains of which each is read with a rule that reads 0.08 % low, and in between with a dial that is right.
async fn a_rule_that_reads_low_is_found_out(store: TestStore) {
    const BIKES: usize = 40;
    const LOW: f64 = 0.08;
    let server = TestServer::start(store).await;
    let (rule, dial) = (tool(&server, "bench rule", "rule").await, tool(&server, "dial", "dial").await);
    let mut random = ChaCha8Rng::seed_from_u64(19);
    let rate = LogNormal::new((0.75_f64 / 4_000.0).ln(), 0.3).expect("rates");
    let noise = Normal::new(0.0, 0.02).expect("noise");
    // As the library starts chains and runs them in.
    let model = WearParameters::default();
    let started = |km: f64| {
        model.initial_mean() + model.running_in() * (1.0 - (-km / model.running_in_distance()).exp())
    };
    let mut bikes = Vec::new();
    for number in 0..BIKES {
        let mut bike = wear_tests::bike(&format!("{number:03}"));
        bike["fitted_on"] = json!("2026-11-25");
        bikes.push((server.post("/v1/bikes", &bike).await.expect(201).id(), rate.sample(&mut random)));
    }
    for round in 0..4_u32 {
        server.clock.advance(TimeDelta::days(30));
        let now = server.clock.now();
        for (bike, rate) in &bikes {
            // The first time they are as good as new.
            let km = if round == 0 { 5.0 } else { 700.0 };
            let ridden = 5.0 + 700.0 * f64::from(round);
            let worn = started(ridden) + rate * ridden;
            let (instrument, tool, bias) =
                if round % 2 == 0 { ("rule", &rule, -LOW) } else { ("dial", &dial, 0.0) };
            let percent = ((worn + bias + noise.sample(&mut random)) * 100.0).round() / 100.0;
            let mut rides = Vec::new();
            for part in 0..5 {
                rides.push(
                    json!({"bike_id": bike, "started_at": now.plus(TimeDelta::days(-10 + part)).to_string(),
                    "distance_km": km / 5.0, "surface": "paved", "wet": false, "source": "log",
                    "source_id": format!("{round}-{bike}-{part}")}),
                );
            }
            server.post("/v1/rides", &json!({"rides": rides})).await.check(200);
            let reading = json!({"taken_at": now.to_string(), "instrument": instrument, "percent": percent,
                "tool_id": tool, "read_by": "Anna"});
            server.post(&format!("/v1/bikes/{bike}/readings"), &reading).await.check(201);
        }
    }
    // One more reading with the rule, so that outlooks rest on it.
    let now = server.clock.now();
    let mut read = 0.0;
    for (bike, rate) in &bikes {
        let worn = started(2_105.0) + rate * 2_105.0 - LOW + noise.sample(&mut random);
        read += worn / BIKES as f64;
        let reading = json!({"taken_at": now.to_string(), "instrument": "rule", "tool_id": rule, "read_by": "Anna",
            "percent": (worn * 100.0).round() / 100.0});
        server.post(&format!("/v1/bikes/{bike}/readings"), &reading).await.check(201);
    }
    server.settle().await;
    server.post("/v1/calibration", &Value::Null).await.check(202);
    server.settle().await;
    let learned = server.get("/v1/calibration").await.expect(200).body;
    let found = |id: &str| {
        let tools = learned["tools"].as_array().expect("tools");
        tools.iter().find(|it| it["tool_id"] == json!(id)).expect("the tool").clone()
    };
    let (of_rule, of_dial) = (found(&rule), found(&dial));
    let bias = of_rule["bias_percent"].as_f64().expect("a bias");
    assert!((bias + LOW).abs() < 0.03, "{of_rule}");
    assert!(of_dial["bias_percent"].as_f64().expect("a bias").abs() < 0.03, "{of_dial}");
    assert_eq!(of_rule["readings"], json!(3 * BIKES));
    let said = of_rule["said"].as_str().expect("a sentence");
    assert!(said.starts_with("bench rule reads 0.") && said.contains(" % low, give or take 0.0"), "{said}");
    assert_eq!(learned["people"][0]["name"], json!("Anna"));
    // The page says the same, in the reader's language.
    for (language, says) in [
        ("en", ["reads 0.0", " % low, give or take 0.0", "120", "Learned from 40 measured chains"]),
        ("de", ["misst 0,0", " % zu niedrig, ±\u{a0}0,0", "120", "Aus 40 gemessenen Ketten gelernt"]),
    ] {
        let page = Visitor::of(&server, Role::Mechanic, language).await.get("/calibration").await.1;
        let row = page.split("<bdi>bench rule</bdi>").nth(1).and_then(|rest| rest.split("</tr>").next());
        let row = row.unwrap_or_default();
        assert!(says[..3].iter().all(|says| row.contains(says)) && page.contains(says[3]), "{page}");
    }
    // The same night's outlooks allow for it: chains are as worn as they are.
    let after = middle(&server, &bikes).await;
    let truth = bikes.iter().map(|(_, rate)| started(2_105.0) + rate * 2_105.0).sum::<f64>() / BIKES as f64;
    assert!((after - truth).abs() < 0.03 && after - read > 0.05, "{read} {after} {truth}");
    let outlook = server.get(&format!("/v1/bikes/{}/outlook", bikes[0].0)).await.expect(200).body;
    let errors = outlook["basis"]["reading_errors"].as_array().expect("errors").clone();
    let of_rule = errors.iter().find(|it| it["tool_id"] == json!(rule)).expect("the rule's");
    assert_eq!((&of_rule["tool"], &of_rule["read_by"]), (&json!("bench rule"), &json!("Anna")));
    assert!((of_rule["bias_percent"].as_f64().expect("a bias") + LOW).abs() < 0.03, "{of_rule}");
}

/// The mean of what the chains are said to be worn, percent.
async fn middle(server: &TestServer, bikes: &[(String, f64)]) -> f64 {
    let mut sum = 0.0;
    for (bike, _) in bikes {
        let outlook = server.get(&format!("/v1/bikes/{bike}/outlook")).await.expect(200).body;
        sum += outlook["elongation_percent"]["p50"].as_f64().expect("a percent");
    }
    sum / bikes.len() as f64
}
