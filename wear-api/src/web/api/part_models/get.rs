use actix_web::{HttpResponse, get, web};
use uuid::Uuid;

use super::facts::PartModelDocument;
use crate::domain::PartModelId;
use crate::service::{Services, part_models};
use crate::web::auth::{As, Mechanic};
use crate::web::etag::etag;
use crate::web::problem::Problem;

/// Get a part model
#[utoipa::path(
    operation_id = "get_part_model",
    tag = "parts",
    security(("bearer" = ["mechanic", "manager"])),
    params(("part_model_id" = Uuid, Path, description = "The part model")),
    responses((status = 200, description = "The part model", body = PartModelDocument,
        headers(("ETag" = String, description = "For `If-Match`"))))
)]
#[get("/v1/part-models/{part_model_id}")]
pub(super) async fn get_part_model(
    services: web::Data<Services>,
    actor: As<Mechanic>,
    part_model_id: web::Path<Uuid>,
) -> Result<HttpResponse, Problem> {
    let model = part_models::get(&services, &actor, PartModelId::from_uuid(*part_model_id)).await?;
    Ok(HttpResponse::Ok().insert_header(etag(model.revision)).json(PartModelDocument::from(model)))
}
