use actix_web::{HttpResponse, patch, web};
use serde::{Deserialize, Deserializer};
use utoipa::ToSchema;
use uuid::Uuid;

use super::document::BookingDocument;
use crate::domain::{BookingId, FieldErrors, Note};
use crate::input::parse;
use crate::service::Services;
use crate::service::bookings::{self, BookingPatch};
use crate::web::auth::{As, Mechanic};
use crate::web::body::Json;
use crate::web::etag::{IfMatch, etag};
use crate::web::problem::Problem;

/// What to change of a booking; what is left out stays, and so does its bike.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct BookingChange {
    /// First day that it is away.
    #[schema(value_type = Option<String>, format = Date)]
    from: Option<String>,
    /// Last day that it is away.
    #[schema(value_type = Option<String>, format = Date)]
    to: Option<String>,
    /// A remark; null takes it away.
    #[serde(default, deserialize_with = "given")]
    #[schema(value_type = Option<String>, min_length = 1, max_length = 2000)]
    note: Option<Option<String>>,
}

/// Tells `null` from a field that isn't there.
fn given<'de, D: Deserializer<'de>>(deserializer: D) -> Result<Option<Option<String>>, D::Error> {
    Option::deserialize(deserializer).map(Some)
}

impl BookingChange {
    fn parse(self) -> Result<BookingPatch, FieldErrors> {
        let Self { from, to, note } = self;
        let mut errors = FieldErrors::new();
        let from = from.and_then(|from| errors.keep("/from", parse::date(&from)));
        let to = to.and_then(|to| errors.keep("/to", parse::date(&to)));
        let note = note.map(|note| note.and_then(|note| errors.keep("/note", Note::new(&note))));
        if errors.is_empty() { Ok(BookingPatch { from, to, note }) } else { Err(errors) }
    }
}

/// Change a booking
#[utoipa::path(
    operation_id = "change_booking",
    tag = "bench",
    security(("bearer" = ["mechanic", "manager"])),
    params(("booking_id" = Uuid, Path, description = "The booking"),
        ("If-Match" = String, Header, description = "`ETag` of the booking as you read it", example = "\"1\"")),
    request_body(content = BookingChange, example = json!({"to": "2026-12-24"})),
    responses((status = 200, description = "The booking after the change", body = BookingDocument,
        headers(("ETag" = String, description = "For `If-Match`"))))
)]
#[patch("/v1/bookings/{booking_id}")]
pub(super) async fn change_booking(
    services: web::Data<Services>,
    actor: As<Mechanic>,
    booking_id: web::Path<Uuid>,
    seen: IfMatch,
    body: Json<BookingChange>,
) -> Result<HttpResponse, Problem> {
    let patch = body.0.parse()?;
    let booking =
        bookings::change(&services, &actor, BookingId::from_uuid(*booking_id), seen.0, patch).await?;
    Ok(HttpResponse::Ok().insert_header(etag(booking.revision)).json(BookingDocument::from(booking)))
}
