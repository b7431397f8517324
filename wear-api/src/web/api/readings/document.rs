use chrono::{DateTime, Utc};
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;

use crate::domain::{Entry, Reading, Voiding};
use crate::web::schema;

/// A reading of a chain, as it was entered.
#[derive(Serialize, ToSchema)]
#[schema(as = Reading)]
pub(super) struct ReadingDocument {
    /// Its id.
    id: Uuid,
    /// The bike the chain was on.
    bike_id: Uuid,
    /// The chain.
    part_id: Uuid,
    /// When it was taken.
    taken_at: DateTime<Utc>,
    /// What it was read with.
    #[schema(value_type = schema::Instrument)]
    instrument: &'static str,
    /// Elongation that was read at one place.
    #[serde(skip_serializing_if = "Option::is_none")]
    percent: Option<f64>,
    /// Elongation that was read at several places.
    #[serde(skip_serializing_if = "Option::is_none")]
    spots: Option<Vec<f64>>,
    /// Pitches that were measured over.
    #[serde(skip_serializing_if = "Option::is_none")]
    pitches: Option<u32>,
    /// Length that was measured.
    #[serde(skip_serializing_if = "Option::is_none")]
    length_mm: Option<f64>,
    /// Mark of the gauge.
    #[serde(skip_serializing_if = "Option::is_none")]
    mark_percent: Option<f64>,
    /// Whether it dropped in.
    #[serde(skip_serializing_if = "Option::is_none")]
    drops_in: Option<bool>,
    /// Elongation that the reading comes to, the mean of several places; null for a gauge.
    elongation_percent: Option<f64>,
    /// That it doesn't count; null when it does.
    voided: Option<VoidingDocument>,
}

/// That a reading or swap doesn't count.
#[derive(Serialize, ToSchema)]
#[schema(as = Voiding)]
struct VoidingDocument {
    /// Since when.
    voided_at: DateTime<Utc>,
    /// Why.
    reason: String,
}

impl From<Reading> for ReadingDocument {
    fn from(Reading { id, bike_id, part_id, taken_at, measured, voided }: Reading) -> Self {
        let mut document = Self {
            id: id.uuid(),
            bike_id: bike_id.uuid(),
            part_id: part_id.uuid(),
            taken_at: taken_at.datetime(),
            instrument: measured.measurement().instrument().as_str(),
            percent: None,
            spots: None,
            pitches: None,
            length_mm: None,
            mark_percent: None,
            drops_in: None,
            elongation_percent: measured.measurement().as_spots().map(|spots| spots.mean()),
            voided: voided.map(|Voiding { at, reason }| VoidingDocument {
                voided_at: at.datetime(),
                reason: reason.to_string(),
            }),
        };
        match measured.entry() {
            Entry::Percent { percent, .. } => document.percent = Some(percent.get()),
            Entry::Spots { spots, .. } => {
                document.spots = Some(spots.iter().map(|spot| spot.get()).collect());
            }
            Entry::Length { pitches, length_mm, .. } => {
                document.pitches = Some(*pitches);
                document.length_mm = Some(*length_mm);
            }
            Entry::Gauge { mark, drops_in, .. } => {
                document.mark_percent = Some(mark.get());
                document.drops_in = Some(*drops_in);
            }
        }
        document
    }
}
