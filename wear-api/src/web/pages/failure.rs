//! What a page says when it can't be shown.

use actix_web::body::{EitherBody, MessageBody};
use actix_web::dev::{ServiceRequest, ServiceResponse};
use actix_web::http::{StatusCode, header};
use actix_web::middleware::Next;
use actix_web::{Error, HttpMessage as _, HttpRequest, HttpResponse, ResponseError};
use askama::Template;
use thiserror::Error as ThisError;

use super::frame::{Frame, Viewer};
use super::{encoded, mannered};
use crate::domain::FieldErrors;
use crate::service::{Conflict, ServiceError};
use crate::telemetry::with_causes;
use crate::web::auth::App;
use crate::web::request_id;

/// Why a page can't be shown or a form not taken.
#[derive(Debug, ThisError)]
pub enum Failure {
    /// Nobody is signed in; where to come back to.
    #[error("not signed in")]
    NotSignedIn {
        /// The page that was wanted.
        back: String,
    },
    /// The role doesn't cover it.
    #[error("the role doesn't cover it")]
    NotAllowed,
    /// The form came from another site, or from a session that is over.
    #[error("the form's proof is not this session's")]
    Forged,
    /// The form can't be read.
    #[error("the form can't be read")]
    Garbled,
    /// There is no such thing.
    #[error("no such {0}")]
    NotFound(&'static str),
    /// Someone else changed it in the meantime.
    #[error("changed in the meantime")]
    Stale,
    /// It contradicts what is there.
    #[error("{0}")]
    Conflict(Conflict),
    /// Values that can't be, on a page that has no place to show them at.
    #[error("{0}")]
    Invalid(FieldErrors),
    /// The form came too slowly.
    #[error("too slow")]
    TooSlow,
    /// The store can't answer now.
    #[error("unavailable")]
    Unavailable,
    /// A fault of ours.
    #[error("internal fault")]
    Internal,
}

/// When to ask again for a page that can't be had now, seconds.
const COME_BACK: u64 = 5;

impl From<ServiceError> for Failure {
    fn from(error: ServiceError) -> Self {
        match error {
            ServiceError::NotFound { what } => Self::NotFound(what),
            ServiceError::Invalid(errors) => Self::Invalid(errors),
            ServiceError::Conflict(conflict) => Self::Conflict(conflict),
            ServiceError::Stale => Self::Stale,
            ServiceError::Interrupted | ServiceError::Busy(_) | ServiceError::Crowded => Self::Unavailable,
            ServiceError::Unavailable(_) => {
                let (error, request_id) = (with_causes(&error), request_id::current());
                tracing::error!(error, request_id, "store unavailable");
                Self::Unavailable
            }
            other => {
                let (error, request_id) = (with_causes(&other), request_id::current());
                tracing::error!(error, request_id, "request failed");
                Self::Internal
            }
        }
    }
}

impl From<askama::Error> for Failure {
    fn from(error: askama::Error) -> Self {
        tracing::error!(%error, "a page can't be put together");
        Self::Internal
    }
}

impl ResponseError for Failure {
    fn status_code(&self) -> StatusCode {
        match self {
            Self::NotSignedIn { .. } => StatusCode::SEE_OTHER,
            Self::NotAllowed | Self::Forged => StatusCode::FORBIDDEN,
            Self::Garbled => StatusCode::BAD_REQUEST,
            Self::NotFound(_) => StatusCode::NOT_FOUND,
            Self::Stale | Self::Conflict(_) => StatusCode::CONFLICT,
            Self::Invalid(_) => StatusCode::UNPROCESSABLE_ENTITY,
            Self::TooSlow => StatusCode::REQUEST_TIMEOUT,
            Self::Unavailable => StatusCode::SERVICE_UNAVAILABLE,
            Self::Internal => StatusCode::INTERNAL_SERVER_ERROR,
        }
    }

    /// The bare status; [`explain`] puts the page around it.
    fn error_response(&self) -> HttpResponse {
        match self {
            Self::NotSignedIn { back } => HttpResponse::SeeOther()
                .insert_header((header::LOCATION, format!("/sign-in?back={}", encoded(back))))
                .finish(),
            Self::Unavailable => {
                HttpResponse::ServiceUnavailable().insert_header((header::RETRY_AFTER, COME_BACK)).finish()
            }
            other => HttpResponse::new(other.status_code()),
        }
    }
}

#[derive(Template)]
#[template(path = "failure.html")]
struct FailurePage {
    f: Frame,
    title: String,
    text: String,
    details: Vec<String>,
}

impl FailurePage {
    fn of(failure: &Failure, f: Frame) -> Self {
        let (title, text) = match failure {
            Failure::NotAllowed => (f.failure_not_allowed(), f.failure_not_allowed_text()),
            Failure::Forged => (f.failure_forged(), f.failure_forged_text()),
            Failure::NotFound(_) => (f.failure_not_found(), f.failure_not_found_text()),
            Failure::Stale => (f.failure_stale(), f.failure_stale_text()),
            Failure::Conflict(_) => (f.failure_conflict(), f.failure_conflict_text()),
            Failure::Invalid(_) | Failure::Garbled => (f.failure_invalid(), f.failure_invalid_text()),
            Failure::TooSlow => (f.failure_too_slow(), f.failure_too_slow_text()),
            Failure::Unavailable => (f.failure_unavailable(), f.failure_unavailable_text()),
            Failure::Internal | Failure::NotSignedIn { .. } => {
                (f.failure_internal(), f.failure_internal_text())
            }
        };
        let details = match failure {
            Failure::Conflict(conflict) => vec![f.said(conflict)],
            Failure::Invalid(errors) => f.wrongs(errors),
            _ => Vec::new(),
        };
        Self { f, title, text, details }
    }
}

fn page(failure: &Failure, f: Frame, status: StatusCode) -> Option<HttpResponse> {
    let body = FailurePage::of(failure, f).render().ok()?;
    Some(mannered(HttpResponse::build(status)).body(body))
}

/// Whether a browser asks, for something that isn't of the interface for programs.
fn is_of_a_browser(request: &ServiceRequest) -> bool {
    let accepted = request.headers().get_all(header::ACCEPT).filter_map(|value| value.to_str().ok());
    let mut accepted = accepted.flat_map(|value| value.split(','));
    let for_programs = ["/v1", "/health", "/openapi.json", "/metrics"];
    let path = request.path();
    let is_for_programs = for_programs
        .iter()
        .any(|prefix| path.strip_prefix(prefix).is_some_and(|rest| rest.is_empty() || rest.starts_with('/')));
    accepted.any(|range| range.split(';').next().is_some_and(|media| media.trim() == "text/html"))
        && !is_for_programs
}

/// What a browser is told of an error that no page gave.
fn of_status(status: StatusCode) -> Option<Failure> {
    match status {
        StatusCode::NOT_FOUND | StatusCode::METHOD_NOT_ALLOWED => Some(Failure::NotFound("address")),
        StatusCode::SERVICE_UNAVAILABLE => Some(Failure::Unavailable),
        status if status.is_client_error() => Some(Failure::Garbled),
        status if status.is_server_error() => Some(Failure::Internal),
        _ => None,
    }
}

/// Middleware: puts a page around a page's failure, and around whatever else a browser meets that isn't a page.
///
/// # Errors
/// Those of the handler.
pub async fn explain(
    request: ServiceRequest,
    next: Next<impl MessageBody + 'static>,
) -> Result<ServiceResponse<EitherBody<impl MessageBody>>, Error> {
    let of_a_browser = is_of_a_browser(&request);
    let answered = next.call(request).await?;
    let status = answered.status();
    let error = answered.response().error();
    let own = error.and_then(|error| error.as_error::<Failure>());
    let is_others = error.is_some() && own.is_none();
    let page = match own {
        Some(Failure::NotSignedIn { .. }) => None,
        Some(failure) => {
            let frame = answered.request().extensions().get::<Frame>().cloned();
            let frame = frame.unwrap_or_else(|| Frame::outside(answered.request()));
            page(failure, frame, status)
        }
        None => None,
    };
    let page = match of_status(status).filter(|_| of_a_browser && is_others) {
        Some(failure) => page_for_viewer(&failure, answered.request(), status).await,
        None => page,
    };
    Ok(match page {
        Some(page) => answered.into_response(page).map_into_right_body(),
        None => answered.map_into_left_body(),
    })
}

/// The page as whoever is signed in sees it.
async fn page_for_viewer(
    failure: &Failure,
    request: &HttpRequest,
    status: StatusCode,
) -> Option<HttpResponse> {
    let viewer = Viewer::<App>::of(request).await;
    let frame = viewer.map_or_else(|_| Frame::outside(request), |viewer| viewer.frame);
    page(failure, frame, status)
}
