//! `?fields=…`: answers with those fields alone that somebody has a use for.

use serde::ser::Error as _;
use serde::{Serialize, Serializer};
use utoipa::PartialSchema;
use utoipa::openapi::{RefOr, Schema};

use super::query::Parameters;
use crate::domain::Invalid;

/// The fields of a document, for the whole program's life.
pub fn names_of<D: PartialSchema>() -> Vec<&'static str> {
    match D::schema() {
        RefOr::T(Schema::Object(object)) => object.properties.into_keys().map(|name| &*name.leak()).collect(),
        _ => Vec::new(),
    }
}

/// Fields that were asked for; all where nobody asked for some.
#[derive(Debug)]
pub struct Selection(Option<Vec<&'static str>>);

impl Selection {
    /// Reads `fields`, names with commas in between, each of which the document has.
    pub fn parse(parameters: &mut Parameters, given: Option<&str>, names: &'static [&'static str]) -> Self {
        let read = |given: &str| {
            let name = |asked: &str| {
                let asked = asked.trim();
                let known = names.iter().find(|name| **name == asked);
                known.copied().ok_or_else(|| Invalid::unknown_word("field", asked, names))
            };
            given.split(',').map(name).collect()
        };
        Self(parameters.optional("fields", given, read))
    }

    /// The document with the fields that were asked for, and `bike_id`, which says whose they are.
    pub fn of<D: Serialize>(&self, document: D) -> Selected<'_, D> {
        Selected { document, asked: self.0.as_deref() }
    }
}

/// A document with some of its fields.
pub struct Selected<'a, D> {
    document: D,
    asked: Option<&'a [&'static str]>,
}

impl<D: Serialize> Serialize for Selected<'_, D> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let Some(asked) = self.asked else { return self.document.serialize(serializer) };
        let mut value = serde_json::to_value(&self.document).map_err(S::Error::custom)?;
        if let Some(object) = value.as_object_mut() {
            object.retain(|name, _| name == "bike_id" || asked.contains(&name.as_str()));
        }
        value.serialize(serializer)
    }
}
