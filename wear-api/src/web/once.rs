//! Each change is made once and as a whole: `Idempotency-Key` on every `POST`, and another try for a change that
//! another transaction came between.
//!
//! The middleware [`once`] makes the request's [`UnitOfWork`], lends it to the handler ([`super::change`]) and ends it:
//! an answer of success is committed before it is sent, and where the request has a key it is stored in the same
//! transaction; an error answer undoes what was changed and leaves the key free. Answers are kept for a day.

use std::collections::HashSet;
use std::sync::{Mutex, PoisonError};
use std::time::Duration;

use actix_web::body::{BoxBody, MessageBody, to_bytes};
use actix_web::dev::{Payload, ServiceRequest, ServiceResponse};
use actix_web::http::header::{CONTENT_LANGUAGE, CONTENT_TYPE, HeaderName, HeaderValue};
use actix_web::http::{Method, StatusCode};
use actix_web::middleware::Next;
use actix_web::{Error, HttpRequest, HttpResponse, ResponseError as _, web};
use rand::RngExt as _;

use super::auth::{self, Known};
use super::change::Loan;
use super::conventions::Addresses;
use super::copied::CopiedBody;
use super::problem::{Kind, Problem};
use super::{sealed, speech};
use crate::domain::{FieldErrors, IdempotencyKey, IdempotentRequest, Reservation, StoredAnswer};
use crate::input::{Place, WrongField};
use crate::service::{Kept, ServiceError, Services, UnitOfWork, idempotency};

/// Name of the header.
pub const HEADER: &str = "idempotency-key";

/// Marks an answer that was given before.
pub const REPLAYED: &str = "idempotent-replayed";

/// How often a change is tried that another transaction came between.
const TRIES: u32 = 5;

/// Pause before the second try, doubled each time, of which a random part is waited (A).
const FIRST_PAUSE: Duration = Duration::from_millis(10);

/// Requests with a key that this process is answering.
#[derive(Debug, Default)]
pub struct InFlight(Mutex<HashSet<String>>);

/// Removes its request when it is done, however that ends.
struct Flight<'a> {
    among: &'a InFlight,
    name: String,
}

impl InFlight {
    fn take_off(&self, request: &IdempotentRequest) -> Option<Flight<'_>> {
        let name = format!("{} {} {}", request.token_id, request.operation, request.key.as_str());
        let is_new = self.0.lock().unwrap_or_else(PoisonError::into_inner).insert(name.clone());
        is_new.then_some(Flight { among: self, name })
    }
}

impl Drop for Flight<'_> {
    fn drop(&mut self) {
        self.among.0.lock().unwrap_or_else(PoisonError::into_inner).remove(&self.name);
    }
}

/// Middleware, inside the one that finds out who is asking.
///
/// # Errors
/// Those of the handler.
pub async fn once(
    request: ServiceRequest,
    next: Next<impl MessageBody + 'static>,
) -> Result<ServiceResponse<BoxBody>, Error> {
    let changes = matches!(*request.method(), Method::POST | Method::PATCH | Method::PUT | Method::DELETE);
    let services = request.app_data::<web::Data<Services>>().cloned();
    let Some(services) = services.filter(|_| changes) else {
        return Ok(next.call(request).await?.map_into_boxed_body());
    };
    let keyed = match keyed(&request, &services) {
        Ok(keyed) => keyed,
        Err(problem) => return Ok(request.error_response(problem)),
    };
    // Pages have units of work of their own.
    let Some(who) = auth::known(&request) else {
        return Ok(next.call(request).await?.map_into_boxed_body());
    };
    let Some(keyed) = keyed else {
        let work = || UnitOfWork::new(&services, who.actor);
        return attempt(request, &next, work, None).await;
    };
    let in_flight = request.app_data::<web::Data<InFlight>>().cloned();
    let _flight = match &in_flight {
        Some(in_flight) => match in_flight.take_off(&keyed.request) {
            Some(flight) => Some(flight),
            None => return Ok(request.error_response(being_answered())),
        },
        None => None,
    };
    match idempotency::stored_answer(&services, &who.actor, &keyed.request).await {
        Ok(None) => {
            let work = || UnitOfWork::with_key(&services, who.actor, keyed.request.clone());
            attempt(request, &next, work, Some(&keyed)).await
        }
        Ok(Some(stored)) => {
            let (request, payload) = request.into_parts();
            let response = again(&request, &CopiedBody::new(payload), &keyed, &stored).await;
            Ok(ServiceResponse::new(request, response))
        }
        Err(error) => Ok(request.error_response(Problem::from(error))),
    }
}

/// Runs the handler, each time with a new unit of work, until no other transaction comes between.
async fn attempt(
    request: ServiceRequest,
    next: &Next<impl MessageBody + 'static>,
    work: impl Fn() -> UnitOfWork,
    keyed: Option<&Keyed>,
) -> Result<ServiceResponse<BoxBody>, Error> {
    let (mut request, payload) = request.into_parts();
    let body = CopiedBody::new(payload);
    let mut payload = body.payload().unwrap_or(Payload::None);
    let mut longest = FIRST_PAUSE;
    let mut tries = 1;
    loop {
        let mut sent = ServiceRequest::from_parts(request, payload);
        // Routing begins anew.
        sent.match_info_mut().reset();
        Loan::to(&sent, work());
        let ended = end(next.call(sent).await?.map_into_boxed_body(), keyed, &body).await;
        (request, payload) = match (ended, body.payload()) {
            (End::Interrupted(answered), Some(again)) if tries < TRIES => (answered.into_parts().0, again),
            (End::Interrupted(answered) | End::Answered(answered), _) => return Ok(answered),
        };
        tokio::time::sleep(longest.mul_f64(rand::rng().random_range(0.5..1.0))).await;
        (tries, longest) = (tries + 1, longest * 2);
    }
}

/// How a try ended.
enum End {
    /// The answer is to be sent.
    Answered(ServiceResponse<BoxBody>),
    /// Another transaction came between, and nothing was changed: there may be another try.
    Interrupted(ServiceResponse<BoxBody>),
}

impl End {
    fn failed(answered: ServiceResponse<BoxBody>, error: ServiceError) -> Self {
        let problem = Problem::from(error);
        let interrupted = problem.is_interrupted();
        let answered = answered.into_response(problem.error_response());
        if interrupted { Self::Interrupted(answered) } else { Self::Answered(answered) }
    }
}

/// Ends the unit of work as the handler answered: commits it, with a key together with the answer, or undoes it.
async fn end(answered: ServiceResponse<BoxBody>, keyed: Option<&Keyed>, body: &CopiedBody) -> End {
    let mut work = match Loan::back(&answered) {
        Ok(work) => work,
        Err(error) => return End::failed(answered, error),
    };
    if !answered.status().is_success() {
        let taken = work.repeated().cloned();
        work.undo().await;
        let problem = answered.response().error().and_then(|error| error.as_error::<Problem>());
        let interrupted = problem.is_some_and(Problem::is_interrupted);
        return match (keyed, taken) {
            (Some(keyed), Some(taken)) => End::Answered(repeated(answered, body, keyed, taken).await),
            _ if interrupted => End::Interrupted(answered),
            _ => End::Answered(answered),
        };
    }
    let Some(keyed) = keyed else {
        return match work.commit().await {
            Ok(()) => End::Answered(answered),
            Err(error) => End::failed(answered, error),
        };
    };
    let (answered, kept) = to_keep(answered, body, keyed).await;
    let Some(kept) = kept else {
        work.undo().await;
        return End::Answered(answered);
    };
    match work.commit_with(&kept).await {
        Ok(Kept::Stored) => End::Answered(answered),
        Ok(Kept::Repeated(taken)) => End::Answered(repeated(answered, body, keyed, taken).await),
        Err(error) => End::failed(answered, error),
    }
}

/// A request with a key, and who sent it.
struct Keyed {
    who: Known,
    request: IdempotentRequest,
}

/// Reads the header; none when there is none or it says nothing here.
fn keyed(request: &ServiceRequest, services: &Services) -> Result<Option<Keyed>, Problem> {
    if request.method() != Method::POST {
        return Ok(None);
    }
    let mut values = request.headers().get_all(HEADER);
    let Some(value) = values.next() else { return Ok(None) };
    let wrong = |message: String| {
        Problem::parameters(vec![WrongField {
            place: Place::Header("Idempotency-Key"),
            message,
            allowed: "1 to 255 characters, once".to_owned(),
        }])
    };
    if values.next().is_some() {
        return Err(wrong("is there twice".to_owned()));
    }
    let text = value.to_str().map_err(|_| wrong("holds characters outside ASCII".to_owned()))?;
    // The IETF's draft writes the key as a quoted string; many send it bare.
    let bare = text.strip_prefix('"').and_then(|text| text.strip_suffix('"')).unwrap_or(text);
    let key = IdempotencyKey::new(bare).map_err(|cause| {
        let error: FieldErrors = cause.at("").into();
        let first = error.into_vec().into_iter().next().map(WrongField::from);
        let message = first.map_or_else(String::new, |error| error.message);
        // It names the key by itself.
        wrong(message.strip_prefix("Idempotency-Key ").unwrap_or(&message).to_owned())
    })?;
    let Some(who) = auth::known(request) else { return Ok(None) };
    let Some(token_id) = who.actor.token_id else { return Ok(None) };
    let Some(pattern) =
        request.app_data::<web::Data<Addresses>>().and_then(|addresses| addresses.pattern(request.path()))
    else {
        return Ok(None);
    };
    let operation = format!("POST {pattern}");
    Ok(Some(Keyed { who, request: IdempotentRequest { token_id, operation, key, at: services.now() } }))
}

/// What was asked, apart from the body.
fn asked(request: &HttpRequest) -> String {
    format!("{}?{}", request.path(), request.query_string())
}

fn being_answered() -> Problem {
    Problem::new(Kind::RequestInFlight, "a request with the same Idempotency-Key is being answered")
        .retry_after(1)
}

/// The stored answer once more, if the request is the same.
async fn again(
    request: &HttpRequest,
    body: &CopiedBody,
    keyed: &Keyed,
    stored: &StoredAnswer,
) -> HttpResponse {
    if body.fingerprint(&asked(request)).await != Some(stored.fingerprint) {
        let detail = "the Idempotency-Key came before, with another address, query or body";
        return Problem::new(Kind::KeyReused, detail).error_response();
    }
    let body = match sealed::open(&keyed.who.secret, &keyed.request, &stored.body) {
        Ok(body) => body,
        Err(error) => return Problem::internal(&error).error_response(),
    };
    let mut response =
        HttpResponse::build(StatusCode::from_u16(stored.status).unwrap_or(StatusCode::INTERNAL_SERVER_ERROR));
    for (name, value) in &stored.headers {
        response.append_header((name.as_str(), value.as_str()));
    }
    response.insert_header((REPLAYED, "true"));
    response.body(body)
}

/// The answer to a request whose key turned out to be another's.
async fn repeated(
    answered: ServiceResponse<BoxBody>,
    body: &CopiedBody,
    keyed: &Keyed,
    taken: Reservation,
) -> ServiceResponse<BoxBody> {
    let response = match taken {
        Reservation::Answered(stored) => again(answered.request(), body, keyed, &stored).await,
        Reservation::InFlight | Reservation::Fresh => being_answered().error_response(),
    };
    answered.into_response(response)
}

/// The answer with what is to be kept of it; nothing is, where a problem had to take its place.
async fn to_keep(
    answered: ServiceResponse<BoxBody>,
    body: &CopiedBody,
    keyed: &Keyed,
) -> (ServiceResponse<BoxBody>, Option<StoredAnswer>) {
    let (request, response) = answered.into_parts();
    let fingerprint = body.fingerprint(&asked(&request)).await;
    let (mut response, text) = response.into_parts();
    // A repetition is answered in the language of the first request, whatever it asks for itself.
    if response.headers().contains_key(CONTENT_TYPE) {
        let language = HeaderValue::from_static(speech::words().language.as_str());
        response.headers_mut().insert(CONTENT_LANGUAGE, language);
    }
    let failed = |request, problem: Problem| (ServiceResponse::new(request, problem.error_response()), None);
    let Some(fingerprint) = fingerprint else {
        return failed(request, Problem::new(Kind::BodyTooLarge, "the body broke off or is too large"));
    };
    let Ok(text) = to_bytes(text).await else {
        return failed(request, Problem::internal(&ServiceError::BrokenOff));
    };
    let sealed = match sealed::seal(&keyed.who.secret, &keyed.request, &text) {
        Ok(sealed) => sealed,
        Err(error) => return failed(request, Problem::internal(&error)),
    };
    let readable = |(name, value): (&HeaderName, &HeaderValue)| {
        Some((name.as_str().to_owned(), value.to_str().ok()?.to_owned()))
    };
    let kept = StoredAnswer {
        fingerprint,
        status: response.status().as_u16(),
        headers: response.headers().iter().filter_map(readable).collect(),
        body: sealed,
    };
    (ServiceResponse::new(request, response.set_body(BoxBody::new(text))), Some(kept))
}
