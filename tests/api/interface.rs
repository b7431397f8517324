//! The page for those who write apps shows what the service answers.

use std::path::Path;

use serde_json::Value;

fn read(path: &str) -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("..").join(path);
    std::fs::read_to_string(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
}

/// Whether all that is shown is there; lists are shown whole.
fn shows(shown: &Value, there: &Value) -> bool {
    match (shown, there) {
        (Value::Object(shown), Value::Object(there)) => {
            shown.iter().all(|(name, value)| there.get(name).is_some_and(|there| shows(value, there)))
        }
        (Value::Array(shown), Value::Array(there)) => {
            shown.len() == there.len() && shown.iter().zip(there).all(|(shown, there)| shows(shown, there))
        }
        _ => shown == there,
    }
}

#[test]
fn answers_on_the_page_are_those_that_were_recorded() {
    let page = read("docs/INTERFACE.md");
    let recorded: Value = serde_json::from_str(&read("openapi/answers.json")).expect("JSON");
    let mut shown = 0;
    for (place, _) in page.match_indices("<!-- answer ") {
        let (named, rest) = page[place..].split_once(" -->\n```json\n").expect("an answer");
        let (operation, status) =
            named.trim_start_matches("<!-- answer ").split_once(' ').expect("operation and status");
        let answer = &rest[..rest.find("\n```").expect("an end")];
        let answer: Value =
            serde_json::from_str(answer).unwrap_or_else(|error| panic!("{operation}: {error}"));
        assert!(
            shows(&answer, &recorded[operation][status]),
            "{operation} {status}: {}",
            recorded[operation]
        );
        shown += 1;
    }
    assert!(shown > 0);
}

#[test]
fn the_bench_problem_is_planned_as_shown() {
    let page = read("docs/INTERFACE.md");
    let blocks: Vec<&str> =
        page.split("```json\n").skip(1).filter_map(|block| block.split("\n```").next()).collect();
    let [.., problem, plan] = blocks.as_slice() else { panic!("a problem and its plan") };
    let mut found = Vec::new();
    wear_api::command::plan::run(problem.as_bytes(), &mut found).expect("a plan");
    let (found, plan): (Value, Value) =
        (serde_json::from_slice(&found).expect("JSON"), serde_json::from_str(plan).expect("JSON"));
    assert_eq!(found, plan);
}
