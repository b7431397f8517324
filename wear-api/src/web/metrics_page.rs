//! The metrics, on a port of their own: they are for those who run the service, not for its callers.

use actix_web::http::header;
use actix_web::{HttpResponse, get, web};

use super::problem::Problem;
use crate::metrics;
use crate::service::{Services, health};

/// The metrics as they stand.
#[get("/metrics")]
pub async fn metrics_page(services: web::Data<Services>) -> Result<HttpResponse, Problem> {
    let backlog = match health::backlog(&services).await {
        Ok(backlog) => Some(backlog),
        Err(error) => {
            tracing::warn!(error = %error, "metrics without what the store knows");
            None
        }
    };
    let text = metrics::text(backlog.as_ref(), &health::connections(&services))
        .map_err(|error| Problem::internal(&error))?;
    Ok(HttpResponse::Ok().insert_header((header::CONTENT_TYPE, metrics::MEDIA_TYPE)).body(text))
}
