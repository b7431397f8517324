//! Signing in and out, and the choice of a language.

use std::time::Instant;

use actix_web::{HttpRequest, get, post, web};
use askama::Template;
use serde::Deserialize;

use super::failure::Failure;
use super::frame::{Fields, Frame, Posted, PostedOutside};
use super::{Answer, again, html, see, session};
use crate::domain::{Device, Invited, Language, LinkCode, TokenSecret};
use crate::metrics;
use crate::service::{Services, sessions, sign_ins, tokens};
use crate::web::auth::App;
use crate::web::client;
use crate::web::rate::Guesses;

#[derive(Template)]
#[template(path = "sign_in.html")]
struct SignIn {
    f: Frame,
    refused: Option<String>,
    code_refused: Option<String>,
    back: String,
}

/// Asks once more before a code is used, as programs that look at links ahead of people must not use it up.
#[derive(Template)]
#[template(path = "sign_in_as.html")]
struct SignInAs {
    f: Frame,
    title: String,
    about: String,
    code: String,
}

#[derive(Deserialize)]
struct Query {
    back: Option<String>,
}

/// A path of our own to come back to; another site's address leads to the fleet. Browsers drop tabs and line breaks from
/// addresses wherever they stand, and take a backslash for a slash.
fn own_path(given: &str) -> String {
    let own = given.starts_with('/')
        && !given.starts_with("//")
        && !given.contains(|c: char| c == '\\' || c.is_control() || c.is_whitespace());
    if own && !given.starts_with("/sign-") { given.to_owned() } else { "/fleet".to_owned() }
}

/// On what somebody signs in, as the form says.
fn device(fields: &Fields) -> Device {
    if fields.filled("own").is_some() { Device::Own } else { Device::Shared }
}

/// Leads on with the cookie of a session that has just begun.
async fn signed_in(
    (request, services): (&HttpRequest, &Services),
    secret: &TokenSecret,
    device: Device,
    back: String,
) -> Answer {
    // The cookie of the session before is about to be overwritten: nobody could end it afterwards.
    if let Some(before) = session::seen(request, services).await?.and_then(|seen| seen.session) {
        sessions::end(services, &before).await?;
    }
    let mut answer = see(back);
    answer.add_cookie(&session::cookie(request, secret, device)).map_err(|_| Failure::Internal)?;
    Ok(answer)
}

#[get("/sign-in")]
pub(super) async fn page(request: HttpRequest, query: web::Query<Query>) -> Answer {
    let back = own_path(query.back.as_deref().unwrap_or_default());
    html(&SignIn { f: Frame::outside(&request), refused: None, code_refused: None, back })
}

#[post("/sign-in")]
pub(super) async fn sign_in(
    request: HttpRequest,
    services: web::Data<Services>,
    form: PostedOutside,
) -> Answer {
    let back = own_path(form.0.get("back"));
    let secret = form.0.get("token").parse::<TokenSecret>().ok();
    let holder = match &secret {
        Some(secret) => tokens::authenticate(&services, &secret.hash()).await?,
        None => None,
    };
    // The pages show the whole workshop.
    let Some(actor) = holder.filter(|actor| !actor.reach.is_bound()) else {
        metrics::sign_in_refused();
        let (client, is_bound) = (client::address(&request).map(tracing::field::display), holder.is_some());
        tracing::warn!(client, is_bound, "sign-in refused");
        sessions::refuse(&services, secret.as_ref(), holder.as_ref()).await?;
        let f = Frame::outside(&request);
        let why = if holder.is_some() { f.sign_in_bound() } else { f.sign_in_refused() };
        return again(&SignIn { refused: Some(why), code_refused: None, f, back });
    };
    let device = device(&form.0);
    let secret = sessions::begin(&services, &actor, device).await?;
    signed_in((&request, &services), &secret, device, back).await
}

/// What is said of a code that signs nobody in.
fn no_code(request: &HttpRequest, guesses: &Guesses, now: Instant, back: String) -> Answer {
    if let Some(peer) = request.peer_addr() {
        guesses.wrong(peer.ip(), now);
    }
    let f = Frame::outside(request);
    again(&SignIn { refused: None, code_refused: Some(f.sign_in_code_refused()), f, back })
}

/// Whether too many wrong codes came from where the request comes from.
fn is_closed(request: &HttpRequest, guesses: &Guesses, now: Instant) -> bool {
    request.peer_addr().is_some_and(|peer| guesses.closed_for(peer.ip(), now).is_some())
}

/// Where a scanned code leads: says who would be signed in where.
#[get("/sign-in/{code}")]
pub(super) async fn invited(
    request: HttpRequest,
    services: web::Data<Services>,
    guesses: web::Data<Guesses>,
    code: web::Path<String>,
) -> Answer {
    let (now, back) = (Instant::now(), "/fleet".to_owned());
    let open = !is_closed(&request, &guesses, now);
    let found = match code.parse::<LinkCode>() {
        Ok(code) if open => sign_ins::look(&services, &code).await?.map(|invited| (code, invited)),
        _ => None,
    };
    let Some((code, Invited { label, role, workshop, .. })) = found else {
        return no_code(&request, &guesses, now, back);
    };
    let f = Frame::outside(&request);
    html(&SignInAs {
        title: f.sign_in_as(label.as_str()),
        about: f.sign_in_as_text(f.word("role", role.as_str()), workshop.as_str()),
        code: code.reveal(),
        f,
    })
}

/// Uses a code.
#[post("/sign-in/code")]
pub(super) async fn with_code(
    request: HttpRequest,
    services: web::Data<Services>,
    guesses: web::Data<Guesses>,
    form: PostedOutside,
) -> Answer {
    let (now, back) = (Instant::now(), own_path(form.0.get("back")));
    let device = device(&form.0);
    let open = !is_closed(&request, &guesses, now);
    let secret = match form.0.get("code").parse::<LinkCode>() {
        Ok(code) if open => sign_ins::redeem(&services, &code, device).await?,
        _ => None,
    };
    match secret {
        Some(secret) => signed_in((&request, &services), &secret, device, back).await,
        None => no_code(&request, &guesses, now, back),
    }
}

#[post("/sign-out")]
pub(super) async fn sign_out(services: web::Data<Services>, posted: Posted<App>) -> Answer {
    if let Some(session) = &posted.viewer.session {
        sessions::end(&services, session).await?;
    }
    let mut answer = see("/sign-in");
    answer.add_cookie(&session::ended()).map_err(|_| Failure::Internal)?;
    Ok(answer)
}

/// Changes nothing of the workshop's, so it needs no proof; another site's form is refused all the same.
#[post("/language")]
pub(super) async fn language(request: HttpRequest, form: PostedOutside) -> Answer {
    let language: Language = form.0.get("language").parse().unwrap_or(Language::En);
    let back = form.0.get("back");
    let back = match back.strip_prefix("/sign-in") {
        // A scanned code isn't used yet.
        Some(code) if code.starts_with('/') && code != "/code" => back.to_owned(),
        Some(_) => "/sign-in".to_owned(),
        None => own_path(back),
    };
    let mut answer = see(back);
    answer.add_cookie(&session::language(&request, language)).map_err(|_| Failure::Internal)?;
    Ok(answer)
}

#[cfg(test)]
mod tests {
    use super::own_path;

    #[test]
    fn the_way_back_is_on_our_own_site() {
        for (given, expected) in [
            ("/bikes/1?x=2", "/bikes/1?x=2"),
            ("https://else.example/", "/fleet"),
            ("//else.example/", "/fleet"),
            ("/\\else.example/", "/fleet"),
            ("/\t/else.example/", "/fleet"),
            ("/\n/else.example/", "/fleet"),
            ("/\u{b}/else.example/", "/fleet"),
            ("/ /else.example/", "/fleet"),
            ("/bikes/1?x=a%09b", "/bikes/1?x=a%09b"),
            ("/sign-out", "/fleet"),
            ("", "/fleet"),
        ] {
            assert_eq!(own_path(given), expected, "{given}");
        }
    }
}
