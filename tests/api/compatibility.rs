//! Chain length and parts that go together, without a bike.

use serde_json::{Value, json};
use wear_tests::{TestServer, TestStore, on_both_stores};

on_both_stores!(a_chain_has_its_length, parts_have_verdicts_with_reasons, wrong_parts_are_named);

async fn a_chain_has_its_length(store: TestStore) {
    let server = TestServer::start(store).await;
    let body = json!({"rings": [42], "cogs": [30, 11, 13, 15, 17, 20, 23, 26], "chainstay_mm": 455});
    let answer = server.post("/v1/chain-length", &body).await.expect(200).body;
    assert_eq!(answer["links"], 110);
    let exact = answer["exact_pitches"].as_f64().expect("pitches");
    assert!((exact - 107.755).abs() < 5e-3, "{exact}");
    assert_eq!(answer["needed_capacity_teeth"], 19);
    let single = json!({"rings": [44], "cogs": [18], "chainstay_mm": 420});
    let answer = server.post("/v1/chain-length", &single).await.expect(200).body;
    assert_eq!(answer["links"], 98);
    assert!(answer["straight_chainstay_mm"].as_f64().expect("mm") > 420.0);
}

async fn parts_have_verdicts_with_reasons(store: TestStore) {
    let server = TestServer::start(store).await;
    let ask = async |body: Value| server.post("/v1/compatibility", &body).await.expect(200).body;
    let answer = ask(json!({
        "chain": {"sprockets": 11, "links": 104}, "cassette": {"cogs": [11, 13, 15, 17, 19, 21, 24, 28, 32, 37, 42],
            "interface": "Nine splines, long"},
        "hub": {"interfaces": ["nine splines, short"]}, "rings": [{"teeth": 39, "narrow_wide": true, "sprockets": 11}],
        "rear_derailleur": {"capacity_teeth": 41, "largest_cog_teeth": 42}, "chainstay_mm": 440,
        "connecting_link": {"sprockets": 11, "used": true}, "shifter_sprockets": 11
    })).await;
    assert_eq!(answer["verdict"], "does_not");
    let findings = answer["findings"].as_array().expect("findings");
    let of = |question: &str| -> Vec<&str> {
        let about = findings.iter().filter(|it| it["question"] == question);
        about.filter_map(|it| it["verdict"].as_str()).collect()
    };
    assert_eq!(of("chain_width"), ["fits"]);
    assert_eq!(of("freehub"), ["does_not"]);
    assert!(of("narrow_wide").contains(&"does_not"));
    assert_eq!(of("capacity"), ["fits"]);
    assert_eq!(of("chain_length"), ["does_not"]);
    assert_eq!(of("connecting_link"), ["does_not"]);
    assert_eq!(of("shifter"), ["fits"]);
    for finding in findings {
        assert!(finding["reason"].as_str().is_some_and(|reason| reason.len() > 10), "{finding}");
        assert!(finding["source"].as_str().is_some_and(|source| !source.is_empty()), "{finding}");
    }
    assert_eq!(ask(json!({})).await["findings"][0]["question"], "parts");
}

async fn wrong_parts_are_named(store: TestStore) {
    let server = TestServer::start(store).await;
    for (body, pointer) in [
        (json!({"chain": {"sprockets": 15}}), "/chain/sprockets"),
        (json!({"chain": {"width": "wide"}}), "/chain/width"),
        (json!({"cassette": {"cogs": []}}), "/cassette/cogs"),
        (json!({"cassette": {"cogs": [11, 81]}}), "/cassette/cogs/1"),
        (json!({"rings": [{"teeth": 8}]}), "/rings/0/teeth"),
        (json!({"rear_derailleur": {"capacity_teeth": -1}}), "/rear_derailleur/capacity_teeth"),
        (json!({"hub": {"interfaces": [""]}}), "/hub/interfaces/0"),
        (json!({"connecting_link": {"sprockets": 0}}), "/connecting_link/sprockets"),
        (json!({"chainstay_mm": 100}), "/chainstay_mm"),
        (json!({"gearing": "belt"}), "/gearing"),
    ] {
        let answer = server.post("/v1/compatibility", &body).await.expect(422);
        assert_eq!(answer.pointers(), [pointer], "{body}");
    }
    let body = json!({"rings": [42], "cogs": [11], "chainstay_mm": 900});
    assert_eq!(server.post("/v1/chain-length", &body).await.expect(422).pointers(), ["/chainstay_mm"]);
}
