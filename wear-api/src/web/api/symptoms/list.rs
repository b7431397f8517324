use actix_web::{HttpRequest, HttpResponse, get, web};
use utoipa::ToSchema;
use uuid::Uuid;

use super::document::SymptomDocument;
use crate::domain::BikeId;
use crate::service::{Services, symptoms};
use crate::web::auth::{As, Mechanic};
use crate::web::pagination;
use crate::web::problem::Problem;
use crate::web::query::{PageQuery, Query};

/// A page of reports.
#[derive(ToSchema)]
#[allow(dead_code)]
pub(super) struct SymptomList {
    /// Reports of this page, newest first.
    items: Vec<SymptomDocument>,
}

/// List what riders of a bike reported
#[utoipa::path(
    operation_id = "list_symptoms",
    tag = "work",
    security(("bearer" = ["mechanic", "manager"])),
    params(("bike_id" = Uuid, Path, description = "The bike"), PageQuery),
    responses((status = 200, description = "A page of reports", body = SymptomList,
        headers(("Link" = String, description = "The next page, `rel=\"next\"`; absent on the last"))))
)]
#[get("/v1/bikes/{bike_id}/symptoms")]
pub(super) async fn list_symptoms(
    request: HttpRequest,
    services: web::Data<Services>,
    actor: As<Mechanic>,
    bike_id: web::Path<Uuid>,
    query: Query<PageQuery>,
) -> Result<HttpResponse, Problem> {
    let (size, after) = query.0.parse()?;
    let page = symptoms::list(&services, &actor, BikeId::from_uuid(*bike_id), after.as_ref(), size).await?;
    Ok(pagination::answer(&request, page, SymptomDocument::from))
}
