use actix_web::{HttpResponse, post, web};
use chrono::{DateTime, Utc};
use serde::Serialize;
use utoipa::ToSchema;

use crate::service::{Services, calibration};
use crate::web::auth::{As, Manager};
use crate::web::problem::Problem;

/// That learning was asked for.
#[derive(Serialize, ToSchema)]
struct CalibrationAsked {
    /// When; `learned_at` of the calibration is later once it is done.
    asked_at: DateTime<Utc>,
}

/// Ask the fleet to learn now
///
/// It learns each night by itself. The worker starts within a second; a fleet of 1,000 chains takes a few seconds, and
/// outlooks follow.
#[utoipa::path(
    operation_id = "ask_calibration",
    tag = "outlook",
    security(("bearer" = ["manager"])),
    responses((status = 202, description = "It will", body = CalibrationAsked))
)]
#[post("/v1/calibration")]
pub(super) async fn ask_calibration(
    services: web::Data<Services>,
    actor: As<Manager>,
) -> Result<HttpResponse, Problem> {
    let asked_at = calibration::ask(&services, &actor).await?.datetime();
    Ok(HttpResponse::Accepted().json(CalibrationAsked { asked_at }))
}
