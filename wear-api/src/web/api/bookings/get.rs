use actix_web::{HttpResponse, get, web};
use uuid::Uuid;

use super::document::BookingDocument;
use crate::domain::BookingId;
use crate::service::{Services, bookings};
use crate::web::auth::{As, Mechanic};
use crate::web::etag::etag;
use crate::web::problem::Problem;

/// Get a booking
#[utoipa::path(
    operation_id = "get_booking",
    tag = "bench",
    security(("bearer" = ["mechanic", "manager"])),
    params(("booking_id" = Uuid, Path, description = "The booking")),
    responses((status = 200, description = "The booking", body = BookingDocument,
        headers(("ETag" = String, description = "For `If-Match`"))))
)]
#[get("/v1/bookings/{booking_id}")]
pub(super) async fn get_booking(
    services: web::Data<Services>,
    actor: As<Mechanic>,
    booking_id: web::Path<Uuid>,
) -> Result<HttpResponse, Problem> {
    let booking = bookings::get(&services, &actor, BookingId::from_uuid(*booking_id)).await?;
    Ok(HttpResponse::Ok().insert_header(etag(booking.revision)).json(BookingDocument::from(booking)))
}
