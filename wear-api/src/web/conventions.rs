//! What every request meets before and after its handler: an id and a log line, `HEAD` answered as `GET`
//! without the body, `Accept` respected, unknown addresses and methods answered as documented.

use std::time::{Duration, Instant};

use actix_web::body::MessageBody;
use actix_web::dev::{ServiceRequest, ServiceResponse};
use actix_web::http::header::{self, HeaderMap, HeaderName, HeaderValue};
use actix_web::http::{Method, StatusCode};
use actix_web::middleware::Next;
use actix_web::{Error, HttpMessage as _, HttpRequest, HttpResponse, web};
use utoipa::openapi::OpenApi;

use super::auth::Acting;
use super::problem::{Kind, MEDIA_TYPE, Problem, allow_header};
use super::unread::{Answering, Unread};
use super::{client, figures, request_id, speech};
use crate::domain::Language;
use crate::metrics;

/// Outermost middleware.
///
/// # Errors
/// Those of the handler.
pub async fn every_request(
    mut request: ServiceRequest,
    next: Next<impl MessageBody + 'static>,
) -> Result<ServiceResponse<impl MessageBody>, Error> {
    let began = Instant::now();
    let id = request_id::choose(request.headers());
    let method = request.method().clone();
    let path = request.path().to_owned();
    if method == Method::HEAD {
        request.head_mut().method = Method::GET;
    }
    let unread = Unread::of(&mut request);
    let addresses = request.app_data::<web::Data<Addresses>>().cloned();
    let asked = speech::asked(request.headers());
    let are_exact = figures::asked(request.headers());
    let is_operation = path.starts_with("/v1/");
    let mut spoken = Language::En;
    let answered = request_id::during(
        id.clone(),
        figures::during(
            are_exact,
            speech::during(asked, async {
                let answered = match acceptable(&request) {
                    Ok(()) => next.call(request).await.map(ServiceResponse::map_into_left_body),
                    Err(problem) => Ok::<_, Error>(request.error_response(problem).map_into_right_body()),
                };
                spoken = speech::words().language;
                answered
            }),
        ),
    )
    .await;
    let status = match &answered {
        Ok(response) => response.status(),
        Err(error) => error.as_response_error().status_code(),
    };
    let took = began.elapsed();
    let route = addresses.as_ref().and_then(|addresses| addresses.pattern(&path)).map(str::to_owned);
    // A page's address isn't documented, and has a pattern all the same.
    let of_page = || answered.as_ref().ok().and_then(|answered| answered.request().match_pattern());
    let route = route.or_else(of_page);
    metrics::request(known(&method), route.as_deref().unwrap_or("other"), status.as_u16(), took);
    log(&method, shown(&path), status, took, &id, answered.as_ref().ok().map(ServiceResponse::request));
    let mut answered = answered?;
    let headers = answered.headers_mut();
    if let Ok(id) = HeaderValue::from_str(&id) {
        headers.insert(HeaderName::from_static(request_id::HEADER), id);
    }
    if is_operation && is_json(headers) {
        speech::label(headers, spoken);
        figures::label(headers, are_exact);
    }
    headers.insert(header::X_CONTENT_TYPE_OPTIONS, HeaderValue::from_static("nosniff"));
    if !headers.contains_key(header::CONTENT_SECURITY_POLICY) && starts_as(headers, "text/html") {
        let policy = if path.starts_with(DOCS) { DOCS_POLICY } else { NOTHING };
        headers.insert(header::CONTENT_SECURITY_POLICY, HeaderValue::from_static(policy));
        headers.insert(header::X_FRAME_OPTIONS, HeaderValue::from_static("DENY"));
        headers.insert(header::REFERRER_POLICY, HeaderValue::from_static("same-origin"));
    }
    Ok(answered.map_body(|_, body| Answering::new(body, unread)))
}

/// Whether the answer may hold sentences.
fn is_json(headers: &HeaderMap) -> bool {
    starts_as(headers, "application/json") || starts_as(headers, MEDIA_TYPE)
}

fn starts_as(headers: &HeaderMap, media: &str) -> bool {
    let given = headers.get(header::CONTENT_TYPE).and_then(|value| value.to_str().ok());
    given.is_some_and(|given| given.starts_with(media))
}

/// The method as a label: anyone can make up others.
fn known(method: &Method) -> &str {
    match method.as_str() {
        known @ ("GET" | "HEAD" | "POST" | "PUT" | "PATCH" | "DELETE" | "OPTIONS") => known,
        _ => "other",
    }
}

/// Where the interface's document is shown, by scripts of its own that set styles and hold their pictures.
const DOCS: &str = "/docs/";
const DOCS_POLICY: &str = "default-src 'none'; style-src 'self' 'unsafe-inline'; script-src 'self'; connect-src 'self'; img-src 'self' data:; base-uri 'none'; form-action 'none'; frame-ancestors 'none'";

/// For what is no page of ours and says nothing itself.
const NOTHING: &str = "default-src 'none'; frame-ancestors 'none'";

/// Where the addresses of calendars begin; what follows is a secret.
const CALENDARS: &str = "/v1/calendar/";

/// Where the links begin that stop e-mails; likewise.
const UNSUBSCRIBE: &str = "/unsubscribe/";

/// The path as the log shows it: a calendar's and a link's hold secrets.
fn shown(path: &str) -> &str {
    [CALENDARS, UNSUBSCRIBE].into_iter().find(|begins| path.starts_with(begins)).unwrap_or(path)
}

fn log(
    method: &Method,
    path: &str,
    status: StatusCode,
    took: Duration,
    id: &str,
    request: Option<&HttpRequest>,
) {
    let milliseconds = took.as_secs_f64() * 1e3;
    let status = status.as_u16();
    let client = request.and_then(client::address).map(tracing::field::display);
    let acting = request.and_then(|request| request.extensions().get::<Acting>().copied());
    let workshop = acting.map(|Acting(actor)| tracing::field::display(actor.workshop_id));
    let token = acting.and_then(|Acting(actor)| actor.token_id).map(tracing::field::display);
    tracing::info!(%method, path, status, milliseconds, request_id = id, client, workshop, token, "request");
}

/// Whether the sender takes JSON, where the address answers in JSON.
fn acceptable(request: &ServiceRequest) -> Result<(), Problem> {
    // Calendar programs ask for calendars.
    if !request.path().starts_with("/v1/") || request.path().starts_with(CALENDARS) {
        return Ok(());
    }
    let mut values = request.headers().get_all(header::ACCEPT).peekable();
    if values.peek().is_none() {
        return Ok(());
    }
    let takes_json =
        values.filter_map(|value| value.to_str().ok()).flat_map(|value| value.split(',')).any(|range| {
            let mut parts = range.split(';').map(|part| part.trim().to_ascii_lowercase());
            let media = parts.next().unwrap_or_default();
            let refused = parts.any(|part| {
                part.strip_prefix("q=").and_then(|q| q.trim().parse::<f64>().ok()).is_some_and(|q| q <= 0.0)
            });
            let csv =
                request.path().starts_with("/v1/exports/") && matches!(media.as_str(), "text/csv" | "text/*");
            (csv || matches!(media.as_str(), "*/*" | "application/*" | "application/json")) && !refused
        });
    if takes_json {
        Ok(())
    } else {
        Err(Problem::new(Kind::NotAcceptable, "the Accept header excludes application/json"))
    }
}

/// The documented addresses and the methods of each.
#[derive(Debug)]
pub struct Addresses(Vec<(String, Vec<Method>)>);

impl Addresses {
    /// Reads them from the document.
    #[must_use]
    pub fn of(document: &OpenApi) -> Self {
        let addresses = document.paths.paths.iter().map(|(path, item)| {
            let mut methods = Vec::new();
            for (present, method) in [
                (item.get.is_some(), Method::GET),
                (item.get.is_some(), Method::HEAD),
                (item.post.is_some(), Method::POST),
                (item.put.is_some(), Method::PUT),
                (item.patch.is_some(), Method::PATCH),
                (item.delete.is_some(), Method::DELETE),
            ] {
                if present {
                    methods.push(method);
                }
            }
            methods.push(Method::OPTIONS);
            (path.clone(), methods)
        });
        Self(addresses.collect())
    }

    /// The documented pattern of an address, as in `/v1/bikes/{bike_id}`.
    #[must_use]
    pub fn pattern(&self, path: &str) -> Option<&str> {
        self.0.iter().map(|(pattern, _)| pattern.as_str()).find(|pattern| fits(pattern, path))
    }

    fn methods(&self, path: &str) -> Option<Vec<Method>> {
        let mut found: Vec<Method> = Vec::new();
        for (pattern, methods) in &self.0 {
            if fits(pattern, path) {
                found.extend(
                    methods.iter().filter(|method| !found.contains(method)).cloned().collect::<Vec<_>>(),
                );
            }
        }
        (!found.is_empty()).then_some(found)
    }
}

/// Whether a path is an address of the pattern, segment by segment: a name in braces stands for anything but nothing.
/// Every request asks, so it isn't left to regular expressions.
fn fits(pattern: &str, path: &str) -> bool {
    let (mut patterns, mut segments) = (pattern.split('/'), path.split('/'));
    loop {
        match (patterns.next(), segments.next()) {
            (None, None) => return true,
            (Some(pattern), Some(segment)) => {
                let named = pattern.strip_prefix('{').and_then(|rest| rest.split_once('}'));
                let fits = named.map_or(pattern == segment, |(_, end)| {
                    segment.strip_suffix(end).is_some_and(|name| !name.is_empty())
                });
                if !fits {
                    return false;
                }
            }
            _ => return false,
        }
    }
}

/// Answers what no handler took: `OPTIONS`, a method that the address doesn't have, an unknown address.
///
/// # Errors
/// [`Kind::MethodNotAllowed`] and [`Kind::NotFound`].
pub async fn unmatched(
    request: HttpRequest,
    addresses: web::Data<Addresses>,
) -> Result<HttpResponse, Problem> {
    match addresses.methods(request.path()) {
        Some(methods) if request.method() == Method::OPTIONS => {
            Ok(HttpResponse::NoContent().insert_header((header::ALLOW, allow_header(&methods))).finish())
        }
        Some(methods) => Err(Problem::method(request.method(), methods)),
        None => Err(Problem::not_found("address")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn addresses_fit_segment_by_segment() {
        for (pattern, path, wanted) in [
            ("/v1/bikes", "/v1/bikes", true),
            ("/v1/bikes", "/v1/bikes/", false),
            ("/v1/bikes/{bike_id}", "/v1/bikes/7", true),
            ("/v1/bikes/{bike_id}", "/v1/bikes/", false),
            ("/v1/bikes/{bike_id}", "/v1/bikes/7/rides", false),
            ("/v1/bikes/{bike_id}/rides", "/v1/bikes/7/rides", true),
            ("/v1/bikes/{bike_id}/rides", "/v1/bikes/7/readings", false),
            ("/v1/calendar/{secret}.ics", "/v1/calendar/abc.ics", true),
            ("/v1/calendar/{secret}.ics", "/v1/calendar/abc", false),
            ("/v1/calendar/{secret}.ics", "/v1/calendar/.ics", false),
        ] {
            assert_eq!(fits(pattern, path), wanted, "{pattern} {path}");
        }
    }
}
