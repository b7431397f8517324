//! The workshop's calendar.

use actix_web::http::header;
use actix_web::{HttpResponse, delete, get, post, web};
use chrono::{DateTime, Utc};
use serde::Serialize;
use utoipa::ToSchema;
use utoipa_actix_web::service_config::ServiceConfig;

use crate::domain::CalendarSecret;
use crate::icalendar;
use crate::service::{Services, calendar};
use crate::web::answer;
use crate::web::auth::{As, Manager};
use crate::web::change::Change;
use crate::web::problem::{Problem, ProblemDocument};

pub(super) fn operations(config: &mut ServiceConfig<'_>) {
    config.service(renew_calendar).service(get_calendar).service(close_calendar).service(get_calendar_feed);
}

/// The workshop's calendar; never its address.
#[derive(Serialize, ToSchema)]
#[schema(as = Calendar)]
struct CalendarDocument {
    /// Since when it has the address that it has.
    created_at: DateTime<Utc>,
}

/// A calendar's address, which is shown this once.
#[derive(Serialize, ToSchema)]
struct CalendarAddress {
    /// What to subscribe to, at this service. Whoever has it reads the calendar.
    #[schema(
        example = "/v1/calendar/00112233445566778899aabbccddeeff00112233445566778899aabbccddeeff.ics",
        pattern = "^/v1/calendar/[0-9a-f]{64}\\.ics$"
    )]
    address: String,
    /// Since when it has it.
    created_at: DateTime<Utc>,
}

/// Give the calendar an address
///
/// An address for calendar programs, which know no tokens. It holds a secret and is in this answer and nowhere else;
/// asked for again, the one before opens nothing any more.
#[utoipa::path(
    operation_id = "renew_calendar",
    tag = "calendar",
    security(("bearer" = ["manager"])),
    responses((status = 201, description = "The address", body = CalendarAddress))
)]
#[post("/v1/calendar")]
async fn renew_calendar(
    services: web::Data<Services>,
    mut change: Change<Manager>,
) -> Result<HttpResponse, Problem> {
    let (secret, at) = calendar::renew(&services, &mut change).await?;
    Ok(answer::shown_once(CalendarAddress {
        address: format!("/v1/calendar/{}.ics", secret.reveal()),
        created_at: at.datetime(),
    }))
}

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
async fn get_calendar(services: web::Data<Services>, actor: As<Manager>) -> Result<HttpResponse, Problem> {
    let at = calendar::get(&services, &actor).await?;
    Ok(HttpResponse::Ok().json(CalendarDocument { created_at: at.datetime() }))
}

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
async fn close_calendar(
    services: web::Data<Services>,
    mut change: Change<Manager>,
) -> Result<HttpResponse, Problem> {
    calendar::close(&services, &mut change).await?;
    Ok(HttpResponse::NoContent().finish())
}

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
async fn get_calendar_feed(
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
