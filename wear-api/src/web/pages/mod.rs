//! Pages for people, drawn on the server and usable without scripts.

mod fleet;
mod session;
mod sign_in;
mod words;

use actix_web::http::header;
use actix_web::web::{self, ServiceConfig};
use actix_web::{HttpResponse, Responder, get};
use askama::Template;

use super::problem::Problem;

pub use session::PagesOpenAs;

/// Nothing but our own style sheet, pictures and forms.
const POLICY: &str = "default-src 'none'; style-src 'self'; img-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'";

/// The pages' addresses.
pub fn routes(config: &mut ServiceConfig) {
    config
        .service(style)
        .service(mark)
        .service(fleet::page)
        .service(sign_in::page)
        .service(sign_in::sign_in)
        .service(sign_in::sign_out)
        .service(web::redirect("/", "/fleet").see_other());
}

fn html(page: &impl Template) -> Result<HttpResponse, Problem> {
    let body = page.render().map_err(|error| Problem::internal(&error))?;
    Ok(HttpResponse::Ok()
        .insert_header((header::CONTENT_SECURITY_POLICY, POLICY))
        .insert_header((header::CACHE_CONTROL, "no-store"))
        .insert_header((header::X_CONTENT_TYPE_OPTIONS, "nosniff"))
        .insert_header((header::REFERRER_POLICY, "same-origin"))
        .content_type("text/html; charset=utf-8")
        .body(body))
}

#[get("/static/pages.css")]
async fn style() -> impl Responder {
    kept(include_str!("../../../static/pages.css"), "text/css; charset=utf-8")
}

#[get("/static/mark.svg")]
async fn mark() -> impl Responder {
    kept(include_str!("../../../static/mark.svg"), "image/svg+xml")
}

fn kept(text: &'static str, kind: &'static str) -> HttpResponse {
    HttpResponse::Ok().insert_header((header::CACHE_CONTROL, "max-age=600")).content_type(kind).body(text)
}
