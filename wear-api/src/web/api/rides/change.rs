use actix_web::{HttpResponse, patch, web};
use serde::Deserialize;
use utoipa::ToSchema;
use uuid::Uuid;
use wear_core::units::{RideClimb, RideDistance, RideEnergy};

use super::RideDocument;
use crate::domain::{BikeId, FieldErrors, RideId, Surface, Timestamp};
use crate::input::parse;
use crate::service::Services;
use crate::service::rides::{self, ChangeRide};
use crate::web::auth::{App, As};
use crate::web::body::{Json, given};
use crate::web::etag::{IfMatch, etag};
use crate::web::problem::Problem;
use crate::web::schema;

/// What to change of a ride; what is left out stays.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct RideChange {
    /// When it began.
    #[schema(value_type = Option<String>, format = DateTime)]
    started_at: Option<String>,
    /// How far.
    #[schema(schema_with = schema::optional::distance_km, required = false)]
    distance_km: Option<f64>,
    /// What it was on.
    #[schema(value_type = Option<schema::Surface>)]
    surface: Option<String>,
    /// Whether it was wet.
    wet: Option<bool>,
    /// How far uphill; null when nobody knows.
    #[serde(default, deserialize_with = "given")]
    #[schema(schema_with = schema::optional::climb_m, required = false)]
    climb_m: Option<Option<f64>>,
    /// Work at the pedals, measured; null when it wasn't.
    #[serde(default, deserialize_with = "given")]
    #[schema(schema_with = schema::optional::energy_kj, required = false)]
    energy_kj: Option<Option<f64>>,
}

impl RideChange {
    fn parse(self) -> Result<ChangeRide, FieldErrors> {
        let Self { started_at, distance_km, surface, wet, climb_m, energy_kj } = self;
        let mut errors = FieldErrors::new();
        let change = ChangeRide {
            started_at: started_at.and_then(|at| errors.keep("/started_at", parse::text::<Timestamp>(&at))),
            distance: distance_km.and_then(|km| errors.keep("/distance_km", RideDistance::new(km))),
            surface: surface.and_then(|word| errors.keep("/surface", parse::text::<Surface>(&word))),
            wet,
            climb: climb_m.map(|m| m.and_then(|m| errors.keep("/climb_m", RideClimb::new(m)))),
            energy: energy_kj.map(|kj| kj.and_then(|kj| errors.keep("/energy_kj", RideEnergy::new(kj)))),
        };
        if errors.is_empty() { Ok(change) } else { Err(errors) }
    }
}

/// Change a ride
///
/// The bike's outlook is as if the ride had been so from the start. Its `source` and `source_id` stay.
#[utoipa::path(
    operation_id = "change_ride",
    tag = "rides",
    security(("bearer" = ["app", "mechanic", "manager"])),
    params(("bike_id" = Uuid, Path, description = "The bike"),
        ("ride_id" = Uuid, Path, description = "The ride"),
        ("If-Match" = String, Header, description = "`ETag` of the ride as you read it", example = "\"1\"")),
    request_body(content = RideChange, example = json!({"distance_km": 17.9, "wet": true, "energy_kj": null})),
    responses((status = 200, description = "The ride after the change", body = RideDocument,
        headers(("ETag" = String, description = "For `If-Match`"))))
)]
#[patch("/v1/bikes/{bike_id}/rides/{ride_id}")]
pub(super) async fn change_ride(
    services: web::Data<Services>,
    actor: As<App>,
    path: web::Path<(Uuid, Uuid)>,
    seen: IfMatch,
    body: Json<RideChange>,
) -> Result<HttpResponse, Problem> {
    let (bike_id, ride_id) = path.into_inner();
    let (bike_id, ride_id) = (BikeId::from_uuid(bike_id), RideId::from_uuid(ride_id));
    let ride = rides::change(&services, &actor, bike_id, ride_id, seen.0, body.0.parse()?).await?;
    Ok(HttpResponse::Ok().insert_header(etag(ride.revision)).json(RideDocument::from(ride)))
}
