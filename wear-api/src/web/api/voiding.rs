//! Voiding an event of a bike: why, and how its document tells of it.

use chrono::{DateTime, Utc};

use crate::domain::{Note, Voiding};
use crate::web::problem::Problem;
use crate::web::query::Parameters;

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
