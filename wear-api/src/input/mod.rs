//! Reading what others send: JSON into request structs, request structs into types that cannot be wrong,
//! and errors that name the field, the value and what is allowed.

mod json;
mod measurement;
pub mod moment;
mod objects;
pub mod parse;
mod wrong_field;

pub use json::{JsonError, parse_json, parse_value};
pub use measurement::RawMeasurement;
pub(crate) use wrong_field::WrongFieldDocument;
pub use wrong_field::{Place, WrongField};
