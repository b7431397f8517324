//! One case: a chain's readings, where it is now, and its limit.

use serde::Deserialize;
use utoipa::ToSchema;
use wear_core::degradation::{MissingRiding, Start, TimedReading};
use wear_core::fleet::ReadWith;
use wear_core::fleet::calibration::ChainHistory;
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
    /// The chain's exposure now, reference km since it was new, or since its record began when it starts as found; not
    /// before its last reading.
    #[schema(example = 1700.0, minimum = 0)]
    pub at_reference_km: f64,
    /// `new` when left out: exposure counts from a new chain. `as_found`: the chain was on when its record began, nobody
    /// knows its age, and exposure counts from there.
    #[schema(example = "new")]
    pub start: Option<String>,
    /// `all` when left out. `most`: before one reading in four some 600 reference km may be missing from the record.
    #[schema(example = "all")]
    pub rides_recorded: Option<String>,
    /// The bike that the chain is on: learning takes the other chains of the bike for part of what is known of this one.
    #[schema(example = "b12", max_length = 200)]
    pub bike: Option<String>,
}

/// A reading as it is written. Which fields are there depends on the instrument.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(as = CaseReading)]
pub struct RawReading {
    /// `rule`, `caliper`, `dial`, `drop_in` or `drop_in_isolating`.
    #[schema(example = "rule")]
    pub instrument: String,
    /// The chain's exposure when the reading was taken, counted as the case's.
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
    /// The tool it was read with: learning finds how far each tool reads high. All tools of a kind without a name count as
    /// one.
    #[schema(example = "rule-2", max_length = 200)]
    pub tool: Option<String>,
    /// Who read it: learning finds how far each person reads high, and how much his readings scatter.
    #[schema(example = "m1", max_length = 200)]
    pub read_by: Option<String>,
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
    /// How its record begins.
    pub start: Start,
    /// The bike it is on, where one was named.
    pub bike: Option<String>,
    /// What each reading was taken with and by whom.
    pub read_with: Vec<ReadWith>,
}

impl Case {
    /// What learning takes of it.
    #[must_use]
    pub fn history(&self) -> ChainHistory<'_> {
        let history =
            ChainHistory::new(&self.group, &self.readings).starting(self.start).read_with(&self.read_with);
        match &self.bike {
            Some(bike) => history.on_bike(bike),
            None => history,
        }
    }
}

impl RawCase {
    /// Checks every field.
    ///
    /// # Errors
    /// Everything that is wrong, by JSON pointer.
    pub fn parse(self) -> Result<Case, FieldErrors> {
        let Self { id, group, limit_percent, readings, at_reference_km, start, rides_recorded, bike } = self;
        let mut errors = FieldErrors::new();
        let id = errors.keep("/id", short_text(Field::Id, id));
        let group = errors.keep("/group", short_text(Field::Group, group.unwrap_or_default()));
        let limit = errors.keep("/limit_percent", Limit::new(limit_percent));
        let at = errors.keep("/at_reference_km", ReferenceKilometres::new(at_reference_km));
        let as_found = errors.keep("/start", one_of("start", start, &["new", "as_found"]));
        let most = errors.keep("/rides_recorded", one_of("rides recorded", rides_recorded, &["all", "most"]));
        let bike = bike.and_then(|bike| errors.keep("/bike", short_text(Field::Bike, bike)));
        if readings.len() > MOST_READINGS {
            let found = readings.len();
            errors.push(
                Invalid::Count { what: Field::Readings, found, minimum: 0, maximum: MOST_READINGS }
                    .at("/readings"),
            );
        }
        let mut timed = Vec::with_capacity(readings.len().min(MOST_READINGS));
        let mut read_with = Vec::with_capacity(timed.capacity());
        for (index, raw) in readings.into_iter().take(MOST_READINGS).enumerate() {
            match raw.parse(at) {
                Ok((reading, with)) => {
                    timed.push(reading);
                    read_with.push(with);
                }
                Err(wrong) => errors.extend_under(&format!("/readings/{index}"), wrong),
            }
        }
        match (id, group, limit, at) {
            (Some(id), Some(group), Some(limit), Some(at)) if errors.is_empty() => {
                if most == Some(true) {
                    let mut together: Vec<_> = timed.into_iter().zip(read_with).collect();
                    together.sort_by(|(a, _), (b, _)| a.order(b));
                    (timed, read_with) = together.into_iter().unzip();
                    timed = TimedReading::of_incomplete_record(&timed, MissingRiding::ONE_IN_FOUR);
                }
                let start = if as_found == Some(true) { Start::as_found(limit) } else { Start::New };
                Ok(Case { id, group, limit, readings: timed, at, start, bike, read_with })
            }
            _ => Err(errors),
        }
    }
}

impl RawReading {
    fn parse(self, now: Option<ReferenceKilometres>) -> Result<(TimedReading, ReadWith), FieldErrors> {
        let Self {
            instrument,
            at_reference_km,
            percent,
            spots,
            pitches,
            length_mm,
            mark_percent,
            drops_in,
            tool,
            read_by,
        } = self;
        let mut errors = FieldErrors::new();
        let with = ReadWith {
            tool: tool.and_then(|tool| errors.keep("/tool", short_text(Field::Tool, tool))),
            person: read_by.and_then(|person| errors.keep("/read_by", short_text(Field::ReadBy, person))),
        };
        let at = errors.keep("/at_reference_km", ReferenceKilometres::new(at_reference_km)).and_then(|at| {
            let ahead =
                now.filter(|now| at > *now).map(|now| Invalid::ReadingAhead { at: at.get(), now: now.get() });
            errors.keep("/at_reference_km", ahead.map_or(Ok(at), Err))
        });
        let raw = RawMeasurement { instrument, percent, spots, pitches, length_mm, mark_percent, drops_in };
        match (at, raw.parse()) {
            (Some(at), Ok(measured)) if errors.is_empty() => {
                Ok((TimedReading::new(at, *measured.measurement()), with))
            }
            (_, wrong) => {
                if let Err(wrong) = wrong {
                    errors.extend_under("", wrong);
                }
                Err(errors)
            }
        }
    }
}

/// Whether the second of two words was given; the first is what is meant when none is.
fn one_of(
    what: &'static str,
    given: Option<String>,
    allowed: &'static [&'static str; 2],
) -> Result<bool, Invalid> {
    match given {
        None => Ok(false),
        Some(word) if word == allowed[0] => Ok(false),
        Some(word) if word == allowed[1] => Ok(true),
        Some(word) => Err(Invalid::unknown_word(what, &word, allowed)),
    }
}

fn short_text(what: Field, text: String) -> Result<String, Invalid> {
    let length = text.chars().count();
    if length > 200 { Err(Invalid::TextLength { what, length, minimum: 0, maximum: 200 }) } else { Ok(text) }
}
