//! JSON text into a struct, with errors that point at the field.

use serde::de::DeserializeOwned;
use serde_json::error::Category;
use serde_path_to_error::Segment;

use super::{Place, WrongField};

/// Longest piece of the sender's text that a message repeats, characters.
const QUOTED: usize = 80;

/// Why a text is not the JSON that was asked for.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub enum JsonError {
    /// It isn't JSON at all.
    Syntax(WrongField),
    /// It is JSON of another shape.
    Shape(WrongField),
}

impl JsonError {
    /// The wrong field.
    #[must_use]
    pub fn into_wrong_field(self) -> WrongField {
        match self {
            Self::Syntax(error) | Self::Shape(error) => error,
        }
    }
}

/// Reads one JSON value and nothing after it.
///
/// # Errors
/// [`JsonError`], with the pointer to the first field that is wrong.
pub fn parse_json<T: DeserializeOwned>(text: &[u8]) -> Result<T, JsonError> {
    if let Err(error) = std::str::from_utf8(text) {
        return Err(JsonError::Syntax(WrongField {
            place: Place::Body(String::new()),
            message: format!("has a byte that is not UTF-8 at byte {}", error.valid_up_to() + 1),
            allowed: "JSON in UTF-8".into(),
        }));
    }
    let mut deserializer = serde_json::Deserializer::from_slice(text);
    let value = serde_path_to_error::deserialize(&mut deserializer).map_err(|error| explain(error, text))?;
    match deserializer.end() {
        Ok(()) => Ok(value),
        Err(error) => Err(JsonError::Syntax(syntax(String::new(), &error, text))),
    }
}

/// Reads a value that has been read as JSON before.
///
/// # Errors
/// The first field that is wrong.
pub fn parse_value<T: DeserializeOwned>(value: serde_json::Value) -> Result<T, WrongField> {
    serde_path_to_error::deserialize(value).map_err(|error| shape(&error))
}

fn explain(error: serde_path_to_error::Error<serde_json::Error>, text: &[u8]) -> JsonError {
    if error.inner().classify() == Category::Data {
        JsonError::Shape(shape(&error))
    } else {
        JsonError::Syntax(syntax(pointer(error.path()), error.inner(), text))
    }
}

fn shape(error: &serde_path_to_error::Error<serde_json::Error>) -> WrongField {
    let mut pointer = pointer(error.path());
    let cause = error.inner();
    let full = cause.to_string();
    let message = full.rsplit_once(" at line ").map_or(full.as_str(), |(message, _)| message);
    let (message, allowed) = if let Some(field) = quoted(message, "missing field `") {
        pointer.push_str(&format!("/{}", escape(field)));
        ("is missing".into(), "a value".into())
    } else if let Some(field) = quoted(message, "unknown field `") {
        deepen(&mut pointer, field);
        let known = message.split_once("expected ").map_or("no fields", |(_, known)| known);
        (format!("is not a known field: {:?}", shorten(field)), known.replace('`', ""))
    } else if let Some(field) = quoted(message, "duplicate field `") {
        deepen(&mut pointer, field);
        ("is there twice".into(), "one value".into())
    } else if let Some((what, expected)) = message.rsplit_once(", expected ") {
        let what = ["invalid type: ", "invalid value: ", "invalid length ", "unknown variant "]
            .iter()
            .find_map(|prefix| what.strip_prefix(prefix))
            .unwrap_or(what);
        (format!("is {}", shorten(&what.replace('`', ""))), in_words(expected))
    } else {
        (shorten(message), "a value of the documented form".into())
    };
    WrongField { place: Place::Body(pointer), message, allowed }
}

fn syntax(pointer: String, error: &serde_json::Error, text: &[u8]) -> WrongField {
    let line = text.split(|&byte| byte == b'\n').nth(error.line().saturating_sub(1)).unwrap_or_default();
    let start = error.column().saturating_sub(1).min(line.len());
    let found: String = String::from_utf8_lossy(&line[start..])
        .chars()
        .take_while(|c| !matches!(c, ',' | '}' | ']' | '\r'))
        .take(QUOTED)
        .collect();
    let full = error.to_string();
    let reason = full.rsplit_once(" at line ").map_or(full.as_str(), |(reason, _)| reason);
    let message = if error.is_eof() {
        format!("ends too early: {reason}")
    } else {
        format!("is not JSON at line {} column {}: {reason}, found {found:?}", error.line(), error.column())
    };
    WrongField {
        place: Place::Body(pointer),
        message,
        allowed: "one JSON value (no NaN, no infinity)".into(),
    }
}

fn pointer(path: &serde_path_to_error::Path) -> String {
    let mut pointer = String::new();
    for segment in path {
        match segment {
            Segment::Seq { index } => pointer.push_str(&format!("/{index}")),
            Segment::Map { key } => pointer.push_str(&format!("/{}", escape(key))),
            Segment::Enum { .. } | Segment::Unknown => {}
        }
    }
    pointer
}

/// Appends `field` unless the path already ends with it.
fn deepen(pointer: &mut String, field: &str) {
    let last = format!("/{}", escape(field));
    if !pointer.ends_with(&last) {
        pointer.push_str(&last);
    }
}

/// RFC 6901: `~` is written `~0`, `/` is written `~1`.
fn escape(key: &str) -> String {
    shorten(&key.replace('~', "~0").replace('/', "~1"))
}

fn quoted<'a>(message: &'a str, prefix: &str) -> Option<&'a str> {
    let rest = message.strip_prefix(prefix)?;
    Some(
        rest.split_once("`, expected")
            .map_or_else(|| rest.strip_suffix('`').unwrap_or(rest), |(name, _)| name),
    )
}

fn shorten(text: &str) -> String {
    match text.char_indices().nth(QUOTED) {
        Some((end, _)) => format!("{}…", &text[..end]),
        None => text.to_owned(),
    }
}

fn in_words(expected: &str) -> String {
    match expected {
        "f64" | "f32" => "a number".into(),
        "i64" | "i32" | "u64" | "u32" | "u16" | "u8" | "usize" => "a whole number".into(),
        "a boolean" => "true or false".into(),
        "a sequence" => "an array".into(),
        other if other.starts_with("struct ") => "an object".into(),
        other => other.replace('`', ""),
    }
}

#[cfg(test)]
mod tests {
    use serde::Deserialize;

    use super::*;

    #[derive(Debug, Deserialize)]
    #[serde(deny_unknown_fields)]
    #[allow(dead_code)]
    struct Outer {
        label: String,
        inner: Option<Vec<Inner>>,
    }

    #[derive(Debug, Deserialize)]
    #[serde(deny_unknown_fields)]
    #[allow(dead_code)]
    struct Inner {
        percent: f64,
        wet: Option<bool>,
    }

    fn error(text: &str) -> (String, String, String) {
        let error = parse_json::<Outer>(text.as_bytes()).expect_err(text).into_wrong_field();
        let Place::Body(pointer) = error.place else { panic!("{error:?}") };
        (pointer, error.message, error.allowed)
    }

    #[test]
    fn every_kind_of_mistake_names_its_field_its_value_and_what_is_allowed() {
        let table = [
            (r#"{}"#, "/label", "is missing", "a value"),
            (r#"{"label":3}"#, "/label", "is integer 3", "a string"),
            (r#"{"label":"a","inner":[{}]}"#, "/inner/0/percent", "is missing", "a value"),
            (
                r#"{"label":"a","inner":[{"percent":"x"}]}"#,
                "/inner/0/percent",
                r#"is string "x""#,
                "a number",
            ),
            (
                r#"{"label":"a","inner":[{"percent":1,"wet":"no"}]}"#,
                "/inner/0/wet",
                r#"is string "no""#,
                "true or false",
            ),
            (
                r#"{"label":"a","inner":[{"percent":1},{"percent":2,"extra":1}]}"#,
                "/inner/1/extra",
                r#"is not a known field: "extra""#,
                "percent or wet",
            ),
            (r#"{"label":"a","label":"b"}"#, "/label", "is there twice", "one value"),
            (r#"{"label":"a","inner":{}}"#, "/inner", "is map", "an array"),
            (
                r#"{"label":"a","inner":[{"percent":NaN}]}"#,
                "/inner/0/percent",
                r#"is not JSON at line 1 column 34: expected value, found "NaN""#,
                "one JSON value (no NaN, no infinity)",
            ),
        ];
        for (text, pointer, message, allowed) in table {
            assert_eq!(error(text), (pointer.into(), message.into(), allowed.into()), "{text}");
        }
    }

    #[test]
    fn text_that_is_not_json_is_told_from_json_of_another_shape() {
        for text in ["", "{", "{\"label\":\"a\"} {}", "{\"label\":\"a\",}", "{\"label\":1e999}"] {
            assert!(matches!(parse_json::<Outer>(text.as_bytes()), Err(JsonError::Syntax(_))), "{text}");
        }
        for text in ["[]", "3", "null", "{\"label\":null}"] {
            assert!(matches!(parse_json::<Outer>(text.as_bytes()), Err(JsonError::Shape(_))), "{text}");
        }
    }

    #[test]
    fn bytes_that_are_not_utf8_are_placed() {
        let error =
            parse_json::<Outer>(b"{\"label\":\"\xff\"}").expect_err("a broken byte").into_wrong_field();
        assert!(error.message.contains("byte 11"), "{error}");
    }

    #[test]
    fn long_values_are_cut() {
        let text = format!("{{\"{}\":1}}", "k".repeat(5_000));
        let error = parse_json::<Outer>(text.as_bytes()).expect_err("an unknown field").into_wrong_field();
        assert!(error.to_string().len() < 400, "{error}");
    }
}
