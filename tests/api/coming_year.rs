//! The coming year by month, for a workshop and its groups.

use chrono::Duration;
use reqwest::Method;
use serde_json::{Value, json};
use wear_api::domain::Role;
use wear_tests::{TestServer, TestStore, on_both_stores};

on_both_stores!(the_year_is_told_month_by_month, a_year_is_of_bikes_of_ours);

async fn ridden(server: &TestServer, label: &str, group: &str, km: f64) {
    let mut body = wear_tests::bike(label);
    body["group"] = json!(group);
    let id = server.post("/v1/bikes", &body).await.expect(201).id();
    let rides: Vec<Value> = (1..200)
        .map(|ago| {
            let at = server.now().plus(Duration::days(-ago)).to_string();
            json!({"bike_id": id, "started_at": at, "distance_km": km, "source": "log", "source_id": format!("{id}{ago}")})
        })
        .collect();
    server.post("/v1/rides", &json!({"rides": rides})).await.check(200);
    server.get(&format!("/v1/bikes/{id}/outlook")).await.check(200);
}

fn mean(needs: &Value, of: &str) -> f64 {
    needs[of]["mean"].as_f64().expect("a number")
}

async fn the_year_is_told_month_by_month(store: TestStore) {
    let server = TestServer::start(store).await;
    for label in 0..4 {
        ridden(&server, &format!("h{label}"), "hire", 25.0 + 5.0 * f64::from(label)).await;
    }
    ridden(&server, "t0", "town", 6.0).await;
    let labour = json!({"costs": {"swap_labour_minor": 1000, "reading_minor": 0, "failure_minor": 0}});
    let patch = server.request(Method::PATCH, "/v1/workshop").bearer_auth(server.token_of(Role::Manager));
    server.send(patch.header("if-match", "\"1\"").json(&labour)).await.check(200);
    let year = server.get("/v1/coming-year").await.expect(200).body;
    let months = year["months"].as_array().expect("months");
    let names: Vec<&str> = months.iter().filter_map(|month| month["month"].as_str()).collect();
    assert_eq!((names.len(), names[0], names[1], names[11]), (12, "2026-12", "2027-01", "2027-11"));
    assert_eq!(
        (&year["currency"], &year["bikes_counted"], &year["group"]),
        (&json!("EUR"), &json!(5), &Value::Null)
    );
    for of in ["chains", "cassettes", "rings", "bench_minutes", "cost_minor"] {
        let sum: f64 = months.iter().map(|month| mean(month, of)).sum();
        let whole = mean(&year["year"], of);
        assert!((sum / whole - 1.0).abs() < 0.01, "{of}: {sum} {whole}");
        for needs in months.iter().chain([&year["year"], &year["rest_of_month"]]) {
            let [p10, p50, p90] =
                ["p10", "p50", "p90"].map(|level| needs[of][level].as_i64().expect("a number"));
            assert!(0 <= p10 && p10 <= p50 && p50 <= p90, "{of}: {needs}");
        }
    }
    // Nobody priced anything: a chain at 20 euros, and the labour.
    let chains = mean(&year["year"], "chains");
    assert!(chains > 4.0 && mean(&year["year"], "cost_minor") > 3_000.0 * chains, "{year}");
    assert!(mean(&year["year"], "bench_minutes") >= 20.0 * chains, "{year}");
    let assumed = year["assumed_codes"].as_array().expect("codes");
    assert!(assumed.contains(&json!("chain_price")) && assumed.contains(&json!("cassette_price")), "{year}");
    // Groups add up to the whole.
    let mut sum = 0.0;
    for group in ["hire", "town"] {
        let of_group = server.get(&format!("/v1/coming-year?group={group}")).await.expect(200).body;
        assert_eq!(of_group["group"], json!(group));
        sum += mean(&of_group["year"], "chains");
    }
    assert!((sum / chains - 1.0).abs() < 1e-6, "{sum} {chains}");
}

async fn a_year_is_of_bikes_of_ours(store: TestStore) {
    let mut server = TestServer::start(store).await;
    ridden(&server, "h0", "hire", 30.0).await;
    server.get("/v1/coming-year?group=nobody").await.check(404);
    server.move_to("Depot").await;
    server.get("/v1/coming-year?group=hire").await.check(404);
    let empty = server.get("/v1/coming-year").await.expect(200).body;
    assert_eq!((&empty["bikes_counted"], &empty["year"]["chains"]["p90"]), (&json!(0), &json!(0)));
}
