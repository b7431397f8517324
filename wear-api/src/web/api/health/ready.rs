use actix_web::{HttpResponse, get, web};
use serde::Serialize;
use utoipa::ToSchema;

use crate::service::{Services, health};
use crate::web::problem::{Kind, Problem};

/// That the service can do its work.
#[derive(Debug, Serialize, ToSchema)]
pub(super) struct Ready {
    /// Always `ready`.
    #[schema(example = "ready")]
    status: &'static str,
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
pub(super) async fn ready(services: web::Data<Services>) -> Result<HttpResponse, Problem> {
    if !health::is_ready(&services).await? {
        return Err(
            Problem::new(Kind::Unavailable, "the database's tables are not up to date").retry_after(5)
        );
    }
    Ok(HttpResponse::Ok().json(Ready { status: "ready" }))
}
