use actix_web::{HttpRequest, HttpResponse, get, web};
use utoipa::ToSchema;

use super::document::StockDocument;
use crate::service::{Services, stock};
use crate::web::auth::{As, Mechanic};
use crate::web::pagination;
use crate::web::problem::Problem;
use crate::web::query::{PageQuery, Query};

/// A page of the shelf.
#[derive(ToSchema)]
#[allow(dead_code)]
pub(super) struct StockList {
    /// Part models of this page.
    items: Vec<StockDocument>,
}

/// List what is on the shelf
#[utoipa::path(
    operation_id = "list_stock",
    tag = "stock",
    security(("bearer" = ["mechanic", "manager"])),
    params(PageQuery),
    responses((status = 200, description = "A page of the shelf", body = StockList,
        headers(("Link" = String, description = "The next page, `rel=\"next\"`; absent on the last"))))
)]
#[get("/v1/stock")]
pub(super) async fn list_stock(
    request: HttpRequest,
    services: web::Data<Services>,
    actor: As<Mechanic>,
    query: Query<PageQuery>,
) -> Result<HttpResponse, Problem> {
    let (size, after) = query.0.parse()?;
    let page = stock::list(&services, &actor, after.as_ref(), size).await?;
    Ok(pagination::answer(&request, page, StockDocument::from))
}
