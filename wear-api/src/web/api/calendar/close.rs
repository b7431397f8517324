use actix_web::{HttpResponse, delete, web};

use crate::service::{Services, calendar};
use crate::web::auth::{As, Manager};
use crate::web::problem::Problem;

/// Take the calendar's address away
///
/// Nothing is lost by it: another can be asked for. So no `If-Match` is needed.
#[utoipa::path(
    operation_id = "close_calendar",
    tag = "calendar",
    security(("bearer" = ["manager"])),
    responses((status = 204, description = "The address opens nothing any more"))
)]
#[delete("/v1/calendar")]
pub(super) async fn close_calendar(
    services: web::Data<Services>,
    actor: As<Manager>,
) -> Result<HttpResponse, Problem> {
    calendar::close(&services, &actor).await?;
    Ok(HttpResponse::NoContent().finish())
}
