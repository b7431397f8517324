use actix_web::http::header;
use actix_web::{HttpResponse, post, web};
use serde::Deserialize;
use utoipa::ToSchema;
use uuid::Uuid;

use super::document::BookingDocument;
use crate::domain::{BikeId, BookingFacts, FieldErrors, Note};
use crate::input::parse;
use crate::service::{Services, bookings};
use crate::web::auth::{As, Mechanic};
use crate::web::body::Json;
use crate::web::etag::etag;
use crate::web::problem::Problem;

/// A booking to be entered.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct NewBooking {
    /// The bike that is away.
    bike_id: Uuid,
    /// First day that it is away.
    #[schema(value_type = String, format = Date)]
    from: String,
    /// Last day that it is away, the same day or later.
    #[schema(value_type = String, format = Date)]
    to: String,
    /// A remark.
    #[schema(min_length = 1, max_length = 2000)]
    note: Option<String>,
}

impl NewBooking {
    fn parse(self) -> Result<BookingFacts, FieldErrors> {
        let Self { bike_id, from, to, note } = self;
        let mut errors = FieldErrors::new();
        let from = errors.keep("/from", parse::date(&from));
        let to = errors.keep("/to", parse::date(&to));
        let note = note.and_then(|note| errors.keep("/note", Note::new(&note)));
        match (from, to) {
            (Some(from), Some(to)) if errors.is_empty() => {
                Ok(BookingFacts { bike_id: BikeId::from_uuid(bike_id), from, to, note })
            }
            _ => Err(errors),
        }
    }
}

/// Enter a booking
///
/// From its first day to its last the bike is away and isn't planned for the bench.
#[utoipa::path(
    operation_id = "create_booking",
    tag = "bench",
    security(("bearer" = ["mechanic", "manager"])),
    request_body(content = NewBooking, example = json!({
        "bike_id": "019abf3e-6a34-7d6e-9a51-0d3c5e1f2a10", "from": "2026-12-01", "to": "2026-12-04",
        "note": "school trip"
    })),
    responses((status = 201, description = "The booking", body = BookingDocument,
        headers(("Location" = String, description = "Address of the booking"),
            ("ETag" = String, description = "For `If-Match`"))))
)]
#[post("/v1/bookings")]
pub(super) async fn create_booking(
    services: web::Data<Services>,
    actor: As<Mechanic>,
    body: Json<NewBooking>,
) -> Result<HttpResponse, Problem> {
    let booking = bookings::create(&services, &actor, body.0.parse()?).await?;
    Ok(HttpResponse::Created()
        .insert_header((header::LOCATION, format!("/v1/bookings/{}", booking.id)))
        .insert_header(etag(booking.revision))
        .json(BookingDocument::from(booking)))
}
