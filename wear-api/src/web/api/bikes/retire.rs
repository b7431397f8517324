use actix_web::{HttpResponse, delete, web};
use uuid::Uuid;

use crate::domain::BikeId;
use crate::service::{Services, bikes};
use crate::web::auth::{As, Mechanic};
use crate::web::etag::IfMatch;
use crate::web::problem::Problem;

/// Take a bike out of the fleet
///
/// Its history stays and can be read; lists leave it out.
#[utoipa::path(
    operation_id = "retire_bike",
    tag = "bikes",
    security(("bearer" = ["mechanic", "manager"])),
    params(("bike_id" = Uuid, Path, description = "The bike"),
        ("If-Match" = String, Header, description = "`ETag` of the bike as you read it", example = "\"1\"")),
    responses((status = 204, description = "The bike is out of the fleet"))
)]
#[delete("/v1/bikes/{bike_id}")]
pub(super) async fn retire_bike(
    services: web::Data<Services>,
    actor: As<Mechanic>,
    bike_id: web::Path<Uuid>,
    seen: IfMatch,
) -> Result<HttpResponse, Problem> {
    bikes::retire(&services, &actor, BikeId::from_uuid(*bike_id), seen.0).await?;
    Ok(HttpResponse::NoContent().finish())
}
