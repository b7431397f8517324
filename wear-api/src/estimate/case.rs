//! One case: a chain's readings, where it is now, and its limit.

use std::collections::BTreeMap;

use chrono::NaiveDate;
use serde::Deserialize;
use utoipa::ToSchema;
use wear_core::degradation::{MissingRiding, Start, TimedReading};
use wear_core::fleet::calibration::ChainHistory;
use wear_core::fleet::{Days, LubricantShare, ReadWith};
use wear_core::units::{Limit, Probability, ReferenceKilometres};

use crate::domain::{Field, FieldErrors, Invalid};
use crate::input::{RawMeasurement, parse};

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
    /// The chain's model: learning finds how much faster or slower each model wears, where there are two.
    #[schema(example = "coated", max_length = 200)]
    pub model: Option<String>,
    /// Share of the chain's exposure run on each lubricant; they sum to 1 at most, and what is left was run on one
    /// that nobody knows.
    #[schema(example = json!({"wax": 0.8}))]
    #[serde(default)]
    pub lubricants: BTreeMap<String, f64>,
    /// The day on which the exposure began to count.
    #[schema(example = "2026-01-01", format = Date)]
    pub started_on: Option<String>,
    /// The day that `at_reference_km` is of. Left out: the latest that any case names.
    #[schema(example = "2026-08-01", format = Date)]
    pub on: Option<String>,
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
    /// The day it was taken. Where each reading of a case has one, learning finds how wear drifts over the years.
    #[schema(example = "2026-04-30", format = Date)]
    pub on: Option<String>,
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
    /// Its model, where one was named.
    pub model: Option<String>,
    /// What it was lubricated with.
    pub lubricants: Vec<LubricantShare>,
    /// The day on which its exposure began to count.
    pub started_on: Option<i32>,
    /// The day of each reading; none where one of them has none.
    pub read_on: Vec<i32>,
    /// The day of now.
    pub on: Option<i32>,
}

impl Case {
    /// What learning takes of it.
    #[must_use]
    pub fn history(&self) -> ChainHistory<'_> {
        let mut history = ChainHistory::new(&self.group, &self.readings)
            .starting(self.start)
            .read_with(&self.read_with)
            .lubricated(&self.lubricants)
            .on_days(self.days());
        if let Some(bike) = &self.bike {
            history = history.on_bike(bike);
        }
        if let Some(model) = &self.model {
            history = history.of_model(model);
        }
        history
    }

    /// The days of its readings.
    #[must_use]
    pub fn days(&self) -> Days<'_> {
        let days = Days::of_readings(&self.read_on);
        self.started_on.map_or(days, |day| days.begun(day))
    }
}

impl RawCase {
    /// Checks every field.
    ///
    /// # Errors
    /// Everything that is wrong, by JSON pointer.
    pub fn parse(self) -> Result<Case, FieldErrors> {
        let Self {
            id,
            group,
            limit_percent,
            readings,
            at_reference_km,
            start,
            rides_recorded,
            bike,
            model,
            lubricants,
            started_on,
            on,
        } = self;
        let mut errors = FieldErrors::new();
        let id = errors.keep("/id", short_text(Field::Id, id));
        let group = errors.keep("/group", short_text(Field::Group, group.unwrap_or_default()));
        let limit = errors.keep("/limit_percent", Limit::new(limit_percent));
        let at = errors.keep("/at_reference_km", ReferenceKilometres::new(at_reference_km));
        let as_found = errors.keep("/start", one_of("start", start, &["new", "as_found"]));
        let most = errors.keep("/rides_recorded", one_of("rides recorded", rides_recorded, &["all", "most"]));
        let bike = bike.and_then(|bike| errors.keep("/bike", short_text(Field::Bike, bike)));
        let model = model.and_then(|model| errors.keep("/model", short_text(Field::Model, model)));
        let lubricants = errors.keep("/lubricants", shares(lubricants)).unwrap_or_default();
        let mut day = |pointer: &str, given: Option<String>| {
            given.and_then(|given| errors.keep(pointer, day_number(&given)))
        };
        let (started_on, on) = (day("/started_on", started_on), day("/on", on));
        if readings.len() > MOST_READINGS {
            let found = readings.len();
            errors.push(
                Invalid::Count { what: Field::Readings, found, minimum: 0, maximum: MOST_READINGS }
                    .at("/readings"),
            );
        }
        let mut timed = Vec::with_capacity(readings.len().min(MOST_READINGS));
        let mut read_with = Vec::with_capacity(timed.capacity());
        let mut read_on = Vec::with_capacity(timed.capacity());
        for (index, raw) in readings.into_iter().take(MOST_READINGS).enumerate() {
            match raw.parse(at) {
                Ok((reading, with, day)) => {
                    timed.push(reading);
                    read_with.push(with);
                    read_on.push(day);
                }
                Err(wrong) => errors.extend_under(&format!("/readings/{index}"), wrong),
            }
        }
        match (id, group, limit, at) {
            (Some(id), Some(group), Some(limit), Some(at)) if errors.is_empty() => {
                if most == Some(true) {
                    let mut together: Vec<_> =
                        timed.into_iter().zip(read_with.into_iter().zip(read_on)).collect();
                    together.sort_by(|(a, _), (b, _)| a.order(b));
                    (timed, (read_with, read_on)) = together.into_iter().unzip();
                    timed = TimedReading::of_incomplete_record(&timed, MissingRiding::ONE_IN_FOUR);
                }
                let start = if as_found == Some(true) { Start::as_found(limit) } else { Start::New };
                let read_on = read_on.into_iter().collect::<Option<Vec<i32>>>().unwrap_or_default();
                Ok(Case {
                    id,
                    group,
                    limit,
                    readings: timed,
                    at,
                    start,
                    bike,
                    read_with,
                    model,
                    lubricants,
                    started_on,
                    read_on,
                    on,
                })
            }
            _ => Err(errors),
        }
    }
}

impl RawReading {
    fn parse(
        self,
        now: Option<ReferenceKilometres>,
    ) -> Result<(TimedReading, ReadWith, Option<i32>), FieldErrors> {
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
            on,
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
        let on = on.and_then(|on| errors.keep("/on", day_number(&on)));
        let raw = RawMeasurement { instrument, percent, spots, pitches, length_mm, mark_percent, drops_in };
        match (at, raw.parse()) {
            (Some(at), Ok(measured)) if errors.is_empty() => {
                Ok((TimedReading::new(at, *measured.measurement()), with, on))
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

/// Shares by lubricant, each from 0 to 1, together 1 at most.
fn shares(given: BTreeMap<String, f64>) -> Result<Vec<LubricantShare>, Invalid> {
    let sum: f64 = given.values().sum();
    let one = |(lubricant, share): (String, f64)| {
        let lubricant = short_text(Field::Lubricant, lubricant)?;
        Ok(LubricantShare { lubricant, share: Probability::new(share)? })
    };
    let shares: Vec<LubricantShare> = given.into_iter().map(one).collect::<Result<_, Invalid>>()?;
    // A sum of shares that were rounded may come out a little above 1.
    Probability::new(sum.min(if sum < 1.001 { 1.0 } else { sum }))?;
    Ok(shares)
}

/// A date as days since 1970-01-01.
fn day_number(given: &str) -> Result<i32, Invalid> {
    let days = parse::date(given)?.signed_duration_since(NaiveDate::default()).num_days();
    Ok(i32::try_from(days).unwrap_or(i32::MAX))
}

fn short_text(what: Field, text: String) -> Result<String, Invalid> {
    let length = text.chars().count();
    if length > 200 { Err(Invalid::TextLength { what, length, minimum: 0, maximum: 200 }) } else { Ok(text) }
}
