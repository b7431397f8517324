use actix_web::{HttpRequest, HttpResponse, get, web};
use serde::Deserialize;
use utoipa::IntoParams;

use super::{BikeDocument, BikeList};
use crate::domain::{BikeFilter, BikeSort};
use crate::service::{Services, bikes};
use crate::web::auth::{App, As};
use crate::web::pagination;
use crate::web::problem::Problem;
use crate::web::query::{Parameters, Query};

/// Which bikes, in which order.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub(super) struct BikeQuery {
    /// Part of the label or of the group, in any case.
    search: Option<String>,
    /// The whole name of a group.
    #[param(
        min_length = 1,
        max_length = 64,
        pattern = r"^[^\x00-\x1f\x7f-\x9f]*[^\s\x00-\x1f\x7f-\x9f][^\x00-\x1f\x7f-\x9f]*$"
    )]
    group: Option<String>,
    /// Whether bikes that left the fleet are in the list too; `false` when left out.
    #[param(value_type = Option<bool>)]
    retired: Option<String>,
    /// The order; `created` when left out.
    #[param(value_type = Option<BikeSort>)]
    sort: Option<String>,
    /// Most items of a page; 50 when left out.
    #[param(value_type = Option<u8>, minimum = 1, maximum = 100)]
    limit: Option<String>,
    /// Cursor from the `Link` of the page before.
    #[param(min_length = 33)]
    after: Option<String>,
}

/// List bikes
#[utoipa::path(
    operation_id = "list_bikes",
    tag = "bikes",
    security(("bearer" = ["app", "mechanic", "manager"])),
    params(BikeQuery),
    responses((status = 200, description = "A page of bikes", body = BikeList,
        headers(("Link" = String, description = "The next page, `rel=\"next\"`; absent on the last"))))
)]
#[get("/v1/bikes")]
pub(super) async fn list_bikes(
    request: HttpRequest,
    services: web::Data<Services>,
    actor: As<App>,
    query: Query<BikeQuery>,
) -> Result<HttpResponse, Problem> {
    let BikeQuery { search, group, retired, sort, limit, after } = query.0;
    let mut parameters = Parameters::new();
    let filter = BikeFilter {
        search: search.filter(|text| !text.trim().is_empty()),
        group: parameters.word("group", group.as_deref()),
        with_retired: parameters.flag("retired", retired.as_deref()),
    };
    let sort = parameters.word("sort", sort.as_deref()).unwrap_or(BikeSort::Created);
    let (size, after) = parameters.page(limit.as_deref(), after.as_deref());
    parameters.finish()?;
    let page = bikes::list(&services, &actor, &filter, sort, after.as_ref(), size).await?;
    Ok(pagination::answer(&request, page, BikeDocument::from))
}
