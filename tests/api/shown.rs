//! An answer as the document shows it: what differs from one time to the next is masked, long lists are cut.

use serde_json::Value;

/// A list of more than these shows its first [`SHOWN`].
const LONG: usize = 12;
const SHOWN: usize = 3;

/// What takes the place of a calendar's or a token's secret.
const SECRET: &str = "00112233445566778899aabbccddeeff00112233445566778899aabbccddeeff";

/// What is never the same twice, and what stands for it: how long a delivery took, and the chance in its delay.
const MASKED: [(&str, &str); 2] = [("milliseconds", "14"), ("next_at", "\"2026-11-25T12:00:05Z\"")];

/// What takes the place of a link's code.
const LINK_CODE: &str = "7K3M-9QXT-2B4D";

fn is_link_code(text: &str) -> bool {
    let groups: Vec<&str> = text.split('-').collect();
    let is_digit = |c: char| c.is_ascii_digit() || c.is_ascii_uppercase();
    groups.len() == 3 && groups.iter().all(|group| group.len() == 4 && group.chars().all(is_digit))
}

/// The answer with ids, secrets and chance masked by values of the same form: the same id by the same.
pub fn shown(answer: &Value, workshop: &str) -> Value {
    Mask { workshop, ids: Vec::new() }.value(answer)
}

struct Mask<'a> {
    workshop: &'a str,
    ids: Vec<uuid::Uuid>,
}

impl Mask<'_> {
    fn value(&mut self, value: &Value) -> Value {
        match value {
            Value::Object(fields) => fields
                .iter()
                .map(|(name, value)| {
                    let mask = MASKED.iter().find(|(masked, _)| masked == name && !value.is_null());
                    let value = match mask {
                        Some((_, mask)) => serde_json::from_str(mask).expect("JSON"),
                        None => self.value(value),
                    };
                    (name.clone(), value)
                })
                .collect(),
            Value::Array(items) => {
                let shown = if items.len() > LONG { SHOWN } else { items.len() };
                items.iter().take(shown).map(|item| self.value(item)).collect()
            }
            Value::String(text) if is_link_code(text) => LINK_CODE.into(),
            Value::String(text) if text.starts_with("whsec_") => {
                "whsec_AAECAwQFBgcICQoLDA0ODxAREhMUFRYXGBkaGxwdHh8=".into()
            }
            Value::String(text) => self.text(&text.replace(self.workshop, "Harbour")).into(),
            other => other.clone(),
        }
    }

    fn text(&mut self, text: &str) -> String {
        let mut whole = String::new();
        let mut rest = text;
        while let Some(first) = rest.chars().next() {
            let is_hex = |text: &str| text.bytes().all(|byte| byte.is_ascii_hexdigit());
            let id = |length| rest.get(..length).and_then(|text| uuid::Uuid::try_parse(text).ok());
            if rest.get(..SECRET.len()).is_some_and(is_hex) {
                whole += SECRET;
                rest = &rest[SECRET.len()..];
            } else if let Some(id) = id(36) {
                whole += &self.masked(id).to_string();
                rest = &rest[36..];
            } else if let Some(id) = id(32) {
                whole += &self.masked(id).simple().to_string();
                rest = &rest[32..];
            } else {
                whole.push(first);
                rest = &rest[first.len_utf8()..];
            }
        }
        whole
    }

    fn masked(&mut self, id: uuid::Uuid) -> uuid::Uuid {
        let place = self.ids.iter().position(|known| *known == id).unwrap_or_else(|| {
            self.ids.push(id);
            self.ids.len() - 1
        });
        let first = uuid::uuid!("019abf3e-6a34-7d6e-9a51-000000000001");
        uuid::Uuid::from_u128(first.as_u128() + place as u128)
    }
}

/// Notes where an example and an answer differ. Numbers may by a millionth.
pub fn compare(example: &Value, answer: &Value, place: &str, differences: &mut Vec<String>) {
    match (example, answer) {
        (Value::Object(example), Value::Object(answer)) => {
            for (name, one) in example {
                match answer.get(name) {
                    Some(other) => compare(one, other, &format!("{place}/{name}"), differences),
                    None => differences.push(format!("{place}/{name} is only in the example")),
                }
            }
            for name in answer.keys().filter(|name| !example.contains_key(*name)) {
                differences.push(format!("{place}/{name} is only in the answer"));
            }
        }
        (Value::Array(example), Value::Array(answer)) => {
            if example.len() != answer.len() {
                differences.push(format!("{place} has {} items, not {}", answer.len(), example.len()));
            }
            for (index, (one, other)) in example.iter().zip(answer).enumerate() {
                compare(one, other, &format!("{place}/{index}"), differences);
            }
        }
        (Value::Number(one), Value::Number(other)) => {
            let (one, other) = (one.as_f64().expect("a number"), other.as_f64().expect("a number"));
            if (one - other).abs() > 1e-6 * one.abs().max(1.0) {
                differences.push(format!("{place} is {other}, not {one}"));
            }
        }
        (one, other) if one == other => {}
        (one, other) => differences.push(format!("{place} is {other}, not {one}")),
    }
}

#[test]
fn a_mask_keeps_the_form() {
    let id = uuid::Uuid::now_v7();
    let answer = serde_json::json!({"id": id, "webhook_id": format!("msg_{}", id.simple()), "milliseconds": 3,
        "next_at": null, "address": format!("/v1/calendar/{}.ics", "ab".repeat(32)), "name": "NAME:here",
        "label": "ä 041", "curve": vec![1; 20]});
    let expected = serde_json::json!({"id": "019abf3e-6a34-7d6e-9a51-000000000001",
        "webhook_id": "msg_019abf3e6a347d6e9a51000000000001", "milliseconds": 14, "next_at": null,
        "address": format!("/v1/calendar/{SECRET}.ics"), "name": "NAME:Harbour", "label": "ä 041", "curve": [1, 1, 1]});
    assert_eq!(shown(&answer, "here"), expected);
}

#[test]
fn every_difference_is_noted() {
    let example = serde_json::json!({"a": 1.0, "b": [1, 2], "c": "x", "d": null, "gone": 1});
    let mut found = Vec::new();
    compare(&example, &example, "", &mut found);
    assert_eq!(found, [""; 0]);
    let answer = serde_json::json!({"a": 1.00001, "b": [1], "c": "y", "d": 0, "new": 1});
    compare(&example, &answer, "", &mut found);
    let expected = [
        "/a is 1.00001, not 1",
        "/b has 1 items, not 2",
        "/c is \"y\", not \"x\"",
        "/d is 0, not null",
        "/gone is only in the example",
        "/new is only in the answer",
    ];
    assert_eq!(found, expected);
}
