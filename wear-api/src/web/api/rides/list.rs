use actix_web::{HttpRequest, HttpResponse, get, web};
use uuid::Uuid;

use super::{RideDocument, RideList};
use crate::domain::BikeId;
use crate::service::{Services, rides};
use crate::web::auth::{App, As};
use crate::web::pagination;
use crate::web::problem::Problem;
use crate::web::query::{PageQuery, Query};

/// List a bike's rides
#[utoipa::path(
    operation_id = "list_rides",
    tag = "rides",
    security(("bearer" = ["app", "mechanic", "manager"])),
    params(("bike_id" = Uuid, Path, description = "The bike"), PageQuery),
    responses((status = 200, description = "A page of rides", body = RideList,
        headers(("Link" = String, description = "The next page, `rel=\"next\"`; absent on the last"))))
)]
#[get("/v1/bikes/{bike_id}/rides")]
pub(super) async fn list_rides(
    request: HttpRequest,
    services: web::Data<Services>,
    actor: As<App>,
    bike_id: web::Path<Uuid>,
    query: Query<PageQuery>,
) -> Result<HttpResponse, Problem> {
    let (size, after) = query.0.parse()?;
    let page = rides::list(&services, &actor, BikeId::from_uuid(*bike_id), after.as_ref(), size).await?;
    Ok(pagination::answer(&request, page, RideDocument::from))
}
