use actix_web::{HttpResponse, get, web};

use super::document::WorkshopDocument;
use crate::service::{Services, workshops};
use crate::web::auth::{As, Mechanic};
use crate::web::etag::etag;
use crate::web::problem::Problem;

/// Get the workshop
///
/// The one that the token belongs to.
#[utoipa::path(
    operation_id = "get_workshop",
    tag = "workshop",
    security(("bearer" = ["mechanic", "manager"])),
    responses((status = 200, description = "The workshop", body = WorkshopDocument,
        headers(("ETag" = String, description = "For `If-Match`"))))
)]
#[get("/v1/workshop")]
pub(super) async fn get_workshop(
    services: web::Data<Services>,
    actor: As<Mechanic>,
) -> Result<HttpResponse, Problem> {
    let workshop = workshops::get(&services, &actor).await?;
    Ok(HttpResponse::Ok().insert_header(etag(workshop.revision)).json(WorkshopDocument::from(workshop)))
}
