use actix_web::{HttpResponse, delete, web};
use serde::Deserialize;
use utoipa::IntoParams;
use uuid::Uuid;

use crate::domain::{BikeId, Note, SwapId};
use crate::service::{Services, swap_voiding};
use crate::web::api::outlooks::OutlookDocument;
use crate::web::auth::{As, Mechanic};
use crate::web::problem::Problem;
use crate::web::query::{Parameters, Query};

/// Why a swap doesn't count.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub(super) struct VoidQuery {
    /// Why, in a few words.
    #[param(
        example = "entered on the wrong bike",
        min_length = 1,
        max_length = 2000,
        pattern = r"^[^\x00-\x09\x0b-\x1f\x7f-\x9f]*[^\s\x00-\x1f\x7f-\x9f][^\x00-\x09\x0b-\x1f\x7f-\x9f]*$"
    )]
    reason: String,
}

/// Take back a swap
///
/// It stays on record with the reason; the bike's history is as if it had not been. The answer is the bike's outlook
/// without it. A swap never changes, so no `If-Match` is needed.
#[utoipa::path(
    operation_id = "void_swap",
    tag = "work",
    security(("bearer" = ["mechanic", "manager"])),
    params(("bike_id" = Uuid, Path, description = "The bike"),
        ("swap_id" = Uuid, Path, description = "The swap"), VoidQuery),
    responses((status = 200, description = "The outlook without the swap", body = OutlookDocument))
)]
#[delete("/v1/bikes/{bike_id}/swaps/{swap_id}")]
pub(super) async fn void_swap(
    services: web::Data<Services>,
    actor: As<Mechanic>,
    path: web::Path<(Uuid, Uuid)>,
    query: Query<VoidQuery>,
) -> Result<HttpResponse, Problem> {
    let (bike_id, swap_id) = path.into_inner();
    let mut parameters = Parameters::new();
    let reason = parameters.word::<Note>("reason", Some(&query.0.reason));
    let reason = parameters.finish_with(reason)?;
    let (bike_id, swap_id) = (BikeId::from_uuid(bike_id), SwapId::from_uuid(swap_id));
    let outlook = swap_voiding::void(&services, &actor, bike_id, swap_id, reason).await?;
    Ok(HttpResponse::Ok().json(OutlookDocument::from(outlook)))
}
