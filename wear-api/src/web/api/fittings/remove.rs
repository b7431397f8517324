use actix_web::{HttpResponse, post, web};
use serde::Deserialize;
use utoipa::ToSchema;
use uuid::Uuid;

use super::document::FittingDocument;
use crate::domain::{BikeId, FieldErrors, FittingId, Timestamp};
use crate::input::parse;
use crate::service::{Services, fittings};
use crate::web::auth::{As, Mechanic};
use crate::web::body::Json;
use crate::web::problem::Problem;

/// When a part came off.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct Removal {
    /// When; now when left out.
    #[schema(value_type = Option<String>, format = DateTime)]
    removed_at: Option<String>,
}

impl Removal {
    fn parse(self, now: Timestamp) -> Result<Timestamp, FieldErrors> {
        let Some(at) = self.removed_at else { return Ok(now) };
        parse::text::<Timestamp>(&at).map_err(|error| error.at("/removed_at").into())
    }
}

/// Take a part off
///
/// Its place stays empty until another is fitted.
#[utoipa::path(
    operation_id = "remove_fitting",
    tag = "parts",
    security(("bearer" = ["mechanic", "manager"])),
    params(("bike_id" = Uuid, Path, description = "The bike"),
        ("fitting_id" = Uuid, Path, description = "The fitting")),
    request_body(content = Removal, example = json!({"removed_at": "2026-06-01T16:00:00Z"})),
    responses((status = 200, description = "The fitting with its end", body = FittingDocument))
)]
#[post("/v1/bikes/{bike_id}/fittings/{fitting_id}/removal")]
pub(super) async fn remove_fitting(
    services: web::Data<Services>,
    actor: As<Mechanic>,
    path: web::Path<(Uuid, Uuid)>,
    body: Json<Removal>,
) -> Result<HttpResponse, Problem> {
    let removed_at = body.0.parse(services.now())?;
    let (bike_id, id) = path.into_inner();
    let (bike_id, id) = (BikeId::from_uuid(bike_id), FittingId::from_uuid(id));
    let fitting = fittings::remove(&services, &actor, bike_id, id, removed_at).await?;
    Ok(HttpResponse::Ok().json(FittingDocument::from(fitting)))
}
