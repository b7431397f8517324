//! What was ridden.

mod batch;
mod change;
mod delete;
mod get;
mod list;
mod post;
mod rejected;
mod report;

use chrono::{DateTime, Utc};
use serde::Serialize;
use utoipa::ToSchema;
use utoipa_actix_web::service_config::ServiceConfig;
use uuid::Uuid;

use crate::domain::{Ride, RideIdentity};
use crate::web::schema;

pub(super) fn operations(config: &mut ServiceConfig<'_>) {
    config
        .service(post::create_ride)
        .service(list::list_rides)
        .service(get::get_ride)
        .service(change::change_ride)
        .service(delete::delete_ride)
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
    fn from(Ride { id, bike_id, identity, started_at, facts, load, revision }: Ride) -> Self {
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

/// A page of rides.
#[derive(ToSchema)]
#[allow(dead_code)]
struct RideList {
    /// Rides of this page, newest first.
    items: Vec<RideDocument>,
}
