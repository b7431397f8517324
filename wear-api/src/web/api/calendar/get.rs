use actix_web::{HttpResponse, get, web};

use super::document::CalendarDocument;
use crate::service::{Services, calendar};
use crate::web::auth::{As, Manager};
use crate::web::problem::{Problem, ProblemDocument};

/// Get the calendar
///
/// Since when it has its address; the address itself can't be read again.
#[utoipa::path(
    operation_id = "get_calendar",
    tag = "calendar",
    security(("bearer" = ["manager"])),
    responses((status = 200, description = "The calendar has an address", body = CalendarDocument),
        (status = 404, description = "It has none", body = ProblemDocument, content_type = "application/problem+json"))
)]
#[get("/v1/calendar")]
pub(super) async fn get_calendar(
    services: web::Data<Services>,
    actor: As<Manager>,
) -> Result<HttpResponse, Problem> {
    let at = calendar::get(&services, &actor).await?;
    Ok(HttpResponse::Ok().json(CalendarDocument { created_at: at.datetime() }))
}
