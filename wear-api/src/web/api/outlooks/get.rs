use actix_web::{HttpResponse, get, web};
use uuid::Uuid;

use super::OutlookDocument;
use crate::domain::BikeId;
use crate::service::{Services, outlook};
use crate::web::auth::{App, As};
use crate::web::problem::Problem;

/// Get a bike's outlook
///
/// It counts every event that was acknowledged before the request.
#[utoipa::path(
    operation_id = "get_outlook",
    tag = "outlook",
    security(("bearer" = ["app", "mechanic", "manager"])),
    params(("bike_id" = Uuid, Path, description = "The bike")),
    responses((status = 200, description = "The outlook", body = OutlookDocument))
)]
#[get("/v1/bikes/{bike_id}/outlook")]
pub(super) async fn get_outlook(
    services: web::Data<Services>,
    actor: As<App>,
    bike_id: web::Path<Uuid>,
) -> Result<HttpResponse, Problem> {
    let outlook = outlook::of_bike(&services, &actor, BikeId::from_uuid(*bike_id)).await?;
    Ok(HttpResponse::Ok().json(OutlookDocument::from(outlook)))
}
