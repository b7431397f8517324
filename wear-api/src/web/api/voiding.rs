//! Voiding an event of a bike: why, and how its document tells of it.

use chrono::{DateTime, Utc};
use serde::Deserialize;
use utoipa::IntoParams;

use crate::domain::{Note, Voiding};
use crate::web::problem::Problem;
use crate::web::query::Parameters;

/// Why an event doesn't count that was entered on the wrong bike, say.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub(in crate::web::api) struct VoidQuery {
    /// Why, in a few words.
    #[param(
        example = "entered on the wrong bike",
        min_length = 1,
        max_length = 2000,
        pattern = r"^[^\x00-\x09\x0b-\x1f\x7f-\x9f]*[^\s\x00-\x1f\x7f-\x9f][^\x00-\x09\x0b-\x1f\x7f-\x9f]*$"
    )]
    pub reason: String,
}

/// The reason, from the parameter `reason`.
pub(super) fn reason(given: &str) -> Result<Note, Problem> {
    let mut parameters = Parameters::new();
    let reason = parameters.word::<Note>("reason", Some(given));
    parameters.finish_with(reason)
}

/// Since when an event doesn't count, and why.
pub(super) fn told(Voiding { at, reason }: Voiding) -> (DateTime<Utc>, String) {
    (at.datetime(), reason.to_string())
}
