//! What can go wrong in a use case.

use thiserror::Error;

use super::Conflict;
use crate::domain::{Field, FieldError, FieldErrors, Invalid};
use crate::ride_file::RideFileError;
use crate::store::{Busy, StoreError};

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
    #[error("{0}")]
    Conflict(Conflict),
    /// It was changed since the caller last saw it.
    #[error("changed by someone else in the meantime")]
    Stale,
    /// The request's idempotency key belongs to another request.
    #[error("the request was sent before")]
    Repeated,
    /// Another transaction came between. Nothing was changed; the same change may be tried again from its beginning.
    #[error("another transaction came between")]
    Interrupted,
    /// A request with an idempotency key was to be committed without its answer.
    #[error("a request with a key was to be committed without its answer")]
    Unanswered,
    /// A handler named the request's unit of work twice, kept it, or is outside of the middleware that lends it.
    #[error("the request's unit of work isn't there")]
    NotLent,
    /// The store can't be reached, or is too busy.
    #[error("the store is unavailable")]
    Unavailable(#[source] StoreError),
    /// Others hold what it needs. Nothing was changed.
    #[error("{0}")]
    Busy(Busy),
    /// As much as fits into memory is worked on. Nothing was changed.
    #[error("as many large requests as fit into memory are being worked on; nothing was changed")]
    Crowded,
    /// Changes are asked for from a place on after which some are kept no longer.
    #[error("changes after this place are kept no longer; read the lists anew and follow from now on")]
    Forgotten,
    /// A ride file that makes no ride.
    #[error(transparent)]
    RideFile(#[from] RideFileError),
    /// The machine has no randomness to give.
    #[error("no randomness to be had")]
    NoRandomness,
    /// A problem of ours made no bench plan.
    #[error("no bench plan: {cause}")]
    Unplanned {
        /// What the planner said.
        cause: String,
    },
    /// A computation, or the reading or writing of a table, broke off.
    #[error("a computation or a table broke off")]
    BrokenOff,
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

impl ServiceError {
    /// Turns the store's `NotFound` into one that names what was looked for; the rest as [`From`] does.
    pub fn or_not_found(what: &'static str) -> impl Fn(StoreError) -> Self {
        move |error| match error {
            StoreError::NotFound => Self::NotFound { what },
            other => Self::from(other),
        }
    }

    /// Turns the store's `NotFound` into a field that names what isn't there; the rest as [`From`] does.
    pub fn or_no_such(pointer: &str, what: Field) -> impl Fn(StoreError) -> Self {
        move |error| match error {
            StoreError::NotFound => Self::field(pointer, Invalid::NoSuch { what }),
            other => Self::from(other),
        }
    }

    /// Turns the store's `Conflict` into one that says what stands in the way; the rest as [`From`] does.
    pub fn or_conflict(conflict: Conflict) -> impl FnOnce(StoreError) -> Self {
        move |error| match error {
            StoreError::Conflict => Self::Conflict(conflict),
            other => Self::from(other),
        }
    }

    /// For a voiding: the store's `Conflict` means that the thing was voided before.
    pub fn or_voided(what: &'static str) -> impl Fn(StoreError) -> Self {
        move |error| match error {
            StoreError::NotFound => Self::NotFound { what },
            StoreError::Conflict => Self::Conflict(Conflict::VoidedBefore { what }),
            other => Self::from(other),
        }
    }

    /// For taking a voiding back: the store's `Conflict` means that there is none, or that the same counts by now.
    pub fn or_counts(what: &'static str) -> impl Fn(StoreError) -> Self {
        move |error| match error {
            StoreError::NotFound => Self::NotFound { what },
            StoreError::Conflict => Self::Conflict(Conflict::CountsAlready { what }),
            other => Self::from(other),
        }
    }

    /// For a change guarded by a revision: the store's `Conflict` means that someone else was first.
    pub fn or_stale(what: &'static str) -> impl Fn(StoreError) -> Self {
        move |error| match error {
            StoreError::NotFound => Self::NotFound { what },
            StoreError::Conflict => Self::Stale,
            other => Self::from(other),
        }
    }
}

impl From<StoreError> for ServiceError {
    fn from(error: StoreError) -> Self {
        match error {
            StoreError::NotFound => Self::NotFound { what: "thing" },
            StoreError::Conflict => Self::Conflict(Conflict::Stored),
            StoreError::Cursor(cause) => Self::field("/after", cause),
            StoreError::Interrupted => Self::Interrupted,
            StoreError::Busy(busy) => Self::Busy(busy),
            StoreError::Unavailable(_) => Self::Unavailable(error),
            other => Self::Internal(other),
        }
    }
}

impl From<Conflict> for ServiceError {
    fn from(conflict: Conflict) -> Self {
        Self::Conflict(conflict)
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
