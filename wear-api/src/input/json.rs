//! JSON text into a struct, with errors that point at the field.

use serde::de::DeserializeOwned;
use serde_json::error::Category;
use serde_path_to_error::Segment;

use super::objects::Objects;
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
    match parse_text(text) {
        Err(error) if error.wants_whole => parse_text(&whole_numbers(text)).map_err(|error| error.error),
        parsed => parsed.map_err(|error| error.error),
    }
}

struct ParseError {
    error: JsonError,
    /// A number with a decimal point stood where a whole one is meant.
    wants_whole: bool,
}

fn parse_text<T: DeserializeOwned>(text: &[u8]) -> Result<T, ParseError> {
    let mut deserializer = serde_json::Deserializer::from_slice(text);
    let value = serde_path_to_error::deserialize(Objects(&mut deserializer))
        .map_err(|error| ParseError { wants_whole: wants_whole(&error), error: explain::<T>(error, text) })?;
    match deserializer.end() {
        Ok(()) => Ok(value),
        Err(error) => Err(ParseError {
            error: JsonError::Syntax(syntax(String::new(), &error, text)),
            wants_whole: false,
        }),
    }
}

fn wants_whole(error: &serde_path_to_error::Error<serde_json::Error>) -> bool {
    error.inner().to_string().starts_with("invalid type: floating point")
}

/// The text with `79.0` and `7.9e1` written `79`: JSON has one type of number (RFC 8259, section 6).
fn whole_numbers(text: &[u8]) -> Vec<u8> {
    let mut out = Vec::with_capacity(text.len());
    let mut rest = text;
    let mut in_string = false;
    while let Some((&byte, after)) = rest.split_first() {
        if in_string {
            let taken = if byte == b'\\' { 2.min(rest.len()) } else { 1 };
            in_string = byte != b'"';
            out.extend_from_slice(&rest[..taken]);
            rest = &rest[taken..];
        } else if byte == b'-' || byte.is_ascii_digit() {
            let end = rest
                .iter()
                .position(|byte| !matches!(byte, b'0'..=b'9' | b'+' | b'-' | b'.' | b'e' | b'E'))
                .unwrap_or(rest.len());
            match whole(&rest[..end]) {
                Some(number) => out.extend_from_slice(number.to_string().as_bytes()),
                None => out.extend_from_slice(&rest[..end]),
            }
            rest = &rest[end..];
        } else {
            in_string = byte == b'"';
            out.push(byte);
            rest = after;
        }
    }
    out
}

/// The whole number that a JSON number with a point or an exponent is, where a double holds it exactly.
fn whole(token: &[u8]) -> Option<i64> {
    const EXACT: f64 = 9_007_199_254_740_992.0;
    if !token.iter().any(|byte| matches!(byte, b'.' | b'e' | b'E')) {
        return None;
    }
    // By the rules of JSON, which has no `2.`, `01.0` or `+1.0`.
    let number: f64 = serde_json::from_slice(token).ok()?;
    (number.fract() == 0.0 && number.abs() <= EXACT).then_some(number as i64)
}

/// Reads a value that has been read as JSON before.
///
/// # Errors
/// The first field that is wrong.
pub fn parse_value<T: DeserializeOwned>(value: serde_json::Value) -> Result<T, WrongField> {
    match serde_path_to_error::deserialize(Objects(&value)) {
        Err(error) if wants_whole(&error) => {
            parse_json(value.to_string().as_bytes()).map_err(JsonError::into_wrong_field)
        }
        parsed => parsed.map_err(|error| shape(&error)),
    }
}

fn explain<T: DeserializeOwned>(
    error: serde_path_to_error::Error<serde_json::Error>,
    text: &[u8],
) -> JsonError {
    if error.inner().classify() == Category::Data {
        return JsonError::Shape(shape(&error));
    }
    // The reader of text calls a number where a word is meant bad syntax; the reader of values doesn't.
    match serde_json::from_slice::<serde_json::Value>(&whole_numbers(text))
        .map(|value| serde_path_to_error::deserialize::<_, T>(Objects(&value)))
    {
        Ok(Err(error)) => JsonError::Shape(shape(&error)),
        Ok(Ok(_)) | Err(_) => JsonError::Syntax(syntax(pointer(error.path()), error.inner(), text)),
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
        let what = match what {
            "map" => "an object".into(),
            "sequence" => "an array".into(),
            other => shorten(&other.replace('`', "")),
        };
        (format!("is {what}"), in_words(expected))
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
        "string or map" => "one of the documented words".into(),
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
            (r#"{"label":"a","inner":{}}"#, "/inner", "is an object", "an array"),
            (r#"{"label":"a","inner":[[1.0,true]]}"#, "/inner/0", "is an array", "an object"),
            (r#"["a",null]"#, "", "is an array", "an object"),
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

    /// Found by fuzzing: it was called bad syntax.
    #[test]
    fn a_number_in_place_of_a_word_is_of_another_shape() {
        #[derive(Debug, Deserialize)]
        #[serde(rename_all = "snake_case")]
        enum Kind {
            Cleaned,
        }
        #[derive(Debug, Deserialize)]
        #[allow(dead_code)]
        struct Care {
            kind: Kind,
            links: Option<u16>,
        }
        for text in [r#"{"kind":5}"#, r#"{"kind":5,"links":114.0}"#, r#"{"links":114.0,"kind":5}"#] {
            let error = parse_json::<Care>(text.as_bytes()).expect_err(text);
            assert!(matches!(error, JsonError::Shape(_)), "{text}: {error:?}");
            assert_eq!(
                error.into_wrong_field().to_string(),
                "/kind is integer 5; allowed: one of the documented words",
                "{text}"
            );
        }
        let read = parse_json::<Care>(br#"{"kind":"cleaned"}"#).expect("a word");
        assert!(matches!(read.kind, Kind::Cleaned));
    }

    #[test]
    fn bytes_that_are_not_utf8_are_placed() {
        let error =
            parse_json::<Outer>(b"{\"label\":\"\xff\"}").expect_err("a broken byte").into_wrong_field();
        assert!(error.message.contains("byte 11"), "{error}");
    }

    #[test]
    fn a_whole_number_may_be_written_with_a_point() {
        #[derive(Debug, Deserialize, PartialEq)]
        #[serde(deny_unknown_fields)]
        struct Links {
            links: u16,
            label: String,
            percent: Option<f64>,
        }
        let read = |text: &str| parse_json::<Links>(text.as_bytes());
        let links = |label: &str, percent| Links { links: 114, label: label.into(), percent };
        assert_eq!(read(r#"{"links":114.0,"label":"a"}"#), Ok(links("a", None)));
        assert_eq!(
            read(r#"{"links":1.14e2,"label":"1.0 \" 2.0","percent":0.5}"#),
            Ok(links("1.0 \" 2.0", Some(0.5)))
        );
        assert_eq!(read(r#"{"links":114.00,"label":"a","percent":1.0}"#), Ok(links("a", Some(1.0))));
        let value = serde_json::json!({"links": 114.0, "label": "a"});
        assert_eq!(parse_value::<Links>(value), Ok(links("a", None)));
        for (text, message) in [
            (r#"{"links":114.5,"label":"a"}"#, "is floating point 114.5"),
            (r#"{"links":70000.0,"label":"a"}"#, "is integer 70000"),
            (r#"{"links":-1.0,"label":"a"}"#, "is integer -1"),
            (r#"{"links":1e400,"label":"a"}"#, "is not JSON"),
            // Found by fuzzing: what one number is lenient about must not let another one through.
            (r#"{"links":114.0,"label":"a","percent":2.}"#, "is not JSON"),
            (r#"{"links":114.0,"label":"a","percent":01.0}"#, "is not JSON"),
        ] {
            let error = read(text).expect_err(text).into_wrong_field();
            assert!(error.message.starts_with(message), "{error}");
        }
        assert_eq!(
            read(r#"{"links":1.0,"links":1.0,"label":"a"}"#).expect_err("twice").into_wrong_field().message,
            "is there twice"
        );
    }

    #[test]
    fn long_values_are_cut() {
        let text = format!("{{\"{}\":1}}", "k".repeat(5_000));
        let error = parse_json::<Outer>(text.as_bytes()).expect_err("an unknown field").into_wrong_field();
        assert!(error.to_string().len() < 400, "{error}");
    }
}
