//! What is kept of chains and forecasts so that the fleet can learn and be held to its word.

use super::{Field, Form};
use chrono::{Datelike as _, NaiveDate};
use wear_core::degradation::WearParameters;
use wear_core::fleet::track_record::{Forecast, Score, Tally};
use wear_core::units::ReferenceKilometres;

use super::{BikeId, ForecastId, GroupName, Invalid, Measurement, PartId, ReadingId, Timestamp};

/// A chain as its bike's last outlook saw it.
#[derive(Debug, Clone, PartialEq)]
pub struct ChainRecord {
    /// The chain.
    pub part_id: PartId,
    /// The bike that it was on.
    pub bike_id: BikeId,
    /// That bike's group.
    pub group: GroupName,
    /// The chain's exposure then.
    pub reference_km: ReferenceKilometres,
    /// Its readings that count, in order, each with the chain's exposure.
    pub marks: Vec<(ReadingId, ReferenceKilometres)>,
    /// The instant of that outlook.
    pub recorded_at: Timestamp,
}

/// A chain's readings, for learning.
#[derive(Debug, Clone, PartialEq)]
pub struct ReadChain {
    /// The group of its bike.
    pub group: GroupName,
    /// Exposure and measurement of each reading.
    pub readings: Vec<(ReferenceKilometres, Measurement)>,
}

/// What was learned of one group's wear.
#[derive(Debug, Clone, PartialEq)]
pub struct FleetRate {
    /// The group; none for the fleet as a whole, and for chains of no known group.
    pub group: Option<GroupName>,
    /// Parameters of its chains.
    pub parameters: WearParameters,
    /// Standard deviation of what is known of the mean of ln θ.
    pub mean_log_rate_sd: f64,
    /// Chains in it.
    pub chains: i64,
    /// Chains of them with a reading.
    pub chains_read: i64,
    /// When it was learned.
    pub learned_at: Timestamp,
}

/// A forecast that was kept.
#[derive(Debug, Clone, PartialEq)]
pub struct KeptForecast {
    /// Its id.
    pub id: ForecastId,
    /// The chain.
    pub part_id: PartId,
    /// When it was made.
    pub made_at: Timestamp,
    /// How many readings it rests on.
    pub readings_used: i64,
    /// What it says.
    pub forecast: Forecast,
}

/// How the forecast before a reading did.
#[derive(Debug, Clone, PartialEq)]
pub struct ScoredReading {
    /// The chain.
    pub part_id: PartId,
    /// The reading.
    pub reading_id: ReadingId,
    /// The forecast that was kept; none when it was computed afterwards.
    pub forecast_id: Option<ForecastId>,
    /// The group of the bike.
    pub group: GroupName,
    /// The month of the reading where the workshop is.
    pub month: Month,
    /// The score.
    pub score: Score,
}

/// A calendar month.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Month(i64);

impl Month {
    /// The month of a date.
    #[must_use]
    pub fn of(date: NaiveDate) -> Self {
        Self(i64::from(date.year()) * 12 + i64::from(date.month0()))
    }

    /// From months since the year 0.
    #[must_use]
    pub const fn from_number(number: i64) -> Self {
        Self(number)
    }

    /// Months since the year 0.
    #[must_use]
    pub const fn number(self) -> i64 {
        self.0
    }
}

impl std::str::FromStr for Month {
    type Err = Invalid;

    fn from_str(given: &str) -> Result<Self, Invalid> {
        let first = format!("{given}-01");
        let date = (given.len() == 7).then(|| NaiveDate::parse_from_str(&first, "%Y-%m-%d").ok()).flatten();
        date.map(Self::of).ok_or(Invalid::Malformed { what: Field::Month, allowed: Form::Month })
    }
}

impl std::fmt::Display for Month {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{:04}-{:02}", self.0.div_euclid(12), self.0.rem_euclid(12) + 1)
    }
}

/// Scores of one group and month, added up.
#[derive(Debug, Clone, PartialEq)]
pub struct MonthlyTally {
    /// The group.
    pub group: GroupName,
    /// The month.
    pub month: Month,
    /// The sums.
    pub tally: Tally,
    /// How many of the forecasts were kept before the reading was taken.
    pub kept: i64,
}
