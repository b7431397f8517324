//! Health of the service, for those who run it.

use actix_web::{HttpResponse, get, web};
use serde::Serialize;
use utoipa::ToSchema;
use utoipa_actix_web::service_config::ServiceConfig;

use crate::service::{Services, health};
use crate::web::problem::{Kind, Problem};

/// Adds the operations.
pub fn operations(config: &mut ServiceConfig<'_>) {
    config.service(live).service(ready);
}

/// That the service runs.
#[derive(Debug, Serialize, ToSchema)]
struct Live {
    /// Always `live`.
    #[schema(example = "live")]
    status: &'static str,
}

/// That the service can do its work.
#[derive(Debug, Serialize, ToSchema)]
struct Ready {
    /// Always `ready`.
    #[schema(example = "ready")]
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
async fn live() -> HttpResponse {
    HttpResponse::Ok().json(Live { status: "live" })
}

/// Tell whether the service can answer
///
/// Asks the database. Load balancers send requests only to services that are ready.
#[utoipa::path(
    operation_id = "get_ready",
    tag = "service",
    security(()),
    responses((status = 200, description = "The database answers", body = Ready))
)]
#[get("/health/ready")]
async fn ready(services: web::Data<Services>) -> Result<HttpResponse, Problem> {
    if !health::is_ready(&services).await? {
        return Err(
            Problem::new(Kind::Unavailable, "the database's tables are not up to date").retry_after(5)
        );
    }
    Ok(HttpResponse::Ok().json(Ready { status: "ready" }))
}
