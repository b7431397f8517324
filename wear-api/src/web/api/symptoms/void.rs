use actix_web::{HttpResponse, delete, web};
use serde::Deserialize;
use utoipa::IntoParams;
use uuid::Uuid;

use crate::domain::{BikeId, Note, SymptomId};
use crate::service::{Services, symptoms};
use crate::web::api::outlooks::OutlookDocument;
use crate::web::auth::{As, Mechanic};
use crate::web::problem::Problem;
use crate::web::query::{Parameters, Query};

/// Why a report doesn't count.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub(super) struct VoidQuery {
    /// Why, in a few words.
    #[param(
        example = "a stiff link it was",
        min_length = 1,
        max_length = 2000,
        pattern = r"^[^\x00-\x09\x0b-\x1f\x7f-\x9f]*[^\s\x00-\x1f\x7f-\x9f][^\x00-\x09\x0b-\x1f\x7f-\x9f]*$"
    )]
    reason: String,
}

/// Take a report out of account
///
/// It stays on record with the reason. The answer is the bike's outlook without it. A report never changes, so no
/// `If-Match` is needed.
#[utoipa::path(
    operation_id = "void_symptom",
    tag = "work",
    security(("bearer" = ["mechanic", "manager"])),
    params(("bike_id" = Uuid, Path, description = "The bike"),
        ("symptom_id" = Uuid, Path, description = "The report"), VoidQuery),
    responses((status = 200, description = "The outlook without the report", body = OutlookDocument))
)]
#[delete("/v1/bikes/{bike_id}/symptoms/{symptom_id}")]
pub(super) async fn void_symptom(
    services: web::Data<Services>,
    actor: As<Mechanic>,
    path: web::Path<(Uuid, Uuid)>,
    query: Query<VoidQuery>,
) -> Result<HttpResponse, Problem> {
    let (bike_id, symptom_id) = path.into_inner();
    let mut parameters = Parameters::new();
    let reason = parameters.word::<Note>("reason", Some(&query.0.reason));
    let reason = parameters.finish_with(reason)?;
    let (bike_id, symptom_id) = (BikeId::from_uuid(bike_id), SymptomId::from_uuid(symptom_id));
    let outlook = symptoms::void(&services, &actor, bike_id, symptom_id, reason).await?;
    Ok(HttpResponse::Ok().json(OutlookDocument::from(outlook)))
}
