use actix_web::{HttpResponse, post, web};
use serde::Deserialize;
use utoipa::ToSchema;
use uuid::Uuid;

use super::document::BenchPlanDocument;
use crate::domain::BenchPlanId;
use crate::service::{Services, bench_plan};
use crate::web::auth::{As, Mechanic};
use crate::web::body::Json;
use crate::web::problem::Problem;

/// Which plan to accept.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct Acceptance {
    /// The proposal as you saw it; the present one when left out.
    id: Option<Uuid>,
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
pub(super) async fn accept_bench_plan(
    services: web::Data<Services>,
    actor: As<Mechanic>,
    body: Json<Acceptance>,
) -> Result<HttpResponse, Problem> {
    let plan = bench_plan::accept(&services, &actor, body.0.id.map(BenchPlanId::from_uuid)).await?;
    Ok(HttpResponse::Ok().json(BenchPlanDocument::from(plan)))
}
