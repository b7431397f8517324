use actix_web::{HttpResponse, post, web};
use serde::{Deserialize, Serialize};
use serde_json::Value;
use utoipa::ToSchema;
use uuid::Uuid;

use super::listed::Listed;
use super::refused::RideNames;
use super::{NewRide, RideWarningDocument};
use crate::domain::{
    BikeId, ExternalId, Field, FieldErrors, Form, Invalid, RideIdScope, RideOutcome, RideWarning,
};
use crate::input::{WrongField, WrongFieldDocument, parse, parse_value};
use crate::service::ride_batches::{self, NamedBike};
use crate::service::rides::RideSaid;
use crate::service::{Services, hooks};
use crate::web::auth::App;
use crate::web::body::Json;
use crate::web::change::Change;
use crate::web::problem::Problem;
use crate::web::schema;

/// Most rides of one batch.
pub(super) const MOST_RIDES: usize = 10_000;

/// Largest body of a batch: 10,000 rides of 800 bytes.
const LIMIT: usize = 8_000_000;

/// Rides of any bikes.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct RideBatch {
    /// Within what `source_id` tells rides of a `source` apart: `bike`, so that the same id on another bike is another ride,
    /// or `workshop`, so that it is the same ride; `bike` when left out.
    #[schema(value_type = Option<RideIdScope>)]
    id_scope: Option<String>,
    /// The rides. Each is checked by itself: one that is wrong doesn't keep the others out.
    #[schema(value_type = Vec<BatchRide>, max_items = 10_000)]
    rides: Listed,
}

/// A ride of a batch: a ride to be entered, and its bike.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct BatchRide {
    /// The bike.
    #[schema(value_type = Option<Uuid>)]
    bike_id: Option<String>,
    /// What you call the bike, in place of `bike_id`.
    #[schema(min_length = 1, max_length = 128)]
    bike_external_id: Option<String>,
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
    /// `true` moves the ride here where another bike has it; only with `id_scope` `workshop`. When left out such a ride is
    /// refused.
    #[serde(rename = "move")]
    moves: Option<bool>,
}

impl BatchRide {
    fn parse(self, scope: RideIdScope) -> Result<(NamedBike, RideSaid, Vec<RideWarning>), FieldErrors> {
        let Self {
            bike_id,
            bike_external_id,
            started_at,
            distance_km,
            surface,
            wet,
            climb_m,
            energy_kj,
            source,
            source_id,
            moves,
        } = self;
        let mut errors = FieldErrors::new();
        let bike = match (bike_id, bike_external_id) {
            (Some(id), None) => errors.keep("/bike_id", parse::text::<BikeId>(&id)).map(NamedBike::Id),
            (None, Some(id)) => {
                errors.keep("/bike_external_id", ExternalId::new(&id)).map(NamedBike::External)
            }
            (Some(_), Some(_)) => {
                let cause = Invalid::Together { what: Field::BikeTwice, allowed: Form::OneOfThem };
                errors.push(cause.at("/bike_external_id"));
                None
            }
            (None, None) => {
                let cause = Invalid::Missing { what: Field::BikeId, allowed: Form::BikeIdOrExternal };
                errors.push(cause.at("/bike_id"));
                None
            }
        };
        let id_scope = Some(scope.as_str().to_owned());
        let ride = NewRide {
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
        };
        match (bike, ride.parse()) {
            (Some(bike), Ok((said, warnings))) => Ok((bike, said, warnings)),
            (_, Err(more)) => {
                errors.extend_under("", more);
                Err(errors)
            }
            (None, Ok(_)) => Err(errors),
        }
    }
}

/// What a batch did.
#[derive(Serialize, ToSchema)]
struct BatchReport {
    /// Rides that are new.
    accepted: u64,
    /// Rides that said something else before.
    replaced: u64,
    /// Rides that were there and said the same.
    unchanged: u64,
    /// Rides that were refused; everything else of the batch is stored.
    failed: Vec<FailedRide>,
    /// Every ride that was taken, in the order of the batch.
    rides: Vec<TakenRide>,
    /// Rides that were taken and look odd, among those of the batch.
    warnings: Vec<OddRide>,
}

/// A ride that was taken.
#[derive(Serialize, ToSchema)]
struct TakenRide {
    /// Its place in the batch, from 0.
    #[schema(minimum = 0)]
    index: usize,
    /// Its id.
    id: Uuid,
    /// Its bike.
    bike_id: Uuid,
    /// What that did: it is new, it said something else before, it said the same, or it stays deleted.
    outcome: TakenAs,
}

/// What a ride of a batch did.
#[derive(Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
enum TakenAs {
    /// It is new.
    Accepted,
    /// It said something else before.
    Replaced,
    /// It said the same before.
    Unchanged,
    /// It was deleted before, and stays so.
    Deleted,
}

impl TakenRide {
    fn new(index: usize, taken: &RideOutcome) -> Self {
        let outcome = match taken {
            RideOutcome::Inserted(_) => TakenAs::Accepted,
            RideOutcome::Replaced { .. } => TakenAs::Replaced,
            RideOutcome::Unchanged(_) => TakenAs::Unchanged,
            RideOutcome::Deleted(_) => TakenAs::Deleted,
        };
        let ride = taken.ride();
        Self { index, id: ride.id.uuid(), bike_id: ride.bike_id.uuid(), outcome }
    }
}

/// A ride that was taken and looks odd.
#[derive(Serialize, ToSchema)]
struct OddRide {
    /// Its place in the batch, from 0.
    #[schema(minimum = 0)]
    index: usize,
    #[serde(flatten)]
    warning: RideWarningDocument,
}

/// A ride that was refused.
#[derive(Serialize, ToSchema)]
struct FailedRide {
    /// Its place in the batch, from 0.
    #[schema(minimum = 0)]
    index: usize,
    /// What is wrong with it, by pointers into the ride.
    #[schema(value_type = Vec<WrongFieldDocument>)]
    errors: Vec<WrongField>,
}

/// One ride and what is odd about it, or what is wrong with it.
fn ride(
    value: Value,
    scope: RideIdScope,
) -> Result<(NamedBike, RideSaid, Vec<RideWarning>), Vec<WrongField>> {
    let ride: BatchRide = parse_value(value).map_err(|error| vec![error])?;
    ride.parse(scope).map_err(in_words)
}

fn in_words(errors: FieldErrors) -> Vec<WrongField> {
    errors.into_vec().into_iter().map(WrongField::from).collect()
}

/// Enter many rides
///
/// Up to 10,000, of any of the workshop's bikes. What is legal is stored in one transaction; what isn't is
/// named by its place in the batch. The same `source` and `source_id` on the same bike is one ride; with `id_scope`
/// `workshop` it is one ride on whichever bike, and one that another bike has is refused unless it says `"move": true`.
#[utoipa::path(
    operation_id = "create_rides",
    tag = "rides",
    security(("bearer" = ["app", "mechanic", "manager"])),
    request_body(content = RideBatch, example = json!({"rides": [{
        "bike_id": "019abf3e-6a34-7d6e-9a51-0d3c5e1f2a10", "started_at": "2026-03-01T08:00:00Z",
        "distance_km": 18.4, "source": "log", "source_id": "r1"
    }]})),
    responses((status = 200, description = "What was stored and what wasn't", body = BatchReport,
        example = json!({"accepted": 0, "replaced": 0, "unchanged": 0, "failed": [{"index": 0, "errors": [{
            "pointer": "/bike_id", "message": "there is no such bike", "allowed": "id of a bike of this workshop"
        }]}], "rides": [], "warnings": []})))
)]
#[post("/v1/rides")]
pub(super) async fn create_rides(
    services: web::Data<Services>,
    mut change: Change<App>,
    body: Json<RideBatch, LIMIT>,
) -> Result<HttpResponse, Problem> {
    let RideBatch { id_scope, rides } = body.0;
    let scope = match id_scope.map(|word| parse::text::<RideIdScope>(&word)).transpose() {
        Ok(scope) => scope.unwrap_or(RideIdScope::Bike),
        Err(cause) => return Err(FieldErrors::from(cause.at("/id_scope")).into()),
    };
    let Listed { rides, found } = rides;
    if found > MOST_RIDES {
        let cause = Invalid::Count { what: Field::Rides, found, minimum: 0, maximum: MOST_RIDES };
        return Err(FieldErrors::from(cause.at("/rides")).into());
    }
    let mut failed = Vec::new();
    let mut odd: Vec<(usize, RideWarning)> = Vec::new();
    let mut reports = Vec::with_capacity(rides.len());
    let mut named = Vec::with_capacity(rides.len());
    for (index, value) in rides.into_iter().enumerate() {
        named.push(RideNames::of(&value));
        match ride(value, scope) {
            Ok((bike, said, warnings)) => {
                odd.extend(warnings.into_iter().map(|warning| (index, warning)));
                reports.push(ride_batches::BatchRide { index, bike, said });
            }
            Err(errors) => failed.push(FailedRide { index, errors }),
        }
    }
    let outcome = ride_batches::post(&services, &mut change, reports).await?;
    let ride_batches::BatchOutcome { taken, failed: refused, warnings } = outcome;
    failed.extend(refused.into_iter().map(|(index, errors)| FailedRide { index, errors: in_words(errors) }));
    failed.sort_by_key(|ride| ride.index);
    let rejected = failed.iter().map(|ride| {
        let names = named.get_mut(ride.index).map(std::mem::take).unwrap_or_default();
        names.refused(Some(ride.index), ride.errors.clone())
    });
    hooks::rides_rejected(&services, &mut change, &rejected.collect::<Vec<_>>()).await?;
    odd.retain(|(index, _)| failed.iter().all(|ride| ride.index != *index));
    odd.extend(warnings);
    odd.sort_by_key(|(index, _)| *index);
    let warnings =
        odd.into_iter().map(|(index, warning)| OddRide { index, warning: warning.into() }).collect();
    let rides: Vec<TakenRide> = taken.iter().map(|(index, taken)| TakenRide::new(*index, taken)).collect();
    let count = |is: fn(&TakenAs) -> bool| rides.iter().filter(|ride| is(&ride.outcome)).count() as u64;
    let report = BatchReport {
        accepted: count(|it| matches!(it, TakenAs::Accepted)),
        replaced: count(|it| matches!(it, TakenAs::Replaced)),
        unchanged: count(|it| matches!(it, TakenAs::Unchanged | TakenAs::Deleted)),
        failed,
        rides,
        warnings,
    };
    Ok(HttpResponse::Ok().json(report))
}
