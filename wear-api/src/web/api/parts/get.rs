use actix_web::{HttpResponse, get, web};
use uuid::Uuid;

use super::document::PartDocument;
use crate::domain::PartId;
use crate::service::{Services, parts};
use crate::web::auth::{As, Mechanic};
use crate::web::etag::etag;
use crate::web::problem::Problem;

/// Get a part with its life
#[utoipa::path(
    operation_id = "get_part",
    tag = "parts",
    security(("bearer" = ["mechanic", "manager"])),
    params(("part_id" = Uuid, Path, description = "The part")),
    responses((status = 200, description = "The part", body = PartDocument,
        headers(("ETag" = String, description = "For `If-Match`"))))
)]
#[get("/v1/parts/{part_id}")]
pub(super) async fn get_part(
    services: web::Data<Services>,
    actor: As<Mechanic>,
    part_id: web::Path<Uuid>,
) -> Result<HttpResponse, Problem> {
    let part = parts::get(&services, &actor, PartId::from_uuid(*part_id)).await?;
    Ok(HttpResponse::Ok().insert_header(etag(part.part.revision)).json(PartDocument::from(part)))
}
