use actix_web::{HttpResponse, get, web};
use uuid::Uuid;

use super::RideDocument;
use crate::domain::{BikeId, RideId};
use crate::service::{Services, rides};
use crate::web::auth::{App, As};
use crate::web::etag::etag;
use crate::web::problem::Problem;

/// Get a ride
#[utoipa::path(
    operation_id = "get_ride",
    tag = "rides",
    security(("bearer" = ["app", "mechanic", "manager"])),
    params(("bike_id" = Uuid, Path, description = "The bike"),
        ("ride_id" = Uuid, Path, description = "The ride")),
    responses((status = 200, description = "The ride", body = RideDocument,
        headers(("ETag" = String, description = "For `If-Match`"))))
)]
#[get("/v1/bikes/{bike_id}/rides/{ride_id}")]
pub(super) async fn get_ride(
    services: web::Data<Services>,
    actor: As<App>,
    path: web::Path<(Uuid, Uuid)>,
) -> Result<HttpResponse, Problem> {
    let (bike_id, ride_id) = path.into_inner();
    let ride = rides::get(&services, &actor, BikeId::from_uuid(bike_id), RideId::from_uuid(ride_id)).await?;
    Ok(HttpResponse::Ok().insert_header(etag(ride.revision)).json(RideDocument::from(ride)))
}
