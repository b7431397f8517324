use actix_web::{HttpRequest, HttpResponse, get, web};
use utoipa::ToSchema;
use uuid::Uuid;

use super::document::CareDocument;
use crate::domain::BikeId;
use crate::service::{Services, care};
use crate::web::auth::{As, Mechanic};
use crate::web::pagination;
use crate::web::problem::Problem;
use crate::web::query::{PageQuery, Query};

/// A page of care.
#[derive(ToSchema)]
#[allow(dead_code)]
pub(super) struct CareList {
    /// Care of this page, newest first.
    items: Vec<CareDocument>,
}

/// List a bike's care
#[utoipa::path(
    operation_id = "list_care",
    tag = "work",
    security(("bearer" = ["mechanic", "manager"])),
    params(("bike_id" = Uuid, Path, description = "The bike"), PageQuery),
    responses((status = 200, description = "A page of care", body = CareList,
        headers(("Link" = String, description = "The next page, `rel=\"next\"`; absent on the last"))))
)]
#[get("/v1/bikes/{bike_id}/care")]
pub(super) async fn list_care(
    request: HttpRequest,
    services: web::Data<Services>,
    actor: As<Mechanic>,
    bike_id: web::Path<Uuid>,
    query: Query<PageQuery>,
) -> Result<HttpResponse, Problem> {
    let (size, after) = query.0.parse()?;
    let page = care::list(&services, &actor, BikeId::from_uuid(*bike_id), after.as_ref(), size).await?;
    Ok(pagination::answer(&request, page, CareDocument::from))
}
