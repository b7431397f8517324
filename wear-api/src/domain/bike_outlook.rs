//! A bike's outlook, with the bike, the instant and the dates that it is for.

use std::ops::Deref;

use chrono::{Days, NaiveDate};
use chrono_tz::Tz;
use serde::{Deserialize, Serialize};

use wear_core::Moment;
use wear_core::bike::{CassetteReport, RingReport};

use super::{
    BikeId, FleetRate, PartId, PartModelId, Place, Position, Timestamp, ToolId, UseSeason, WearEffects,
};

/// What outlooks were told in that an earlier version wrote.
const fn utc() -> Tz {
    Tz::UTC
}

/// A bike's outlook: the library's, for a bike of the store and for dates of its workshop.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Outlook {
    /// The bike.
    pub bike_id: BikeId,
    /// The chain it speaks of; none when the bike has none.
    pub part_id: Option<PartId>,
    /// The instant it was computed for.
    pub computed_at: Timestamp,
    /// The date of that instant where the workshop is, from which its days are counted.
    pub today: NaiveDate,
    /// The zone by whose clock the library's moments are told.
    #[serde(default = "utc")]
    pub zone: Tz,
    /// What was learned of the tools and people of its readings, and of the bike.
    #[serde(default, skip_serializing_if = "Taught::is_nothing")]
    pub taught: Taught,
    /// What is known, and what to do.
    #[serde(flatten)]
    pub known: wear_core::Outlook,
}

/// What was learned of the tools and people of a chain's readings, and of its bike.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct Taught {
    /// How each pair of a tool and a person among them errs.
    pub reading_errors: Vec<ReadingError>,
    /// Other chains of the bike that tell how fast it wears them.
    pub bike_chains: usize,
    /// From whose riding the season ahead is known, where its own record doesn't tell.
    #[serde(default)]
    pub use_season: UseSeason,
    /// What the chain's model makes of its group's wear, as a factor; none where nothing was learned of it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub model_factor: Option<f64>,
    /// What the lubricant that the chain is ridden under now makes of its group's wear, as a factor; none where it isn't known
    /// which that is, and where nothing was learned of it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lubricant_factor: Option<f64>,
    /// What a year makes of the fleet's wear, as a factor; none where nothing was learned of that.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub yearly_factor: Option<f64>,
    /// What of rain, gravel, mud, trainers and neglect the fleet has learned.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub conditions: Vec<String>,
}

/// How readings with a tool and by a person err.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ReadingError {
    /// The kind of tool.
    pub instrument: String,
    /// The tool; none where nobody named it.
    pub tool_id: Option<ToolId>,
    /// What it was called then.
    pub tool: Option<String>,
    /// Who read.
    pub read_by: Option<String>,
    /// Read minus true, percent; of a gauge, by how much it drops in early.
    pub bias: f64,
    /// Standard deviation of what isn't known of that, percent.
    pub bias_sd: f64,
}

impl Taught {
    /// Whether nothing was learned.
    #[must_use]
    pub fn is_nothing(&self) -> bool {
        *self == Self::default()
    }

    /// The same with what was learned of the chain's model and of how wear drifts, where the bike goes by a learned rate.
    pub fn learned_rate(
        &mut self,
        rate: Option<&FleetRate>,
        effects: &WearEffects,
        model: Option<PartModelId>,
    ) {
        let Some(rate) = rate else { return };
        let (mean, variance) = effects.over_usual(model, rate.group.as_ref());
        self.model_factor = (mean != 0.0 || variance > 0.0).then(|| mean.exp());
        self.conditions = effects.learned_conditions().map(|it| it.as_str().to_owned()).collect();
        self.yearly_factor = effects.drift.map(|drift| drift.per_year.exp());
    }
}

/// Dates at 10, 50 and 90 %; none where the date is more than ten years away.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct DateBand {
    /// One chance in ten before this day.
    pub p10: Option<NaiveDate>,
    /// As likely before as after.
    pub p50: Option<NaiveDate>,
    /// Nine chances in ten before this day.
    pub p90: Option<NaiveDate>,
}

impl Outlook {
    /// When a moment was that it speaks of.
    #[must_use]
    pub fn time_of(&self, moment: Moment) -> Timestamp {
        Timestamp::of(moment, self.zone)
    }
}

impl Deref for Outlook {
    type Target = wear_core::Outlook;

    fn deref(&self) -> &wear_core::Outlook {
        &self.known
    }
}

impl Outlook {
    fn date(&self, days: u32) -> Option<NaiveDate> {
        self.today.checked_add_days(Days::new(u64::from(days)))
    }

    /// Day on which the probability of being over passes the accepted risk.
    #[must_use]
    pub fn swap_by(&self) -> Option<NaiveDate> {
        self.known.swap_in_days.and_then(|days| self.date(days))
    }

    /// Day by which a reading pays.
    #[must_use]
    pub fn measure_by(&self) -> Option<NaiveDate> {
        self.known.measure_in_days.and_then(|days| self.date(days))
    }

    /// When the limit is reached; none without use.
    #[must_use]
    pub fn limit_on(&self) -> Option<DateBand> {
        let date = |days: Option<u32>| days.and_then(|days| self.date(days));
        let days = self.known.limit_in_days?;
        Some(DateBand { p10: date(days.p10), p50: date(days.p50), p90: date(days.p90) })
    }
}

/// A cassette, cog or ring goes when the chain goes, once a new chain would skip on it with this probability (A): so say
/// plan, card, swap and outlook alike.
pub const GOES_WITH_CHAIN: f64 = 0.5;

/// What goes on together with the next chain, by what is reported of the sprockets.
#[must_use]
pub fn with_chain(cassette: Option<&CassetteReport>, rings: &[RingReport]) -> Vec<Place> {
    let cassette = cassette.filter(|report| report.probability_skips >= GOES_WITH_CHAIN);
    let cassette =
        cassette.map(|report| if report.sprockets.len() == 1 { Place::Cog } else { Place::Cassette });
    let ring = rings.iter().any(|ring| ring.probability_worn >= GOES_WITH_CHAIN).then_some(Place::Ring);
    cassette.into_iter().chain(ring).collect()
}

impl Outlook {
    /// Probability that the part at a place is worn out: of cassette and cogs that a new chain would skip on them. None for
    /// chains, and where nothing is known of the place.
    #[must_use]
    pub fn worn_out(&self, place: Place, position: Position) -> Option<f64> {
        let position = usize::from(position.get());
        match place {
            Place::Cassette => self.known.cassette.as_ref().map(|report| report.probability_skips),
            // Cogs are counted from the fewest teeth, as they are reported; rings from the most, the other way round.
            Place::Cog => {
                let cog = self.known.cassette.as_ref()?.sprockets.get(position)?;
                Some(cog.probability_skips)
            }
            Place::Ring => self.known.rings.iter().rev().nth(position).map(|report| report.probability_worn),
            Place::Chain | Place::JockeyWheels => None,
        }
    }
}

/// A reason's stable word, with its numbers by name.
#[must_use]
pub fn by_code(reason: wear_core::Reason) -> (String, serde_json::Map<String, serde_json::Value>) {
    let mut parameters = match serde_json::to_value(reason) {
        Ok(serde_json::Value::Object(members)) => members,
        _ => serde_json::Map::new(),
    };
    let code = parameters.remove("code").and_then(|code| code.as_str().map(str::to_owned));
    (code.unwrap_or_default(), parameters)
}
