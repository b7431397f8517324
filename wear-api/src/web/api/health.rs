//! Health of the service, for those who run it.

use actix_web::{HttpResponse, get, web};
use serde::Serialize;
use utoipa::ToSchema;
use utoipa_actix_web::service_config::ServiceConfig;

use crate::service::Services;
use crate::service::health::{self, Readiness};
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
/// Asks the database, and whether it takes changes. Load balancers send requests only to services that are ready.
#[utoipa::path(
    operation_id = "get_ready",
    tag = "service",
    security(()),
    responses((status = 200, description = "The database answers and takes changes", body = Ready))
)]
#[get("/health/ready")]
async fn ready(services: web::Data<Services>) -> Result<HttpResponse, Problem> {
    let why = match health::readiness(&services).await? {
        Readiness::Ready => return Ok(HttpResponse::Ok().json(Ready { status: "ready" })),
        Readiness::TablesBehind => "the database's tables are not up to date",
        Readiness::TablesAhead => "the database's tables belong to a newer version of the service",
        Readiness::ReadOnly => "the database takes no changes",
    };
    Err(Problem::new(Kind::Unavailable, why).retry_after(5))
}
