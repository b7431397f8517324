//! The answers that the document shows are true: every operation is asked, and what comes back is compared.
//!
//! The document takes them from `openapi/answers.json`, which `openapi/record-answers` has this test write anew.

use std::collections::BTreeMap;
use std::time::Duration;

use reqwest::{Method, RequestBuilder, header};
use serde_json::{Value, json};
use wear_api::domain::Role;
use wear_tests::{TestServer, TestStore, on_both_stores};

use crate::document::{bike_041, examples, operations, ready_for, served, with_body, with_ids_of_its_own};
use crate::shown::{compare, shown};
use crate::strangers::{Ids, and_care, ask, one_of_each};

on_both_stores!(answers_are_those_of_the_document);

/// By operation and status.
type Answers = BTreeMap<String, BTreeMap<String, Value>>;

async fn answers_are_those_of_the_document(store: TestStore) {
    let mut server = TestServer::start(store).await;
    let document = served(&server).await;
    let mut answers = Answers::new();
    let (mut differences, mut lacking) = (Vec::new(), Vec::new());
    for (path, method, operation) in operations(&document) {
        let id = operation["operationId"].as_str().expect("an id");
        let documented = documented(&operation);
        if documented.is_empty() {
            continue;
        }
        let workshop = format!("Harbour of {id}");
        server.move_to(&workshop).await;
        let mut given = BTreeMap::new();
        if documented.contains_key("404") {
            let nothing = asked(&server, &Ids::new(), &path, &method, &operation);
            let (status, answer) = answer(nothing).await;
            given.insert(status, shown(&answer, &workshop));
        }
        // What is sent again answers otherwise the second time.
        for request in requests(&server, &path, &method, &operation).await {
            let (status, answer) = answer(request).await;
            given.entry(status).or_insert_with(|| shown(&answer, &workshop));
        }
        for (status, example) in documented {
            let Some(answer) = given.remove(&status) else {
                lacking.push(format!("{id} never answered {status}"));
                continue;
            };
            let before = differences.len();
            compare(&example, &answer, &format!("{id} {status}: "), &mut differences);
            let kept = if differences.len() == before { example } else { answer };
            answers.entry(id.to_owned()).or_default().insert(status, kept);
        }
    }
    assert!(answers.len() > 70, "{}", answers.len());
    assert_eq!(lacking, [""; 0]);
    if let Ok(file) = std::env::var("WEAR_RECORD_ANSWERS") {
        let text = serde_json::to_string_pretty(&answers).expect("JSON") + "\n";
        std::fs::write(file, text).expect("written");
        return;
    }
    assert!(differences.is_empty(), "{} differences:\n{}", differences.len(), differences.join("\n"));
}

/// The examples of the answers that are the operation's own, by status; null where there is none.
fn documented(operation: &Value) -> BTreeMap<String, Value> {
    let answers = operation["responses"].as_object().expect("responses");
    let with_content = answers.iter().filter_map(|(status, answer)| {
        let media = answer["content"].as_object()?.values().next()?;
        Some((status.clone(), media["example"].clone()))
    });
    with_content.collect()
}

/// Status and body. A body that is no JSON is text; of a table the first lines.
async fn answer(request: RequestBuilder) -> (String, Value) {
    let answer = request.send().await.expect("an answer");
    let status = answer.status().as_str().to_owned();
    let media = answer.headers().get(header::CONTENT_TYPE).and_then(|media| media.to_str().ok());
    let media = media.unwrap_or_default().to_owned();
    let body = answer.text().await.expect("a body");
    let body = if media.contains("json") {
        serde_json::from_str(&body).expect("JSON")
    } else if media.starts_with("text/csv") {
        body.split_inclusive('\n').take(4).collect::<String>().into()
    } else {
        body.into()
    };
    (status, body)
}

fn asked(server: &TestServer, ids: &Ids, path: &str, method: &Method, operation: &Value) -> RequestBuilder {
    let request = ask(server, ids, path, method, operation).bearer_auth(server.token_of(Role::Manager));
    match path {
        "/v1/policy" => request.query(&[("group", "town-8s")]),
        // Of a group that isn't there.
        "/v1/coming-year" if ids.is_empty() => request.query(&[("group", "nobody")]),
        _ => request,
    }
}

/// The operation asked twice, in a workshop where what it needs is there.
async fn requests(
    server: &TestServer,
    path: &str,
    method: &Method,
    operation: &Value,
) -> [RequestBuilder; 2] {
    let example = operation.get("requestBody").and_then(|body| examples(body).into_iter().next());
    let Some(mut example) = example else {
        let mut ids = one_of_each(server).await;
        if path.contains("{care_id}") {
            and_care(server, &mut ids).await;
        }
        ready_to_be_seen(server, path, &mut ids).await;
        if *method == Method::DELETE && path.ends_with("/fittings/{fitting_id}") {
            // One that no swap and no reading stands in the way of.
            let wheels = json!({"place": "jockey_wheels", "fitted_at": "2026-11-20T09:00:00Z"});
            let list = format!("/v1/bikes/{}/fittings", ids["{bike_id}"]);
            ids.insert("{fitting_id}", server.post(&list, &wheels).await.expect(201).id());
        }
        return std::array::from_fn(|_| asked(server, &ids, path, method, operation));
    };
    let address = ready_for(server, path).await;
    with_ids_of_its_own(server, &mut example).await;
    if let Some(bike) = address.strip_prefix("/v1/bikes/").and_then(|rest| rest.split('/').next())
        && ["/readings", "/swaps", "/care", "/symptoms", "/fittings/{fitting_id}"]
            .iter()
            .any(|end| path.ends_with(end))
    {
        ridden(server, bike).await;
    }
    if path.starts_with("/v1/bench-plan") {
        worn(server).await;
    }
    if path.ends_with("/accept") {
        planned(server).await;
    }
    if path == "/v1/rides" {
        // Another, which is wrong, so that both kinds are shown.
        let mut wrong = example["rides"][0].clone();
        wrong["source_id"] = "r2".into();
        wrong["distance_km"] = (-18.4).into();
        let rides = example["rides"].as_array_mut().expect("rides");
        rides[0]["bike_id"] = bike_041(server).await.into();
        rides.push(wrong);
    }
    std::array::from_fn(|_| {
        let request =
            server.request_of_people(method.clone(), &address).bearer_auth(server.token_of(Role::Manager));
        let request = if *method == Method::PATCH { request.header("if-match", "\"1\"") } else { request };
        with_body(request, &example)
    })
}

/// Gives what is to be looked at something to show.
async fn ready_to_be_seen(server: &TestServer, path: &str, ids: &mut Ids) {
    match path {
        "/v1/bench-plan" => {
            worn(server).await;
            planned(server).await;
        }
        "/v1/calibration" | "/v1/track-record" => fleet(server).await,
        "/v1/calendar" | "/v1/calendar/{secret}.ics" => {
            worn(server).await;
            let address = server.post("/v1/calendar", &Value::Null).await.expect(201).body["address"].clone();
            let address = address.as_str().expect("an address");
            let secret = address.trim_start_matches("/v1/calendar/").trim_end_matches(".ics");
            ids.insert("{secret}", secret.to_owned());
        }
        _ if path.ends_with("/restoration") => {
            // Asked as it is voided, so that it can be restored.
            let mut address = path.trim_end_matches("/restoration").to_owned();
            for (name, id) in ids.iter() {
                address = address.replace(name, id);
            }
            let request =
                server.request(Method::DELETE, &address).bearer_auth(server.token_of(Role::Manager));
            let request = request.header("if-match", "\"1\"");
            let request =
                if address.contains("/rides/") { request } else { request.query(&[("reason", "a slip")]) };
            assert!(server.send(request).await.status.is_success(), "{address}");
        }
        _ => ridden(server, &ids["{bike_id}"]).await,
    }
    if path.starts_with("/v1/hooks") {
        tried(server, &ids["{hook_id}"]).await;
    }
}

/// Rides on every other day of this year, care after them, a reading, and the outlook that they give.
async fn ridden(server: &TestServer, bike: &str) {
    ridden_to(server, bike, 0.52).await;
}

/// A bike whose chain is over its limit.
async fn worn(server: &TestServer) {
    let bike = server.bike("042").await;
    ridden_to(server, &bike, 0.77).await;
}

async fn ridden_to(server: &TestServer, bike: &str, percent: f64) {
    let first: chrono::NaiveDate = "2026-01-05".parse().expect("a date");
    let rides: Vec<Value> = (0..160)
        .map(|number| {
            let day = first + chrono::Days::new(2 * number);
            json!({"bike_id": bike, "started_at": format!("{day}T08:00:00Z"), "distance_km": 18.4,
                "surface": if number % 9 == 0 { "gravel" } else { "paved" }, "wet": number % 6 == 0})
        })
        .collect();
    server.post("/v1/rides", &json!({"rides": rides})).await.check(200);
    let care = json!({"kind": "cleaned_and_lubricated", "done_at": "2026-11-20T16:30:00Z"});
    server.post(&format!("/v1/bikes/{bike}/care"), &care).await.check(201);
    let reading = json!({"taken_at": "2026-11-20T17:00:00Z", "instrument": "rule", "percent": percent});
    server.post(&format!("/v1/bikes/{bike}/readings"), &reading).await.check(201);
}

async fn planned(server: &TestServer) {
    server.post("/v1/bench-days", &json!({"date": "2026-12-01", "minutes": 120})).await.check(201);
    let horizon = json!({"from": "2026-11-26", "to": "2026-12-09"});
    server.post("/v1/bench-plan", &horizon).await.check(201);
}

/// Twelve bikes, each read thrice, that the workshop has learned from; it has one more reading.
async fn fleet(server: &TestServer) {
    for number in 0..12 {
        let bike = server.bike(&format!("{number:03}")).await;
        for (month, percent) in [(2, 0.2), (5, 0.36), (8, 0.52)] {
            let ride = json!({"started_at": format!("2026-{month:02}-05T08:00:00Z"), "distance_km": 500,
                "source": "log", "source_id": format!("{number}-{month}")});
            server.post(&format!("/v1/bikes/{bike}/rides"), &ride).await.check(201);
            let percent = percent + 0.01 * f64::from(number % 5);
            let reading = json!({"taken_at": format!("2026-{month:02}-20T08:00:00Z"), "instrument": "dial",
                "percent": percent});
            server.post(&format!("/v1/bikes/{bike}/readings"), &reading).await.check(201);
        }
    }
    // What there is to score is scored before learning changes the rates.
    server.settle().await;
    server.post("/v1/calibration", &Value::Null).await.check(202);
    server.settle().await;
}

/// Waits until the worker has tried to deliver the hook's message.
async fn tried(server: &TestServer, hook: &str) {
    let deliveries = format!("/v1/hooks/{hook}/deliveries");
    until(server, &deliveries, |body| body["items"][0]["attempts"] != json!([])).await;
}

async fn until(server: &TestServer, path: &str, holds: impl Fn(&Value) -> bool) {
    let mut last = Value::Null;
    for _ in 0..200 {
        last = server.get(path).await.expect(200).body;
        if holds(&last) {
            return;
        }
        tokio::time::sleep(Duration::from_millis(50)).await;
    }
    panic!("{path} never came to hold: {last}");
}
