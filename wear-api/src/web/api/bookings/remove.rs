use actix_web::{HttpResponse, delete, web};
use uuid::Uuid;

use crate::domain::BookingId;
use crate::service::{Services, bookings};
use crate::web::auth::{As, Mechanic};
use crate::web::etag::IfMatch;
use crate::web::problem::Problem;

/// Remove a booking
#[utoipa::path(
    operation_id = "remove_booking",
    tag = "bench",
    security(("bearer" = ["mechanic", "manager"])),
    params(("booking_id" = Uuid, Path, description = "The booking"),
        ("If-Match" = String, Header, description = "`ETag` of the booking as you read it", example = "\"1\"")),
    responses((status = 204, description = "The booking is gone"))
)]
#[delete("/v1/bookings/{booking_id}")]
pub(super) async fn remove_booking(
    services: web::Data<Services>,
    actor: As<Mechanic>,
    booking_id: web::Path<Uuid>,
    seen: IfMatch,
) -> Result<HttpResponse, Problem> {
    bookings::remove(&services, &actor, BookingId::from_uuid(*booking_id), seen.0).await?;
    Ok(HttpResponse::NoContent().finish())
}
