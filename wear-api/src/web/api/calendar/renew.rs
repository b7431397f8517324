use actix_web::http::header;
use actix_web::{HttpResponse, post, web};
use chrono::{DateTime, Utc};
use serde::Serialize;
use utoipa::ToSchema;

use crate::service::{Services, calendar};
use crate::web::auth::{As, Manager};
use crate::web::problem::Problem;

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
pub(super) async fn renew_calendar(
    services: web::Data<Services>,
    actor: As<Manager>,
) -> Result<HttpResponse, Problem> {
    let (secret, at) = calendar::renew(&services, &actor).await?;
    Ok(HttpResponse::Created().insert_header((header::CACHE_CONTROL, "no-store")).json(CalendarAddress {
        address: format!("/v1/calendar/{}.ics", secret.reveal()),
        created_at: at.datetime(),
    }))
}
