//! Signing in and out.

use actix_web::http::header;
use actix_web::{HttpRequest, HttpResponse, get, post, web};
use askama::Template;
use serde::Deserialize;

use super::{html, session};
use crate::service::Services;
use crate::web::problem::Problem;

#[derive(Template)]
#[template(path = "sign_in.html")]
struct SignIn {
    refused: bool,
}

#[derive(Deserialize)]
struct Form {
    token: String,
}

#[get("/sign-in")]
pub(super) async fn page() -> Result<HttpResponse, Problem> {
    html(&SignIn { refused: false })
}

#[post("/sign-in")]
pub(super) async fn sign_in(
    request: HttpRequest,
    services: web::Data<Services>,
    form: web::Form<Form>,
) -> Result<HttpResponse, Problem> {
    let token = form.token.trim();
    if session::holder(&services, token).await.is_none() {
        return html(&SignIn { refused: true });
    }
    let secure = request.connection_info().scheme() == "https";
    let mut answer = redirect("/fleet");
    answer.add_cookie(&session::cookie(token, secure)).map_err(|error| Problem::internal(&error))?;
    Ok(answer)
}

#[post("/sign-out")]
pub(super) async fn sign_out() -> Result<HttpResponse, Problem> {
    let mut answer = redirect("/sign-in");
    answer.add_cookie(&session::ended()).map_err(|error| Problem::internal(&error))?;
    Ok(answer)
}

pub(super) fn redirect(to: &'static str) -> HttpResponse {
    HttpResponse::SeeOther().insert_header((header::LOCATION, to)).finish()
}
