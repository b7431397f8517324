//! What is cheapest follows the prices.

use serde_json::{Value, json};
use wear_tests::{TestServer, TestStore, on_both_stores};

on_both_stores!(the_policy_follows_the_prices, a_policy_is_of_a_group_of_ours);

async fn priced_bike(server: &TestServer) {
    let bike = server.bike("041").await;
    let models = [
        json!({"name": "Chain, 8-speed", "place": "chain", "sprockets": 8, "price_minor": 1800, "currency": "EUR"}),
        json!({"name": "Cassette, 8-speed", "place": "cassette", "cogs": [11, 13, 15, 17, 20, 23, 26, 30],
            "price_minor": 3200, "currency": "EUR"}),
        json!({"name": "Ring, 42", "place": "ring", "teeth": 42, "price_minor": 2600, "currency": "EUR"}),
        json!({"name": "Cog", "place": "cog", "teeth": 17, "price_minor": 500, "currency": "EUR"}),
    ];
    for model in models {
        let id = server.post("/v1/part-models", &model).await.expect(201).id();
        if model["place"] != "cog" {
            let swap =
                json!({"swapped_at": "2026-02-01T10:00:00Z", "place": model["place"], "part_model_id": id});
            let _swapped = server.post(&format!("/v1/bikes/{bike}/swaps"), &swap).await.expect(201);
        }
    }
    for month in 3..=11 {
        let ride = json!({"started_at": format!("2026-{month:02}-05T08:00:00Z"), "distance_km": 120,
            "source": "log", "source_id": format!("r{month}")});
        let _ridden = server.post(&format!("/v1/bikes/{bike}/rides"), &ride).await.expect(201);
    }
    let _refreshed = server.get(&format!("/v1/bikes/{bike}/outlook")).await.expect(200);
}

async fn policy(server: &TestServer, wishes: &str) -> Value {
    server.get(&format!("/v1/policy?group=town-8s{wishes}")).await.expect(200).body
}

fn limit(policy: &Value) -> f64 {
    policy["best"]["limit_percent"].as_f64().expect("a limit")
}

async fn the_policy_follows_the_prices(store: TestStore) {
    let server = TestServer::start(store).await;
    priced_bike(&server).await;
    let usual = policy(&server, "").await;
    assert_eq!(usual["prices"]["chain_minor"], 1800);
    assert_eq!(usual["prices"]["cassette_minor"], 3200);
    assert_eq!(usual["prices"]["rings_minor"], 2600);
    assert_eq!(usual["prices"]["swap_labour_minor"], 0);
    assert_eq!(usual["basis"]["current_limit_percent"], 0.75);
    let assumed = usual["basis"]["assumed"].as_array().into_iter().flatten().filter_map(Value::as_str);
    let priced: Vec<&str> = assumed.filter(|what| what.starts_with("price")).collect();
    assert_eq!(priced, ["price of a reading"], "parts have prices of their own, nobody priced a reading");
    let curve = usual["curve"].as_array().expect("a curve");
    assert_eq!((curve.len(), curve[0]["limit_percent"].as_f64()), (19, Some(0.3)));
    assert_eq!(curve[18]["limit_percent"].as_f64(), Some(1.2));
    let total = |point: &Value| point["by_cause_minor"]["total"].as_f64().expect("a total");
    let cheapest = curve.iter().min_by(|a, b| total(a).total_cmp(&total(b))).expect("a point");
    assert_eq!(cheapest["limit_percent"].as_f64(), Some(limit(&usual)));
    let kinds: Vec<&str> =
        usual["alternatives"].as_array().into_iter().flatten().filter_map(|it| it["kind"].as_str()).collect();
    assert_eq!(
        kinds,
        ["current_limit", "to_the_end", "chains_in_turn", "chains_in_turn", "chains_in_turn"],
        "a cog without a price on the bike leaves the cassette whole"
    );

    let labour = "&swap_labour_minor=600&reading_minor=150";
    let dear_cassette = policy(&server, &format!("{labour}&cassette_minor=20000&rings_minor=12000")).await;
    let dear_chain =
        policy(&server, &format!("{labour}&chain_minor=6000&cassette_minor=1500&rings_minor=1500")).await;
    let dear_failure = policy(
        &server,
        &format!("{labour}&chain_minor=6000&cassette_minor=1500&rings_minor=1500&failure_minor=60000"),
    )
    .await;
    assert!(limit(&dear_cassette) < limit(&dear_chain), "{dear_cassette} {dear_chain}");
    assert!(limit(&dear_failure) < limit(&dear_chain));
    assert!(dear_failure["reason"].as_str().expect("a reason").contains("failures"));
    assert!(dear_chain["cautions"][0].as_str().expect("a caution").contains("throws its rider"));
    assert!(
        dear_failure["cautions"].as_array().expect("cautions").is_empty(),
        "{}",
        dear_failure["cautions"]
    );
    let end = &dear_chain["alternatives"][1];
    assert_eq!((end["kind"].as_str(), end["worth_taking"].as_bool()), (Some("to_the_end"), Some(true)));
    assert!(dear_chain["reason"].as_str().expect("a reason").contains("to their end together"));
    let by_cog = policy(&server, "&cog_minor=300").await;
    let last = by_cog["alternatives"].as_array().and_then(|all| all.last()).expect("alternatives");
    assert_eq!(last["kind"], "whole_cassette");
    assert!(last["more_than_best_minor"]["p10"].as_f64().expect("a number") > 0.0);
    for answer in [&usual, &dear_cassette, &dear_chain, &dear_failure] {
        println!("{} | {} | {}", answer["best"], answer["reason"], answer["verdict"]);
    }
}

async fn a_policy_is_of_a_group_of_ours(store: TestStore) {
    let server = TestServer::start(store).await;
    let _bike = server.bike("041").await;
    assert_eq!(server.get("/v1/policy?group=hill").await.expect(404).problem(), "not-found");
    assert_eq!(server.get("/v1/policy").await.expect(400).body["errors"][0]["parameter"], "group");
    let wrong = server.get("/v1/policy?group=town-8s&chain_minor=-1").await.expect(400);
    assert_eq!(wrong.body["errors"][0]["parameter"], "chain_minor");
    let unpriced = policy(&server, "").await;
    assert!(unpriced["basis"]["assumed"].to_string().contains("price of a chain"));
}
