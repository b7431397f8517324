//! A workshop's lubricants: kept by name, named by care, learned by the night, held against their price.

use reqwest::{Method, RequestBuilder};
use serde_json::{Value, json};
use wear_api::domain::Role;
use wear_tests::{Answer, TestServer, TestStore, on_both_stores};

use crate::visitor::Visitor;

on_both_stores!(
    a_lubricant_has_a_name_of_its_own_while_it_is_in_use,
    care_names_its_lubricant,
    a_lubricant_that_cannot_have_been_put_on_is_refused,
    tables_name_lubricants,
    the_page_of_care_offers_lubricants_where_there_are_any,
    a_lubricant_that_is_worth_a_seventh_is_found_out_told_used_and_held_against_its_price
);

const UNKNOWN: &str = "019abf3e-6a34-7d6e-9a51-0d3c5e1f2a10";

fn as_manager(server: &TestServer, method: Method, path: &str) -> RequestBuilder {
    server.request(method, path).bearer_auth(server.token_of(Role::Manager))
}

async fn lubricant(server: &TestServer, name: &str, price_minor: i64, minutes: i64) -> String {
    let facts = json!({"name": name, "price_minor": price_minor, "currency": "EUR", "minutes": minutes});
    server.post("/v1/lubricants", &facts).await.expect(201).id()
}

async fn retire(server: &TestServer, id: &str, at: &str) {
    let request =
        as_manager(server, Method::PATCH, &format!("/v1/lubricants/{id}")).header("If-Match", "\"1\"");
    server.send(request.json(&json!({"retired_at": at}))).await.check(200);
}

async fn import(server: &TestServer, table: String) -> Answer {
    let request = as_manager(server, Method::POST, "/v1/imports/care").header("content-type", "text/csv");
    server.send(request.body(table)).await
}

async fn a_lubricant_has_a_name_of_its_own_while_it_is_in_use(store: TestStore) {
    let server = TestServer::start(store).await;
    let wax = lubricant(&server, "wax", 85, 6).await;
    server.post("/v1/lubricants", &json!({"name": "Wax"})).await.check(409);
    let half = server.post("/v1/lubricants", &json!({"name": "oil", "price_minor": 25})).await.expect(422);
    assert_eq!(half.pointers(), ["/currency"]);
    let long = json!({"name": "oil", "minutes": -1});
    assert_eq!(server.post("/v1/lubricants", &long).await.expect(422).pointers(), ["/minutes"]);
    let patch = |revision: &str, change: Value| {
        let request = as_manager(&server, Method::PATCH, &format!("/v1/lubricants/{wax}"));
        server.send(request.header("If-Match", format!("\"{revision}\"")).json(&change))
    };
    let dearer = patch("1", json!({"price_minor": 95, "minutes": null})).await.expect(200).body;
    assert_eq!(
        (&dearer["price_minor"], &dearer["currency"], &dearer["minutes"], &dearer["revision"]),
        (&json!(95), &json!("EUR"), &Value::Null, &json!(2))
    );
    patch("1", json!({"name": "hot wax"})).await.check(412);
    let free = patch("2", json!({"price_minor": null})).await.expect(200).body;
    assert_eq!((&free["price_minor"], &free["currency"]), (&Value::Null, &Value::Null));
    patch("3", json!({"retired_at": "2026-11-20T08:00:00Z"})).await.check(200);
    // Its name is free now; it can't come back under it.
    server.post("/v1/lubricants", &json!({"name": "Wax"})).await.check(201);
    patch("4", json!({"retired_at": null})).await.check(409);
    patch("4", json!({"retired_at": null, "name": "old wax"})).await.check(200);
    let listed = server.get("/v1/lubricants").await.expect(200).body["items"].clone();
    let names: Vec<&Value> = listed.as_array().expect("lubricants").iter().map(|it| &it["name"]).collect();
    assert_eq!(names, ["old wax", "Wax"]);
    let app = server.request(Method::GET, "/v1/lubricants").bearer_auth(server.token_of(Role::App));
    server.send(app).await.check(403);
    let audit = server.get("/v1/audit").await.expect(200).body.to_string();
    assert!(audit.contains("lubricant.create") && audit.contains("lubricant.change"), "{audit}");
}

async fn care_names_its_lubricant(store: TestStore) {
    let server = TestServer::start(store).await;
    let bike = server.bike("041").await;
    let (oil, wax) = (lubricant(&server, "oil", 25, 5).await, lubricant(&server, "wax", 85, 6).await);
    let path = format!("/v1/bikes/{bike}/care");
    let plain = json!({"done_at": "2026-03-01T17:00:00Z"});
    assert_eq!(server.post(&path, &plain).await.expect(201).body["lubricant_id"], Value::Null);
    // The same care again, and now it is known with what.
    let named = json!({"done_at": "2026-03-01T17:00:00Z", "lubricant_id": oil});
    assert_eq!(server.post(&path, &named).await.expect(200).body["lubricant_id"], json!(oil));
    assert_eq!(server.post(&path, &plain).await.expect(200).body["lubricant_id"], json!(oil));
    let waxed = json!({"done_at": "2026-04-01T17:00:00Z", "kind": "lubricated", "lubricant_id": wax});
    let app = server.request(Method::POST, &path).bearer_auth(server.token_of(Role::App)).json(&waxed);
    server.send(app).await.check(201);
    let listed = server.get(&path).await.expect(200).body["items"].clone();
    assert_eq!((&listed[0]["lubricant_id"], &listed[1]["lubricant_id"]), (&json!(wax), &json!(oil)));
}

async fn a_lubricant_that_cannot_have_been_put_on_is_refused(store: TestStore) {
    let mut server = TestServer::start(store).await;
    let bike = server.bike("041").await;
    let oil = lubricant(&server, "oil", 25, 5).await;
    let path = format!("/v1/bikes/{bike}/care");
    let care = |kind: &str, at: &str, id: &str| json!({"kind": kind, "done_at": at, "lubricant_id": id});
    let unknown = care("lubricated", "2026-03-01T17:00:00Z", UNKNOWN);
    let refused = server.post(&path, &unknown).await.expect(422);
    assert_eq!(refused.pointers(), ["/lubricant_id"]);
    assert_eq!(refused.body["errors"][0]["allowed"], json!("id of a lubricant of this workshop"));
    let cleaned = server.post(&path, &care("cleaned", "2026-03-01T17:00:00Z", &oil)).await.expect(422);
    assert_eq!(cleaned.pointers(), ["/lubricant_id"]);
    retire(&server, &oil, "2026-03-01T12:00:00Z").await;
    let late = server.post(&path, &care("lubricated", "2026-03-01T17:00:00Z", &oil)).await.expect(422);
    assert_eq!(late.pointers(), ["/lubricant_id"]);
    // What it was put on before counts.
    server.post(&path, &care("lubricated", "2026-03-01T09:00:00Z", &oil)).await.check(201);
    server.move_to("Depot").await;
    server.get(&format!("/v1/lubricants/{oil}")).await.check(404);
    let elsewhere = format!("/v1/bikes/{}/care", server.bike("041").await);
    let theirs = server.post(&elsewhere, &care("lubricated", "2026-03-01T09:00:00Z", &oil)).await.expect(422);
    assert_eq!(theirs.pointers(), ["/lubricant_id"]);
}

async fn tables_name_lubricants(store: TestStore) {
    let server = TestServer::start(store).await;
    let _bike = server.bike("041").await;
    let _oil = lubricant(&server, "chain oil", 25, 5).await;
    let line = |kind: &str, oil: &str| {
        format!("bike,kind,done_at,lubricant\n041,{kind},2026-03-01T17:00:00Z,{oil}\n")
    };
    let refused = import(&server, line("lubricated", "lost oil")).await.expect(422);
    let said = refused.body.to_string();
    assert!(
        said.contains("lubricant") && said.contains("the name of a lubricant of this workshop"),
        "{said}"
    );
    import(&server, line("cleaned", "chain oil")).await.check(422);
    let done = import(&server, line("lubricated", "")).await.expect(200).body;
    assert_eq!(done["accepted"], json!(1));
    let named = import(&server, line("lubricated", "Chain Oil")).await.expect(200).body;
    assert_eq!((&named["replaced"], &named["unchanged"]), (&json!(1), &json!(0)), "{named}");
    let again = import(&server, line("lubricated", "Chain Oil")).await.expect(200).body;
    assert_eq!((&again["replaced"], &again["unchanged"]), (&json!(0), &json!(1)), "{again}");
    let asked = as_manager(&server, Method::GET, "/v1/exports/care").send().await.expect("an answer");
    let table = asked.text().await.expect("a table");
    assert!(table.contains(r#","odometer_km","lubricant""#), "{table}");
    assert!(table.contains(r#","chain oil""#), "{table}");
}

async fn the_page_of_care_offers_lubricants_where_there_are_any(store: TestStore) {
    let server = TestServer::start(store).await;
    let bike = server.bike("041").await;
    let german = Visitor::of(&server, Role::Mechanic, "de").await;
    let (_, page) = german.get(&format!("/bikes/{bike}/care")).await;
    assert!(!page.contains(r#"name="lubricant""#), "{page}");
    let (oil, wax) = (lubricant(&server, "Öl", 25, 5).await, lubricant(&server, "Wachs", 85, 6).await);
    retire(&server, &oil, "2026-03-01T12:00:00Z").await;
    let (_, page) = german.get(&format!("/bikes/{bike}/care")).await;
    assert!(page.contains("Schmierstoff") && page.contains("Wachs") && !page.contains("Öl"), "{page}");
    let fields = [("kind", "lubricated"), ("lubricant", &wax), ("note", "")];
    let answer = german.send(&format!("/bikes/{bike}/care"), &fields).await;
    assert_eq!(answer.0, 303, "{}", answer.1);
    let listed = server.get(&format!("/v1/bikes/{bike}/care")).await.expect(200).body;
    assert_eq!(listed["items"][0]["lubricant_id"], json!(wax));
    let (_, page) = german.get(&format!("/bikes/{bike}")).await;
    assert!(page.contains("geschmiert mit Wachs"), "{page}");
    let refused = [("kind", "cleaned"), ("lubricant", &wax), ("note", "")];
    let (status, page) = german.send(&format!("/bikes/{bike}/care"), &refused).await;
    assert!(status == 422 && page.contains("ein Schmierstoff bei"), "{status} {page}");
}

/// What wax makes of wear under oil.
const WAX: f64 = 0.85;

/// Forty bikes: eighteen run on oil, sixteen on wax, six of which nobody says.
async fn fleet(server: &TestServer, oil: &str, wax: &str) -> Vec<String> {
    let mut bikes = Vec::new();
    for number in 0..40_u32 {
        let bike = server.bike(&format!("{number:03}")).await;
        let (lubricant, factor) = match number {
            0..18 => (Some(oil), 1.0),
            18..34 => (Some(wax), WAX),
            _ => (None, WAX.sqrt()),
        };
        let at = |path: &str| format!("/v1/bikes/{bike}/{path}");
        let mut rides = Vec::new();
        for month in [2, 5, 8] {
            let care = json!({"done_at": format!("2026-{month:02}-04T08:00:00Z"), "lubricant_id": lubricant});
            server.post(&at("care"), &care).await.check(201);
            for part in 1..=2 {
                rides.push(json!({"bike_id": bike, "started_at": format!("2026-{month:02}-{:02}T08:00:00Z", 4 + part),
                    "distance_km": 250, "source": "log", "source_id": format!("{number}-{month}-{part}")}));
            }
        }
        server.post("/v1/rides", &json!({"rides": rides})).await.check(200);
        for (month, percent) in [(2, 0.16), (5, 0.32), (8, 0.48)] {
            let own = 1.0 + 0.06 * (f64::from(number % 6) - 2.5);
            let percent = 0.06 + (1e3 * percent * factor * own).round() / 1e3;
            let reading = json!({"taken_at": format!("2026-{month:02}-20T08:00:00Z"), "instrument": "dial",
                "percent": percent});
            server.post(&at("readings"), &reading).await.check(201);
        }
        bikes.push(bike);
    }
    bikes
}

async fn learned(server: &TestServer) -> Value {
    server.settle().await;
    server.post("/v1/calibration", &Value::Null).await.check(202);
    server.settle().await;
    server.get("/v1/calibration").await.expect(200).body
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap_or_else(|| panic!("{value} is no number"))
}

fn of<'a>(list: &'a Value, id: &str) -> &'a Value {
    let mut all = list.as_array().expect("a list").iter();
    all.find(|it| it["lubricant_id"] == json!(id)).unwrap_or_else(|| panic!("{id} isn't in {list}"))
}

async fn a_lubricant_that_is_worth_a_seventh_is_found_out_told_used_and_held_against_its_price(
    store: TestStore,
) {
    let server = TestServer::start(store).await;
    assert_eq!(server.get("/v1/calibration").await.expect(200).body["lubricants"], json!([]));
    let (oil, wax) = (lubricant(&server, "oil", 25, 5).await, lubricant(&server, "wax", 60, 6).await);
    let chain = json!({"name": "Bare", "place": "chain", "price_minor": 2_000, "currency": "EUR"});
    server.post("/v1/part-models", &chain).await.check(201);
    let bikes = fleet(&server, &oil, &wax).await;
    let outlook = async |bike: &str| server.get(&format!("/v1/bikes/{bike}/outlook")).await.expect(200).body;
    assert_eq!(outlook(&bikes[0]).await["basis"]["lubricant_factor"], Value::Null);
    let policy = server.get("/v1/policy?group=town-8s").await.expect(200).body;
    assert_eq!(policy["lubricants"], json!([]));

    let known = learned(&server).await;
    let (of_oil, of_wax) = (of(&known["lubricants"], &oil), of(&known["lubricants"], &wax));
    let apart = number(&of_wax["ln_mean"]) - number(&of_oil["ln_mean"]);
    assert!((-0.26..-0.08).contains(&apart), "{apart} where {} is true: {known}", WAX.ln());
    assert_eq!(
        (&of_oil["chains"], &of_wax["chains"], &of_wax["name"]),
        (&json!(18), &json!(16), &json!("wax"))
    );
    assert!((0.01..0.2).contains(&number(&of_wax["ln_sd"])), "{of_wax}");
    let said = of_wax["said"].as_str().expect("words");
    assert!(said.starts_with("Chains run on wax wear ") && said.contains("slower"), "{said}");

    // An outlook goes by what is on the chain now; where nobody says, by what is usual.
    let factor = |outlook: &Value| outlook["basis"]["lubricant_factor"].clone();
    let (oiled, waxed, unnamed) =
        (outlook(&bikes[0]).await, outlook(&bikes[18]).await, outlook(&bikes[36]).await);
    assert!(number(&factor(&oiled)) > 1.0 && number(&factor(&waxed)) < 1.0, "{oiled} {waxed}");
    assert!((number(&factor(&waxed)) / number(&factor(&oiled)) - apart.exp()).abs() < 1e-6);
    assert_eq!(factor(&unnamed), Value::Null);
    // From one care to the next: an oiled chain that is waxed today goes on under wax, as worn as it is.
    let care = json!({"done_at": "2026-11-20T08:00:00Z", "lubricant_id": wax});
    server.post(&format!("/v1/bikes/{}/care", bikes[1]), &care).await.check(201);
    let before = outlook(&bikes[7]).await;
    let after = outlook(&bikes[1]).await;
    assert_eq!(factor(&after), factor(&waxed));
    // Bikes 1 and 7 were read alike, so all between them is the wax ahead.
    let ahead = |outlook: &Value| number(&outlook["remaining_reference_km"]["p50"]);
    let longer = ahead(&after) / ahead(&before);
    assert!((longer * apart.exp() - 1.0).abs() < 0.06, "{longer} {apart}");

    // What wax costs more to put on is held against what it saves.
    let policy = server.get("/v1/policy?group=town-8s").await.expect(200).body;
    let choices = &policy["lubricants"];
    let (used, other) = (of(choices, &oil), of(choices, &wax));
    assert_eq!((&used["in_use"], &other["in_use"]), (&json!(true), &json!(false)), "{choices}");
    assert_eq!((&used["cheaper_probability"], &used["chains_to_tell"]), (&json!(0.5), &json!(0)));
    let probability = number(&other["cheaper_probability"]);
    assert!((0.5..1.0).contains(&probability), "{choices}");
    let more = &other["more_than_in_use_minor"];
    assert!(
        number(&more["p10"]) < number(&more["p50"]) && number(&more["p50"]) < number(&more["p90"]),
        "{more}"
    );
    assert_eq!(
        (&used["application_minor"], &other["application_minor"]),
        (&json!(25), &json!(60)),
        "{choices}"
    );
    // Care every 500 km or so, drawn a little towards what is usual.
    assert!((350.0..650.0).contains(&number(&other["every_km"])), "{choices}");
    assert!(
        other["said"].as_str().expect("words").starts_with("wax is cheaper than oil with a probability of")
    );
    // At a price beyond reason it doesn't pay.
    let request =
        as_manager(&server, Method::PATCH, &format!("/v1/lubricants/{wax}")).header("If-Match", "\"1\"");
    server.send(request.json(&json!({"price_minor": 5_000}))).await.check(200);
    let dear = server.get("/v1/policy?group=town-8s").await.expect(200).body;
    let choice = of(&dear["lubricants"], &wax);
    assert!(number(&choice["cheaper_probability"]) < 0.05, "{choice}");
    assert_eq!(dear["lubricants"][0]["lubricant_id"], json!(oil), "the cheapest comes first: {dear}");

    for (language, heading) in [("en", "Which lubricant"), ("de", "Welcher Schmierstoff")] {
        let (_, page) =
            Visitor::of(&server, Role::Manager, language).await.get("/policy?group=town-8s").await;
        assert!(page.contains(heading) && page.contains("wax"), "{page}");
    }
}
