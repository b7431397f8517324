use actix_web::{HttpRequest, HttpResponse, get, web};
use utoipa::ToSchema;

use super::facts::PartModelDocument;
use crate::service::{Services, part_models};
use crate::web::auth::{As, Mechanic};
use crate::web::pagination;
use crate::web::problem::Problem;
use crate::web::query::{PageQuery, Query};

/// A page of part models.
#[derive(ToSchema)]
#[allow(dead_code)]
pub(super) struct PartModelList {
    /// Part models of this page.
    items: Vec<PartModelDocument>,
}

/// List part models
#[utoipa::path(
    operation_id = "list_part_models",
    tag = "parts",
    security(("bearer" = ["mechanic", "manager"])),
    params(PageQuery),
    responses((status = 200, description = "A page of part models", body = PartModelList,
        headers(("Link" = String, description = "The next page, `rel=\"next\"`; absent on the last"))))
)]
#[get("/v1/part-models")]
pub(super) async fn list_part_models(
    request: HttpRequest,
    services: web::Data<Services>,
    actor: As<Mechanic>,
    query: Query<PageQuery>,
) -> Result<HttpResponse, Problem> {
    let (size, after) = query.0.parse()?;
    let page = part_models::list(&services, &actor, after.as_ref(), size).await?;
    Ok(pagination::answer(&request, page, PartModelDocument::from))
}
