use actix_web::{HttpResponse, delete, web};
use uuid::Uuid;

use crate::domain::{BikeId, RideId};
use crate::service::{Services, rides};
use crate::web::auth::{App, As};
use crate::web::etag::IfMatch;
use crate::web::problem::Problem;

/// Delete a ride
///
/// The bike's outlook is as if it had never been.
#[utoipa::path(
    operation_id = "delete_ride",
    tag = "rides",
    security(("bearer" = ["app", "mechanic", "manager"])),
    params(("bike_id" = Uuid, Path, description = "The bike"),
        ("ride_id" = Uuid, Path, description = "The ride"),
        ("If-Match" = String, Header, description = "`ETag` of the ride as you read it", example = "\"1\"")),
    responses((status = 204, description = "The ride is gone"))
)]
#[delete("/v1/bikes/{bike_id}/rides/{ride_id}")]
pub(super) async fn delete_ride(
    services: web::Data<Services>,
    actor: As<App>,
    path: web::Path<(Uuid, Uuid)>,
    seen: IfMatch,
) -> Result<HttpResponse, Problem> {
    let (bike_id, ride_id) = path.into_inner();
    rides::delete(&services, &actor, BikeId::from_uuid(bike_id), RideId::from_uuid(ride_id), seen.0).await?;
    Ok(HttpResponse::NoContent().finish())
}
