use actix_web::{HttpResponse, delete, web};
use uuid::Uuid;

use crate::domain::PartModelId;
use crate::service::{Services, stock};
use crate::web::auth::{As, Mechanic};
use crate::web::etag::IfMatch;
use crate::web::problem::Problem;

/// Keep count of a part model no longer
#[utoipa::path(
    operation_id = "delete_stock",
    tag = "stock",
    security(("bearer" = ["mechanic", "manager"])),
    params(("part_model_id" = Uuid, Path, description = "The part model"),
        ("If-Match" = String, Header, description = "`ETag` of the entry as you read it", example = "\"1\"")),
    responses((status = 204, description = "No count is kept any more"))
)]
#[delete("/v1/stock/{part_model_id}")]
pub(super) async fn delete_stock(
    services: web::Data<Services>,
    actor: As<Mechanic>,
    part_model_id: web::Path<Uuid>,
    seen: IfMatch,
) -> Result<HttpResponse, Problem> {
    stock::delete(&services, &actor, PartModelId::from_uuid(*part_model_id), seen.0).await?;
    Ok(HttpResponse::NoContent().finish())
}
