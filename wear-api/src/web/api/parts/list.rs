use actix_web::{HttpRequest, HttpResponse, get, web};
use serde::Deserialize;
use utoipa::{IntoParams, ToSchema};

use super::document::PartDocument;
use crate::domain::Place;
use crate::service::{Services, parts};
use crate::web::auth::{As, Mechanic};
use crate::web::pagination;
use crate::web::problem::Problem;
use crate::web::query::{Parameters, Query};

/// Which parts.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub(super) struct PartsQuery {
    /// Only parts of this place.
    #[param(value_type = Option<Place>)]
    place: Option<String>,
    /// Most items of a page; 50 when left out.
    #[param(value_type = Option<u8>, minimum = 1, maximum = 100)]
    limit: Option<String>,
    /// Cursor from the `Link` of the page before.
    #[param(min_length = 33)]
    after: Option<String>,
}

/// A page of parts.
#[derive(ToSchema)]
#[allow(dead_code)]
pub(super) struct PartList {
    /// Parts of this page, in the order they were entered.
    items: Vec<PartDocument>,
}

/// List parts with their lives
#[utoipa::path(
    operation_id = "list_parts",
    tag = "parts",
    security(("bearer" = ["mechanic", "manager"])),
    params(PartsQuery),
    responses((status = 200, description = "A page of parts", body = PartList,
        headers(("Link" = String, description = "The next page, `rel=\"next\"`; absent on the last"))))
)]
#[get("/v1/parts")]
pub(super) async fn list_parts(
    request: HttpRequest,
    services: web::Data<Services>,
    actor: As<Mechanic>,
    query: Query<PartsQuery>,
) -> Result<HttpResponse, Problem> {
    let PartsQuery { place, limit, after } = query.0;
    let mut parameters = Parameters::new();
    let place = parameters.word::<Place>("place", place.as_deref());
    let (size, after) = parameters.page(limit.as_deref(), after.as_deref());
    parameters.finish()?;
    let page = parts::list(&services, &actor, place, after.as_ref(), size).await?;
    Ok(pagination::answer(&request, page, PartDocument::from))
}
