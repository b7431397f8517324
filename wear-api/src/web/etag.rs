//! `ETag` and `If-Match`: nobody's change is lost under another's.

use std::future::{Ready, ready};

use actix_web::http::header::{self, HeaderValue};
use actix_web::{FromRequest, HttpRequest, dev};

use super::problem::{Kind, Problem};

/// The revision that a sender has seen, from `If-Match`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct IfMatch(pub i64);

/// The `ETag` of a revision.
#[must_use]
pub fn etag(revision: i64) -> (header::HeaderName, String) {
    (header::ETAG, format!("\"{revision}\""))
}

impl FromRequest for IfMatch {
    type Error = Problem;
    type Future = Ready<Result<Self, Problem>>;

    fn from_request(request: &HttpRequest, _: &mut dev::Payload) -> Self::Future {
        ready(match request.headers().get(header::IF_MATCH) {
            None => {
                Err(Problem::new(Kind::PreconditionRequired, "send If-Match with the ETag of what you read"))
            }
            Some(value) => revision(value).map(Self).ok_or_else(|| {
                Problem::new(Kind::Stale, format!("If-Match is {value:?}, which is no ETag of this resource"))
            }),
        })
    }
}

/// The revision of a tag: `"17"`, or `"17-…"` as it was read.
fn revision(value: &HeaderValue) -> Option<i64> {
    let tag = value.to_str().ok()?.trim().strip_prefix('"')?.strip_suffix('"')?;
    tag.split_once('-').map_or(tag, |(revision, _)| revision).parse().ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_tag_reads_back_and_nothing_else_does() {
        let (_, tag) = etag(17);
        let read = |text: &str| revision(&HeaderValue::from_str(text).expect("a header"));
        assert_eq!(read(&tag), Some(17));
        assert_eq!(read("\"17-0a1b2c3d4e5f6071\""), Some(17));
        for other in ["17", "*", "W/\"17\"", "\"\"", "\"x\"", "\"1\", \"2\""] {
            assert_eq!(read(other), None, "{other}");
        }
    }
}
