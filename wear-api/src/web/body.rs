//! JSON bodies: media type, size, shape, each with its own problem.

use std::future::Future;
use std::io::Read as _;
use std::pin::Pin;
use std::time::Duration;

use actix_web::http::header;
use actix_web::web::BytesMut;
use actix_web::{FromRequest, HttpRequest, dev};
use flate2::read::GzDecoder;
use futures_util::StreamExt as _;
use serde::de::DeserializeOwned;
use serde::{Deserialize, Deserializer};

use super::problem::{Kind, Problem};
use crate::input::{JsonError, parse_json};

/// Largest body that most addresses take, bytes.
pub const DEFAULT_LIMIT: usize = 256 * 1024;

/// How long a body may take: a sender that drips holds a place as long as it likes otherwise (A).
const READ_WITHIN: Duration = Duration::from_secs(60);

/// A JSON body of at most `LIMIT` bytes.
#[derive(Debug)]
pub struct Json<T, const LIMIT: usize = DEFAULT_LIMIT>(pub T);

impl<T: DeserializeOwned + 'static, const LIMIT: usize> FromRequest for Json<T, LIMIT> {
    type Error = Problem;
    type Future = Pin<Box<dyn Future<Output = Result<Self, Problem>>>>;

    fn from_request(request: &HttpRequest, payload: &mut dev::Payload) -> Self::Future {
        let request = request.clone();
        let payload = payload.take();
        Box::pin(async move {
            require_json(&request)?;
            let packed = encoding(&request, &[GZIP])?;
            let bytes = in_time(read(&request, payload, LIMIT)).await?;
            let bytes = if packed.is_some() { unpacked(&bytes, LIMIT)? } else { bytes.to_vec() };
            parse_json(&bytes).map(Self).map_err(|error| match error {
                JsonError::Syntax(field) => Problem::json(field),
                JsonError::Shape(field) => Problem::fields(vec![field]),
            })
        })
    }
}

/// What was read, when it was here in time.
async fn in_time<T>(reading: impl Future<Output = Result<T, Problem>>) -> Result<T, Problem> {
    tokio::time::timeout(READ_WITHIN, reading).await.map_err(|_| {
        let seconds = READ_WITHIN.as_secs();
        Problem::new(Kind::TooSlow, format!("the body was not here after {seconds} s"))
    })?
}

/// A body that is a file, of at most `LIMIT` bytes, plain or gzipped.
#[derive(Debug)]
pub struct File<const LIMIT: usize>(pub Vec<u8>);

/// Media types of files, the way they are registered or written by those who make them.
pub const FILE_TYPES: &[&str] = &[
    "application/gpx+xml",
    "application/xml",
    "text/xml",
    "application/vnd.ant.fit",
    "application/octet-stream",
    "application/gzip",
];

impl<const LIMIT: usize> FromRequest for File<LIMIT> {
    type Error = Problem;
    type Future = Pin<Box<dyn Future<Output = Result<Self, Problem>>>>;

    fn from_request(request: &HttpRequest, payload: &mut dev::Payload) -> Self::Future {
        let request = request.clone();
        let payload = payload.take();
        Box::pin(async move {
            require_file(&request)?;
            Ok(Self(in_time(read(&request, payload, LIMIT)).await?.to_vec()))
        })
    }
}

fn require_file(request: &HttpRequest) -> Result<(), Problem> {
    let given =
        request.headers().get(header::CONTENT_TYPE).map(|value| value.to_str().unwrap_or("unreadable"));
    let essence = given.map(|value| value.split(';').next().unwrap_or_default().trim().to_ascii_lowercase());
    if !essence.as_deref().is_some_and(|essence| FILE_TYPES.contains(&essence)) {
        return Err(Problem::new(
            Kind::UnsupportedMediaType,
            format!(
                "the content type is {}; allowed: {}",
                given.unwrap_or("not given"),
                FILE_TYPES.join(", ")
            ),
        ));
    }
    encoding(request, &[GZIP]).map(|_| ())
}

fn require_json(request: &HttpRequest) -> Result<(), Problem> {
    let given =
        request.headers().get(header::CONTENT_TYPE).map(|value| value.to_str().unwrap_or("unreadable"));
    let essence = given.map(|value| value.split(';').next().unwrap_or_default().trim().to_ascii_lowercase());
    match essence.as_deref() {
        Some("application/json") => Ok(()),
        Some(other) if other.starts_with("application/") && other.ends_with("+json") => Ok(()),
        _ => Err(Problem::new(
            Kind::UnsupportedMediaType,
            format!("the content type is {}; allowed: application/json", given.unwrap_or("not given")),
        )),
    }
}

/// gzip, as `Content-Encoding` has it (RFC 9110, section 8.4.1).
pub const GZIP: &str = "gzip";

/// How the body is packed: none where it isn't.
///
/// # Errors
/// [`Kind::UnsupportedMediaType`] for an encoding that isn't among those taken, and for several.
pub fn encoding<'a>(request: &HttpRequest, taken: &[&'a str]) -> Result<Option<&'a str>, Problem> {
    let given: Vec<String> = request
        .headers()
        .get_all(header::CONTENT_ENCODING)
        .flat_map(|value| value.to_str().unwrap_or("unreadable").split(','))
        .map(|name| name.trim().to_ascii_lowercase())
        .filter(|name| !name.is_empty() && name != "identity")
        .collect();
    let refused = || {
        let allowed = if taken.is_empty() { "none".to_owned() } else { taken.join(", ") };
        let detail = format!("the content encoding is {}; allowed: {allowed}", given.join(", "));
        Problem::new(Kind::UnsupportedMediaType, detail)
    };
    match given.as_slice() {
        [] => Ok(None),
        [only] => {
            let name = only.strip_prefix("x-").unwrap_or(only);
            taken.iter().find(|taken| **taken == name).map(|taken| Some(*taken)).ok_or_else(refused)
        }
        _ => Err(refused()),
    }
}

/// What a packed body holds: at most as much as one that isn't packed may.
fn unpacked(bytes: &[u8], limit: usize) -> Result<Vec<u8>, Problem> {
    let mut unpacked = Vec::new();
    // One byte more than allowed tells a body that is too large from one that just fits; nothing beyond is unpacked.
    let mut reader = GzDecoder::new(bytes).take(limit as u64 + 1);
    reader.read_to_end(&mut unpacked).map_err(|cause| {
        Problem::new(Kind::InvalidJson, format!("the body can't be unpacked as gzip: {cause}"))
    })?;
    if unpacked.len() > limit {
        let detail = format!("the body is larger than {limit} bytes once unpacked, the most allowed here");
        return Err(Problem::new(Kind::BodyTooLarge, detail));
    }
    Ok(unpacked)
}

async fn read(request: &HttpRequest, mut payload: dev::Payload, limit: usize) -> Result<BytesMut, Problem> {
    let too_large = || {
        Problem::new(
            Kind::BodyTooLarge,
            format!("the body is larger than {limit} bytes, the most allowed here"),
        )
    };
    let announced = request
        .headers()
        .get(header::CONTENT_LENGTH)
        .and_then(|value| value.to_str().ok())
        .and_then(|value| value.parse::<usize>().ok());
    let mut body = BytesMut::with_capacity(announced.unwrap_or(1024).min(limit));
    let mut excess = announced.is_some_and(|length| length > limit);
    let mut read = 0_usize;
    while let Some(chunk) = payload.next().await {
        let chunk =
            chunk.map_err(|cause| Problem::new(Kind::InvalidJson, format!("the body broke off: {cause}")))?;
        read = read.saturating_add(chunk.len());
        excess |= read > limit;
        if !excess {
            body.extend_from_slice(&chunk);
        } else if read > limit.saturating_mul(DRAINED) {
            break;
        }
    }
    if excess { Err(too_large()) } else { Ok(body) }
}

/// How many times the limit is read and dropped so that a sender who writes first and reads later sees the
/// answer. Past that the connection is closed.
const DRAINED: usize = 8;

/// Tells `null` from a field that isn't there, with `#[serde(default, deserialize_with = "given")]`.
///
/// # Errors
/// Those of the field's type.
pub fn given<'de, T: Deserialize<'de>, D: Deserializer<'de>>(
    deserializer: D,
) -> Result<Option<Option<T>>, D::Error> {
    Option::deserialize(deserializer).map(Some)
}
