use actix_web::{HttpRequest, HttpResponse, get, web};
use utoipa::ToSchema;
use uuid::Uuid;

use super::document::FittingDocument;
use crate::domain::{BikeId, Cursor, Page};
use crate::service::{Services, fittings};
use crate::web::auth::{As, Mechanic};
use crate::web::pagination;
use crate::web::problem::Problem;
use crate::web::query::{PageQuery, Query};

/// A page of fittings.
#[derive(ToSchema)]
#[allow(dead_code)]
pub(super) struct FittingList {
    /// Fittings of this page, oldest first.
    items: Vec<FittingDocument>,
}

/// List a bike's fittings
#[utoipa::path(
    operation_id = "list_fittings",
    tag = "parts",
    security(("bearer" = ["mechanic", "manager"])),
    params(("bike_id" = Uuid, Path, description = "The bike"), PageQuery),
    responses((status = 200, description = "A page of fittings", body = FittingList,
        headers(("Link" = String, description = "The next page, `rel=\"next\"`; absent on the last"))))
)]
#[get("/v1/bikes/{bike_id}/fittings")]
pub(super) async fn list_fittings(
    request: HttpRequest,
    services: web::Data<Services>,
    actor: As<Mechanic>,
    bike_id: web::Path<Uuid>,
    query: Query<PageQuery>,
) -> Result<HttpResponse, Problem> {
    let (size, after) = query.0.parse()?;
    let fittings = fittings::list(&services, &actor, BikeId::from_uuid(*bike_id)).await?;
    let key = |at: i64, id: Uuid| (at, id);
    let rest = fittings
        .into_iter()
        .filter(|stay| match &after {
            Some(Cursor::Number(at, id)) => key(stay.fitted_at.micros(), stay.id.uuid()) > key(*at, *id),
            _ => true,
        })
        .take(size.get() + 1)
        .collect();
    let page = Page::cut(rest, size, |stay| Cursor::Number(stay.fitted_at.micros(), stay.id.uuid()));
    Ok(pagination::answer(&request, page, FittingDocument::from))
}
