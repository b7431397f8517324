//! Answers that many actions give.

use actix_web::HttpResponse;
use actix_web::http::{StatusCode, header};
use serde::Serialize;

use super::etag::etag;
use crate::domain::Once;

/// A thing as it stands, with the `ETag` of its revision.
pub fn current(revision: i64, document: impl Serialize) -> HttpResponse {
    HttpResponse::Ok().insert_header(etag(revision)).json(document)
}

/// A thing that is new, with its address and the `ETag` of its revision.
pub fn created(address: String, revision: i64, document: impl Serialize) -> HttpResponse {
    HttpResponse::Created()
        .insert_header((header::LOCATION, address))
        .insert_header(etag(revision))
        .json(document)
}

/// A thing that is new and holds a secret, which is shown this once: nobody on the way keeps the answer.
pub fn shown_once(document: impl Serialize) -> HttpResponse {
    HttpResponse::Created().insert_header((header::CACHE_CONTROL, "no-store")).json(document)
}

/// An event that counts once: `201` when it is new, `200` when it was there.
pub fn entered<T, D: Serialize>(event: Once<T>, document: impl FnOnce(T) -> D) -> HttpResponse {
    let status = if event.is_new() { StatusCode::CREATED } else { StatusCode::OK };
    HttpResponse::build(status).json(document(event.get()))
}
