//! What is wrong is named, by field, value and what is allowed, and nothing changes.

use serde_json::{Value, json};
use wear_tests::{TestServer, TestStore, bike, on_both_stores};

on_both_stores!(
    each_wrong_body_is_named,
    each_wrong_parameter_is_named,
    text_that_is_no_json_is_placed,
    all_mistakes_of_a_body_are_named_at_once,
);

fn bike_with(pointer: &str, value: Value) -> Value {
    let mut body = bike("041");
    match body.pointer_mut(pointer) {
        Some(field) => *field = value,
        None => body[&pointer[1..]] = value,
    }
    body
}

fn reading(fields: Value) -> Value {
    let mut body = json!({"taken_at": "2026-03-01T17:00:00Z"});
    for (name, value) in fields.as_object().expect("fields") {
        body[name] = value.clone();
    }
    body
}

async fn each_wrong_body_is_named(store: TestStore) {
    let server = TestServer::start(store).await;
    let id = server.bike("041").await;
    let (bikes, rides) = ("/v1/bikes".to_owned(), format!("/v1/bikes/{id}/rides"));
    let (readings, swaps) = (format!("/v1/bikes/{id}/readings"), format!("/v1/bikes/{id}/swaps"));
    let care = format!("/v1/bikes/{id}/care");
    let ride = |name: &str, value: Value| {
        let mut body = json!({"started_at": "2026-03-01T08:00:00Z", "distance_km": 10});
        body[name] = value;
        body
    };
    let table = [
        (&bikes, bike_with("/label", json!("")), "/label"),
        (&bikes, bike_with("/label", json!("x".repeat(65))), "/label"),
        (&bikes, bike_with("/label", json!(41)), "/label"),
        (&bikes, bike_with("/use", json!("boat")), "/use"),
        (&bikes, bike_with("/fitted_on", json!("2026-02-30")), "/fitted_on"),
        (&bikes, bike_with("/fitted_on", json!("2026-11-27")), "/fitted_on"),
        (&bikes, bike_with("/colour", json!("red")), "/colour"),
        (&bikes, bike_with("/drivetrain", json!([42])), "/drivetrain"),
        (&bikes, bike_with("/drivetrain/links", json!(1140)), "/drivetrain/links"),
        (&bikes, bike_with("/drivetrain/cogs", json!([])), "/drivetrain/cogs"),
        (&bikes, bike_with("/drivetrain/cogs/2", json!(-1)), "/drivetrain/cogs/2"),
        (&bikes, bike_with("/drivetrain/cogs/2", json!(13.5)), "/drivetrain/cogs/2"),
        (&bikes, bike_with("/drivetrain/limit_percent", json!(75)), "/drivetrain/limit_percent"),
        (&rides, ride("distance_km", json!(-1)), "/distance_km"),
        (&rides, ride("distance_km", json!("far")), "/distance_km"),
        (&rides, ride("distance_km", Value::Null), "/distance_km"),
        (&rides, ride("started_at", json!("2026-03-01")), "/started_at"),
        (&rides, ride("started_at", json!("2026-11-25T12:06:00Z")), "/started_at"),
        (&rides, ride("surface", json!("ice")), "/surface"),
        (&rides, ride("wet", json!("no")), "/wet"),
        (&rides, ride("climb_m", json!(40_000)), "/climb_m"),
        (&rides, ride("source", json!("log")), "/source_id"),
        (&rides, ride("speed", json!(20)), "/speed"),
        (&readings, reading(json!({"instrument": "rule", "percent": 3.1})), "/percent"),
        (&readings, reading(json!({"instrument": "rule", "percent": -0.4})), "/percent"),
        (&readings, reading(json!({"instrument": "rule", "length_mm": 12.03, "pitches": 24})), "/length_mm"),
        (&readings, reading(json!({"instrument": "rule"})), "/percent"),
        (
            &readings,
            reading(json!({"instrument": "drop_in", "percent": 0.3, "mark_percent": 0.5, "drops_in": true})),
            "/percent",
        ),
        (&readings, reading(json!({"instrument": "drop_in", "mark_percent": 0.5})), "/drops_in"),
        (&readings, reading(json!({"instrument": "ruler", "percent": 0.3})), "/instrument"),
        (&readings, reading(json!({"percent": 0.3})), "/instrument"),
        (
            &readings,
            json!({"taken_at": "2027-01-01T00:00:00Z", "instrument": "rule", "percent": 0.3}),
            "/taken_at",
        ),
        (
            &readings,
            json!({"taken_at": "2025-12-31T00:00:00Z", "instrument": "rule", "percent": 0.3}),
            "/taken_at",
        ),
        (&swaps, json!({"place": "saddle"}), "/place"),
        (&swaps, json!({"place": "chain", "swapped_at": "2025-12-31T00:00:00Z"}), "/swapped_at"),
        (&swaps, json!({"place": "ring", "position": 16}), "/position"),
        (
            &swaps,
            json!({"place": "chain", "part_model_id": "019abf3e-6a34-7d6e-9a51-0d3c5e1f2a10"}),
            "/part_model_id",
        ),
        (
            &swaps,
            json!({"place": "chain", "reading": {"instrument": "rule", "percent": 9}}),
            "/reading/percent",
        ),
        (&care, json!({"done_at": "2026-12-25T00:00:00Z"}), "/done_at"),
        (&care, json!({"kind": "painted"}), "/kind"),
    ];
    for (path, body, pointer) in table {
        let answer = server.post(path, &body).await;
        assert_eq!(answer.status.as_u16(), 422, "{path} {body} {}", answer.body);
        assert_eq!(answer.problem(), "invalid-body", "{body}");
        assert_eq!(answer.pointers(), [pointer], "{body} {}", answer.body);
        let error = &answer.body["errors"][0];
        assert!(error["message"].as_str().is_some_and(|text| !text.is_empty()), "{error}");
        assert!(error["allowed"].as_str().is_some_and(|text| !text.is_empty()), "{error}");
        assert_eq!(answer.header("content-type"), "application/problem+json");
        assert_eq!(answer.body["request_id"], answer.header("x-request-id"));
    }
    let outlook = server.get(&format!("/v1/bikes/{id}/outlook")).await.expect(200).body;
    assert_eq!(
        (&outlook["basis"]["readings_used"], &outlook["basis"]["distance_km"]),
        (&json!(0), &json!(0.0))
    );
    assert_eq!(server.get(&bikes).await.expect(200).body["items"].as_array().map(Vec::len), Some(1));
}

async fn each_wrong_parameter_is_named(store: TestStore) {
    let server = TestServer::start(store).await;
    let table = [
        ("/v1/bikes?limit=0", "limit"),
        ("/v1/bikes?limit=101", "limit"),
        ("/v1/bikes?limit=ten", "limit"),
        ("/v1/bikes?after=nowhere", "after"),
        ("/v1/bikes?sort=colour", "sort"),
        ("/v1/bikes?retired=maybe", "retired"),
        ("/v1/bikes?colour=red", "colour"),
        ("/v1/bikes?limit=1&limit=2", "limit"),
        ("/v1/outlooks?advice=panic", "advice"),
        ("/v1/outlooks?due_before=soon", "due_before"),
    ];
    for (path, parameter) in table {
        let answer = server.get(path).await;
        assert_eq!(
            (answer.status.as_u16(), answer.problem()),
            (400, "invalid-parameter"),
            "{path} {}",
            answer.body
        );
        assert_eq!(answer.body["errors"][0]["parameter"], parameter, "{path} {}", answer.body);
    }
}

async fn text_that_is_no_json_is_placed(store: TestStore) {
    let server = TestServer::start(store).await;
    let id = server.bike("041").await;
    let path = format!("/v1/bikes/{id}/readings");
    let table: [(&[u8], &str); 6] = [
        (b"", ""),
        (b"{\"instrument\":\"rule\",\"percent\":NaN}", "/percent"),
        (b"{\"instrument\":\"rule\",\"percent\":0.3", ""),
        (b"{\"instrument\":\"rule\",\"percent\":0.3} tail", ""),
        (b"{\"instrument\":\"\xff\"}", ""),
        (b"{\"instrument\":\"rule\",\"percent\":1e999}", "/percent"),
    ];
    for (text, pointer) in table {
        let answer = server.post_text(&path, text.to_vec()).await;
        let shown = String::from_utf8_lossy(text).into_owned();
        assert_eq!(
            (answer.status.as_u16(), answer.problem()),
            (400, "invalid-json"),
            "{shown} {}",
            answer.body
        );
        assert_eq!(answer.pointers(), [pointer], "{shown}");
    }
}

async fn all_mistakes_of_a_body_are_named_at_once(store: TestStore) {
    let server = TestServer::start(store).await;
    let body = json!({"label": " ", "group": "", "use": "boat", "fitted_on": "soon",
        "drivetrain": {"rings": [8, 42], "cogs": [11, 99], "links": 0, "limit_percent": 9}});
    let answer = server.post("/v1/bikes", &body).await.expect(422);
    let expected = [
        "/label",
        "/use",
        "/group",
        "/fitted_on",
        "/drivetrain/rings/0",
        "/drivetrain/cogs/1",
        "/drivetrain/links",
        "/drivetrain/limit_percent",
    ];
    assert_eq!(answer.pointers(), expected);
}
