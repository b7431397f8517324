//! What was ridden.

mod batch;
mod refused;

use actix_web::{HttpResponse, delete, get, patch, post, web};
use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use utoipa_actix_web::service_config::ServiceConfig;
use uuid::Uuid;
use wear_core::units::{RideAscent, RideDistance, RideEnergy};

use self::refused::RideNames;
use crate::domain::{
    BikeId, Field, FieldErrors, Form, Invalid, Ride, RideFacts, RideId, RideIdentity, RideOutcome,
    RideWarning, Source, SourceId, Surface, Timestamp,
};
use crate::input::parse;
use crate::service::Services;
use crate::service::rides::{self, ChangeRide, RideReport};
use crate::web::auth::{App, As};
use crate::web::body::{Json, given};
use crate::web::change::Change;
use crate::web::etag::IfMatch;
use crate::web::pagination::Listing;
use crate::web::problem::Problem;
use crate::web::query::PageQuery;
use crate::web::speech;
use crate::web::{answer, schema};

pub(super) fn operations(config: &mut ServiceConfig<'_>) {
    config
        .service(create_ride)
        .service(list_rides)
        .service(get_ride)
        .service(change_ride)
        .service(delete_ride)
        .service(restore_ride)
        .service(batch::create_rides);
}

/// A ride.
#[derive(Serialize, ToSchema)]
#[schema(as = Ride)]
pub(super) struct RideDocument {
    /// Its id.
    id: Uuid,
    /// The bike.
    bike_id: Uuid,
    /// Who logged it.
    #[schema(example = "log")]
    source: String,
    /// The logger's own id of it.
    #[schema(example = "r1")]
    source_id: String,
    /// When it began.
    started_at: DateTime<Utc>,
    /// How far.
    #[schema(example = 18.4)]
    distance_km: f64,
    /// What it was on.
    #[schema(value_type = schema::Surface)]
    surface: &'static str,
    /// Whether it was wet.
    wet: bool,
    /// How far uphill; null when nobody said.
    climb_m: Option<f64>,
    /// Work at the pedals as it was measured; null when it wasn't.
    energy_kj: Option<f64>,
    /// What it did to the drivetrain before surface, wet and care are counted.
    #[schema(example = 17.9)]
    base_reference_km: f64,
    /// Counts its changes; the `ETag` is made of it.
    #[schema(minimum = 1)]
    revision: i64,
}

impl From<Ride> for RideDocument {
    fn from(Ride { id, bike_id, identity, started_at, facts, load, revision, deleted_at: _ }: Ride) -> Self {
        let RideIdentity { source, source_id } = identity;
        Self {
            id: id.uuid(),
            bike_id: bike_id.uuid(),
            source: source.to_string(),
            source_id: source_id.to_string(),
            started_at: started_at.datetime(),
            distance_km: facts.distance_mm() as f64 / 1e6,
            surface: facts.surface.as_str(),
            wet: facts.wet,
            climb_m: facts.climb_mm().map(|mm| mm as f64 / 1e3),
            energy_kj: facts.energy_j().map(|joules| joules as f64 / 1e3),
            base_reference_km: load.base_reference_mm as f64 / 1e6,
            revision,
        }
    }
}

/// A ride as it was stored, and what is odd about it.
#[derive(Serialize, ToSchema)]
struct StoredRide {
    #[serde(flatten)]
    ride: RideDocument,
    /// What looked odd; the ride counts all the same, and can be changed or deleted.
    warnings: Vec<RideWarningDocument>,
}

/// What is odd about a ride, or why it counts for nothing.
#[derive(Serialize, ToSchema)]
#[schema(as = RideWarning)]
pub(super) struct RideWarningDocument {
    /// One word for its kind: `energy_not_measured`, `rides_overlap`; or why it counts for nothing as things stand:
    /// `before_fitting`, `no_chain`, `after_retirement`, `deleted`.
    #[schema(example = "rides_overlap")]
    code: &'static str,
    /// In words.
    message: String,
}

impl From<RideWarning> for RideWarningDocument {
    fn from(warning: RideWarning) -> Self {
        Self { code: warning.code(), message: speech::said(&warning) }
    }
}

/// A page of rides.
#[derive(ToSchema)]
#[allow(dead_code)]
struct RideList {
    /// Rides of this page, newest first.
    items: Vec<RideDocument>,
}

/// The answer to a ride that was sent: with its address where it is new.
pub(super) fn stored<D: Serialize>(outcome: RideOutcome, document: impl FnOnce(Ride) -> D) -> HttpResponse {
    match outcome {
        RideOutcome::Inserted(ride) => {
            let address = format!("/v1/bikes/{}/rides/{}", ride.bike_id, ride.id);
            answer::created(address, ride.revision, document(ride))
        }
        RideOutcome::Unchanged(ride)
        | RideOutcome::Deleted(ride)
        | RideOutcome::Replaced { new: ride, .. } => answer::current(ride.revision, document(ride)),
    }
}

/// A ride to be entered.
///
/// `source` and `source_id` make it one ride however often it is sent; without them each sending is a new one.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct NewRide {
    /// When it began.
    #[schema(value_type = String, format = DateTime)]
    started_at: String,
    /// How far.
    #[schema(schema_with = schema::distance_km)]
    distance_km: f64,
    /// What it was on; `paved` when left out.
    #[schema(value_type = Option<schema::Surface>)]
    surface: Option<String>,
    /// Whether it was wet; no when left out.
    wet: Option<bool>,
    /// How far uphill.
    #[schema(schema_with = schema::optional::climb_m, required = false)]
    climb_m: Option<f64>,
    /// Work at the pedals, measured.
    #[schema(schema_with = schema::optional::energy_kj, required = false)]
    energy_kj: Option<f64>,
    /// The device, app or file that logged it.
    #[schema(min_length = 1, max_length = 128)]
    source: Option<String>,
    /// Its own id of the ride.
    #[schema(min_length = 1, max_length = 128)]
    source_id: Option<String>,
}

/// Source of rides that came without one.
const NO_SOURCE: &str = "unnamed";

impl NewRide {
    /// Checks every field.
    ///
    /// # Errors
    /// Everything that is wrong.
    fn parse(self, bike_id: BikeId) -> Result<(RideReport, Vec<RideWarning>), FieldErrors> {
        let Self { started_at, distance_km, surface, wet, climb_m, energy_kj, source, source_id } = self;
        let mut errors = FieldErrors::new();
        let started_at = errors.keep("/started_at", parse::text::<Timestamp>(&started_at));
        let distance = errors.keep("/distance_km", RideDistance::new(distance_km));
        let surface = match surface {
            Some(word) => errors.keep("/surface", parse::text::<Surface>(&word)),
            None => Some(Surface::Paved),
        };
        let climb = climb_m.and_then(|climb| errors.keep("/climb_m", RideAscent::new(climb)));
        let energy = energy_kj.and_then(|energy| errors.keep("/energy_kj", RideEnergy::new(energy)));
        let identity = identity(source, source_id, &mut errors);
        match (started_at, distance, surface, identity) {
            (Some(started_at), Some(distance), Some(surface), Some(identity)) if errors.is_empty() => {
                let facts = RideFacts::new(distance, climb, energy, surface, wet.unwrap_or(false));
                let warnings = RideWarning::of(distance, energy, surface);
                Ok((RideReport { bike_id, identity, started_at, facts }, warnings))
            }
            _ => Err(errors),
        }
    }
}

fn identity(
    source: Option<String>,
    source_id: Option<String>,
    errors: &mut FieldErrors,
) -> Option<RideIdentity> {
    let (source, source_id) = match (source, source_id) {
        (Some(source), Some(source_id)) => (source, source_id),
        (None, None) => (NO_SOURCE.to_owned(), Uuid::now_v7().to_string()),
        (source, _) => {
            let pointer = if source.is_some() { "/source_id" } else { "/source" };
            let cause = Invalid::Missing { what: Field::HalfOfRideIdentity, allowed: Form::SourceAndId };
            errors.push(cause.at(pointer));
            return None;
        }
    };
    let source = errors.keep("/source", Source::new(&source));
    let source_id = errors.keep("/source_id", SourceId::new(&source_id));
    Some(RideIdentity { source: source?, source_id: source_id? })
}

/// What to change of a ride; what is left out stays.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct RideChange {
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
            climb: climb_m.map(|m| m.and_then(|m| errors.keep("/climb_m", RideAscent::new(m)))),
            energy: energy_kj.map(|kj| kj.and_then(|kj| errors.keep("/energy_kj", RideEnergy::new(kj)))),
        };
        if errors.is_empty() { Ok(change) } else { Err(errors) }
    }
}

/// Enter a ride
///
/// The same `source` and `source_id` twice is one ride; one that says something else replaces it, also on
/// another bike.
#[utoipa::path(
    operation_id = "create_ride",
    tag = "rides",
    security(("bearer" = ["app", "mechanic", "manager"])),
    params(("bike_id" = Uuid, Path, description = "The bike")),
    request_body(content = NewRide, example = json!({
        "started_at": "2026-03-01T08:00:00Z", "distance_km": 18.4, "surface": "paved", "wet": false,
        "climb_m": 120, "energy_kj": 350, "source": "log", "source_id": "r1"
    })),
    responses(
        (status = 201, description = "The ride is new", body = StoredRide,
            headers(("Location" = String, description = "Address of the ride"))),
        (status = 200, description = "The ride was there: it said the same, or it is replaced", body = StoredRide)
    )
)]
#[post("/v1/bikes/{bike_id}/rides")]
async fn create_ride(
    services: web::Data<Services>,
    mut change: Change<App>,
    bike_id: web::Path<BikeId>,
    body: Json<NewRide>,
) -> Result<HttpResponse, Problem> {
    let NewRide { source, source_id, .. } = &body.0;
    let names = RideNames::new(*bike_id, source.as_deref(), source_id.as_deref());
    let outcome = match body.0.parse(*bike_id) {
        Ok((report, warnings)) => {
            let posted = rides::post(&services, &mut change, report).await;
            posted.map(|outcome| (outcome, warnings)).map_err(Problem::from)
        }
        Err(errors) => Err(errors.into()),
    };
    let (outcome, mut warnings) = match outcome {
        Ok(stored) => stored,
        Err(problem) => {
            if refused::is_refusal(&problem) {
                // What the ride changed is undone with the error answer; the message is a change of its own.
                change.undo().await;
                refused::tell_hooks(
                    &services,
                    change.actor(),
                    &[names.refused(None, problem.errors().to_vec())],
                )
                .await;
            }
            return Err(problem);
        }
    };
    warnings.extend(rides::warnings(&mut change, outcome.ride()).await?);
    let warnings = warnings.into_iter().map(RideWarningDocument::from).collect();
    Ok(stored(outcome, |ride| StoredRide { ride: ride.into(), warnings }))
}

/// List a bike's rides
#[utoipa::path(
    operation_id = "list_rides",
    tag = "rides",
    security(("bearer" = ["app", "mechanic", "manager"])),
    params(("bike_id" = Uuid, Path, description = "The bike"), PageQuery),
    responses((status = 200, description = "A page of rides", body = RideList))
)]
#[get("/v1/bikes/{bike_id}/rides")]
async fn list_rides(
    services: web::Data<Services>,
    actor: As<App>,
    bike_id: web::Path<BikeId>,
    listing: Listing,
) -> Result<HttpResponse, Problem> {
    let page = rides::list(&services, &actor, *bike_id, &listing.page).await?;
    Ok(listing.answer(page, RideDocument::from))
}

/// Get a ride
#[utoipa::path(
    operation_id = "get_ride",
    tag = "rides",
    security(("bearer" = ["app", "mechanic", "manager"])),
    params(("bike_id" = Uuid, Path, description = "The bike"),
        ("ride_id" = Uuid, Path, description = "The ride")),
    responses((status = 200, description = "The ride", body = RideDocument))
)]
#[get("/v1/bikes/{bike_id}/rides/{ride_id}")]
async fn get_ride(
    services: web::Data<Services>,
    actor: As<App>,
    path: web::Path<(BikeId, RideId)>,
) -> Result<HttpResponse, Problem> {
    let (bike_id, ride_id) = path.into_inner();
    let ride = rides::get(&services, &actor, bike_id, ride_id).await?;
    Ok(answer::current(ride.revision, RideDocument::from(ride)))
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
    responses((status = 200, description = "The ride after the change", body = RideDocument))
)]
#[patch("/v1/bikes/{bike_id}/rides/{ride_id}")]
async fn change_ride(
    services: web::Data<Services>,
    mut change: Change<App>,
    path: web::Path<(BikeId, RideId)>,
    seen: IfMatch,
    body: Json<RideChange>,
) -> Result<HttpResponse, Problem> {
    let (bike_id, ride_id) = path.into_inner();
    let ride = rides::change(&services, &mut change, bike_id, ride_id, seen.0, body.0.parse()?).await?;
    Ok(answer::current(ride.revision, RideDocument::from(ride)))
}

/// Delete a ride
///
/// The bike's outlook is as if it had never been. The same ride sent again doesn't bring it back; restoring it does.
#[utoipa::path(
    operation_id = "delete_ride",
    tag = "rides",
    security(("bearer" = ["app", "mechanic", "manager"])),
    params(("bike_id" = Uuid, Path, description = "The bike"),
        ("ride_id" = Uuid, Path, description = "The ride"),
        ("If-Match" = String, Header, description = "`ETag` of the ride as you read it", example = "\"1\"")),
    responses((status = 204, description = "The ride is gone"))
)]
#[delete("/v1/bikes/{bike_id}/rides/{ride_id}")]
async fn delete_ride(
    services: web::Data<Services>,
    mut change: Change<App>,
    path: web::Path<(BikeId, RideId)>,
    seen: IfMatch,
) -> Result<HttpResponse, Problem> {
    let (bike_id, ride_id) = path.into_inner();
    rides::delete(&services, &mut change, bike_id, ride_id, seen.0).await?;
    Ok(HttpResponse::NoContent().finish())
}

/// Restore a ride
///
/// Takes its deletion back: it counts as if it had never been deleted.
#[utoipa::path(
    operation_id = "restore_ride",
    tag = "rides",
    security(("bearer" = ["app", "mechanic", "manager"])),
    params(("bike_id" = Uuid, Path, description = "The bike"),
        ("ride_id" = Uuid, Path, description = "The ride")),
    responses((status = 200, description = "The ride", body = RideDocument))
)]
#[post("/v1/bikes/{bike_id}/rides/{ride_id}/restoration")]
async fn restore_ride(
    services: web::Data<Services>,
    mut change: Change<App>,
    path: web::Path<(BikeId, RideId)>,
) -> Result<HttpResponse, Problem> {
    let (bike_id, ride_id) = path.into_inner();
    let ride = rides::restore(&services, &mut change, bike_id, ride_id).await?;
    Ok(answer::current(ride.revision, RideDocument::from(ride)))
}
