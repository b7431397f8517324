use actix_web::{HttpResponse, delete, web};
use serde::Deserialize;
use utoipa::IntoParams;
use uuid::Uuid;

use crate::domain::{BikeId, Note, ReadingId};
use crate::service::{Services, readings};
use crate::web::api::outlooks::OutlookDocument;
use crate::web::auth::{As, Mechanic};
use crate::web::problem::Problem;
use crate::web::query::{Parameters, Query};

/// Why a reading doesn't count.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub(super) struct VoidQuery {
    /// Why, in a few words.
    #[param(
        example = "another chain was measured",
        min_length = 1,
        max_length = 2000,
        pattern = r"^[^\x00-\x09\x0b-\x1f\x7f-\x9f]*[^\s\x00-\x1f\x7f-\x9f][^\x00-\x09\x0b-\x1f\x7f-\x9f]*$"
    )]
    reason: String,
}

/// Take a reading out of account
///
/// It stays on record with the reason. The answer is the bike's outlook without it. A reading never changes,
/// so no `If-Match` is needed.
#[utoipa::path(
    operation_id = "void_reading",
    tag = "readings",
    security(("bearer" = ["mechanic", "manager"])),
    params(("bike_id" = Uuid, Path, description = "The bike"),
        ("reading_id" = Uuid, Path, description = "The reading"), VoidQuery),
    responses((status = 200, description = "The outlook without the reading", body = OutlookDocument))
)]
#[delete("/v1/bikes/{bike_id}/readings/{reading_id}")]
pub(super) async fn void_reading(
    services: web::Data<Services>,
    actor: As<Mechanic>,
    path: web::Path<(Uuid, Uuid)>,
    query: Query<VoidQuery>,
) -> Result<HttpResponse, Problem> {
    let (bike_id, reading_id) = path.into_inner();
    let mut parameters = Parameters::new();
    let reason = parameters.word::<Note>("reason", Some(&query.0.reason));
    let reason = parameters.finish_with(reason)?;
    let (bike_id, reading_id) = (BikeId::from_uuid(bike_id), ReadingId::from_uuid(reading_id));
    let outlook = readings::void(&services, &actor, bike_id, reading_id, reason).await?;
    Ok(HttpResponse::Ok().json(OutlookDocument::from(outlook)))
}
