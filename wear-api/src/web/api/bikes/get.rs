use actix_web::{HttpResponse, get, web};
use uuid::Uuid;

use super::BikeDocument;
use crate::domain::BikeId;
use crate::service::{Services, bikes};
use crate::web::auth::{App, As};
use crate::web::etag::etag;
use crate::web::problem::Problem;

/// Get a bike
#[utoipa::path(
    operation_id = "get_bike",
    tag = "bikes",
    security(("bearer" = ["app", "mechanic", "manager"])),
    params(("bike_id" = Uuid, Path, description = "The bike")),
    responses((status = 200, description = "The bike", body = BikeDocument,
        headers(("ETag" = String, description = "For `If-Match`"))))
)]
#[get("/v1/bikes/{bike_id}")]
pub(super) async fn get_bike(
    services: web::Data<Services>,
    actor: As<App>,
    bike_id: web::Path<Uuid>,
) -> Result<HttpResponse, Problem> {
    let bike = bikes::get(&services, &actor, BikeId::from_uuid(*bike_id)).await?;
    Ok(HttpResponse::Ok().insert_header(etag(bike.revision)).json(BikeDocument::from(bike)))
}
