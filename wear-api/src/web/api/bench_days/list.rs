use actix_web::{HttpRequest, HttpResponse, get, web};
use serde::Deserialize;
use utoipa::{IntoParams, ToSchema};

use super::document::BenchDayDocument;
use crate::input::parse;
use crate::service::{Services, bench_days};
use crate::web::auth::{As, Mechanic};
use crate::web::pagination;
use crate::web::problem::Problem;
use crate::web::query::{Parameters, Query};

/// Which bench days.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub(super) struct BenchDayQuery {
    /// First date.
    #[param(value_type = Option<String>, format = Date)]
    from: Option<String>,
    /// Last date.
    #[param(value_type = Option<String>, format = Date)]
    to: Option<String>,
    /// Most items of a page; 50 when left out.
    #[param(value_type = Option<u8>, minimum = 1, maximum = 100)]
    limit: Option<String>,
    /// Cursor from the `Link` of the page before.
    #[param(min_length = 33)]
    after: Option<String>,
}

/// A page of bench days.
#[derive(ToSchema)]
#[allow(dead_code)]
pub(super) struct BenchDayList {
    /// Bench days of this page, by date.
    items: Vec<BenchDayDocument>,
}

/// List bench days
///
/// Only dates that were entered; all others have the minutes of their weekday.
#[utoipa::path(
    operation_id = "list_bench_days",
    tag = "bench",
    security(("bearer" = ["mechanic", "manager"])),
    params(BenchDayQuery),
    responses((status = 200, description = "A page of bench days", body = BenchDayList,
        headers(("Link" = String, description = "The next page, `rel=\"next\"`; absent on the last"))))
)]
#[get("/v1/bench-days")]
pub(super) async fn list_bench_days(
    request: HttpRequest,
    services: web::Data<Services>,
    actor: As<Mechanic>,
    query: Query<BenchDayQuery>,
) -> Result<HttpResponse, Problem> {
    let BenchDayQuery { from, to, limit, after } = query.0;
    let mut parameters = Parameters::new();
    let from = parameters.optional("from", from.as_deref(), parse::date);
    let to = parameters.optional("to", to.as_deref(), parse::date);
    let (size, after) = parameters.page(limit.as_deref(), after.as_deref());
    parameters.finish()?;
    let page = bench_days::list(&services, &actor, (from, to), after.as_ref(), size).await?;
    Ok(pagination::answer(&request, page, BenchDayDocument::from))
}
