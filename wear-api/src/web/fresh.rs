//! Answers that the asker has already: `ETag` on every `GET`, `If-None-Match`, and 304.

use std::fmt::Write as _;

use actix_web::HttpResponse;
use actix_web::body::{BodySize, BoxBody, MessageBody, to_bytes};
use actix_web::dev::{ServiceRequest, ServiceResponse};
use actix_web::http::header::{self, HeaderMap, HeaderValue};
use actix_web::http::{Method, StatusCode};
use actix_web::middleware::Next;
use actix_web::{Error, error};
use sha2::{Digest as _, Sha256};

/// Bytes of the digest that make a tag: two answers of one address share one by chance once in 10^19 (M).
const DIGEST: usize = 8;

/// Middleware around the handlers of `/v1/`. What counts its revisions keeps the revision at the front of its tag, for
/// `If-Match`; what follows says whether the rest is the same, as answers show more than what a revision counts.
///
/// # Errors
/// Those of the handler.
pub async fn fresh(
    request: ServiceRequest,
    next: Next<impl MessageBody + 'static>,
) -> Result<ServiceResponse<BoxBody>, Error> {
    if *request.method() != Method::GET || !request.path().starts_with("/v1/") {
        return Ok(next.call(request).await?.map_into_boxed_body());
    }
    let seen = request.headers().get_all(header::IF_NONE_MATCH).cloned().collect::<Vec<_>>();
    let answer = next.call(request).await?.map_into_boxed_body();
    let is_whole = matches!(answer.response().body().size(), BodySize::Sized(_));
    if answer.status() != StatusCode::OK || !is_whole {
        return Ok(answer);
    }
    let (request, response) = answer.into_parts();
    let (mut response, body) = response.into_parts();
    let body = to_bytes(body).await.map_err(error::ErrorInternalServerError)?;
    let tag = tag(response.headers().get(header::ETAG), &body);
    let known = matches(&seen, &tag);
    let value = HeaderValue::from_str(&tag).map_err(error::ErrorInternalServerError)?;
    response.headers_mut().insert(header::ETAG, value);
    if known {
        let mut unchanged = HttpResponse::NotModified().finish();
        keep(response.headers(), unchanged.headers_mut());
        return Ok(ServiceResponse::new(request, unchanged));
    }
    Ok(ServiceResponse::new(request, response.set_body(BoxBody::new(body))))
}

/// What an answer without its body still says (RFC 9110, 15.4.5).
fn keep(from: &HeaderMap, to: &mut HeaderMap) {
    for name in [
        header::ETAG,
        header::CACHE_CONTROL,
        header::CONTENT_LANGUAGE,
        header::CONTENT_LOCATION,
        header::LINK,
        header::VARY,
    ] {
        from.get_all(&name).for_each(|value| to.append(name.clone(), value.clone()));
    }
}

fn tag(revision: Option<&HeaderValue>, body: &[u8]) -> String {
    let revision = revision.and_then(|value| value.to_str().ok()).map_or("", |value| value.trim_matches('"'));
    let mut tag = format!("\"{revision}");
    if !revision.is_empty() {
        tag.push('-');
    }
    for byte in &Sha256::digest(body)[..DIGEST] {
        // Writing to a string doesn't fail.
        let _ = write!(tag, "{byte:02x}");
    }
    tag.push('"');
    tag
}

/// Weak comparison (RFC 9110, 13.1.2).
fn matches(seen: &[HeaderValue], tag: &str) -> bool {
    let listed = seen.iter().filter_map(|value| value.to_str().ok()).flat_map(|value| value.split(','));
    listed.map(str::trim).any(|seen| seen == "*" || seen.trim_start_matches("W/") == tag)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_tag_holds_the_revision_and_what_was_said() {
        let revision = HeaderValue::from_static("\"17\"");
        let (first, other) = (tag(Some(&revision), b"{}"), tag(Some(&revision), b"{} "));
        assert!(first.starts_with("\"17-") && first.len() == 2 + 3 + 2 * DIGEST && first != other);
        assert_eq!(tag(None, b"{}").len(), 2 + 2 * DIGEST);
        assert_eq!(tag(None, b"{}"), tag(None, b"{}"));
    }

    #[test]
    fn lists_weak_tags_and_any_match() {
        let seen = |text| vec![HeaderValue::from_static(text)];
        for text in ["\"a\"", "W/\"a\"", "*", "\"b\", \"a\"", " \"a\" "] {
            assert!(matches(&seen(text), "\"a\""), "{text}");
        }
        for text in ["", "a", "\"b\"", "\"a", "W/"] {
            assert!(!matches(&seen(text), "\"a\""), "{text}");
        }
    }
}
