use actix_web::{HttpResponse, delete, web};
use uuid::Uuid;

use crate::domain::DeliveryId;
use crate::service::{Services, deliveries};
use crate::web::auth::{As, Mechanic};
use crate::web::etag::IfMatch;
use crate::web::problem::Problem;

/// Take a delivery that won't come off the list
///
/// One that has arrived stays: 409.
#[utoipa::path(
    operation_id = "delete_delivery",
    tag = "stock",
    security(("bearer" = ["mechanic", "manager"])),
    params(("delivery_id" = Uuid, Path, description = "The delivery"),
        ("If-Match" = String, Header, description = "`ETag` of the delivery as you read it", example = "\"1\"")),
    responses((status = 204, description = "The delivery is off the list"))
)]
#[delete("/v1/deliveries/{delivery_id}")]
pub(super) async fn delete_delivery(
    services: web::Data<Services>,
    actor: As<Mechanic>,
    delivery_id: web::Path<Uuid>,
    seen: IfMatch,
) -> Result<HttpResponse, Problem> {
    deliveries::delete(&services, &actor, DeliveryId::from_uuid(*delivery_id), seen.0).await?;
    Ok(HttpResponse::NoContent().finish())
}
