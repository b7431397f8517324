use actix_web::http::{StatusCode, header};
use actix_web::{HttpResponse, post, web};
use uuid::Uuid;

use super::RideDocument;
use super::rejected::{RideNames, short, tell_hooks};
use super::report::NewRide;
use crate::domain::{BikeId, RideOutcome};
use crate::service::{Services, rides};
use crate::web::auth::{App, As};
use crate::web::body::Json;
use crate::web::etag::etag;
use crate::web::problem::{Kind, Problem};

/// Enter a ride
///
/// The same `source` and `source_id` twice is one ride; one that says something else replaces it, also on
/// another bike.
#[utoipa::path(
    operation_id = "create_ride",
    tag = "rides",
    security(("bearer" = ["app", "mechanic", "manager"])),
    params(("bike_id" = Uuid, Path, description = "The bike")),
    request_body(content = NewRide, example = json!({
        "started_at": "2026-03-01T08:00:00Z", "distance_km": 18.4, "surface": "paved", "wet": false,
        "climb_m": 120, "energy_kj": 350, "source": "log", "source_id": "r1"
    })),
    responses(
        (status = 201, description = "The ride is new", body = RideDocument,
            headers(("Location" = String, description = "Address of the ride"),
                ("ETag" = String, description = "For `If-Match`"))),
        (status = 200, description = "The ride was there: it said the same, or it is replaced", body = RideDocument,
            headers(("ETag" = String, description = "For `If-Match`")))
    )
)]
#[post("/v1/bikes/{bike_id}/rides")]
pub(super) async fn create_ride(
    services: web::Data<Services>,
    actor: As<App>,
    bike_id: web::Path<Uuid>,
    body: Json<NewRide>,
) -> Result<HttpResponse, Problem> {
    let NewRide { source, source_id, .. } = &body.0;
    let names = RideNames {
        bike_id: Some(bike_id.to_string()),
        source: source.as_deref().map(short),
        source_id: source_id.as_deref().map(short),
    };
    let outcome = match body.0.parse(BikeId::from_uuid(*bike_id)) {
        Ok(report) => rides::post(&services, &actor, report).await.map_err(Problem::from),
        Err(errors) => Err(errors.into()),
    };
    let outcome = match outcome {
        Ok(outcome) => outcome,
        Err(problem) => {
            if matches!(problem.kind(), Kind::InvalidBody | Kind::NotFound) {
                tell_hooks(&services, &actor, &[names.rejected(None, problem.errors().to_vec())]).await;
            }
            return Err(problem);
        }
    };
    let ride = outcome.ride().clone();
    let mut response = match outcome {
        RideOutcome::Inserted(_) => HttpResponse::build(StatusCode::CREATED),
        RideOutcome::Unchanged(_) | RideOutcome::Replaced { .. } => HttpResponse::build(StatusCode::OK),
    };
    if matches!(outcome, RideOutcome::Inserted(_)) {
        response.insert_header((header::LOCATION, format!("/v1/bikes/{}/rides/{}", ride.bike_id, ride.id)));
    }
    Ok(response.insert_header(etag(ride.revision)).json(RideDocument::from(ride)))
}
