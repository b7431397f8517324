//! Pages of other origins that may call the service, and what the others are told.

use actix_cors::{Cors, CorsError};
use actix_web::body::MessageBody;
use actix_web::dev::{ServiceRequest, ServiceResponse};
use actix_web::http::Method;
use actix_web::http::header::{self, HeaderName};
use actix_web::middleware::Next;
use actix_web::{Error, HttpRequest};

use super::problem::{Problem, allow_header};
use super::{once, request_id};
use crate::input::{Place, WrongField};

/// What a page of another origin may send.
const METHODS: [Method; 6] =
    [Method::GET, Method::HEAD, Method::POST, Method::PUT, Method::PATCH, Method::DELETE];
const HEADERS: [HeaderName; 6] = [
    header::AUTHORIZATION,
    header::CONTENT_TYPE,
    header::IF_MATCH,
    header::ACCEPT,
    HeaderName::from_static(once::HEADER),
    HeaderName::from_static(request_id::HEADER),
];

/// What it may read of an answer's headers.
const EXPOSED: [&str; 7] =
    ["etag", "link", "location", "retry-after", "ratelimit", "ratelimit-policy", request_id::HEADER];

/// Lets pages of these origins call the service.
pub fn allow(origins: &[String]) -> Cors {
    let cors = Cors::default()
        .allowed_methods(METHODS)
        .allowed_headers(HEADERS)
        .expose_headers(EXPOSED)
        .max_age(3_600);
    origins.iter().fold(cors, |cors, origin| cors.allowed_origin(origin))
}

/// Middleware outside of [`allow`], whose own refusals are plain text.
///
/// # Errors
/// Those of the handler.
pub async fn explain(
    request: ServiceRequest,
    next: Next<impl MessageBody + 'static>,
) -> Result<ServiceResponse<impl MessageBody>, Error> {
    let answered = next.call(request).await?;
    let refusal = answered.response().error().and_then(|error| error.as_error::<CorsError>());
    let problem = refusal.map(|refusal| problem(refusal, answered.request()));
    Ok(match problem {
        Some(problem) => answered.error_response(problem).map_into_right_body(),
        None => answered.map_into_left_body(),
    })
}

fn problem(refusal: &CorsError, request: &HttpRequest) -> Problem {
    let (header, allowed) = match refusal {
        CorsError::BadRequestMethod | CorsError::MissingRequestMethod | CorsError::MethodNotAllowed => {
            ("Access-Control-Request-Method", allow_header(&METHODS))
        }
        CorsError::BadRequestHeaders | CorsError::HeadersNotAllowed => {
            ("Access-Control-Request-Headers", HEADERS.map(|name| name.to_string()).join(", "))
        }
        _ => ("Origin", "an origin that the service's settings name".to_owned()),
    };
    let sent = request.headers().get(header).map(|value| String::from_utf8_lossy(value.as_bytes()));
    let message = sent.map_or_else(|| "is missing".to_owned(), |value| format!("is {value:?}"));
    Problem::parameters(vec![WrongField { place: Place::Header(header), message, allowed }])
}
