//! In which language a request is answered: the best liked of its `Accept-Language`, else the workshop's, else English.
//!
//! As the request's id, it is known wherever an answer is put together, so that no document's conversion has to carry it.

use std::cell::Cell;
use std::future::Future;

use actix_web::http::header::{self, HeaderMap, HeaderValue};

use crate::domain::{FieldError, Language, UnitsShown};
use crate::input::{Place, WrongField};
use crate::ride_file::RideFileError;
use crate::transfer::{TableCause, TableMistake};
use crate::words::texts::Sentence;
use crate::words::{Words, preferred};

tokio::task_local! {
    static CURRENT: Cell<Words>;
}

/// What a request asks for.
#[must_use]
pub fn asked(headers: &HeaderMap) -> Option<Language> {
    let ranges = headers.get_all(header::ACCEPT_LANGUAGE).filter_map(|value| value.to_str().ok());
    preferred(&ranges.collect::<Vec<_>>().join(","))
}

/// Runs `work` as part of a request that asks for a language.
pub async fn during<F: Future>(asked: Option<Language>, work: F) -> F::Output {
    CURRENT.scope(Cell::new(Words::of(asked.unwrap_or(Language::En))), work).await
}

/// Goes on in the words of the sender's workshop: its units, and its language where none was `asked` for.
pub fn of_workshop(words: Words, asked: Option<Language>) {
    let words = Words { language: asked.unwrap_or(words.language), ..words };
    // Outside of a request nobody asks.
    let _outside = CURRENT.try_with(|current| current.set(words));
}

/// The words of the request that is being answered.
#[must_use]
pub fn words() -> Words {
    CURRENT.try_with(Cell::get).unwrap_or(Words::of(Language::En))
}

/// Whether sentences stand as the library and the service declare them: in English, with kilometres.
#[must_use]
pub fn is_plain() -> bool {
    let words = words();
    words.language == Language::En && words.units == UnitsShown::Km
}

/// Whether the answer is in English.
#[must_use]
pub fn is_english() -> bool {
    words().language == Language::En
}

/// A sentence in the language of the answer.
pub fn said(sentence: &impl Sentence) -> String {
    words().answered(sentence)
}

/// A wrong field in the language of the answer.
#[must_use]
pub fn wrong(error: FieldError) -> WrongField {
    let words = words();
    if words.language == Language::En {
        return WrongField::from(error);
    }
    let (message, allowed) = (words.wrong_in_short(&error.cause), words.allowed(&error.cause));
    WrongField { message, allowed, ..WrongField::from(error) }
}

/// A mistake in a table, in the language of the answer.
#[must_use]
pub fn wrong_cell(mistake: TableMistake) -> WrongField {
    let words = words();
    if words.language == Language::En {
        return WrongField::from(mistake);
    }
    let (message, allowed) = match &mistake.cause {
        TableCause::Value(cause) => (words.wrong_in_short(cause), words.allowed(cause)),
        TableCause::Line(fault, form) => (words.said(fault), words.said(form)),
    };
    WrongField { message, allowed, ..WrongField::from(mistake) }
}

/// Why a ride file isn't taken, in the language of the answer.
#[must_use]
pub fn wrong_file(error: &RideFileError) -> WrongField {
    let message = match error.line {
        Some(line) if !is_english() => words().problem_on_line(said(&error.fault.said()), line.to_string()),
        Some(_) => error.message(),
        None => said(&error.fault.said()),
    };
    WrongField { place: Place::Body(error.pointer.clone()), message, allowed: said(&error.fault.form()) }
}

/// Where a wrong value stands, in the language of the answer.
#[must_use]
pub fn place(place: &Place) -> String {
    if is_english() {
        return place.to_string();
    }
    match place {
        Place::Body(pointer) if pointer.is_empty() => words().problem_body(),
        Place::Cell { line, column } if column.is_empty() => words().problem_line(line.to_string()),
        Place::Cell { line, column } => words().problem_cell(line.to_string(), column),
        Place::Body(_) | Place::Query(_) | Place::Header(_) => place.to_string(),
    }
}

/// Says in which language an answer is, unless it says so itself, and that another request may get another one.
pub fn label(headers: &mut HeaderMap, language: Language) {
    if !headers.contains_key(header::CONTENT_LANGUAGE) {
        headers.insert(header::CONTENT_LANGUAGE, HeaderValue::from_static(language.as_str()));
    }
    headers.append(header::VARY, HeaderValue::from_static("accept-language"));
}
