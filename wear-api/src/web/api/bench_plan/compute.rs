use actix_web::http::header;
use actix_web::{HttpResponse, post, web};
use chrono::Days;
use serde::Deserialize;
use utoipa::ToSchema;

use super::document::BenchPlanDocument;
use crate::domain::{FieldErrors, PlanWindow};
use crate::input::parse;
use crate::service::Services;
use crate::service::bench_plan::{self, USUAL_WINDOW};
use crate::web::auth::{As, Mechanic};
use crate::web::body::Json;
use crate::web::problem::Problem;

/// The days to plan.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct NewBenchPlan {
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
pub(super) async fn compute_bench_plan(
    services: web::Data<Services>,
    actor: As<Mechanic>,
    body: Json<NewBenchPlan>,
) -> Result<HttpResponse, Problem> {
    let plan = bench_plan::compute(&services, &actor, body.0.parse()?).await?;
    Ok(HttpResponse::Created()
        .insert_header((header::LOCATION, "/v1/bench-plan?state=proposed"))
        .json(BenchPlanDocument::from(plan)))
}
