use actix_web::http::header;
use actix_web::{HttpResponse, get, web};

use crate::domain::CalendarSecret;
use crate::icalendar;
use crate::service::{Services, calendar};
use crate::web::problem::Problem;

/// Read the calendar
///
/// iCalendar (RFC 5545): swaps by their date up to half a year ahead, overdue ones on the present day, and days on
/// which the bench works other than usual. The address is the key; no token is asked for.
#[utoipa::path(
    operation_id = "get_calendar_feed",
    tag = "calendar",
    security(()),
    params(("secret" = String, Path, description = "The secret of the calendar's address", pattern = "^[0-9a-f]{64}$",
        example = "00112233445566778899aabbccddeeff00112233445566778899aabbccddeeff")),
    responses((status = 200, description = "The calendar", body = String, content_type = "text/calendar"))
)]
#[get("/v1/calendar/{secret}.ics")]
pub(super) async fn get_calendar_feed(
    services: web::Data<Services>,
    secret: web::Path<String>,
) -> Result<HttpResponse, Problem> {
    let secret: CalendarSecret = secret.parse().map_err(|_| Problem::not_found("calendar"))?;
    let entries = calendar::entries(&services, &secret).await?;
    Ok(HttpResponse::Ok()
        .insert_header((header::CONTENT_TYPE, icalendar::MEDIA_TYPE))
        .insert_header((header::CACHE_CONTROL, "private, max-age=900"))
        .body(icalendar::text(&entries)))
}
