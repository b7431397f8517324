//! One wrong field, as answers show it.

use std::fmt;

use serde::{Serialize, Serializer};
use utoipa::ToSchema;

use crate::domain::{FieldError, Invalid};

/// Where in a request a wrong value stands.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Place {
    /// In the body, by JSON pointer (RFC 6901); the empty pointer is the whole body.
    Body(String),
    /// A query parameter, by name.
    Query(String),
    /// A header, by name.
    Header(&'static str),
    /// In a table.
    Cell {
        /// Line of the file, from 1.
        line: u64,
        /// The column; empty for the whole line.
        column: String,
    },
}

/// One wrong field of a request.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct WrongField {
    /// Where it stands.
    pub place: Place,
    /// What is wrong, with the value that was sent.
    pub message: String,
    /// What would be right.
    pub allowed: String,
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Body(pointer) if pointer.is_empty() => f.write_str("the body"),
            Self::Body(pointer) => f.write_str(pointer),
            Self::Query(name) => write!(f, "?{name}"),
            Self::Header(name) => f.write_str(name),
            Self::Cell { line, column } if column.is_empty() => write!(f, "line {line}"),
            Self::Cell { line, column } => write!(f, "line {line}, {column}"),
        }
    }
}

impl fmt::Display for WrongField {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} {}; allowed: {}", self.place, self.message, self.allowed)
    }
}

/// One wrong field, as problem documents and error lines show it.
#[derive(Serialize, ToSchema)]
#[schema(as = WrongField)]
pub(crate) struct WrongFieldDocument<'a> {
    /// JSON pointer to the field of the body; left out where the value stood elsewhere.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(example = "/percent")]
    pointer: Option<&'a str>,
    /// Query parameter; left out where the value stood elsewhere.
    #[serde(skip_serializing_if = "Option::is_none")]
    parameter: Option<&'a str>,
    /// Header; left out where the value stood elsewhere.
    #[serde(skip_serializing_if = "Option::is_none")]
    header: Option<&'a str>,
    /// Line of the table, from 1 for its header; left out where the value stood in none.
    #[serde(skip_serializing_if = "Option::is_none")]
    line: Option<u64>,
    /// Column of the table; left out when it is the whole line.
    #[serde(skip_serializing_if = "Option::is_none")]
    column: Option<&'a str>,
    /// What is wrong, with the value that was sent.
    #[schema(example = "is 31")]
    message: &'a str,
    /// What would be right.
    #[schema(example = "-0.3 to 3 percent")]
    allowed: &'a str,
}

impl Serialize for WrongField {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut document = WrongFieldDocument {
            pointer: None,
            parameter: None,
            header: None,
            line: None,
            column: None,
            message: &self.message,
            allowed: &self.allowed,
        };
        match &self.place {
            Place::Body(pointer) => document.pointer = Some(pointer.as_str()),
            Place::Query(name) => document.parameter = Some(name.as_str()),
            Place::Header(name) => document.header = Some(*name),
            Place::Cell { line, column } => {
                document.line = Some(*line);
                document.column = Some(column.as_str()).filter(|column| !column.is_empty());
            }
        }
        document.serialize(serializer)
    }
}

/// A number as messages show it: what only binary fractions add to it is left out.
fn shown(value: f64) -> f64 {
    format!("{value:.9e}").parse().unwrap_or(value)
}

impl From<FieldError> for WrongField {
    fn from(error: FieldError) -> Self {
        let (message, allowed) = match &error.cause {
            Invalid::OutOfRange(range) => (format!("is {}", shown(range.value)), range.bound.allowed()),
            Invalid::TooMuchForRide { given, unit, distance_km, .. } => {
                (format!("is {} {unit} on {} km", shown(*given), shown(*distance_km)), error.allowed())
            }
            // The place names the field already.
            Invalid::TextLength { length: 0, .. } => ("is empty".to_owned(), error.allowed()),
            Invalid::TextLength { length, .. } => (format!("has {length} characters"), error.allowed()),
            Invalid::ControlCharacter { .. } => ("holds a control character".to_owned(), error.allowed()),
            Invalid::Count { found: 0, .. } => ("is empty".to_owned(), error.allowed()),
            Invalid::Count { found, .. } => (format!("has {found} entries"), error.allowed()),
            Invalid::Malformed { .. } => ("is malformed".to_owned(), error.allowed()),
            Invalid::WholeNumber { given, .. } => (format!("is {given}"), error.allowed()),
            Invalid::UnknownWord { given, .. } | Invalid::Unparsed { given, .. } => {
                (format!("is {given:?}"), error.allowed())
            }
            Invalid::Missing { .. } => ("is missing".to_owned(), error.allowed()),
            _ => (error.message(), error.allowed()),
        };
        // The service names a list's cursor and a file's day by their parameters; no body has a field of that name.
        let place = match error.pointer.as_str() {
            "/after" => Place::Query("after".to_owned()),
            "/ridden_on" => Place::Query("ridden_on".to_owned()),
            _ => Place::Body(error.pointer),
        };
        Self { place, message, allowed }
    }
}
