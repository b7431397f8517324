//! What was ridden.

mod batch;
mod listed;
mod refused;

use actix_web::{HttpRequest, HttpResponse, delete, get, patch, post, web};
use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use utoipa_actix_web::service_config::ServiceConfig;
use uuid::Uuid;
use wear_core::units::{RideAscent, RideDistance, RideEnergy};

use self::refused::RideNames;
use crate::domain::{
    BikeId, Field, FieldErrors, Form, Invalid, Ride, RideFacts, RideFilter, RideId, RideIdScope,
    RideIdentity, RideOutcome, RideWarning, Source, SourceId, Surface, Telling, Timestamp,
};
use crate::input::parse;
use crate::service::Services;
use crate::service::rides::{self, ChangeRide, RideIds, RideSaid};
use crate::web::auth::{App, As};
use crate::web::body::{Json, given};
use crate::web::change::Change;
use crate::web::etag::IfMatch;
use crate::web::pagination::{self, Listing};
use crate::web::problem::Problem;
use crate::web::query::{PageQuery, Parameters, Query};
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
        .service(list_all_rides)
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
    /// Whether it counts; no where another source told of the same ride, which counts in its place.
    counts: bool,
    /// The ride of the same bike that counts in its place; null where it counts itself.
    same_as: Option<Uuid>,
    /// Whether somebody said that it is a ride by itself, though another source told of one that looks the same.
    separate: bool,
    /// Counts its changes, and those of whether it counts; the `ETag` is made of it.
    #[schema(minimum = 1)]
    revision: i64,
}

impl From<Ride> for RideDocument {
    fn from(ride: Ride) -> Self {
        let Ride { id, bike_id, identity, started_at, facts, load, revision, deleted_at: _, telling } = ride;
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
            counts: telling.counts(),
            same_as: telling.same_as().map(RideId::uuid),
            separate: telling == Telling::Separate,
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
    /// One word for its kind: `energy_not_measured`, `rides_overlap`, `counts_for` (another source sent the same ride, which
    /// doesn't count beside this one); or why it counts for nothing as things stand: `counted_with` (another source sent
    /// the same ride, which counts), `before_fitting`, `no_chain`, `after_retirement`, `deleted`.
    #[schema(example = "rides_overlap")]
    code: &'static str,
    /// In words.
    message: String,
    /// The other ride that it is about, with `counted_with` and `counts_for`; left out of others.
    #[serde(skip_serializing_if = "Option::is_none")]
    ride_id: Option<Uuid>,
}

impl From<RideWarning> for RideWarningDocument {
    fn from(warning: RideWarning) -> Self {
        let ride_id = warning.ride().map(RideId::uuid);
        Self { code: warning.code(), message: speech::said(&warning), ride_id }
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
/// `source` and `source_id` make it one ride of the bike however often it is sent; without them each sending is a new one.
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
    /// Within what `source_id` tells rides of a `source` apart: `bike`, so that the same id on another bike is another ride,
    /// or `workshop`, so that it is the same ride; `bike` when left out.
    #[schema(value_type = Option<RideIdScope>)]
    id_scope: Option<String>,
    /// `true` moves the ride here where another bike has it; only with `id_scope` `workshop`. When left out such a ride is
    /// refused.
    #[serde(rename = "move")]
    moves: Option<bool>,
}

/// Source of rides that came without one.
const NO_SOURCE: &str = "unnamed";

impl NewRide {
    /// Checks every field.
    ///
    /// # Errors
    /// Everything that is wrong.
    fn parse(self) -> Result<(RideSaid, Vec<RideWarning>), FieldErrors> {
        let Self {
            started_at,
            distance_km,
            surface,
            wet,
            climb_m,
            energy_kj,
            source,
            source_id,
            id_scope,
            moves,
        } = self;
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
        let ids = match id_scope.and_then(|word| errors.keep("/id_scope", parse::text::<RideIdScope>(&word)))
        {
            Some(RideIdScope::Workshop) => RideIds::OfWorkshop { moves: moves.unwrap_or(false) },
            Some(RideIdScope::Bike) | None => {
                if moves == Some(true) && errors.is_empty() {
                    let cause =
                        Invalid::Together { what: Field::MoveWithinBike, allowed: Form::WorkshopScope };
                    errors.push(cause.at("/move"));
                }
                RideIds::OfBike
            }
        };
        match (started_at, distance, surface, identity) {
            (Some(started_at), Some(distance), Some(surface), Some(identity)) if errors.is_empty() => {
                let facts = RideFacts::new(distance, climb, energy, surface, wet.unwrap_or(false));
                let warnings = RideWarning::of(distance, energy, surface);
                Ok((RideSaid { identity, ids, started_at, facts }, warnings))
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
    /// The bike that it was on: moves it there, under the same `source` and `source_id`.
    #[schema(value_type = Option<Uuid>)]
    bike_id: Option<String>,
    /// `true` where it is a ride by itself, though another source told of one at the same time and as far: both count
    /// then, also when they are sent again. `false` takes that back.
    separate: Option<bool>,
}

impl RideChange {
    fn parse(self) -> Result<ChangeRide, FieldErrors> {
        let Self { started_at, distance_km, surface, wet, climb_m, energy_kj, bike_id, separate } = self;
        let mut errors = FieldErrors::new();
        let change = ChangeRide {
            bike: bike_id.and_then(|id| errors.keep("/bike_id", parse::text::<BikeId>(&id))),
            is_separate: separate,
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
/// The same `source` and `source_id` on the same bike twice is one ride; one that says something else replaces it. On
/// another bike it is another ride, unless `id_scope` says that ids are the workshop's: then one that another bike has is
/// refused (409), or moved with `"move": true`.
///
/// Rides of different sources are one ride told twice where the bike would have to be on both at once, even at 60 km/h, for
/// at least half of the shorter one's time, and their distances differ by at most 5 % or 0.5 km. Both are kept, one counts:
/// the one with measured work, else the one with climb, else by the names of source and id. Warnings name the other one,
/// and `PATCH` with `separate` says that they are two.
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
    let outcome = match body.0.parse() {
        Ok((said, warnings)) => {
            let posted = rides::post(&services, &mut change, *bike_id, said).await;
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

/// Which rides.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
struct RideQuery {
    /// Those of a source.
    #[param(min_length = 1, max_length = 128)]
    source: Option<String>,
    /// Those that the source gave this id, one of each bike at most; only with `source`.
    #[param(min_length = 1, max_length = 128)]
    source_id: Option<String>,
    /// Those of a bike.
    #[param(value_type = Option<Uuid>)]
    bike_id: Option<String>,
    /// Those that began then or later.
    #[param(value_type = Option<String>, format = DateTime)]
    from: Option<String>,
    /// Those that began before then.
    #[param(value_type = Option<String>, format = DateTime)]
    until: Option<String>,
    /// Most items of a page; 50 when left out.
    #[param(value_type = Option<u8>, minimum = 1, maximum = 100)]
    limit: Option<String>,
    /// Cursor from the `Link` of the page before.
    #[param(min_length = 33)]
    after: Option<String>,
}

/// List the workshop's rides
///
/// Of all bikes, newest first; deleted ones are left out.
#[utoipa::path(
    operation_id = "list_workshop_rides",
    tag = "rides",
    security(("bearer" = ["app", "mechanic", "manager"])),
    params(RideQuery),
    responses((status = 200, description = "A page of rides", body = RideList))
)]
#[get("/v1/rides")]
async fn list_all_rides(
    request: HttpRequest,
    services: web::Data<Services>,
    actor: As<App>,
    query: Query<RideQuery>,
) -> Result<HttpResponse, Problem> {
    let RideQuery { source, source_id, bike_id, from, until, limit, after } = query.0;
    let mut parameters = Parameters::new();
    let named = parameters.word::<Source>("source", source.as_deref());
    let id = match (&source, &source_id) {
        (None, Some(id)) => parameters.optional("source_id", Some(id), |_| {
            Err(Invalid::Missing { what: Field::HalfOfRideIdentity, allowed: Form::SourceAndId })
        }),
        _ => parameters.word::<SourceId>("source_id", source_id.as_deref()),
    };
    let filter = RideFilter {
        source: named.map(|source| (source, id)),
        bike_id: parameters.word("bike_id", bike_id.as_deref()),
        from: parameters.word("from", from.as_deref()),
        until: parameters.word("until", until.as_deref()),
    };
    let page = parameters.page(limit.as_deref(), after.as_deref());
    parameters.finish()?;
    let page = rides::list_all(&services, &actor, &filter, &page).await?;
    Ok(pagination::answer(&request, page, RideDocument::from))
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
/// The bike's outlook is as if the ride had been so from the start. Its `source` and `source_id` stay. `bike_id` moves it to
/// another bike; where that one has a ride of the same source and id, deleted or not, it is refused (409). `separate` says
/// that it is a ride by itself where it was taken for another source's telling of the same ride, or takes that back.
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
    let revision = seen
        .revision(async || Ok(rides::get(&services, change.actor(), bike_id, ride_id).await?.revision))
        .await?;
    let ride = rides::change(&services, &mut change, bike_id, ride_id, revision, body.0.parse()?).await?;
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
    let revision = seen
        .revision(async || Ok(rides::get(&services, change.actor(), bike_id, ride_id).await?.revision))
        .await?;
    rides::delete(&services, &mut change, bike_id, ride_id, revision).await?;
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
