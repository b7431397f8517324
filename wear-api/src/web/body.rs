//! JSON bodies: media type, size, shape, each with its own problem.

use std::future::Future;
use std::io::Read as _;
use std::pin::Pin;

use actix_web::http::header;
use actix_web::web::BytesMut;
use actix_web::{FromRequest, HttpMessage as _, HttpRequest, dev, web};
use flate2::read::GzDecoder;
use futures_util::StreamExt as _;
use serde::de::DeserializeOwned;
use serde::{Deserialize, Deserializer};

use super::auth;
use super::problem::{Kind, Problem};
use super::waiting::{Bodies, GivenUp, READ_WITHIN};
use crate::domain::WorkshopId;
use crate::input::{JsonError, parse_json};
use crate::service::{Admitted, Services};

/// Largest body that most addresses take, bytes.
pub const DEFAULT_LIMIT: usize = 256 * 1024;

/// Bodies up to this size need no admission and are read where they come, bytes (A).
const SMALL: usize = 64 * 1024;

/// What a body of JSON takes while it is read, in its own size: as sent, unpacked, in one piece, and what is made of it (A).
const TIMES: usize = 4;

/// A JSON body of at most `LIMIT` bytes.
#[derive(Debug)]
pub struct Json<T, const LIMIT: usize = DEFAULT_LIMIT>(pub T);

impl<T: DeserializeOwned + Send + 'static, const LIMIT: usize> FromRequest for Json<T, LIMIT> {
    type Error = Problem;
    type Future = Pin<Box<dyn Future<Output = Result<Self, Problem>>>>;

    fn from_request(request: &HttpRequest, payload: &mut dev::Payload) -> Self::Future {
        let request = request.clone();
        let payload = payload.take();
        Box::pin(async move {
            require_json(&request)?;
            let packed = encoding(&request, &[GZIP])?;
            let announced = announced(&request);
            fits(announced, LIMIT)?;
            // A request that is tried again has what it was admitted to before.
            drop(request.extensions_mut().remove::<Held>());
            let most = match (announced, packed.is_some()) {
                (Some(length), true) => length.saturating_mul(MOST_PACKED).min(LIMIT),
                (Some(length), false) => length.min(LIMIT),
                (None, _) => LIMIT,
            };
            let admitted = admit(&request, most, TIMES).await?;
            let bytes = in_time(&request, read(&request, payload, LIMIT)).await?;
            let parsing = move || parsed(&bytes, packed.is_some(), LIMIT);
            let parsed =
                if most <= SMALL { parsing()? } else { on_threads_that_give_way(&request, parsing).await? };
            // Until the request is answered.
            request.extensions_mut().insert(Held(admitted));
            parsed.map(Self).map_err(|error| match error {
                JsonError::Syntax(field) => Problem::json(field),
                JsonError::Shape(field) => Problem::fields(vec![field]),
            })
        })
    }
}

/// What was admitted for a request, for as long as there is the request.
struct Held(#[allow(dead_code)] Admitted);

/// As much as a byte of gzip may become (RFC 1951: 258 bytes of two bits).
const MOST_PACKED: usize = 1032;

/// What a body says, unpacked first where it is packed.
fn parsed<T: DeserializeOwned>(
    bytes: &[u8],
    is_packed: bool,
    limit: usize,
) -> Result<Result<T, JsonError>, Problem> {
    if is_packed { Ok(parse_json(&unpacked(bytes, limit)?)) } else { Ok(parse_json(bytes)) }
}

/// A large body takes as long to be understood as thousands of small requests: these go first.
async fn on_threads_that_give_way<T: Send + 'static>(
    request: &HttpRequest,
    work: impl FnOnce() -> Result<T, Problem> + Send + 'static,
) -> Result<T, Problem> {
    match request.app_data::<web::Data<Services>>() {
        Some(services) => services.heavy.compute(asking(request), work).await?,
        None => work(),
    }
}

/// Waits until there is memory for a body of at most so many bytes, so many times. All of it before any of it is read: bodies
/// that each had a part would wait for each other.
async fn admit(request: &HttpRequest, most: usize, times: usize) -> Result<Admitted, Problem> {
    let Some(services) = request.app_data::<web::Data<Services>>().filter(|_| most > SMALL) else {
        return Ok(Admitted::default());
    };
    Ok(services.memory.admit(asking(request), times.saturating_mul(most)).await?)
}

/// The workshop that asks; one of their own for all who aren't known, who may send nothing large.
fn asking(request: &HttpRequest) -> WorkshopId {
    auth::workshop_of(request).unwrap_or(WorkshopId::from_uuid(uuid::Uuid::nil()))
}

/// How large the body says it is.
fn announced(request: &HttpRequest) -> Option<usize> {
    request.headers().get(header::CONTENT_LENGTH)?.to_str().ok()?.parse().ok()
}

/// What was read, when it was here in time.
async fn in_time<T>(
    request: &HttpRequest,
    reading: impl Future<Output = Result<T, Problem>>,
) -> Result<T, Problem> {
    let read = match request.app_data::<web::Data<Bodies>>() {
        Some(bodies) => bodies.read(READ_WITHIN, reading).await,
        None => tokio::time::timeout(READ_WITHIN, reading).await.map_err(|_| GivenUp::TooSlow),
    };
    read.map_err(Problem::from)?
}

impl From<GivenUp> for Problem {
    fn from(why: GivenUp) -> Self {
        match why {
            GivenUp::TooSlow => {
                let seconds = READ_WITHIN.as_secs();
                Self::new(Kind::TooSlow, format!("the body was not here after {seconds} s"))
            }
            GivenUp::Crowded => Self::new(
                Kind::Unavailable,
                "too many bodies are coming at once, and this one is the slowest",
            )
            .retry_after(5),
        }
    }
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
            // Whoever reads the file asks for what that takes, the file counted.
            let announced = announced(&request);
            fits(announced, LIMIT)?;
            let _while_it_comes = admit(&request, announced.unwrap_or(LIMIT), 1).await?;
            let bytes = in_time(&request, read(&request, payload, LIMIT)).await?;
            Ok(Self(bytes.into()))
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

/// Refuses a body that says it is larger than allowed, before any of it is read.
fn fits(announced: Option<usize>, limit: usize) -> Result<(), Problem> {
    if announced.is_some_and(|length| length > limit) { Err(too_large(limit)) } else { Ok(()) }
}

fn too_large(limit: usize) -> Problem {
    Problem::new(Kind::BodyTooLarge, format!("the body is larger than {limit} bytes, the most allowed here"))
}

/// Reads a body that fits. One that turns out larger isn't read on.
async fn read(request: &HttpRequest, mut payload: dev::Payload, limit: usize) -> Result<BytesMut, Problem> {
    let announced = announced(request);
    let mut body = BytesMut::with_capacity(announced.unwrap_or(1024).min(SMALL));
    while let Some(chunk) = payload.next().await {
        let chunk =
            chunk.map_err(|cause| Problem::new(Kind::InvalidJson, format!("the body broke off: {cause}")))?;
        if body.len() + chunk.len() > limit {
            return Err(too_large(limit));
        }
        body.extend_from_slice(&chunk);
    }
    Ok(body)
}

/// Tells `null` from a field that isn't there, with `#[serde(default, deserialize_with = "given")]`.
///
/// # Errors
/// Those of the field's type.
pub fn given<'de, T: Deserialize<'de>, D: Deserializer<'de>>(
    deserializer: D,
) -> Result<Option<Option<T>>, D::Error> {
    Option::deserialize(deserializer).map(Some)
}
