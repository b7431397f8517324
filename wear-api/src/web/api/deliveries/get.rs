use actix_web::{HttpResponse, get, web};
use uuid::Uuid;

use super::document::DeliveryDocument;
use crate::domain::DeliveryId;
use crate::service::{Services, deliveries};
use crate::web::auth::{As, Mechanic};
use crate::web::etag::etag;
use crate::web::problem::Problem;

/// Get a delivery
#[utoipa::path(
    operation_id = "get_delivery",
    tag = "stock",
    security(("bearer" = ["mechanic", "manager"])),
    params(("delivery_id" = Uuid, Path, description = "The delivery")),
    responses((status = 200, description = "The delivery", body = DeliveryDocument,
        headers(("ETag" = String, description = "For `If-Match`"))))
)]
#[get("/v1/deliveries/{delivery_id}")]
pub(super) async fn get_delivery(
    services: web::Data<Services>,
    actor: As<Mechanic>,
    delivery_id: web::Path<Uuid>,
) -> Result<HttpResponse, Problem> {
    let delivery = deliveries::get(&services, &actor, DeliveryId::from_uuid(*delivery_id)).await?;
    Ok(HttpResponse::Ok().insert_header(etag(delivery.revision)).json(DeliveryDocument::from(delivery)))
}
