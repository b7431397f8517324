use actix_web::{HttpResponse, get, web};
use serde::Deserialize;
use utoipa::IntoParams;

use super::document::BenchPlanDocument;
use crate::domain::PlanState;
use crate::service::{Services, bench_plan};
use crate::web::auth::{As, Mechanic};
use crate::web::problem::Problem;
use crate::web::query::{Parameters, Query};

/// Which plan.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub(super) struct PlanQuery {
    /// The plan accepted last, or the proposal; when left out the accepted one, and the proposal where none was
    /// accepted.
    #[param(value_type = Option<PlanState>)]
    state: Option<String>,
}

/// Get the standing bench plan
#[utoipa::path(
    operation_id = "get_bench_plan",
    tag = "bench",
    security(("bearer" = ["mechanic", "manager"])),
    params(PlanQuery),
    responses(
        (status = 200, description = "The plan", body = BenchPlanDocument),
        (status = 404, description = "No plan in that state", body = crate::web::problem::ProblemDocument,
            content_type = "application/problem+json")
    )
)]
#[get("/v1/bench-plan")]
pub(super) async fn get_bench_plan(
    services: web::Data<Services>,
    actor: As<Mechanic>,
    query: Query<PlanQuery>,
) -> Result<HttpResponse, Problem> {
    let mut parameters = Parameters::new();
    let state = parameters.word("state", query.0.state.as_deref());
    parameters.finish()?;
    let plan = bench_plan::get(&services, &actor, state).await?;
    Ok(HttpResponse::Ok().json(BenchPlanDocument::from(plan)))
}
