//! Who is asking, and whether their role may.
//!
//! A middleware identifies the sender once; a handler names the role it needs in its arguments, as in
//! `actor: As<Mechanic>`, ahead of the body, so that nobody's body is read before they may send it. One that changes
//! something takes `mut change: Change<Mechanic>` instead ([`super::change`]).

use std::future::{Ready, ready};
use std::marker::PhantomData;
use std::ops::Deref;
use std::time::Instant;

use actix_web::body::MessageBody;
use actix_web::dev::{Payload, ServiceRequest, ServiceResponse};
use actix_web::http::header;
use actix_web::middleware::Next;
use actix_web::{Error, FromRequest, HttpMessage as _, HttpRequest, web};

use super::problem::{Kind, Problem};
use super::rate::{RateLimiter, Standing};
use super::speech;
use crate::domain::{Role, TokenSecret, WorkshopId};
use crate::service::{Actor, ServiceError, Services, bikes, tokens};

/// The least role that an operation needs.
pub trait Needed {
    /// The role.
    const ROLE: Role;
}

macro_rules! needed {
    ($($(#[$doc:meta])* $role:ident;)+) => {$(
        $(#[$doc])*
        #[derive(Debug)]
        pub struct $role;

        impl Needed for $role {
            const ROLE: Role = Role::$role;
        }
    )+};
}

needed! {
    /// Any token will do.
    App;
    /// A mechanic's or a manager's token.
    Mechanic;
    /// A manager's token.
    Manager;
}

/// The sender, whose role covers `R`.
#[derive(Debug)]
pub struct As<R>(Actor, PhantomData<R>);

impl<R> Deref for As<R> {
    type Target = Actor;

    fn deref(&self) -> &Actor {
        &self.0
    }
}

/// A sender whose token is known.
#[derive(Debug, Clone)]
pub struct Known {
    /// Who it is.
    pub actor: Actor,
    /// The token that was shown.
    pub secret: TokenSecret,
}

/// Who a request turned out to come from, by token or by session, for the log.
#[derive(Debug, Clone, Copy)]
pub struct Acting(pub Actor);

/// What the middleware found out about the sender.
#[derive(Clone)]
enum Sender {
    Known(Known),
    Unknown(&'static str),
}

impl<R: Needed> FromRequest for As<R> {
    type Error = Problem;
    type Future = Ready<Result<Self, Problem>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        ready(sender_as::<R>(request).map(|actor| Self(actor, PhantomData)))
    }
}

/// The sender, if their role covers `R`.
///
/// # Errors
/// [`Kind::NotSignedIn`], [`Kind::RoleNotAllowed`].
pub(super) fn sender_as<R: Needed>(request: &HttpRequest) -> Result<Actor, Problem> {
    let sender = request.extensions().get::<Sender>().cloned();
    match sender.unwrap_or(Sender::Unknown(NO_HEADER)) {
        Sender::Known(Known { actor, .. }) if actor.role.covers(R::ROLE) => Ok(actor),
        Sender::Known(Known { actor, .. }) => Err(Problem::new(
            Kind::RoleNotAllowed,
            format!("the token's role is {}; needed: {}", actor.role, allowed_roles(R::ROLE)),
        )),
        Sender::Unknown(why) => Err(Problem::new(Kind::NotSignedIn, why)),
    }
}

const NO_HEADER: &str = "there is no Authorization header with a bearer token";
const NOT_KNOWN: &str = "the token is not known, or was revoked";

/// The roles that cover `needed`, in words.
#[must_use]
pub fn allowed_roles(needed: Role) -> String {
    let roles: Vec<_> =
        Role::ALL.iter().filter(|role| role.covers(needed)).map(|role| role.as_str()).collect();
    roles.join(" or ")
}

/// Middleware: finds out who is asking and leaves it with the request.
///
/// # Errors
/// [`Kind::Unavailable`] when the store can't say.
pub async fn identify(
    request: ServiceRequest,
    next: Next<impl MessageBody + 'static>,
) -> Result<ServiceResponse<impl MessageBody>, Error> {
    if !request.path().starts_with("/v1/") {
        return Ok(next.call(request).await?.map_into_left_body());
    }
    let sender = match sender(&request).await {
        Ok(sender) => sender,
        Err(problem) => return Ok(request.error_response(problem).map_into_right_body()),
    };
    if let Sender::Known(Known { actor, .. }) = &sender
        && let Some(services) = request.app_data::<web::Data<Services>>()
    {
        match services.words_of(actor.workshop_id).await {
            Ok(words) => speech::of_workshop(words, speech::asked(request.headers())),
            Err(error) => return Ok(request.error_response(Problem::from(error)).map_into_right_body()),
        }
    }
    let standing = standing(&request, &sender);
    if standing.is_some_and(|standing| standing.first) {
        note_use(&request, &sender);
    }
    if let Sender::Known(Known { actor, .. }) = &sender {
        request.extensions_mut().insert(Acting(*actor));
    }
    request.extensions_mut().insert(sender);
    let mut answered = match standing {
        Some(standing) if !standing.within => {
            let problem = Problem::new(
                Kind::TooManyRequests,
                format!("the token may send {} requests a minute", standing.allowed),
            );
            request.error_response(problem.retry_after(standing.ends_in_seconds)).map_into_right_body()
        }
        _ => match beyond_reach(&request).await {
            Ok(false) => next.call(request).await?.map_into_left_body(),
            Ok(true) => request.error_response(Problem::not_found("bike")).map_into_right_body(),
            Err(problem) => request.error_response(problem).map_into_right_body(),
        },
    };
    if let Some(standing) = standing {
        standing.write(answered.headers_mut());
    }
    Ok(answered)
}

/// Whether the address is that of a bike, or of something of a bike, that the sender's token doesn't reach: for them it isn't
/// there, whatever the operation and whether or not their role may do it. Nothing is asked for a token of the whole workshop.
async fn beyond_reach(request: &ServiceRequest) -> Result<bool, Problem> {
    let Some(Known { actor, .. }) = known(request).filter(|known| known.actor.reach.is_bound()) else {
        return Ok(false);
    };
    let Some(named) = request.path().strip_prefix("/v1/bikes/") else { return Ok(false) };
    let named = named.split('/').next().unwrap_or_default();
    // What is written in another way than an id is, and might be read as one.
    if named.contains('%') {
        return Ok(true);
    }
    let (Ok(id), Some(services)) = (named.parse(), request.app_data::<web::Data<Services>>()) else {
        return Ok(false);
    };
    match bikes::get(services, &actor, id).await {
        Ok(_) => Ok(false),
        Err(ServiceError::NotFound { .. }) => Ok(true),
        Err(other) => Err(other.into()),
    }
}

/// Notes the use of a token, at most once a minute, beside the request: nobody waits for it.
fn note_use(request: &ServiceRequest, sender: &Sender) {
    let Sender::Known(Known { actor, .. }) = sender else { return };
    let Some(services) = request.app_data::<web::Data<Services>>().cloned() else { return };
    let actor = *actor;
    tokio::spawn(async move {
        if let Err(error) = tokens::note_use(&services, &actor).await {
            tracing::debug!(error = %error, "the use of a token wasn't noted");
        }
    });
}

fn standing(request: &ServiceRequest, sender: &Sender) -> Option<Standing> {
    let Sender::Known(Known { actor, .. }) = sender else { return None };
    Some(request.app_data::<web::Data<RateLimiter>>()?.count(actor.token_id?, Instant::now()))
}

/// Who is asking, if [`identify`] knew them.
#[must_use]
pub fn known(request: &ServiceRequest) -> Option<Known> {
    match request.extensions().get::<Sender>() {
        Some(Sender::Known(known)) => Some(known.clone()),
        _ => None,
    }
}

/// The workshop of whoever is asking, if they are known.
pub(super) fn workshop_of(request: &HttpRequest) -> Option<WorkshopId> {
    match request.extensions().get::<Sender>() {
        Some(Sender::Known(known)) => Some(known.actor.workshop_id),
        _ => None,
    }
}

async fn sender(request: &ServiceRequest) -> Result<Sender, Problem> {
    let Some(secret) = bearer(request) else { return Ok(Sender::Unknown(NO_HEADER)) };
    let Ok(secret) = secret.parse::<TokenSecret>() else { return Ok(Sender::Unknown(NOT_KNOWN)) };
    let Some(services) = request.app_data::<web::Data<Services>>() else {
        return Ok(Sender::Unknown(NOT_KNOWN));
    };
    Ok(tokens::authenticate(services, &secret.hash())
        .await?
        .map_or(Sender::Unknown(NOT_KNOWN), |actor| Sender::Known(Known { actor, secret })))
}

fn bearer(request: &ServiceRequest) -> Option<&str> {
    let value = request.headers().get(header::AUTHORIZATION)?.to_str().ok()?;
    let (scheme, secret) = value.split_once(' ')?;
    scheme.eq_ignore_ascii_case("bearer").then(|| secret.trim())
}
