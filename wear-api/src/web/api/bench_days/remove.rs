use actix_web::{HttpResponse, delete, web};
use uuid::Uuid;

use crate::domain::BenchDayId;
use crate::service::{Services, bench_days};
use crate::web::auth::{As, Mechanic};
use crate::web::etag::IfMatch;
use crate::web::problem::Problem;

/// Remove a bench day
///
/// Its date has the minutes of its weekday again.
#[utoipa::path(
    operation_id = "remove_bench_day",
    tag = "bench",
    security(("bearer" = ["mechanic", "manager"])),
    params(("bench_day_id" = Uuid, Path, description = "The bench day"),
        ("If-Match" = String, Header, description = "`ETag` of the bench day as you read it", example = "\"1\"")),
    responses((status = 204, description = "The bench day is gone"))
)]
#[delete("/v1/bench-days/{bench_day_id}")]
pub(super) async fn remove_bench_day(
    services: web::Data<Services>,
    actor: As<Mechanic>,
    bench_day_id: web::Path<Uuid>,
    seen: IfMatch,
) -> Result<HttpResponse, Problem> {
    bench_days::remove(&services, &actor, BenchDayId::from_uuid(*bench_day_id), seen.0).await?;
    Ok(HttpResponse::NoContent().finish())
}
