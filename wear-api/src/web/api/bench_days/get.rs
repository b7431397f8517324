use actix_web::{HttpResponse, get, web};
use uuid::Uuid;

use super::document::BenchDayDocument;
use crate::domain::BenchDayId;
use crate::service::{Services, bench_days};
use crate::web::auth::{As, Mechanic};
use crate::web::etag::etag;
use crate::web::problem::Problem;

/// Get a bench day
#[utoipa::path(
    operation_id = "get_bench_day",
    tag = "bench",
    security(("bearer" = ["mechanic", "manager"])),
    params(("bench_day_id" = Uuid, Path, description = "The bench day")),
    responses((status = 200, description = "The bench day", body = BenchDayDocument,
        headers(("ETag" = String, description = "For `If-Match`"))))
)]
#[get("/v1/bench-days/{bench_day_id}")]
pub(super) async fn get_bench_day(
    services: web::Data<Services>,
    actor: As<Mechanic>,
    bench_day_id: web::Path<Uuid>,
) -> Result<HttpResponse, Problem> {
    let day = bench_days::get(&services, &actor, BenchDayId::from_uuid(*bench_day_id)).await?;
    Ok(HttpResponse::Ok().insert_header(etag(day.revision)).json(BenchDayDocument::from(day)))
}
