//! `wear-api estimate`: cases in, answers out, line by line.

use std::io::{BufRead as _, BufReader, Write as _};
use std::process::Stdio;

use serde_json::{Value, json};
use wear_tests::program;

fn run(input: &[u8]) -> (Vec<Value>, Option<i32>) {
    run_with(&["estimate"], input)
}

fn run_with(arguments: &[&str], input: &[u8]) -> (Vec<Value>, Option<i32>) {
    let mut child = program()
        .args(arguments)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .expect("the program starts");
    let mut stdin = child.stdin.take().expect("its input");
    let input = input.to_vec();
    let writer = std::thread::spawn(move || stdin.write_all(&input).expect("it reads"));
    let output = child.wait_with_output().expect("it ends");
    writer.join().expect("all is written");
    let text = String::from_utf8(output.stdout).expect("UTF-8");
    (text.lines().map(|line| serde_json::from_str(line).expect("JSON")).collect(), output.status.code())
}

const CASE: &str = r#"{"id":"7f","group":"town-8s","limit_percent":0.75,"readings":[{"instrument":"rule","at_reference_km":812.0,"percent":0.21},{"instrument":"drop_in","at_reference_km":1500.0,"mark_percent":0.5,"drops_in":false}],"at_reference_km":1700.0}"#;

#[test]
fn an_answer_comes_before_the_next_case_is_sent() {
    let mut child = program()
        .arg("estimate")
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .expect("the program starts");
    let mut stdin = child.stdin.take().expect("its input");
    let mut answers = BufReader::new(child.stdout.take().expect("its output")).lines();
    for id in ["a", "b", "c"] {
        writeln!(stdin, "{}", CASE.replace("7f", id)).expect("it reads");
        let answer: Value =
            serde_json::from_str(&answers.next().expect("an answer").expect("UTF-8")).expect("JSON");
        assert_eq!(answer["id"], id);
        let band = &answer["remaining_reference_km"];
        assert!(
            band["p10"].as_f64() < band["p50"].as_f64() && band["p50"].as_f64() < band["p90"].as_f64(),
            "{answer}"
        );
        assert!((0.0..=1.0).contains(&answer["probability_over_limit"].as_f64().expect("a probability")));
    }
    drop(stdin);
    assert_eq!(child.wait().expect("it ends").code(), Some(0));
}

#[test]
fn a_bad_line_gets_its_error_at_its_place_and_the_rest_is_answered() {
    let bad: [(&[u8], &str); 14] = [
        (b"nonsense", "JSON"),
        (b"{\"id\":\"x\"", "too early"),
        (b"[]", "the body"),
        (b"{\"id\":\"\xff\"}", "UTF-8"),
        (b"{\"id\":\"x\",\"limit_percent\":0.75}", "/at_reference_km"),
        (b"{\"id\":7,\"limit_percent\":0.75,\"at_reference_km\":1}", "/id"),
        (b"{\"id\":\"x\",\"limit_percent\":7.5,\"at_reference_km\":1}", "/limit_percent"),
        (b"{\"id\":\"x\",\"limit_percent\":NaN,\"at_reference_km\":1}", "/limit_percent"),
        (b"{\"id\":\"x\",\"limit_percent\":0.75,\"at_reference_km\":-1}", "/at_reference_km"),
        (b"{\"id\":\"x\",\"limit_percent\":0.75,\"at_reference_km\":1,\"colour\":\"red\"}", "/colour"),
        (b"{\"id\":\"x\",\"limit_percent\":0.75,\"at_reference_km\":1,\"readings\":{}}", "/readings"),
        (
            b"{\"id\":\"x\",\"limit_percent\":0.75,\"at_reference_km\":1,\"readings\":[{\"instrument\":\"rule\",\"at_reference_km\":2,\"percent\":0.1}]}",
            "/readings/0/at_reference_km",
        ),
        (
            b"{\"id\":\"x\",\"limit_percent\":0.75,\"at_reference_km\":3,\"readings\":[{\"instrument\":\"rule\",\"at_reference_km\":2,\"percent\":31}]}",
            "/readings/0/percent",
        ),
        (
            b"{\"id\":\"x\",\"limit_percent\":0.75,\"at_reference_km\":3,\"readings\":[{\"instrument\":\"drop_in\",\"at_reference_km\":2,\"mark_percent\":0.5}]}",
            "/readings/0/drops_in",
        ),
    ];
    for (line, named) in bad {
        let input = [CASE.as_bytes(), b"\n\n", line, b"\r\n", CASE.as_bytes()].concat();
        let (answers, code) = run(&input);
        let shown = String::from_utf8_lossy(line);
        assert_eq!((answers.len(), code), (3, Some(1)), "{shown}");
        assert_eq!((&answers[0]["id"], &answers[2]), (&json!("7f"), &answers[0]), "{shown}");
        assert_eq!(answers[1]["line"], 3, "{shown} {}", answers[1]);
        let error = answers[1]["error"].as_str().expect("an error");
        assert!(error.contains(named) && error.contains("allowed"), "{shown} {error}");
    }
}

#[test]
fn a_line_that_is_too_long_is_passed_over() {
    let input = [b"\"".repeat(3 << 20).as_slice(), b"\n", CASE.as_bytes()].concat();
    let (answers, code) = run(&input);
    assert_eq!((answers.len(), code), (2, Some(1)));
    assert_eq!((&answers[0]["line"], &answers[1]["id"]), (&json!(1), &json!("7f")));
}

#[test]
fn a_chain_as_found_is_not_taken_for_new_and_what_explains_odd_readings_is_told() {
    let case = |more: &str, readings: &str, at: f64| {
        format!(r#"{{"id":"a","limit_percent":0.75,"readings":[{readings}],"at_reference_km":{at}{more}}}"#)
            + "\n"
    };
    let day_one = r#"{"instrument":"rule","at_reference_km":0,"percent":0.4,"tool":"rule-2","read_by":"m1"}"#;
    let odd = r#"{"instrument":"rule","at_reference_km":3000,"percent":0.45},{"instrument":"rule","at_reference_km":3600,"percent":0.12}"#;
    let one = r#"{"instrument":"rule","at_reference_km":1000,"percent":0.35}"#;
    let input = [
        case(r#","start":"as_found","bike":"b12""#, day_one, 0.0),
        case(r#","start":"new""#, day_one, 0.0),
        case("", odd, 3_600.0),
        case(r#","rides_recorded":"most""#, one, 1_000.0),
        case(r#","rides_recorded":"all""#, one, 1_000.0),
        case(r#","start":"old""#, one, 1_000.0),
        case(r#","rides_recorded":"none""#, one, 1_000.0),
    ]
    .concat();
    let (answers, code) = run(input.as_bytes());
    assert_eq!(code, Some(1));
    let middle = |index: usize| answers[index]["elongation_percent"]["p50"].as_f64().expect("a number");
    assert!((0.35..0.43).contains(&middle(0)), "{}", answers[0]);
    assert!(answers[0]["warnings"].as_array().expect("a list").is_empty(), "{}", answers[0]);
    assert!(answers[0].get("explanations").is_none(), "{}", answers[0]);
    assert!(middle(1) < 0.2, "{}", answers[1]);
    assert_eq!(answers[2]["explanations"][0]["code"], "unrecorded_swap", "{}", answers[2]);
    assert_eq!(answers[2]["explanations"][0]["after_reference_km"], 3_000.0);
    assert!(middle(2) < 0.2, "{}", answers[2]);
    // Riding that may be missing makes a chain wear less fast than it seems.
    let left = |index: usize| answers[index]["remaining_reference_km"]["p50"].as_f64().expect("a number");
    assert!(left(3) > left(4), "{} {}", answers[3], answers[4]);
    assert!(answers[5]["error"].as_str().expect("a text").contains("as_found"), "{}", answers[5]);
    assert!(answers[6]["error"].as_str().expect("a text").contains("most"), "{}", answers[6]);
}

/// Sixty chains put on one after the other over two years, ten km a day: what they wear grows by two fifths a year, and those of
/// model "b" wear a fifth slower.
fn drifting(dated: bool) -> String {
    let day = |number: f64| {
        let date = chrono::NaiveDate::from_ymd_opt(2024, 1, 1).expect("a date");
        (date + chrono::Days::new(number as u64)).to_string()
    };
    let mut lines = String::new();
    for chain in 0..60 {
        let begun = f64::from(chain) * 9.0;
        let (model, factor) = if chain % 2 == 0 { ("a", 1.0) } else { ("b", 0.8) };
        // A fifth more or less from chain to chain, the same for both models.
        let factor = factor * (0.2 * f64::from((chain / 2) % 5 - 2) / 2.0).exp();
        let slope = 1.4_f64.ln() / 365.25;
        let worn = |from: f64, to: f64| {
            0.07 + factor * 1.25e-3 * ((slope * to).exp() - (slope * from).exp()) / slope
        };
        let readings: Vec<Value> = [60.0, 130.0, 200.0]
            .iter()
            .map(|after| {
                let mut reading = json!({"instrument": "dial", "at_reference_km": 10.0 * after,
                    "percent": (1e3 * worn(begun, begun + after)).round() / 1e3});
                if dated {
                    reading["on"] = json!(day(begun + after));
                }
                reading
            })
            .collect();
        let case = json!({"id": chain.to_string(), "group": "town", "limit_percent": 0.75, "readings": readings,
            "at_reference_km": 2_000.0, "model": model, "started_on": day(begun), "on": day(begun + 200.0)});
        lines += &format!("{case}\n");
    }
    lines
}

#[test]
fn days_tell_how_wear_drifts_and_models_what_each_is_worth() {
    let (answers, code) = run_with(&["estimate", "--learn"], drifting(true).as_bytes());
    assert_eq!((answers.len(), code), (60, Some(0)));
    let basis = |chain: usize, field: &str| answers[chain]["basis"][field].as_f64().expect("a number");
    let (drift, sd) = (basis(0, "drift_ln_per_year"), basis(0, "drift_ln_sd"));
    assert!((drift - 1.4_f64.ln()).abs() < 3.0 * sd && (0.01..0.1).contains(&sd), "{drift} {sd}");
    let better = basis(1, "model_and_lubricants_factor") / basis(0, "model_and_lubricants_factor");
    assert!((0.74..0.9).contains(&better), "{better}");
    // The last chain's rate is that of its day, two fifths above that of the first a year before.
    let rate = |chain: usize| basis(chain, "percent_per_1000_reference_km");
    assert!((1.4..2.0).contains(&(rate(58) / rate(0))), "{} {}", rate(0), rate(58));
    let (undated, _) = run_with(&["estimate", "--learn"], drifting(false).as_bytes());
    assert!(undated[0]["basis"].get("drift_ln_per_year").is_none(), "{}", undated[0]);
    let wrong = CASE.replace(
        "\"limit_percent\"",
        "\"on\":\"31.12.2025\",\"lubricants\":{\"wax\":0.7,\"oil\":0.6},\"limit_percent\"",
    );
    let (answers, _) = run(wrong.as_bytes());
    let error = answers[0]["error"].as_str().expect("a text");
    assert!(error.contains("/on") && error.contains("/lubricants"), "{error}");
}
