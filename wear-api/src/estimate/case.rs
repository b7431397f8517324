//! One case: a chain's readings, where it is now, and its limit.

use serde::Deserialize;
use utoipa::ToSchema;
use wear_core::degradation::TimedReading;
use wear_core::units::{Limit, ReferenceKilometres};

use crate::domain::{Field, FieldErrors, Invalid};
use crate::input::RawMeasurement;

/// Most readings of one case.
const MOST_READINGS: usize = 1_000;

/// A case as it is written.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct RawCase {
    /// The caller's name for the chain; it comes back with the answer.
    #[schema(example = "7f", max_length = 200)]
    pub id: String,
    /// Chains that are expected to wear alike; only learning looks at it.
    #[schema(example = "town-8s", max_length = 200)]
    pub group: Option<String>,
    /// Elongation at which the chain comes off, percent.
    #[schema(example = 0.75, minimum = 0.2, maximum = 2.0)]
    pub limit_percent: f64,
    /// Readings in any order.
    #[serde(default)]
    #[schema(max_items = 1000)]
    pub readings: Vec<RawReading>,
    /// The chain's exposure now, reference km since it was new; not before its last reading.
    #[schema(example = 1700.0, minimum = 0)]
    pub at_reference_km: f64,
}

/// A reading as it is written. Which fields are there depends on the instrument.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(as = CaseReading)]
pub struct RawReading {
    /// `rule`, `caliper`, `dial`, `drop_in` or `drop_in_isolating`.
    #[schema(example = "rule")]
    pub instrument: String,
    /// The chain's exposure when the reading was taken, reference km since it was new.
    #[schema(example = 812.0, minimum = 0)]
    pub at_reference_km: f64,
    /// Elongation at one place, percent.
    #[schema(example = 0.21, minimum = -0.3, maximum = 3.0)]
    pub percent: Option<f64>,
    /// Elongation at several places, percent.
    pub spots: Option<Vec<f64>>,
    /// Pitches that a length was measured over; 24 when they are left out.
    pub pitches: Option<i64>,
    /// Length over these pitches, mm.
    pub length_mm: Option<f64>,
    /// Nominal mark of a drop-in gauge, percent.
    pub mark_percent: Option<f64>,
    /// Whether the gauge dropped in.
    pub drops_in: Option<bool>,
}

/// A case that can be answered.
#[derive(Debug, Clone, PartialEq)]
pub struct Case {
    /// The caller's name for the chain.
    pub id: String,
    /// Its group; the empty one when none was given.
    pub group: String,
    /// Its limit.
    pub limit: Limit,
    /// Its readings.
    pub readings: Vec<TimedReading>,
    /// Its exposure now.
    pub at: ReferenceKilometres,
}

impl RawCase {
    /// Checks every field.
    ///
    /// # Errors
    /// Everything that is wrong, by JSON pointer.
    pub fn parse(self) -> Result<Case, FieldErrors> {
        let Self { id, group, limit_percent, readings, at_reference_km } = self;
        let mut errors = FieldErrors::new();
        let id = errors.keep("/id", short_text(Field::Id, id));
        let group = errors.keep("/group", short_text(Field::Group, group.unwrap_or_default()));
        let limit = errors.keep("/limit_percent", Limit::new(limit_percent));
        let at = errors.keep("/at_reference_km", ReferenceKilometres::new(at_reference_km));
        if readings.len() > MOST_READINGS {
            let found = readings.len();
            errors.push(
                Invalid::Count { what: Field::Readings, found, minimum: 0, maximum: MOST_READINGS }
                    .at("/readings"),
            );
        }
        let mut timed = Vec::with_capacity(readings.len().min(MOST_READINGS));
        for (index, raw) in readings.into_iter().take(MOST_READINGS).enumerate() {
            match raw.parse(at) {
                Ok(reading) => timed.push(reading),
                Err(wrong) => errors.extend_under(&format!("/readings/{index}"), wrong),
            }
        }
        match (id, group, limit, at) {
            (Some(id), Some(group), Some(limit), Some(at)) if errors.is_empty() => {
                Ok(Case { id, group, limit, readings: timed, at })
            }
            _ => Err(errors),
        }
    }
}

impl RawReading {
    fn parse(self, now: Option<ReferenceKilometres>) -> Result<TimedReading, FieldErrors> {
        let Self { instrument, at_reference_km, percent, spots, pitches, length_mm, mark_percent, drops_in } =
            self;
        let mut errors = FieldErrors::new();
        let at = errors.keep("/at_reference_km", ReferenceKilometres::new(at_reference_km)).and_then(|at| {
            let ahead =
                now.filter(|now| at > *now).map(|now| Invalid::ReadingAhead { at: at.get(), now: now.get() });
            errors.keep("/at_reference_km", ahead.map_or(Ok(at), Err))
        });
        let raw = RawMeasurement { instrument, percent, spots, pitches, length_mm, mark_percent, drops_in };
        match (at, raw.parse()) {
            (Some(at), Ok(measured)) => Ok(TimedReading::new(at, *measured.measurement())),
            (_, wrong) => {
                if let Err(wrong) = wrong {
                    errors.extend_under("", wrong);
                }
                Err(errors)
            }
        }
    }
}

fn short_text(what: Field, text: String) -> Result<String, Invalid> {
    let length = text.chars().count();
    if length > 200 { Err(Invalid::TextLength { what, length, minimum: 0, maximum: 200 }) } else { Ok(text) }
}
