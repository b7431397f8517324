//! Whatever is sent as a JSON body: what another reader of JSON makes of it, or an error that names the place in few
//! words.
#![no_main]
#![allow(dead_code, unused_imports)]

/// The service's own source, without the service: only what reads is built.
#[path = "."]
mod domain {
    #[path = "../../wear-api/src/domain/field.rs"]
    mod field;
    #[path = "../../wear-api/src/domain/invalid.rs"]
    mod invalid;
    #[path = "../../wear-api/src/domain/measured.rs"]
    mod measured;
    #[path = "../../wear-api/src/domain/timestamp.rs"]
    mod timestamp;

    pub use field::{Field, Form};
    pub use invalid::{FieldError, FieldErrors, Invalid};
    pub use measured::{Entry, Measured};
    pub use timestamp::Timestamp;
    pub use wear_core::reading::{Instrument, Measurement};
}
#[path = "../../wear-api/src/input/mod.rs"]
mod input;

use std::collections::BTreeMap;

use input::{JsonError, parse_json, parse_value};
use libfuzzer_sys::fuzz_target;
use serde::Deserialize;
use serde_json::Value;

/// One field of each kind that requests have.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
struct Body {
    label: String,
    links: Option<u16>,
    price_minor: Option<i64>,
    percent: Option<f64>,
    wet: Option<bool>,
    cogs: Option<Vec<u32>>,
    inner: Option<Box<Body>>,
    more: Option<BTreeMap<String, Kind>>,
}

#[derive(Debug, Clone, Copy, PartialEq, Deserialize)]
#[serde(rename_all = "snake_case")]
enum Kind {
    CleanedAndLubricated,
    Cleaned,
}

fuzz_target!(|data: &[u8]| {
    let value = parse_json::<Value>(data);
    assert_eq!(value.is_ok(), serde_json::from_slice::<Value>(data).is_ok());
    let body = parse_json::<Body>(data);
    for error in [value.clone().err(), body.clone().err()].into_iter().flatten() {
        let text = error.into_wrong_field().to_string();
        assert!(!text.is_empty() && text.len() < 16 * 1024, "{} characters", text.len());
    }
    match (value, body) {
        (Ok(value), Ok(body)) => assert_eq!(parse_value::<Body>(value), Ok(body)),
        (Ok(_), Err(error)) => assert!(matches!(error, JsonError::Shape(_)), "{error:?}"),
        (Err(error), Ok(body)) => panic!("{body:?}, and yet {error:?}"),
        (Err(_), Err(_)) => {}
    }
});
