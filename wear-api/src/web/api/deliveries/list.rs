use actix_web::{HttpRequest, HttpResponse, get, web};
use serde::Deserialize;
use utoipa::{IntoParams, ToSchema};

use super::document::DeliveryDocument;
use crate::domain::DeliveryFilter;
use crate::service::{Services, deliveries};
use crate::web::auth::{As, Mechanic};
use crate::web::pagination;
use crate::web::problem::Problem;
use crate::web::query::{Parameters, Query};

/// Which deliveries.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub(super) struct DeliveryQuery {
    /// Those of one part model.
    #[param(value_type = Option<uuid::Uuid>)]
    part_model_id: Option<String>,
    /// `true` for those that arrived, `false` for those under way; both when left out.
    #[param(value_type = Option<bool>)]
    arrived: Option<String>,
    /// Most items of a page; 50 when left out.
    #[param(value_type = Option<u8>, minimum = 1, maximum = 100)]
    limit: Option<String>,
    /// Cursor from the `Link` of the page before.
    #[param(min_length = 33)]
    after: Option<String>,
}

/// A page of deliveries.
#[derive(ToSchema)]
#[allow(dead_code)]
pub(super) struct DeliveryList {
    /// Deliveries of this page, by the date on which they are expected.
    items: Vec<DeliveryDocument>,
}

/// List deliveries
#[utoipa::path(
    operation_id = "list_deliveries",
    tag = "stock",
    security(("bearer" = ["mechanic", "manager"])),
    params(DeliveryQuery),
    responses((status = 200, description = "A page of deliveries", body = DeliveryList,
        headers(("Link" = String, description = "The next page, `rel=\"next\"`; absent on the last"))))
)]
#[get("/v1/deliveries")]
pub(super) async fn list_deliveries(
    request: HttpRequest,
    services: web::Data<Services>,
    actor: As<Mechanic>,
    query: Query<DeliveryQuery>,
) -> Result<HttpResponse, Problem> {
    let DeliveryQuery { part_model_id, arrived, limit, after } = query.0;
    let mut parameters = Parameters::new();
    let filter = DeliveryFilter {
        part_model_id: parameters.word("part_model_id", part_model_id.as_deref()),
        arrived: arrived.as_deref().map(|given| parameters.flag("arrived", Some(given))),
    };
    let (size, after) = parameters.page(limit.as_deref(), after.as_deref());
    parameters.finish()?;
    let page = deliveries::list(&services, &actor, &filter, after.as_ref(), size).await?;
    Ok(pagination::answer(&request, page, DeliveryDocument::from))
}
