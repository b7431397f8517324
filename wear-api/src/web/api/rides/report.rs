use serde::Deserialize;
use utoipa::ToSchema;
use uuid::Uuid;
use wear_core::units::{RideClimb, RideDistance, RideEnergy};

use crate::domain::{
    BikeId, Field, FieldErrors, Form, Invalid, RideFacts, RideIdentity, Source, SourceId, Surface, Timestamp,
};
use crate::input::parse;
use crate::service::rides::RideReport;
use crate::web::schema;

/// A ride to be entered.
///
/// `source` and `source_id` make it one ride however often it is sent; without them each sending is a new one.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct NewRide {
    /// When it began.
    #[schema(value_type = String, format = DateTime)]
    pub(super) started_at: String,
    /// How far.
    #[schema(schema_with = schema::distance_km)]
    pub(super) distance_km: f64,
    /// What it was on; `paved` when left out.
    #[schema(value_type = Option<schema::Surface>)]
    pub(super) surface: Option<String>,
    /// Whether it was wet; no when left out.
    pub(super) wet: Option<bool>,
    /// How far uphill.
    #[schema(schema_with = schema::optional::climb_m, required = false)]
    pub(super) climb_m: Option<f64>,
    /// Work at the pedals, measured.
    #[schema(schema_with = schema::optional::energy_kj, required = false)]
    pub(super) energy_kj: Option<f64>,
    /// The device, app or file that logged it.
    #[schema(min_length = 1, max_length = 128)]
    pub(super) source: Option<String>,
    /// Its own id of the ride.
    #[schema(min_length = 1, max_length = 128)]
    pub(super) source_id: Option<String>,
}

/// Source of rides that came without one.
const NO_SOURCE: &str = "unnamed";

impl NewRide {
    /// Checks every field.
    ///
    /// # Errors
    /// Everything that is wrong.
    pub(super) fn parse(self, bike_id: BikeId) -> Result<RideReport, FieldErrors> {
        let Self { started_at, distance_km, surface, wet, climb_m, energy_kj, source, source_id } = self;
        let mut errors = FieldErrors::new();
        let started_at = errors.keep("/started_at", parse::text::<Timestamp>(&started_at));
        let distance = errors.keep("/distance_km", RideDistance::new(distance_km));
        let surface = match surface {
            Some(word) => errors.keep("/surface", parse::text::<Surface>(&word)),
            None => Some(Surface::Paved),
        };
        let climb = climb_m.and_then(|climb| errors.keep("/climb_m", RideClimb::new(climb)));
        let energy = energy_kj.and_then(|energy| errors.keep("/energy_kj", RideEnergy::new(energy)));
        let identity = identity(source, source_id, &mut errors);
        match (started_at, distance, surface, identity) {
            (Some(started_at), Some(distance), Some(surface), Some(identity)) if errors.is_empty() => {
                let facts = RideFacts::new(distance, climb, energy, surface, wet.unwrap_or(false));
                Ok(RideReport { bike_id, identity, started_at, facts })
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
