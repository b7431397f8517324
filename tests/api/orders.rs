//! What to order, and the bikes behind each number.

use reqwest::Method;
use serde_json::{Value, json};
use wear_api::domain::Role;
use wear_tests::{TestServer, TestStore, on_both_stores};

on_both_stores!(
    the_bikes_behind_a_number_add_up,
    shelf_and_deliveries_in_time_count_against_an_order,
    parts_without_a_model_go_by_their_shape,
    wrong_questions_are_named,
);

async fn chain(server: &TestServer, name: &str, price: Option<i64>) -> String {
    let mut model = json!({"name": name, "place": "chain", "sprockets": 8});
    if let Some(price) = price {
        model["price_minor"] = price.into();
        model["currency"] = "EUR".into();
    }
    server.post("/v1/part-models", &model).await.expect(201).id()
}

/// A bike with a chain of the model since March.
async fn bike(server: &TestServer, label: &str, model: &str, percent: f64) -> String {
    let bike = server.bike(label).await;
    let swap = json!({"swapped_at": "2026-03-01T08:00:00Z", "place": "chain", "part_model_id": model});
    let _on = server.post(&format!("/v1/bikes/{bike}/swaps"), &swap).await.expect(201);
    ride_and_read(server, &bike, label, percent).await;
    bike
}

/// Ridden since the end of March, read yesterday.
async fn ride_and_read(server: &TestServer, bike: &str, label: &str, percent: f64) {
    let rides: Vec<Value> = (0..240)
        .map(|day| {
            let at = chrono::NaiveDate::from_ymd_opt(2026, 3, 29).expect("a date") + chrono::Days::new(day);
            json!({"bike_id": bike, "started_at": format!("{at}T08:00:00Z"), "distance_km": 14.0,
                "source": "log", "source_id": format!("{label}-{day}")})
        })
        .collect();
    let _ridden = server.post("/v1/rides", &json!({"rides": rides})).await.expect(200);
    let reading = json!({"taken_at": "2026-11-24T17:00:00Z", "instrument": "rule", "percent": percent});
    let _read = server.post(&format!("/v1/bikes/{bike}/readings"), &reading).await.expect(201);
}

async fn part(server: &TestServer, query: &str, model: &str) -> Value {
    let needed = server.get(&format!("/v1/orders-needed{query}")).await.expect(200).body;
    let items = needed["items"].as_array().expect("items");
    items.iter().find(|item| item["part_model_id"] == model).expect("the model").clone()
}

async fn the_bikes_behind_a_number_add_up(store: TestStore) {
    let server = TestServer::start(store).await;
    let model = chain(&server, "Chain A", Some(1_290)).await;
    let worn = bike(&server, "041", &model, 0.86).await;
    let young = bike(&server, "042", &model, 0.12).await;
    for label in ["043", "044", "045"] {
        let _middling = bike(&server, label, &model, 0.55).await;
    }
    let needed = part(&server, "", &model).await;
    let bikes = needed["bikes"].as_array().expect("bikes");
    assert_eq!(bikes[0]["bike_id"], worn.as_str());
    assert_eq!(bikes[0]["advice"], "swap_now");
    assert!((bikes[0]["probability"].as_f64().expect("p") - 1.0).abs() < 1e-9, "{needed}");
    let of = |it: &Value, field: &str| it[field].as_f64().expect("a number");
    let sum: f64 = bikes.iter().map(|bike| of(bike, "probability")).sum();
    let mean = of(&needed["demand"], "mean");
    assert!((sum + of(&needed, "other_bikes_expected") - mean).abs() < 1e-9, "{needed}");
    assert!(mean > 1.05 && mean < 4.0, "{needed}");
    assert!(bikes.iter().all(|bike| bike["bike_id"] != young.as_str() || of(bike, "probability") < 0.05));
    assert!(of(&needed["demand"], "p50") <= of(&needed["demand"], "p90"));
    let longer = part(&server, "?horizon_days=120", &model).await;
    assert!(of(&longer["demand"], "mean") > mean, "{longer}");
    let cut = part(&server, "?bikes=1", &model).await;
    assert_eq!(cut["bikes"].as_array().map(Vec::len), Some(1));
    assert!((of(&cut, "other_bikes_expected") - (mean - 1.0)).abs() < 1e-9);
    assert!(of(&cut, "other_bikes") >= 3.0);
    // A swap answers the need.
    let swap = json!({"swapped_at": "2026-11-25T11:00:00Z", "place": "chain"});
    let _new = server.post(&format!("/v1/bikes/{worn}/swaps"), &swap).await.expect(201);
    let after = part(&server, "", &model).await;
    assert!((of(&after["demand"], "mean") - (mean - 1.0)).abs() < 0.02, "{after}");
    let app = server.request(Method::GET, "/v1/orders-needed").bearer_auth(server.token_of(Role::App));
    let _refused = server.send(app).await.expect(403);
}

async fn shelf_and_deliveries_in_time_count_against_an_order(store: TestStore) {
    let server = TestServer::start(store).await;
    let (a, b) = (chain(&server, "Chain A", Some(1_290)).await, chain(&server, "Chain B", None).await);
    for label in ["041", "042", "043"] {
        let _worn = bike(&server, label, &a, 0.86).await;
    }
    let bare = part(&server, "", &a).await;
    assert_eq!((&bare["on_shelf"], &bare["order_quantity"]), (&Value::Null, &json!(3)));
    assert_eq!(bare["order_price_minor"], 3 * 1_290);
    assert_eq!(bare["reorder_point_from"], "outlooks");
    assert!(bare["lasts_probability"].as_f64().expect("p") < 1e-9, "{bare}");
    assert!((bare["expected_short"].as_f64().expect("parts") - 3.0).abs() < 1e-6, "{bare}");
    let kept =
        json!({"part_model_id": a, "count": 1, "pack_size": 5, "lead_time_days": 10, "substitutes": [b]});
    let _kept = server.post("/v1/stock", &kept).await.expect(201);
    let _kept = server.post("/v1/stock", &json!({"part_model_id": b, "count": 4})).await.expect(201);
    let packed = part(&server, "", &a).await;
    assert_eq!((&packed["order_quantity"], &packed["order_packs"]), (&json!(5), &json!(1)), "{packed}");
    let substitute = &packed["substitutes"][0];
    assert_eq!(substitute["part_model_id"], b.as_str());
    assert_eq!((&substitute["on_shelf"], &substitute["verdict"]), (&json!(4), &json!("fits")));
    assert_eq!(substitute["named"], true);
    // What arrives after the lead time doesn't help; what arrives before does.
    let late = json!({"part_model_id": a, "count": 9, "expected_on": "2026-12-20"});
    let _late = server.post("/v1/deliveries", &late).await.expect(201);
    let still = part(&server, "", &a).await;
    assert_eq!((&still["under_way"], &still["under_way_in_time"]), (&json!(9), &json!(0)));
    assert_eq!(still["order_quantity"], 5);
    let soon = json!({"part_model_id": a, "count": 5, "expected_on": "2026-12-01"});
    let _soon = server.post("/v1/deliveries", &soon).await.expect(201);
    let covered = part(&server, "", &a).await;
    assert_eq!((&covered["under_way_in_time"], &covered["order_quantity"]), (&json!(5), &json!(0)));
    assert!(covered["lasts_probability"].as_f64().expect("p") > 0.999, "{covered}");
    // The workshop's own point.
    let tag = server.get(&format!("/v1/stock/{a}")).await.expect(200).header("etag").to_owned();
    let request = server.request(Method::PATCH, &format!("/v1/stock/{a}")).header("if-match", tag);
    let request = request.bearer_auth(server.token_of(Role::Mechanic)).json(&json!({"reorder_point": 8}));
    let _set = server.send(request).await.expect(200);
    let own = part(&server, "", &a).await;
    assert_eq!((&own["reorder_point"], &own["reorder_point_from"]), (&json!(8), &json!("workshop")));
    assert_eq!(own["order_quantity"], 5, "{own}");
}

async fn parts_without_a_model_go_by_their_shape(store: TestStore) {
    let server = TestServer::start(store).await;
    let bike = server.bike("041").await;
    ride_and_read(&server, &bike, "041", 0.9).await;
    let needed = server.get("/v1/orders-needed").await.expect(200).body;
    assert_eq!((&needed["bikes_counted"], &needed["bikes_waiting"]), (&json!(1), &json!(0)));
    let chain = needed["items"].as_array().expect("items").iter().find(|item| item["place"] == "chain");
    let chain = chain.expect("a chain");
    assert_eq!((&chain["part_model_id"], &chain["shape"]), (&Value::Null, &json!("8 sprockets")));
    assert_eq!(chain["order_quantity"], 1);
}

async fn wrong_questions_are_named(store: TestStore) {
    let server = TestServer::start(store).await;
    for (query, wrong) in [
        ("?horizon_days=0", "horizon_days"),
        ("?horizon_days=183", "horizon_days"),
        ("?service_level=1", "service_level"),
        ("?service_level=high", "service_level"),
        ("?bikes=1001", "bikes"),
    ] {
        let refused = server.get(&format!("/v1/orders-needed{query}")).await.expect(400);
        assert_eq!(refused.body["errors"][0]["parameter"], wrong, "{query}");
    }
    let empty = server.get("/v1/orders-needed").await.expect(200).body;
    assert_eq!(empty["items"], json!([]));
}
