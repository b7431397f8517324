//! What can go wrong in a use case.

use thiserror::Error;

use crate::domain::{FieldError, FieldErrors, Invalid};
use crate::store::StoreError;

/// What can go wrong in a use case. The web layer alone turns it into a status.
#[derive(Debug, Error)]
#[non_exhaustive]
pub enum ServiceError {
    /// The thing isn't there, or is another workshop's.
    #[error("no such {what}")]
    NotFound {
        /// What was asked for: `bike`, `ride`.
        what: &'static str,
    },
    /// Values that are well-formed and still can't be: a date before the fitting, an unknown bike in a batch.
    #[error("{0}")]
    Invalid(FieldErrors),
    /// It contradicts what is there already.
    #[error("{detail}")]
    Conflict {
        /// What stands in the way.
        detail: String,
    },
    /// It was changed since the caller last saw it.
    #[error("changed by someone else in the meantime")]
    Stale,
    /// The store can't be reached, or is too busy.
    #[error("the store is unavailable")]
    Unavailable(#[source] StoreError),
    /// A fault of ours.
    #[error("internal fault")]
    Internal(#[source] StoreError),
}

impl ServiceError {
    /// One wrong field.
    #[must_use]
    pub fn field(pointer: impl Into<String>, cause: impl Into<Invalid>) -> Self {
        Self::Invalid(FieldErrors::from(cause.into().at(pointer)))
    }
}

impl From<FieldErrors> for ServiceError {
    fn from(errors: FieldErrors) -> Self {
        Self::Invalid(errors)
    }
}

impl From<FieldError> for ServiceError {
    fn from(error: FieldError) -> Self {
        Self::Invalid(FieldErrors::from(error))
    }
}
