//! The bench plan: computed, looked at, accepted.

mod document;
mod words;

use actix_web::http::header;
use actix_web::{HttpResponse, get, post, web};
use chrono::Days;
use serde::Deserialize;
use utoipa::{IntoParams, ToSchema};
use utoipa_actix_web::service_config::ServiceConfig;
use uuid::Uuid;

use self::document::BenchPlanDocument;
use crate::domain::{BenchPlanId, FieldErrors, PlanState, PlanWindow};
use crate::input::parse;
use crate::service::Services;
use crate::service::bench_plan::{self, USUAL_WINDOW};
use crate::web::auth::{As, Mechanic};
use crate::web::body::Json;
use crate::web::change::Change;
use crate::web::problem::Problem;
use crate::web::query::{Parameters, Query};

pub(super) fn operations(config: &mut ServiceConfig<'_>) {
    config.service(compute_bench_plan).service(get_bench_plan).service(accept_bench_plan);
}

/// The days to plan.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct NewBenchPlan {
    /// First day, today or later.
    #[schema(value_type = String, format = Date)]
    from: String,
    /// Last day, at most 92 days in all; two weeks in all when left out.
    #[schema(value_type = Option<String>, format = Date)]
    to: Option<String>,
}

impl NewBenchPlan {
    fn parse(self) -> Result<PlanWindow, FieldErrors> {
        let Self { from, to } = self;
        let mut errors = FieldErrors::new();
        let from = errors.keep("/from", parse::date(&from));
        let to = match to {
            Some(to) => errors.keep("/to", parse::date(&to)),
            None => from.and_then(|from| from.checked_add_days(Days::new(USUAL_WINDOW - 1)).or(Some(from))),
        };
        match (from, to) {
            (Some(from), Some(to)) if errors.is_empty() => Ok(PlanWindow { from, to }),
            _ => Err(errors),
        }
    }
}

/// Which plan.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
struct PlanQuery {
    /// The plan accepted last, or the proposal; when left out the accepted one, and the proposal where none was
    /// accepted.
    #[param(value_type = Option<PlanState>)]
    state: Option<String>,
}

/// Which plan to accept.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct Acceptance {
    /// The proposal as you saw it; the present one when left out.
    id: Option<Uuid>,
}

/// Compute a bench plan
///
/// Bikes whose chain is to be swapped by the last day come on the bench on the days that cost least in life thrown
/// away, risk and knock-on, within each day's minutes, while they aren't booked, and with
/// parts that are on the shelf or have come by then. Worn cassettes and rings are
/// swapped on the same visit. Days that an accepted plan promised are kept where they can be. The plan is a
/// proposal, in place of the one before, until it is accepted.
#[utoipa::path(
    operation_id = "compute_bench_plan",
    tag = "bench",
    security(("bearer" = ["mechanic", "manager"])),
    request_body(content = NewBenchPlan, example = json!({"from": "2026-11-26", "to": "2026-12-09"})),
    responses((status = 201, description = "The proposal", body = BenchPlanDocument,
        headers(("Location" = String, description = "Address of the proposal"))))
)]
#[post("/v1/bench-plan")]
async fn compute_bench_plan(
    services: web::Data<Services>,
    mut change: Change<Mechanic>,
    body: Json<NewBenchPlan>,
) -> Result<HttpResponse, Problem> {
    let plan = bench_plan::compute(&services, &mut change, body.0.parse()?).await?;
    Ok(HttpResponse::Created()
        .insert_header((header::LOCATION, "/v1/bench-plan?state=proposed"))
        .json(BenchPlanDocument::from(plan)))
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
async fn get_bench_plan(
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

/// Accept the proposed bench plan
///
/// Its days become promises: the next plan keeps each that it can and names those that it can't. Promises up to the
/// plan's last day that it doesn't repeat are dropped. Accepting the plan that was accepted last changes nothing.
#[utoipa::path(
    operation_id = "accept_bench_plan",
    tag = "bench",
    security(("bearer" = ["mechanic", "manager"])),
    request_body(content = Acceptance, example = json!({})),
    responses(
        (status = 200, description = "The accepted plan", body = BenchPlanDocument),
        (status = 404, description = "There is no proposal", body = crate::web::problem::ProblemDocument,
            content_type = "application/problem+json")
    )
)]
#[post("/v1/bench-plan/accept")]
async fn accept_bench_plan(
    services: web::Data<Services>,
    mut change: Change<Mechanic>,
    body: Json<Acceptance>,
) -> Result<HttpResponse, Problem> {
    let plan = bench_plan::accept(&services, &mut change, body.0.id.map(BenchPlanId::from_uuid)).await?;
    Ok(HttpResponse::Ok().json(BenchPlanDocument::from(plan)))
}
