//! Who looks at a page: the holder of the token in the session cookie.

use std::pin::Pin;

use actix_web::cookie::{Cookie, SameSite};
use actix_web::dev::Payload;
use actix_web::{FromRequest, HttpRequest, HttpResponse, ResponseError, web};
use thiserror::Error;

use crate::domain::TokenSecret;
use crate::service::{Actor, Services, tokens};

/// Name of the cookie.
const COOKIE: &str = "wear_session";

/// Whose data the pages show to someone who hasn't signed in: only the demonstration has any.
#[derive(Debug, Clone, Copy, Default)]
pub struct PagesOpenAs(pub Option<Actor>);

/// Who looks at a page.
pub(super) struct Viewer {
    pub(super) actor: Actor,
    /// Whether there is a session to be ended.
    pub(super) signed_in: bool,
}

/// Nobody is signed in, so the answer leads to where one can.
#[derive(Debug, Error)]
#[error("not signed in")]
pub(super) struct NotSignedIn;

impl ResponseError for NotSignedIn {
    fn error_response(&self) -> HttpResponse {
        super::sign_in::redirect("/sign-in")
    }
}

impl FromRequest for Viewer {
    type Error = NotSignedIn;
    type Future = Pin<Box<dyn Future<Output = Result<Self, NotSignedIn>>>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        let request = request.clone();
        Box::pin(async move {
            if let Some(actor) = session(&request).await {
                return Ok(Self { actor, signed_in: true });
            }
            let open = request.app_data::<web::Data<PagesOpenAs>>().and_then(|open| open.0);
            open.map(|actor| Self { actor, signed_in: false }).ok_or(NotSignedIn)
        })
    }
}

async fn session(request: &HttpRequest) -> Option<Actor> {
    let cookie = request.cookie(COOKIE)?;
    let services = request.app_data::<web::Data<Services>>()?;
    holder(services, cookie.value()).await
}

/// Who holds a token.
pub(super) async fn holder(services: &Services, token: &str) -> Option<Actor> {
    let hash = token.parse::<TokenSecret>().ok()?.hash();
    tokens::authenticate(services, &hash).await.ok().flatten()
}

/// The cookie of a new session. It ends with the browser's.
pub(super) fn cookie(token: &str, secure: bool) -> Cookie<'static> {
    Cookie::build(COOKIE, token.to_owned())
        .path("/")
        .http_only(true)
        .secure(secure)
        .same_site(SameSite::Strict)
        .finish()
}

/// The cookie that ends a session.
pub(super) fn ended() -> Cookie<'static> {
    let mut cookie = cookie("", false);
    cookie.make_removal();
    cookie
}
