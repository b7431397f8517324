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
    /// JSON pointer to the field of the body.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(example = "/percent")]
    pointer: Option<&'a str>,
    /// Query parameter, when the value stood there.
    #[serde(skip_serializing_if = "Option::is_none")]
    parameter: Option<&'a str>,
    /// Header, when the value stood there.
    #[serde(skip_serializing_if = "Option::is_none")]
    header: Option<&'a str>,
    /// What is wrong, with the value that was sent.
    #[schema(example = "is 31")]
    message: &'a str,
    /// What would be right.
    #[schema(example = "-0.3 to 3 percent")]
    allowed: &'a str,
}

impl Serialize for WrongField {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let (pointer, parameter, header) = match &self.place {
            Place::Body(pointer) => (Some(pointer.as_str()), None, None),
            Place::Query(name) => (None, Some(name.as_str()), None),
            Place::Header(name) => (None, None, Some(*name)),
        };
        WrongFieldDocument { pointer, parameter, header, message: &self.message, allowed: &self.allowed }
            .serialize(serializer)
    }
}

impl From<FieldError> for WrongField {
    fn from(error: FieldError) -> Self {
        let (message, allowed) = match &error.cause {
            Invalid::OutOfRange(range) => (format!("is {}", range.value), range.bound.allowed()),
            Invalid::WholeNumber { given, .. } => (format!("is {given}"), error.allowed()),
            Invalid::UnknownWord { given, .. } | Invalid::Unparsed { given, .. } => {
                (format!("is {given:?}"), error.allowed())
            }
            Invalid::Missing { .. } => ("is missing".to_owned(), error.allowed()),
            _ => (error.message(), error.allowed()),
        };
        // The service names a list's cursor by its parameter; no body has a field of that name.
        let place = if error.pointer == "/after" {
            Place::Query("after".to_owned())
        } else {
            Place::Body(error.pointer)
        };
        Self { place, message, allowed }
    }
}
