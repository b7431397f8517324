use chrono::{DateTime, Utc};
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;

use crate::domain::{Part, PartFacts, Place};
use crate::service::outlook::Stay;
use crate::service::parts::PartWithLife;

/// A physical part.
#[derive(Serialize, ToSchema)]
#[schema(as = Part)]
pub(super) struct PartDocument {
    /// Its id.
    id: Uuid,
    /// Where it fits.
    #[schema(value_type = Place)]
    place: &'static str,
    /// Its model; null when nobody said.
    part_model_id: Option<Uuid>,
    /// What people call it; null when it has no name.
    label: Option<String>,
    /// When it was entered.
    created_at: DateTime<Utc>,
    /// When it was done with; null while it is of use.
    retired_at: Option<DateTime<Utc>>,
    /// Counts its changes; the `ETag` is made of it.
    #[schema(minimum = 1)]
    revision: i64,
    /// What it went through.
    life: LifeDocument,
}

/// What a part went through.
#[derive(Serialize, ToSchema)]
#[schema(as = PartLife)]
struct LifeDocument {
    /// Distance.
    #[schema(minimum = 0, example = 1843.2)]
    distance_km: f64,
    /// Exposure: what chains are judged by.
    #[schema(minimum = 0, example = 2103.7)]
    reference_km: f64,
    /// The bikes that it was on, in order of time.
    bikes: Vec<StayDocument>,
}

/// A stay on a bike.
#[derive(Serialize, ToSchema)]
#[schema(as = PartStay)]
struct StayDocument {
    /// The bike.
    bike_id: Uuid,
    /// From when.
    fitted_at: DateTime<Utc>,
    /// Until when; null while it is on.
    removed_at: Option<DateTime<Utc>>,
    /// Distance there.
    #[schema(minimum = 0)]
    distance_km: f64,
    /// Exposure there.
    #[schema(minimum = 0)]
    reference_km: f64,
}

impl From<PartWithLife> for PartDocument {
    fn from(PartWithLife { part, stays }: PartWithLife) -> Self {
        let Part { id, facts: PartFacts { model_id, place, label }, created_at, retired_at, revision } = part;
        let sum = |of: fn(&Stay) -> f64| stays.iter().map(of).fold(0.0, |sum, km| sum + km);
        Self {
            id: id.uuid(),
            place: place.as_str(),
            part_model_id: model_id.map(|id| id.uuid()),
            label: label.map(|label| label.to_string()),
            created_at: created_at.datetime(),
            retired_at: retired_at.map(|at| at.datetime()),
            revision,
            life: LifeDocument {
                distance_km: sum(|stay| stay.distance_km),
                reference_km: sum(|stay| stay.reference_km),
                bikes: stays.iter().map(StayDocument::from).collect(),
            },
        }
    }
}

impl From<&Stay> for StayDocument {
    fn from(Stay { fitting, distance_km, reference_km }: &Stay) -> Self {
        Self {
            bike_id: fitting.bike_id.uuid(),
            fitted_at: fitting.fitted_at.datetime(),
            removed_at: fitting.removed_at.map(|at| at.datetime()),
            distance_km: *distance_km,
            reference_km: *reference_km,
        }
    }
}
