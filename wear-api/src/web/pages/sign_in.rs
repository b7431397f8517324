//! Signing in and out, and the choice of a language.

use actix_web::{HttpRequest, get, post, web};
use askama::Template;
use serde::Deserialize;

use super::failure::Failure;
use super::frame::{Frame, Posted, PostedOutside};
use super::{Answer, again, html, see, session};
use crate::domain::{Language, TokenSecret};
use crate::metrics;
use crate::service::{Services, sessions, tokens};
use crate::web::auth::App;
use crate::web::client;

#[derive(Template)]
#[template(path = "sign_in.html")]
struct SignIn {
    f: Frame,
    refused: Option<String>,
    back: String,
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

#[get("/sign-in")]
pub(super) async fn page(request: HttpRequest, query: web::Query<Query>) -> Answer {
    let back = own_path(query.back.as_deref().unwrap_or_default());
    html(&SignIn { f: Frame::outside(&request), refused: None, back })
}

#[post("/sign-in")]
pub(super) async fn sign_in(
    request: HttpRequest,
    services: web::Data<Services>,
    form: PostedOutside,
) -> Answer {
    let back = own_path(form.0.get("back"));
    let before = session::seen(&request, &services).await?.and_then(|seen| seen.session);
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
        return again(&SignIn { refused: Some(why), f, back });
    };
    let secret = sessions::begin(&services, &actor).await?;
    // Its cookie is about to be overwritten: nobody could end it afterwards.
    if let Some(before) = before {
        sessions::end(&services, &before).await?;
    }
    let mut answer = see(back);
    answer.add_cookie(&session::cookie(&request, &secret)).map_err(|_| Failure::Internal)?;
    Ok(answer)
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
    let back = if back.starts_with("/sign-in") { "/sign-in".to_owned() } else { own_path(back) };
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
