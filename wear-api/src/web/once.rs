//! Each change is made once and as a whole: `Idempotency-Key` on every `POST`, and another try for a change that
//! another transaction came between.
//!
//! Handlers and use cases need nothing for it. What a request with a key commits is held back until its answer
//! can be committed with it ([`RequestWork`]). Answers of changes that were made are kept for a day; an error
//! answer changed nothing and leaves the key free.

use std::collections::HashSet;
use std::sync::{Mutex, PoisonError};
use std::time::Duration;

use actix_web::body::{BoxBody, MessageBody, to_bytes};
use actix_web::dev::{ServiceRequest, ServiceResponse};
use actix_web::http::header::{HeaderName, HeaderValue};
use actix_web::http::{Method, StatusCode};
use actix_web::middleware::Next;
use actix_web::{Error, HttpRequest, HttpResponse, ResponseError as _, web};
use rand::RngExt as _;

use super::auth::{self, Known};
use super::conventions::Addresses;
use super::copied::CopiedBody;
use super::problem::{Interrupted, Kind, Problem};
use super::sealed;
use crate::domain::{FieldErrors, Fingerprint, IdempotencyKey, IdempotentRequest, Reservation, StoredAnswer};
use crate::input::{Place, WrongField};
use crate::service::{ServiceError, Services, idempotency};
use crate::store::{Finish, RequestWork, StoreError};

/// Name of the header.
pub const HEADER: &str = "idempotency-key";

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
    if !matches!(*request.method(), Method::POST | Method::PATCH | Method::PUT | Method::DELETE) {
        return Ok(next.call(request).await?.map_into_boxed_body());
    }
    let Some(services) = request.app_data::<web::Data<Services>>().cloned() else {
        return Ok(next.call(request).await?.map_into_boxed_body());
    };
    let keyed = match keyed(&request, &services) {
        Ok(keyed) => keyed,
        Err(problem) => return Ok(request.error_response(problem)),
    };
    let Some(keyed) = keyed else {
        let (answered, _) = attempt(request, &next, &services, None).await?;
        return Ok(answered);
    };
    let in_flight = request.app_data::<web::Data<InFlight>>().cloned();
    let _flight = match &in_flight {
        Some(in_flight) => match in_flight.take_off(&keyed.request) {
            Some(flight) => Some(flight),
            None => return Ok(request.error_response(being_answered())),
        },
        None => None,
    };
    match idempotency::stored_answer(&services, &keyed.who.actor, &keyed.request).await {
        Ok(None) => {}
        Ok(Some(stored)) => {
            let (request, payload) = request.into_parts();
            let fingerprint = CopiedBody::new(payload).fingerprint(&asked(&request)).await;
            let response = again(&keyed, fingerprint, &stored);
            return Ok(ServiceResponse::new(request, response));
        }
        Err(error) => return Ok(request.error_response(Problem::from(error))),
    }
    let (answered, body) = attempt(request, &next, &services, Some(&keyed)).await?;
    let taken = answered.response().extensions().get::<Taken>().cloned();
    match taken {
        Some(Taken(stored)) => {
            let (request, _) = answered.into_parts();
            let fingerprint = body.fingerprint(&asked(&request)).await;
            let response = again(&keyed, fingerprint, &stored);
            Ok(ServiceResponse::new(request, response))
        }
        None => Ok(answered),
    }
}

/// A request with a key, and who sent it.
struct Keyed {
    who: Known,
    request: IdempotentRequest,
}

/// The answer that another request with the same key got.
#[derive(Clone)]
struct Taken(StoredAnswer);

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
fn again(keyed: &Keyed, fingerprint: Option<Fingerprint>, stored: &StoredAnswer) -> HttpResponse {
    if fingerprint != Some(stored.fingerprint) {
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
    response.body(body)
}

/// Runs the handler until no other transaction comes between, and commits its work with its answer.
async fn attempt(
    request: ServiceRequest,
    next: &Next<impl MessageBody + 'static>,
    services: &Services,
    keyed: Option<&Keyed>,
) -> Result<(ServiceResponse<BoxBody>, CopiedBody), Error> {
    let (mut request, payload) = request.into_parts();
    let body = CopiedBody::new(payload);
    let mut tries = 0;
    loop {
        tries += 1;
        let work = match keyed {
            Some(keyed) => idempotency::work(&keyed.request),
            None => RequestWork::without_key(),
        };
        let Some(payload) = body.payload() else {
            let problem = Problem::unavailable(&StoreError::Interrupted);
            return Ok((ServiceResponse::new(request, problem.error_response()), body));
        };
        let mut sent = ServiceRequest::from_parts(request, payload);
        // Routing begins anew.
        sent.match_info_mut().reset();
        let answered = work.during(next.call(sent)).await?.map_into_boxed_body();
        let mut interrupted = answered.response().extensions().contains::<Interrupted>();
        let answered = match keyed {
            Some(keyed) if !interrupted => {
                let (answered, late) = finish(answered, services, keyed, &work, &body).await;
                interrupted = late;
                answered
            }
            _ => answered,
        };
        if let Err(error) = work.undo().await {
            tracing::warn!(error = %error, "the store undoes a refused change by itself");
        }
        if !interrupted || work.has_committed() || tries == TRIES {
            return Ok((answered, body));
        }
        request = answered.into_parts().0;
        let longest = FIRST_PAUSE * 2_u32.pow(tries - 1);
        tokio::time::sleep(longest.mul_f64(rand::rng().random_range(0.5..1.0))).await;
    }
}

/// Commits the work of a request with a key together with its answer; whether another transaction came between.
async fn finish(
    answered: ServiceResponse<BoxBody>,
    services: &Services,
    keyed: &Keyed,
    work: &RequestWork,
    body: &CopiedBody,
) -> (ServiceResponse<BoxBody>, bool) {
    match work.refusal() {
        Some(taken) => return (refused(answered, taken), false),
        None if answered.status().is_success() => {}
        None => return (answered, false),
    }
    let (request, response) = answered.into_parts();
    let fingerprint = body.fingerprint(&asked(&request)).await;
    let (response, text) = response.into_parts();
    let failed = |request, problem: Problem| (ServiceResponse::new(request, problem.error_response()), false);
    let Some(fingerprint) = fingerprint else {
        return failed(request, Problem::new(Kind::BodyTooLarge, "the body broke off or is too large"));
    };
    let Ok(text) = to_bytes(text).await else {
        return failed(request, Problem::unavailable(&StoreError::Interrupted));
    };
    let sealed = match sealed::seal(&keyed.who.secret, &keyed.request, &text) {
        Ok(sealed) => sealed,
        Err(error) => return failed(request, Problem::internal(&error)),
    };
    let readable = |(name, value): (&HeaderName, &HeaderValue)| {
        Some((name.as_str().to_owned(), value.to_str().ok()?.to_owned()))
    };
    let stored = StoredAnswer {
        fingerprint,
        status: response.status().as_u16(),
        headers: response.headers().iter().filter_map(readable).collect(),
        body: sealed,
    };
    let answered = ServiceResponse::new(request, response.set_body(BoxBody::new(text)));
    match services.store.finish_request(work, keyed.who.actor.workshop_id, &stored).await {
        Ok(Finish::Stored) => (answered, false),
        Ok(Finish::Refused(taken)) => (refused(answered, taken), false),
        Err(error) => {
            let interrupted = matches!(error, StoreError::Interrupted);
            let problem = Problem::from(ServiceError::from(error));
            (answered.into_response(problem.error_response()), interrupted)
        }
    }
}

/// The answer to a request whose key turned out to be another's.
fn refused(answered: ServiceResponse<BoxBody>, taken: Reservation) -> ServiceResponse<BoxBody> {
    let mut response = being_answered().error_response();
    if let Reservation::Answered(stored) = taken {
        response.extensions_mut().insert(Taken(stored));
    }
    answered.into_response(response)
}
