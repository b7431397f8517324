use actix_web::{HttpRequest, HttpResponse, get, web};
use utoipa::ToSchema;
use uuid::Uuid;

use super::document::ReadingDocument;
use crate::domain::BikeId;
use crate::service::{Services, readings};
use crate::web::auth::{As, Mechanic};
use crate::web::pagination;
use crate::web::problem::Problem;
use crate::web::query::{PageQuery, Query};

/// A page of readings.
#[derive(ToSchema)]
#[allow(dead_code)]
pub(super) struct ReadingList {
    /// Readings of this page, newest first, voided ones too.
    items: Vec<ReadingDocument>,
}

/// List a bike's readings
#[utoipa::path(
    operation_id = "list_readings",
    tag = "readings",
    security(("bearer" = ["mechanic", "manager"])),
    params(("bike_id" = Uuid, Path, description = "The bike"), PageQuery),
    responses((status = 200, description = "A page of readings", body = ReadingList,
        headers(("Link" = String, description = "The next page, `rel=\"next\"`; absent on the last"))))
)]
#[get("/v1/bikes/{bike_id}/readings")]
pub(super) async fn list_readings(
    request: HttpRequest,
    services: web::Data<Services>,
    actor: As<Mechanic>,
    bike_id: web::Path<Uuid>,
    query: Query<PageQuery>,
) -> Result<HttpResponse, Problem> {
    let (size, after) = query.0.parse()?;
    let page = readings::list(&services, &actor, BikeId::from_uuid(*bike_id), after.as_ref(), size).await?;
    Ok(pagination::answer(&request, page, ReadingDocument::from))
}
