//! What models of chain are worth, and how wear drifts: learned by the night, told, and used.

use serde_json::{Value, json};
use wear_api::domain::Role;
use wear_tests::{TestServer, TestStore, on_both_stores};

use crate::visitor::Visitor;

on_both_stores!(a_model_that_wears_slower_is_found_out_told_and_held_against_its_price);

async fn model(server: &TestServer, name: &str, price_minor: i64) -> String {
    let model = json!({"name": name, "place": "chain", "price_minor": price_minor, "currency": "EUR"});
    server.post("/v1/part-models", &model).await.expect(201).id()
}

/// Twenty-four bikes, every other one with a chain of the second model, which lengthens three quarters as fast.
async fn fleet(server: &TestServer, models: [&str; 2]) -> Vec<String> {
    let mut bikes = Vec::new();
    for number in 0..24_u32 {
        let bike = server.bike(&format!("{number:03}")).await;
        let at = |path: &str| format!("/v1/bikes/{bike}/{path}");
        let swap = json!({"swapped_at": "2026-01-02T08:00:00Z", "place": "chain",
            "part_model_id": models[number as usize % 2]});
        server.post(&at("swaps"), &swap).await.check(201);
        for (month, percent) in [(2, 0.16), (5, 0.32), (8, 0.48)] {
            let ride = json!({"started_at": format!("2026-{month:02}-05T08:00:00Z"), "distance_km": 500,
                "source": "log", "source_id": format!("{number}-{month}")});
            server.post(&at("rides"), &ride).await.check(201);
            let slower = if number % 2 == 0 { 1.0 } else { 0.75 };
            let percent = percent * slower * (1.0 + 0.04 * (f64::from(number / 2 % 5) - 2.0));
            let reading = json!({"taken_at": format!("2026-{month:02}-20T08:00:00Z"), "instrument": "dial",
                "percent": 0.06 + (1e3 * percent).round() / 1e3});
            server.post(&at("readings"), &reading).await.check(201);
        }
        bikes.push(bike);
    }
    bikes
}

async fn a_model_that_wears_slower_is_found_out_told_and_held_against_its_price(store: TestStore) {
    let server = TestServer::start(store).await;
    let before = server.get("/v1/calibration").await.expect(200).body;
    assert_eq!((&before["models"], &before["drift"]), (&json!([]), &Value::Null));
    let (bare, coated) = (model(&server, "Bare", 2_000).await, model(&server, "Coated", 2_200).await);
    let bikes = fleet(&server, [&bare, &coated]).await;
    server.settle().await;
    server.post("/v1/calibration", &Value::Null).await.check(202);
    server.settle().await;
    let known = server.get("/v1/calibration").await.expect(200).body;
    let of = |id: &str| {
        let models = known["models"].as_array().expect("a list");
        models.iter().find(|it| it["part_model_id"] == json!(id)).expect("it was read").clone()
    };
    let number = |value: &Value| value.as_f64().expect("a number");
    let apart = number(&of(&coated)["ln_mean"]) - number(&of(&bare)["ln_mean"]);
    assert!((-0.4..-0.1).contains(&apart), "{known}");
    assert_eq!((&of(&bare)["chains"], &of(&coated)["name"]), (&json!(12), &json!("Coated")));
    assert!(of(&coated)["said"].as_str().expect("words").contains("slower"), "{known}");
    assert!(number(&known["drift"]["ln_sd"]) > 0.0 && known["drift"]["said"].is_string(), "{known}");

    // An outlook goes by its chain's model.
    let basis = async |bike: &str| {
        server.get(&format!("/v1/bikes/{bike}/outlook")).await.expect(200).body["basis"].clone()
    };
    let (slow, fast) = (basis(&bikes[1]).await, basis(&bikes[0]).await);
    assert!(number(&slow["model_factor"]) < 1.0 && number(&fast["model_factor"]) > 1.0, "{slow} {fast}");
    assert!(number(&slow["yearly_factor"]) > 0.5, "{slow}");

    // What the dearer one costs more is held against how much longer it lasts.
    let policy = server.get("/v1/policy?group=town-8s").await.expect(200).body;
    let choices = policy["chain_models"].as_array().expect("a list");
    let choice = |id: &str| choices.iter().find(|it| it["part_model_id"] == json!(id)).expect("a choice");
    let (used, other) = (choice(&bare), choice(&coated));
    let (used, other) = if used["in_use"] == json!(true) { (used, other) } else { (other, used) };
    assert_eq!((&used["cheaper_probability"], &other["in_use"]), (&json!(0.5), &json!(false)));
    let probability = number(&choice(&coated)["cheaper_probability"]);
    assert!(
        if choice(&coated)["in_use"] == json!(true) { probability == 0.5 } else { probability > 0.6 },
        "{policy}"
    );
    assert_eq!(choices[0]["part_model_id"], json!(coated), "the cheapest comes first: {policy}");
    let (_, page) = Visitor::of(&server, Role::Manager, "en").await.get("/policy?group=town-8s").await;
    assert!(page.contains("Which chain") && page.contains("Coated"), "{page}");
}
