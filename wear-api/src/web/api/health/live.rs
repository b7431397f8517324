use actix_web::{HttpResponse, get};
use serde::Serialize;
use utoipa::ToSchema;

/// That the service runs.
#[derive(Debug, Serialize, ToSchema)]
pub(super) struct Live {
    /// Always `live`.
    #[schema(example = "live")]
    status: &'static str,
}

/// Tell whether the process runs
///
/// Says nothing of the database: a restart wouldn't help there.
#[utoipa::path(
    operation_id = "get_live",
    tag = "service",
    security(()),
    responses((status = 200, description = "The process runs", body = Live))
)]
#[get("/health/live")]
pub(super) async fn live() -> HttpResponse {
    HttpResponse::Ok().json(Live { status: "live" })
}
