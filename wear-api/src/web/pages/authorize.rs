//! Somebody allows an app, or not: the authorization endpoint of OAuth 2.0 (RFC 6749, 3.1).
//!
//! What goes wrong is told to the app through the browser once it is known where the app may be told; until then, and
//! where the address isn't the app's, to the person on a page.

use actix_web::http::header;
use actix_web::{HttpRequest, HttpResponse, HttpResponseBuilder, get, post, web};
use askama::Template;

use super::failure::Failure;
use super::frame::{Frame, Posted, Viewer};
use super::{Answer, POLICY, mannered, see};
use crate::domain::{App, AppId, PageRequest, PageSize, RedirectUri, RiderId, Role};
use crate::service::authorizations::{self, Asked};
use crate::service::{Actor, ServiceError, Services, parties};
use crate::web::auth::Mechanic;
use crate::web::oauth::issuer;

#[derive(Template)]
#[template(path = "authorize.html")]
struct AuthorizePage {
    f: Frame,
    app: String,
    to: String,
    riders: Vec<(String, String, bool)>,
    /// What the app asked, to be sent along with the answer.
    asked: Vec<(&'static str, String)>,
    errors: Vec<String>,
}

/// The parameters that count; others are passed over.
const PARAMETERS: [&str; 6] =
    ["response_type", "client_id", "redirect_uri", "state", "code_challenge", "code_challenge_method"];

/// Each parameter's values as they were sent; empty ones count as none.
struct Sent(Vec<(&'static str, Vec<String>)>);

impl Sent {
    fn new(values: impl Fn(&str) -> Vec<String>) -> Self {
        Self(
            PARAMETERS
                .map(|name| (name, values(name).into_iter().filter(|it| !it.is_empty()).collect()))
                .into(),
        )
    }

    /// The value of a parameter that was sent once.
    fn one(&self, name: &str) -> Option<&str> {
        let values = self.0.iter().find(|(known, _)| *known == name).map(|(_, values)| values.as_slice());
        match values {
            Some([only]) => Some(only),
            _ => None,
        }
    }

    fn is_repeated(&self) -> bool {
        self.0.iter().any(|(_, values)| values.len() > 1)
    }
}

/// An app that asks, and where it may be answered.
struct Asking {
    app: App,
    to: RedirectUri,
    state: Option<String>,
}

impl Asking {
    /// Who asks; a failure where it isn't known, or where it asks to be answered at an address that isn't its own.
    async fn of(services: &Services, actor: &Actor, sent: &Sent) -> Result<Self, Failure> {
        let app: AppId = sent.one("client_id").and_then(|id| id.parse().ok()).ok_or(Failure::Garbled)?;
        let app = parties::app(services, actor, app).await?;
        let to = sent.one("redirect_uri").and_then(|uri| RedirectUri::new(uri).ok());
        let to =
            to.filter(|to| app.redirect_uris.iter().any(|own| own.allows(to))).ok_or(Failure::Garbled)?;
        Ok(Self { app, to, state: sent.one("state").map(str::to_owned) })
    }

    /// What it asks for; else the error's word (RFC 6749, 4.1.2.1).
    fn asks(&self, sent: &Sent) -> Result<Asked, &'static str> {
        if sent.is_repeated() {
            return Err("invalid_request");
        }
        match sent.one("response_type") {
            Some("code") => {}
            Some(_) => return Err("unsupported_response_type"),
            None => return Err("invalid_request"),
        }
        // Without a method it would be `plain`, which protects nothing here.
        let challenge =
            sent.one("code_challenge").filter(|_| sent.one("code_challenge_method") == Some("S256"));
        let challenge = challenge.and_then(|text| text.parse().ok()).ok_or("invalid_request")?;
        Ok(Asked { app_id: self.app.id, redirect_uri: self.to.clone(), challenge })
    }

    /// Sends the browser back to the app.
    fn answer(&self, request: &HttpRequest, name: &str, value: &str) -> HttpResponse {
        let issuer = issuer(request);
        let mut parameters = vec![(name, value)];
        parameters.extend(self.state.as_deref().map(|state| ("state", state)));
        parameters.push(("iss", &issuer));
        see(self.to.with(&parameters))
    }
}

async fn shown(
    services: &Services,
    actor: &Actor,
    f: Frame,
    (asking, sent): (&Asking, &Sent),
    errors: Vec<String>,
) -> Result<AuthorizePage, Failure> {
    let riders = parties::riders(services, actor, &PageRequest::first(PageSize::LARGEST)).await?.items;
    let only_one = riders.len() == 1;
    Ok(AuthorizePage {
        app: asking.app.name.to_string(),
        to: asking.to.origin(),
        riders: riders
            .iter()
            .map(|rider| {
                (rider.id.to_string(), rider.name.to_string(), only_one && actor.role != Role::Manager)
            })
            .collect(),
        asked: PARAMETERS.iter().filter_map(|name| Some((*name, sent.one(name)?.to_owned()))).collect(),
        errors,
        f,
    })
}

/// The page, whose form may lead on to the app.
fn leading_on(answer: HttpResponseBuilder, shown: &AuthorizePage) -> Answer {
    let policy = POLICY.replace("form-action 'self'", &format!("form-action 'self' {}", shown.to));
    let body = shown.render()?;
    Ok(mannered(answer).insert_header((header::CONTENT_SECURITY_POLICY, policy)).body(body))
}

#[get("/oauth/authorize")]
pub(super) async fn page(
    request: HttpRequest,
    viewer: Viewer<Mechanic>,
    services: web::Data<Services>,
    query: web::Query<Vec<(String, String)>>,
) -> Answer {
    let Viewer { actor, frame, .. } = viewer;
    let values = |name: &str| -> Vec<String> {
        query.iter().filter(|(known, _)| known == name).map(|(_, value)| value.clone()).collect()
    };
    let sent = Sent::new(values);
    let asking = Asking::of(&services, &actor, &sent).await?;
    match asking.asks(&sent) {
        Ok(_) => {
            let shown = shown(&services, &actor, frame, (&asking, &sent), Vec::new()).await?;
            leading_on(HttpResponse::Ok(), &shown)
        }
        Err(error) => Ok(asking.answer(&request, "error", error)),
    }
}

#[post("/oauth/authorize")]
pub(super) async fn decide(
    request: HttpRequest,
    posted: Posted<Mechanic>,
    services: web::Data<Services>,
) -> Answer {
    let Posted { viewer: Viewer { actor, frame, .. }, fields } = posted;
    let sent = Sent::new(|name| fields.all(name).map(str::to_owned).collect());
    let asking = Asking::of(&services, &actor, &sent).await?;
    let asked = match asking.asks(&sent) {
        Ok(asked) => asked,
        Err(error) => return Ok(asking.answer(&request, "error", error)),
    };
    if fields.get("decision") != "allow" {
        return Ok(asking.answer(&request, "error", "access_denied"));
    }
    let rider = match fields.filled("rider") {
        Some(id) => Some(id.parse::<RiderId>().map_err(|_| Failure::Garbled)?),
        None if actor.role == Role::Manager => None,
        None => {
            let errors = vec![frame.links_rider_needed()];
            let shown = shown(&services, &actor, frame, (&asking, &sent), errors).await?;
            return leading_on(HttpResponse::UnprocessableEntity(), &shown);
        }
    };
    let allowed = services
        .change(&actor, async |work| authorizations::allow(&services, work, asked, rider).await)
        .await;
    match allowed {
        Ok(code) => Ok(asking.answer(&request, "code", &code.reveal())),
        Err(ServiceError::Unavailable(_) | ServiceError::Busy(_)) => {
            Ok(asking.answer(&request, "error", "temporarily_unavailable"))
        }
        Err(other) => Err(other.into()),
    }
}
