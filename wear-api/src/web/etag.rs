//! `ETag` and `If-Match`: nobody's change is lost under another's.

use std::future::{Ready, ready};

use actix_web::http::header::{self, HeaderValue};
use actix_web::{FromRequest, HttpRequest, dev};

use super::problem::{Kind, Problem};
use crate::service::ServiceError;

/// The revisions that a sender takes a change for, from `If-Match`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum IfMatch {
    /// This one.
    Only(i64),
    /// One of these.
    OneOf(Vec<i64>),
    /// Whichever there is.
    Any,
}

impl IfMatch {
    /// The revision that the change is of, which is asked for where more than one would do.
    ///
    /// # Errors
    /// [`Kind::Stale`] where the present one isn't among them; those of `present`.
    pub async fn revision(
        &self,
        present: impl AsyncFnOnce() -> Result<i64, ServiceError>,
    ) -> Result<i64, Problem> {
        match self {
            Self::Only(revision) => Ok(*revision),
            Self::Any => Ok(present().await?),
            Self::OneOf(revisions) => {
                let present = present().await?;
                if revisions.contains(&present) { Ok(present) } else { Err(ServiceError::Stale.into()) }
            }
        }
    }
}

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
            Some(_) => seen(request.headers().get_all(header::IF_MATCH))
                .ok_or_else(|| Problem::new(Kind::Stale, "If-Match holds no ETag of this resource")),
        })
    }
}

/// What the headers say; tags that can't be ours are none.
fn seen<'a>(values: impl Iterator<Item = &'a HeaderValue>) -> Option<IfMatch> {
    let texts: Vec<&str> = values.filter_map(|value| value.to_str().ok()).collect();
    let tags: Vec<&str> = texts.iter().flat_map(|text| text.split(',')).map(str::trim).collect();
    if tags == ["*"] {
        return Some(IfMatch::Any);
    }
    let revisions: Vec<i64> = tags.into_iter().filter_map(revision).collect();
    match revisions[..] {
        [] => None,
        [only] => Some(IfMatch::Only(only)),
        _ => Some(IfMatch::OneOf(revisions)),
    }
}

/// The revision of a tag: `"17"`, or `"17-…"` as it was read.
fn revision(tag: &str) -> Option<i64> {
    let tag = tag.strip_prefix('"')?.strip_suffix('"')?;
    tag.split_once('-').map_or(tag, |(revision, _)| revision).parse().ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_tag_reads_back_and_nothing_else_does() {
        let (_, tag) = etag(17);
        let read = |text: &str| seen([&HeaderValue::from_str(text).expect("a header")].into_iter());
        assert_eq!(read(&tag), Some(IfMatch::Only(17)));
        assert_eq!(read("\"17-0a1b2c3d4e5f6071\""), Some(IfMatch::Only(17)));
        assert_eq!(read("*"), Some(IfMatch::Any));
        assert_eq!(read("\"1\", \"x\", \"2-ab\""), Some(IfMatch::OneOf(vec![1, 2])));
        for other in ["17", "W/\"17\"", "\"\"", "\"x\"", "\"1\" *"] {
            assert_eq!(read(other), None, "{other}");
        }
    }
}
