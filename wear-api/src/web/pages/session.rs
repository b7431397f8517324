//! The cookies of the pages.

use std::borrow::Cow;
use std::sync::LazyLock;

use actix_web::cookie::time::Duration;
use actix_web::cookie::{Cookie, SameSite};
use actix_web::{HttpRequest, web};

use super::proof::Proof;
use crate::domain::{Device, Language, Session, TokenSecret};
use crate::service::{Actor, ServiceError, Services, sessions};

/// Name of the session's cookie.
const COOKIE: &str = "wear_session";

/// Name of the cookie that keeps a chosen language.
pub(super) const LANGUAGE_COOKIE: &str = "wear_language";

/// Name of the cookie that keeps the way of measuring used last.
pub(super) const WAY_COOKIE: &str = "wear_way";

/// Name of the cookie that keeps the tools measured with last.
pub(super) const TOOLS_COOKIE: &str = "wear_tools";

/// What a form's proof is derived for.
const FORMS: &str = "forms of the pages";

/// How long browsers keep a choice.
const CHOICE_KEPT: Duration = Duration::days(365);

/// Proof of forms for those who need no session: only the demonstration's pages. Another one each time the program
/// starts.
static OPEN: LazyLock<Option<Proof>> =
    LazyLock::new(|| TokenSecret::generate().map(|secret| Proof::of(secret.derived(FORMS))).ok());

/// Whose data the pages show to someone who hasn't signed in: only the demonstration has any.
#[derive(Debug, Clone, Copy, Default)]
pub struct PagesOpenAs(pub Option<Actor>);

/// Who is looking.
pub(super) struct SignedIn {
    pub(super) actor: Actor,
    pub(super) session: Option<Session>,
    pub(super) proof: Option<Proof>,
}

/// The session that the request's cookie opens.
pub(super) async fn seen(
    request: &HttpRequest,
    services: &Services,
) -> Result<Option<SignedIn>, ServiceError> {
    let Some(cookie) = request.cookie(COOKIE) else { return Ok(None) };
    let Ok(secret) = cookie.value().parse::<TokenSecret>() else { return Ok(None) };
    let found = sessions::find(services, &secret).await?;
    Ok(found.map(|session| SignedIn {
        actor: sessions::actor(&session),
        session: Some(session),
        proof: Some(Proof::of(secret.derived(FORMS))),
    }))
}

/// Proof of forms where there is no session; none where forms need one.
pub(super) fn open_proof(request: &HttpRequest) -> Option<Proof> {
    let open = request.app_data::<web::Data<PagesOpenAs>>().is_some_and(|open| open.0.is_some());
    OPEN.clone().filter(|_| open)
}

/// Whether the browser reached us encrypted.
fn is_secure(request: &HttpRequest) -> bool {
    request.connection_info().scheme() == "https"
}

/// The cookie of a new session. Lax, so that a scanned code leads to the page and not to the sign-in; forms carry a
/// proof of their own.
///
/// Browsers keep it as long as the session may last; the session itself may be over before.
pub(super) fn cookie(request: &HttpRequest, secret: &TokenSecret, device: Device) -> Cookie<'static> {
    Cookie::build(COOKIE, secret.reveal())
        .path("/")
        .http_only(true)
        .secure(is_secure(request))
        .same_site(SameSite::Lax)
        .max_age(Duration::seconds(sessions::longest(device).num_seconds()))
        .finish()
}

/// The cookie that ends a session.
pub(super) fn ended() -> Cookie<'static> {
    let mut cookie = Cookie::build(COOKIE, "").path("/").http_only(true).same_site(SameSite::Lax).finish();
    cookie.make_removal();
    cookie
}

/// A cookie that keeps a choice.
pub(super) fn choice(
    request: &HttpRequest,
    name: &'static str,
    value: impl Into<Cow<'static, str>>,
) -> Cookie<'static> {
    Cookie::build(name, value)
        .path("/")
        .http_only(true)
        .secure(is_secure(request))
        .same_site(SameSite::Lax)
        .max_age(CHOICE_KEPT)
        .finish()
}

/// The cookie that keeps a chosen language.
pub(super) fn language(request: &HttpRequest, language: Language) -> Cookie<'static> {
    choice(request, LANGUAGE_COOKIE, language.as_str())
}
