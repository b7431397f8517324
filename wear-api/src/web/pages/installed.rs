//! The pages as a program on a phone: how it is called, its icon, and what opens without a connection.

use actix_web::http::header;
use actix_web::{HttpRequest, HttpResponse, get, web};
use askama::Template;
use serde_json::json;

use super::failure::Failure;
use super::frame::Frame;
use super::{Answer, html, kept};

#[derive(Template)]
#[template(path = "offline.html")]
struct Offline {
    f: Frame,
}

/// What a phone needs to put the pages on its first screen: <https://www.w3.org/TR/appmanifest/>.
#[get("/manifest.webmanifest")]
pub(super) async fn manifest(request: HttpRequest) -> Result<HttpResponse, Failure> {
    let f = Frame::outside(&request);
    let sized = |size: u32| {
        let sizes = format!("{size}x{size}");
        json!({"src": format!("/static/icon-{size}.png"), "sizes": sizes, "type": "image/png", "purpose": "any maskable"})
    };
    let manifest = json!({
        "name": f.product_name(), "short_name": f.product_name(), "description": f.product_purpose(), "lang": f.tag(),
        "id": "/", "start_url": "/fleet", "scope": "/", "display": "standalone",
        "background_color": "#f6f4ee", "theme_color": "#34458c", "icons": [sized(192), sized(512)],
        "shortcuts": [
            {"name": f.nav_measure(), "url": "/measure"},
            {"name": f.walk_title(), "url": "/walk"},
        ],
    });
    Ok(HttpResponse::Ok()
        .insert_header((header::CACHE_CONTROL, "max-age=600"))
        .content_type("application/manifest+json")
        .body(manifest.to_string()))
}

/// The script that keeps pages. It lies at the root, as it answers for all of them.
#[get("/offline.js")]
pub(super) async fn worker() -> HttpResponse {
    let script = include_str!("../../../static/offline.js");
    let mut answer = kept(script, "text/javascript; charset=utf-8");
    answer.headers_mut().insert(header::CACHE_CONTROL, header::HeaderValue::from_static("no-cache"));
    answer
}

#[get("/static/icon-{size}.png")]
pub(super) async fn icon(size: web::Path<u32>) -> Result<HttpResponse, Failure> {
    let picture: &'static [u8] = match *size {
        192 => include_bytes!("../../../static/icon-192.png"),
        512 => include_bytes!("../../../static/icon-512.png"),
        _ => return Err(Failure::NotFound("icon")),
    };
    Ok(HttpResponse::Ok()
        .insert_header((header::CACHE_CONTROL, "max-age=86400"))
        .content_type("image/png")
        .body(picture))
}

/// What stands where a page would be that was never looked at.
#[get("/offline")]
pub(super) async fn offline(request: HttpRequest) -> Answer {
    html(&Offline { f: Frame::outside(&request) })
}
