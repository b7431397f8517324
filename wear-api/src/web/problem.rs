//! Problem documents (RFC 9457), and the only place that picks a status code for an error.

use std::fmt;

use actix_web::http::header::{self, HeaderValue};
use actix_web::http::{Method, StatusCode};
use actix_web::{HttpResponse, ResponseError};
use serde::Serialize;
use utoipa::ToSchema;

use super::{request_id, speech};
use crate::domain::FieldErrors;
use crate::input::{Place, WrongField};
use crate::ride_file::{Fault, RideFileError};
use crate::service::{Busy, ServiceError};
use crate::telemetry::with_causes;
use crate::transfer::TableMistake;

macro_rules! kinds {
    ($($kind:ident = $slug:literal, $status:ident, $title:literal, $about:literal;)+) => {
        /// The kinds of problem, each with a stable `type`.
        #[derive(Debug, Clone, Copy, PartialEq, Eq)]
        pub enum Kind { $(#[doc = $about] $kind),+ }

        impl Kind {
            /// Every kind, for the page that lists them.
            pub const ALL: &[Self] = &[$(Self::$kind),+];

            /// Last part of the `type`.
            #[must_use]
            pub const fn slug(self) -> &'static str {
                match self { $(Self::$kind => $slug),+ }
            }

            /// Status code.
            #[must_use]
            pub const fn status(self) -> StatusCode {
                match self { $(Self::$kind => StatusCode::$status),+ }
            }

            /// Short text, the same for every problem of the kind.
            #[must_use]
            pub const fn title(self) -> &'static str {
                match self { $(Self::$kind => $title),+ }
            }

            /// What the kind means and what to do.
            #[must_use]
            pub const fn about(self) -> &'static str {
                match self { $(Self::$kind => $about),+ }
            }
        }
    };
}

kinds! {
    InvalidJson = "invalid-json", BAD_REQUEST, "The body is not JSON",
        "The body can't be read as JSON in UTF-8. The error gives line, column and what stood there.";
    InvalidParameter = "invalid-parameter", BAD_REQUEST, "A parameter or header is wrong",
        "A query parameter or a header has a value that is not allowed, or a parameter is unknown. The errors name each.";
    NotSignedIn = "not-signed-in", UNAUTHORIZED, "A token is needed",
        "Send `Authorization: Bearer TOKEN` with a token that is known and not revoked.";
    RoleNotAllowed = "role-not-allowed", FORBIDDEN, "The token's role may not do this",
        "Each operation names the roles that may call it. Use a token of one of these roles.";
    NotFound = "not-found", NOT_FOUND, "Nothing here",
        "The address is unknown, or it names something that this workshop doesn't have or that the token doesn't reach.";
    MethodNotAllowed = "method-not-allowed", METHOD_NOT_ALLOWED, "The method is not allowed here",
        "The address exists but doesn't take this method. The `Allow` header lists those that it takes.";
    NotAcceptable = "not-acceptable", NOT_ACCEPTABLE, "The wanted form can't be given",
        "The `Accept` header excludes `application/json`, the form that answers have.";
    Conflict = "conflict", CONFLICT, "It conflicts with what is there",
        "The request is legal by itself but not together with what is stored. The detail says with what.";
    RequestInFlight = "request-in-flight", CONFLICT, "The first request is still being answered",
        "A request with the same `Idempotency-Key` is being worked on. Try again after a moment.";
    Stale = "stale", PRECONDITION_FAILED, "It has changed since you read it",
        "The `If-Match` header names an older state. Read it again, then repeat the change on the new state.";
    Forgotten = "changes-forgotten", GONE, "These changes are kept no longer",
        "Changes are kept 90 days. Ask for `since=now`, read the lists anew, and follow from there.";
    TooSlow = "too-slow", REQUEST_TIMEOUT, "The body came too slowly",
        "The body stopped coming, or comes so slowly that the service doesn't wait for it. Nothing was changed. Send it again.";
    BodyTooLarge = "body-too-large", PAYLOAD_TOO_LARGE, "The body is too large",
        "The detail gives the largest body that this address takes. Send less at once.";
    UnsupportedMediaType = "unsupported-media-type", UNSUPPORTED_MEDIA_TYPE, "The body has the wrong form",
        "Bodies are JSON, plain or with `Content-Encoding: gzip`: send `Content-Type: application/json`. Where an operation takes files, it names their types.";
    InvalidBody = "invalid-body", UNPROCESSABLE_ENTITY, "The body has wrong fields",
        "The body is JSON, but fields are missing, unknown, of the wrong type or out of range. The errors name each field by JSON pointer, with what was wrong and what is allowed. Nothing was changed.";
    InvalidRideFile = "invalid-ride-file", UNPROCESSABLE_ENTITY, "The file makes no ride",
        "The file can't be read, or no ride can be made of it. The error says where in the file: by the names and places of the elements of a GPX document or the messages of a FIT file, counted from 0, and by line. Nothing was changed.";
    InvalidTable = "invalid-table", UNPROCESSABLE_ENTITY, "The table has mistakes",
        "The body is no CSV in UTF-8, its header is wrong, or lines hold what they can't. The errors name line and column, with what was wrong and what is allowed: the first hundred of them. Nothing was changed.";
    KeyReused = "idempotency-key-reused", UNPROCESSABLE_ENTITY, "The idempotency key was used for something else",
        "The same `Idempotency-Key` came with another request before. Use a new key for a new request.";
    PreconditionRequired = "precondition-required", PRECONDITION_REQUIRED, "Say which state you change",
        "Send `If-Match` with the `ETag` that you got when you read it, so that nobody's change is lost.";
    TooManyRequests = "too-many-requests", TOO_MANY_REQUESTS, "Too many requests",
        "The token has used up its requests, or the address its guesses. `Retry-After` and `RateLimit` say when there are more.";
    Internal = "internal", INTERNAL_SERVER_ERROR, "Something went wrong on our side",
        "The cause is in the service's log under the request id. Nothing was acknowledged.";
    Unavailable = "unavailable", SERVICE_UNAVAILABLE, "Not available now",
        "The service or its database can't answer now. Try again after the seconds in `Retry-After`.";
}

impl Kind {
    /// The `type` of problem documents, relative to the service.
    #[must_use]
    pub fn uri(self) -> String {
        format!("/docs/problems#{}", self.slug())
    }
}

/// Everything an error answer says.
#[derive(Debug)]
pub struct Problem {
    kind: Kind,
    detail: String,
    errors: Vec<WrongField>,
    allow: Vec<Method>,
    retry_after_seconds: Option<u64>,
    interrupted: bool,
}

impl Problem {
    /// A problem of `kind`; `detail` speaks about this one case.
    pub fn new(kind: Kind, detail: impl Into<String>) -> Self {
        Self {
            kind,
            detail: detail.into(),
            errors: Vec::new(),
            allow: Vec::new(),
            retry_after_seconds: None,
            interrupted: false,
        }
    }

    /// The fields of a body that are wrong.
    #[must_use]
    pub fn fields(errors: Vec<WrongField>) -> Self {
        let detail = listed(&errors);
        Self { errors, ..Self::new(Kind::InvalidBody, detail) }
    }

    /// Query parameters or headers that are wrong.
    #[must_use]
    pub fn parameters(errors: Vec<WrongField>) -> Self {
        let detail = listed(&errors);
        Self { errors, ..Self::new(Kind::InvalidParameter, detail) }
    }

    /// A ride file that makes no ride.
    #[must_use]
    pub fn ride_file(error: &RideFileError) -> Self {
        let wrong = speech::wrong_file(error);
        let detail = match (speech::is_english(), error.pointer.as_str()) {
            (true, _) => format!("{error}; allowed: {}", wrong.allowed),
            (false, "") => {
                let words = speech::words();
                words.problem_field(words.problem_file(), &wrong.message, &wrong.allowed)
            }
            (false, _) => in_words(&wrong),
        };
        let kind = match error.fault {
            Fault::TooLarge => Kind::BodyTooLarge,
            _ => Kind::InvalidRideFile,
        };
        Self { errors: vec![wrong], ..Self::new(kind, detail) }
    }

    /// A table with mistakes: how many, and the first of them.
    #[must_use]
    pub fn table(found: u64, mistakes: Vec<TableMistake>) -> Self {
        let errors: Vec<WrongField> = mistakes.into_iter().map(speech::wrong_cell).collect();
        let detail = match (found, errors.first()) {
            (2.., Some(first)) if speech::is_english() => format!("{found} mistakes, the first: {first}"),
            (2.., Some(first)) => speech::words().problem_mistakes(found as usize, in_words(first)),
            _ => listed(&errors),
        };
        Self { errors, ..Self::new(Kind::InvalidTable, detail) }
    }

    /// Text that is not JSON.
    #[must_use]
    pub fn json(error: WrongField) -> Self {
        let detail = error.to_string();
        Self { errors: vec![error], ..Self::new(Kind::InvalidJson, detail) }
    }

    /// An address that takes other methods than the one that came.
    #[must_use]
    pub fn method(method: &Method, allow: Vec<Method>) -> Self {
        let detail = format!("{method} is not among the methods of this address");
        Self { allow, ..Self::new(Kind::MethodNotAllowed, detail) }
    }

    /// An address or id that leads nowhere.
    #[must_use]
    pub fn not_found(what: &str) -> Self {
        let detail = if speech::is_english() {
            format!("there is no such {what}")
        } else {
            let words = speech::words();
            words.problem_no_such(words.word("thing", &what.replace(' ', "_")))
        };
        Self::new(Kind::NotFound, detail)
    }

    /// An error of ours: `cause` goes to the log, the client gets the request id.
    pub fn internal(cause: &dyn std::error::Error) -> Self {
        tracing::error!(error = %with_causes(cause), request_id = request_id::current(), "request failed");
        Self::new(Kind::Internal, "the request failed; quote the request id when you report it")
    }

    /// A store that doesn't answer: `cause` goes to the log.
    pub fn unavailable(cause: &dyn std::error::Error) -> Self {
        tracing::error!(error = %with_causes(cause), request_id = request_id::current(), "store unavailable");
        Self::new(Kind::Unavailable, "the database can't answer now").retry_after(5)
    }

    /// Adds `Retry-After`.
    #[must_use]
    pub fn retry_after(mut self, seconds: u64) -> Self {
        self.retry_after_seconds = Some(seconds);
        self
    }

    /// What is wrong, field by field.
    #[must_use]
    pub fn errors(&self) -> &[WrongField] {
        &self.errors
    }

    /// Whether another transaction came between: the request may be tried again from its beginning.
    #[must_use]
    pub const fn is_interrupted(&self) -> bool {
        self.interrupted
    }

    /// The kind.
    #[must_use]
    pub fn kind(&self) -> Kind {
        self.kind
    }
}

impl From<FieldErrors> for Problem {
    fn from(errors: FieldErrors) -> Self {
        let errors: Vec<WrongField> = errors.into_vec().into_iter().map(speech::wrong).collect();
        if errors.iter().all(|error| matches!(error.place, Place::Query(_))) {
            Self::parameters(errors)
        } else {
            Self::fields(errors)
        }
    }
}

impl From<ServiceError> for Problem {
    fn from(error: ServiceError) -> Self {
        match error {
            ServiceError::NotFound { what } => Self::not_found(what),
            ServiceError::Invalid(errors) => errors.into(),
            ServiceError::Conflict(conflict) => Self::new(Kind::Conflict, speech::said(&conflict)),
            ServiceError::Forgotten => match speech::is_english() {
                true => Self::new(Kind::Forgotten, error.to_string()),
                false => Self::new(Kind::Forgotten, speech::words().problem_changes_forgotten()),
            },
            ServiceError::Stale => match speech::is_english() {
                true => Self::new(Kind::Stale, error.to_string()),
                false => Self::new(Kind::Stale, speech::words().problem_stale()),
            },
            ServiceError::Repeated => Self::new(Kind::RequestInFlight, error.to_string()).retry_after(1),
            ServiceError::Interrupted => {
                let detail = "other changes kept coming between; nothing was changed";
                Self { interrupted: true, ..Self::new(Kind::Unavailable, detail).retry_after(1) }
            }
            ServiceError::Unavailable(_) => Self::unavailable(&error),
            ServiceError::Busy(busy) => {
                Self::new(Kind::Unavailable, busy.to_string()).retry_after(seconds_until_free(busy))
            }
            ServiceError::Crowded => Self::new(Kind::Unavailable, error.to_string()).retry_after(CROWDED),
            ServiceError::RideFile(error) => Self::ride_file(&error),
            ServiceError::NoRandomness
            | ServiceError::Unplanned { .. }
            | ServiceError::BrokenOff
            | ServiceError::Unanswered
            | ServiceError::NotLent
            | ServiceError::Internal(_) => Self::internal(&error),
        }
    }
}

/// When to come back with what needs much memory, seconds.
const CROWDED: u64 = 5;

/// When to come back to what others hold. What has been written for a while likely goes on for as long again.
fn seconds_until_free(busy: Busy) -> u64 {
    match busy {
        Busy::Share => 1,
        Busy::Locked => 5,
        Busy::Writer { for_so_long } => for_so_long.as_secs().clamp(2, 120),
    }
}

/// The first wrong field in words, and how many more there are.
fn listed(errors: &[WrongField]) -> String {
    if !speech::is_english()
        && let [first, rest @ ..] = errors
    {
        let said = in_words(first);
        return if rest.is_empty() { said } else { speech::words().problem_fields(said, rest.len()) };
    }
    match errors {
        [] => "the body is not as documented".into(),
        [only] => only.to_string(),
        [first, rest @ ..] => format!("{first} (and {} more)", rest.len()),
    }
}

/// A wrong field in the language of the answer, other than English.
fn in_words(WrongField { place, message, allowed }: &WrongField) -> String {
    speech::words().problem_field(speech::place(place), message, allowed)
}

impl fmt::Display for Problem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: {}", self.kind.title(), self.detail)
    }
}

/// A problem document (RFC 9457).
#[derive(Serialize, ToSchema)]
#[schema(as = Problem)]
pub(crate) struct ProblemDocument {
    /// Stable kind of the problem, an address of this service that explains it.
    #[serde(rename = "type")]
    #[schema(example = "/docs/problems#invalid-body", format = "uri-reference")]
    kind: String,
    /// The kind in words.
    #[schema(example = "The body has wrong fields")]
    title: String,
    /// The status code.
    #[schema(example = 422, minimum = 400, maximum = 599)]
    status: u16,
    /// What happened in this case.
    #[schema(example = "/percent is 31; allowed: -0.3 to 3 percent")]
    detail: String,
    /// Each wrong field; left out where none is named.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    #[schema(required = false, value_type = Vec<crate::input::WrongFieldDocument>)]
    errors: Vec<WrongField>,
    /// Id of the request, as in the `X-Request-Id` header and the service's log; left out where there is none.
    #[schema(example = "019abf3e-6a34-7d6e-9a51-0d3c5e1f2a10", required = false)]
    #[serde(skip_serializing_if = "Option::is_none")]
    request_id: Option<String>,
}

/// Media type of problem documents.
pub const MEDIA_TYPE: &str = "application/problem+json";

impl ResponseError for Problem {
    fn status_code(&self) -> StatusCode {
        self.kind.status()
    }

    fn error_response(&self) -> HttpResponse {
        let mut response = HttpResponse::build(self.kind.status());
        if !self.allow.is_empty() {
            response.insert_header((header::ALLOW, allow_header(&self.allow)));
        }
        if self.kind == Kind::NotSignedIn {
            response.insert_header((header::WWW_AUTHENTICATE, "Bearer realm=\"wear\""));
        }
        if let Some(seconds) = self.retry_after_seconds {
            response.insert_header((header::RETRY_AFTER, seconds));
        }
        response.insert_header((header::CONTENT_TYPE, HeaderValue::from_static(MEDIA_TYPE)));
        response.insert_header((header::CACHE_CONTROL, "no-store"));
        let own = Some(speech::words()).filter(|_| !speech::is_english());
        let title = own.and_then(|words| words.own_word("problem", self.kind.slug()));
        let document = ProblemDocument {
            kind: self.kind.uri(),
            title: title.unwrap_or_else(|| self.kind.title().to_owned()),
            status: self.kind.status().as_u16(),
            detail: self.detail.clone(),
            errors: self.errors.clone(),
            request_id: request_id::current(),
        };
        response.body(serde_json::to_vec(&document).unwrap_or_default())
    }
}

/// Value of an `Allow` header.
#[must_use]
pub fn allow_header(methods: &[Method]) -> String {
    methods.iter().map(Method::as_str).collect::<Vec<_>>().join(", ")
}
