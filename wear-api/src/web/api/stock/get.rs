use actix_web::{HttpResponse, get, web};
use uuid::Uuid;

use super::document::StockDocument;
use crate::domain::PartModelId;
use crate::service::{Services, stock};
use crate::web::auth::{As, Mechanic};
use crate::web::etag::etag;
use crate::web::problem::Problem;

/// Get what is on the shelf of a part model
#[utoipa::path(
    operation_id = "get_stock",
    tag = "stock",
    security(("bearer" = ["mechanic", "manager"])),
    params(("part_model_id" = Uuid, Path, description = "The part model")),
    responses((status = 200, description = "The part model's place on the shelf", body = StockDocument,
        headers(("ETag" = String, description = "For `If-Match`"))))
)]
#[get("/v1/stock/{part_model_id}")]
pub(super) async fn get_stock(
    services: web::Data<Services>,
    actor: As<Mechanic>,
    part_model_id: web::Path<Uuid>,
) -> Result<HttpResponse, Problem> {
    let entry = stock::get(&services, &actor, PartModelId::from_uuid(*part_model_id)).await?;
    Ok(HttpResponse::Ok().insert_header(etag(entry.revision)).json(StockDocument::from(entry)))
}
