//! What rain does to a fleet's chains: learned by the night, told, and used by the bikes that ride in it.

use serde_json::{Value, json};
use wear_tests::{TestServer, TestStore, on_both_stores};

on_both_stores!(hard_rain_is_found_told_and_counted);

/// How many times as fast rain wears these chains, over what is assumed of it.
const HARDER: f64 = 1.6;

/// Fifty-six bikes of which some ride in rain up to nine times in ten, each read after 900 and 1,800 km.
async fn fleet(server: &TestServer) -> Vec<String> {
    let (mut bikes, mut rides) = (Vec::new(), Vec::new());
    for number in 0..56_u32 {
        let bike = server.bike(&format!("{number:03}")).await;
        let wet_of_ten = [0, 1, 2, 3, 6, 8, 9][number as usize % 7];
        for ride in 0..40_u32 {
            let (month, day) = (9 + ride / 20, 1 + ride % 20);
            rides.push(json!({"bike_id": bike, "started_at": format!("2026-{month:02}-{day:02}T08:00:00Z"),
                "distance_km": 45, "wet": (ride * 7 + number) % 10 < wet_of_ten,
                "source": "log", "source_id": format!("{number}-{ride}")}));
        }
        bikes.push(bike);
    }
    for some in rides.chunks(1_000) {
        let answer = server.post("/v1/rides", &json!({"rides": some})).await.expect(200).body;
        assert_eq!(answer["accepted"], json!(some.len()), "{answer}");
    }
    server.settle().await;
    for (number, bike) in bikes.iter().enumerate() {
        let of_rides = |count: u32| {
            let wet_of_ten = [0, 1, 2, 3, 6, 8, 9][number % 7];
            let wet = (0..count).filter(|ride| (ride * 7 + number as u32) % 10 < wet_of_ten).count();
            45.0 * (f64::from(count) + (2.0 * HARDER - 1.0) * wet as f64)
        };
        for (day, count) in [("2026-09-25", 20), ("2026-10-25", 40)] {
            let rate = 0.115e-3 * (1.0 + 0.05 * (number as f64 / 7.0 % 5.0 - 2.0));
            let percent = 0.05 + rate * of_rides(count);
            let reading = json!({"taken_at": format!("{day}T08:00:00Z"), "instrument": "dial",
                "percent": (1e3 * percent).round() / 1e3});
            server.post(&format!("/v1/bikes/{bike}/readings"), &reading).await.check(201);
        }
    }
    bikes
}

/// A bike that nobody has read, ridden in the rain.
async fn unread(server: &TestServer) -> String {
    let bike = server.bike("rain").await;
    for day in 1..=20 {
        let ride = json!({"started_at": format!("2026-10-{day:02}T08:00:00Z"), "distance_km": 30, "wet": true,
            "source": "log", "source_id": format!("rain-{day}")});
        server.post(&format!("/v1/bikes/{bike}/rides"), &ride).await.check(201);
    }
    bike
}

async fn hard_rain_is_found_told_and_counted(store: TestStore) {
    let server = TestServer::start(store).await;
    let nothing = server.get("/v1/calibration").await.expect(200).body;
    assert_eq!(nothing["conditions"], json!([]));
    let bikes = fleet(&server).await;
    let wet = unread(&server).await;
    server.settle().await;
    let outlook = async |bike: &str| server.get(&format!("/v1/bikes/{bike}/outlook")).await.expect(200).body;
    let before = outlook(&wet).await;
    assert_eq!(before["basis"]["learned_conditions"], json!([]));
    let has = |outlook: &Value, code: &str| {
        outlook["basis"]["assumed_codes"].as_array().expect("codes").contains(&json!(code))
    };
    assert!(has(&before, "context_multipliers"), "{before}");

    server.post("/v1/calibration", &Value::Null).await.check(202);
    server.settle().await;
    let known = server.get("/v1/calibration").await.expect(200).body;
    let conditions = known["conditions"].as_array().expect("a list");
    let names: Vec<&str> = conditions.iter().filter_map(|it| it["condition"].as_str()).collect();
    assert_eq!(names, ["wet", "gravel", "mud", "indoor", "care"]);
    let rain = &conditions[0];
    let number = |value: &Value| value.as_f64().expect("a number");
    assert_eq!(rain["learned"], json!(true), "{rain}");
    // Care that nobody records counts for more in the wet, so that not all of it is rain's.
    let [p10, p50, p90] = ["times_p10", "times_p50", "times_p90"].map(|of| number(&rain[of]));
    assert!(p10 < p50 && p50 < p90 && (2.3..3.3).contains(&p50), "{rain}");
    assert!(rain["said"].as_str().expect("words").starts_with("Rain wears chains "), "{rain}");
    let gravel = &conditions[1];
    assert_eq!((&gravel["learned"], &gravel["times_p50"]), (&json!(false), &json!(1.8)));
    assert!(gravel["said"].as_str().expect("words").contains("so far 0 do"), "{gravel}");

    let after = outlook(&wet).await;
    // Nobody enters care here: what is taken for it is counted more in the wet, and so is found wanting with the rain.
    let learned = after["basis"]["learned_conditions"].as_array().expect("a list");
    assert!(learned.contains(&json!("wet")) && !learned.contains(&json!("gravel")), "{after}");
    assert!(!has(&after, "context_multipliers"), "{after}");
    // The same riding counts for more, here as on a bike that was read.
    let more = number(&after["basis"]["reference_km"]) / number(&before["basis"]["reference_km"]);
    assert!((1.1..2.0).contains(&more), "{more} {p50}");

    // What a second night learns from exposures of the first night's multipliers is the same.
    server.post("/v1/calibration", &Value::Null).await.check(202);
    server.settle().await;
    let again = server.get("/v1/calibration").await.expect(200).body;
    let second = number(&again["conditions"][0]["times_p50"]);
    assert!((second / p50 - 1.0).abs() < 0.01, "{second} {p50}");
    assert_eq!(outlook(&bikes[5]).await["basis"]["learned_conditions"], json!(learned));
}
