//! Query parameters, with errors that name the parameter.

use std::future::{Ready, ready};
use std::str::FromStr;

use actix_web::{FromRequest, HttpRequest, dev, web};
use serde::Deserialize;
use serde::de::DeserializeOwned;
use utoipa::IntoParams;

use super::problem::Problem;
use crate::domain::{DateRange, Field, Form, Invalid, PageRequest, PageSize};
use crate::input::{Place, WrongField, parse};

/// The parameters of a request, still as text.
#[derive(Debug)]
pub struct Query<T>(pub T);

impl<T: DeserializeOwned + 'static> FromRequest for Query<T> {
    type Error = Problem;
    type Future = Ready<Result<Self, Problem>>;

    fn from_request(request: &HttpRequest, _: &mut dev::Payload) -> Self::Future {
        ready(
            web::Query::<T>::from_query(request.query_string())
                .map(|query| Self(query.into_inner()))
                .map_err(|error| Problem::parameters(vec![explain(&error.to_string())])),
        )
    }
}

/// The deserializer's message with the parameter's name as its place.
fn explain(message: &str) -> WrongField {
    let message = message.strip_prefix("Query deserialize error: ").unwrap_or(message);
    let name = message.split('`').nth(1).unwrap_or_default();
    let (message, allowed) = if message.starts_with("unknown field") {
        let known = message.split_once("expected ").map_or("none", |(_, known)| known);
        ("is not a known parameter".to_owned(), known.replace('`', ""))
    } else if message.starts_with("duplicate field") {
        ("is there twice".to_owned(), "one value".to_owned())
    } else if message.starts_with("missing field") {
        ("is missing".to_owned(), "a value".to_owned())
    } else {
        (message.chars().take(80).collect(), "parameters as documented".to_owned())
    };
    WrongField { place: Place::Query(name.chars().take(80).collect()), message, allowed }
}

/// Collects the wrong parameters of a request.
#[derive(Debug, Default)]
pub struct Parameters(Vec<WrongField>);

impl Parameters {
    /// None wrong yet.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// Parses a parameter that may be left out.
    pub fn optional<T>(
        &mut self,
        name: &str,
        given: Option<&str>,
        parse: impl FnOnce(&str) -> Result<T, Invalid>,
    ) -> Option<T> {
        let error = match parse(given?) {
            Ok(value) => return Some(value),
            Err(error) => error,
        };
        let WrongField { message, allowed, .. } = error.at("").into();
        self.0.push(WrongField { place: Place::Query(name.to_owned()), message, allowed });
        None
    }

    /// Parses a word, an id, a text.
    pub fn word<T: FromStr<Err: Into<Invalid>>>(&mut self, name: &str, given: Option<&str>) -> Option<T> {
        self.optional(name, given, parse::text)
    }

    /// Parses `true` or `false`; no when left out.
    pub fn flag(&mut self, name: &str, given: Option<&str>) -> bool {
        let flag = |given: &str| given.parse().map_err(|_| Invalid::unparsed(Field::Flag, given, Form::Flag));
        self.optional(name, given, flag).unwrap_or(false)
    }

    /// Parses `from` and `to`.
    pub fn days(&mut self, from: Option<&str>, to: Option<&str>) -> DateRange {
        DateRange { from: self.optional("from", from, parse::date), to: self.optional("to", to, parse::date) }
    }

    /// Parses `limit` and `after`.
    pub fn page(&mut self, limit: Option<&str>, after: Option<&str>) -> PageRequest {
        let size = self.optional("limit", limit, |given| {
            let number = given.parse().map_err(|_| Invalid::unparsed(Field::Limit, given, Form::PageSize))?;
            PageSize::new(number)
        });
        PageRequest { after: self.optional("after", after, parse::text), size: size.unwrap_or_default() }
    }

    /// Passes when nothing was wrong.
    ///
    /// # Errors
    /// A problem that names every wrong parameter.
    pub fn finish(self) -> Result<(), Problem> {
        self.finish_with(Some(()))
    }

    /// `value`, when nothing was wrong.
    ///
    /// # Errors
    /// A problem that names every wrong parameter.
    pub fn finish_with<T>(self, value: Option<T>) -> Result<T, Problem> {
        match value {
            Some(value) if self.0.is_empty() => Ok(value),
            _ => Err(Problem::parameters(self.0)),
        }
    }
}

/// Which page of a list.
#[derive(Debug, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct PageQuery {
    /// Most items of a page; 50 when left out.
    #[param(value_type = Option<u8>, minimum = 1, maximum = 100)]
    limit: Option<String>,
    /// Cursor from the `Link` of the page before.
    #[param(min_length = 33)]
    after: Option<String>,
}

impl PageQuery {
    /// Checks both.
    ///
    /// # Errors
    /// A problem that names every wrong parameter.
    pub fn parse(self) -> Result<PageRequest, Problem> {
        let mut parameters = Parameters::new();
        let page = parameters.page(self.limit.as_deref(), self.after.as_deref());
        parameters.finish()?;
        Ok(page)
    }
}
