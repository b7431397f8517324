//! What is kept of chains and forecasts so that the fleet can learn and be held to its word.

use super::{Field, Form, NoticeSaid};
use chrono::{Datelike as _, NaiveDate};
use wear_core::bike::{Rate, RateSource};
use wear_core::degradation::{Start, WearParameters};
use wear_core::fleet::multipliers::ReadExposure;
use wear_core::fleet::track_record::{Forecast, Record, Score, Tally};
use wear_core::fleet::{BikeShare, ChainLevel, LubricantShare};
use wear_core::units::{LogSd, ReferenceKilometres};

use super::{
    BikeId, ForecastId, GroupName, Invalid, LubricantUse, Measurement, PartId, PartModelId, ReadWith,
    ReadingId, Timestamp,
};

/// A chain as its bike's last outlook saw it.
#[derive(Debug, Clone, PartialEq)]
pub struct ChainRecord {
    /// The chain.
    pub part_id: PartId,
    /// The bike that it was on.
    pub bike_id: BikeId,
    /// That bike's group.
    pub group: GroupName,
    /// How its record begins.
    pub start: Start,
    /// The chain's exposure then.
    pub reference_km: ReferenceKilometres,
    /// Its readings that count, in order, each with the chain's exposure.
    pub marks: Vec<(ReadingId, ReadExposure)>,
    /// The instant of that outlook.
    pub recorded_at: Timestamp,
    /// What it was ridden under up to its last reading, by lubricants' ids.
    pub read_under: Vec<LubricantShare>,
    /// The same up to that outlook.
    pub ridden_under: Vec<LubricantUse>,
}

/// A chain's readings, for learning.
#[derive(Debug, Clone, PartialEq)]
pub struct ReadChain {
    /// The chain.
    pub part_id: PartId,
    /// The bike that it was on.
    pub bike_id: BikeId,
    /// The group of its bike.
    pub group: GroupName,
    /// How its record begins.
    pub start: Start,
    /// Exposure and measurement of each reading, with its tool and its person.
    pub readings: Vec<(ReadExposure, Measurement, ReadWith)>,
    /// When each was taken.
    pub taken_at: Vec<Timestamp>,
    /// Its model, where that is known.
    pub model: Option<PartModelId>,
    /// When its record began.
    pub begun_at: Option<Timestamp>,
    /// What it was ridden under up to its last reading, by lubricants' ids.
    pub read_under: Vec<LubricantShare>,
    /// The same up to its last outlook.
    pub ridden_under: Vec<LubricantUse>,
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
    /// How much of the difference among chains is their bikes'.
    pub of_bikes: BikeShare,
    /// Whether gauges could be judged.
    pub gauges_judged: bool,
    /// Chains in it.
    pub chains: i64,
    /// Chains of them with a reading.
    pub chains_read: i64,
    /// When it was learned.
    pub learned_at: Timestamp,
}

impl FleetRate {
    /// As the library takes it.
    #[must_use]
    pub fn rate(&self) -> Rate {
        let common = LogSd::new(self.mean_log_rate_sd).unwrap_or(LogSd::ZERO);
        Rate::new(self.parameters.with_common_spread(common), self.source())
    }

    /// The same on a bike of which other chains have `told`, for a chain whose model is worth this much over the group's usual
    /// ones: see [`super::WearEffects::over_usual`].
    #[must_use]
    pub fn rate_on_bike(&self, told: impl Iterator<Item = ChainLevel>, of_model: (f64, f64)) -> Rate {
        let of_group = *self.rate().parameters();
        Rate::new(self.of_bikes.parameters(&self.with_model(of_group, of_model), told), self.source())
    }

    /// Parameters of chains whose ln θ is over the group's by this mean, known to this variance.
    fn with_model(&self, of_group: WearParameters, (mean, variance): (f64, f64)) -> WearParameters {
        if mean == 0.0 && variance == 0.0 {
            return of_group;
        }
        let sd = (of_group.sd_log_rate().powi(2) + variance).sqrt();
        let common = (self.mean_log_rate_sd.powi(2) + variance).sqrt();
        of_group
            .with_log_rate(of_group.mean_log_rate() + mean, sd)
            .and_then(|p| Ok(p.with_common_spread(LogSd::new(common)?)))
            .unwrap_or(of_group)
    }

    /// Whose chains it was learned from.
    #[must_use]
    pub fn source(&self) -> RateSource {
        let chains_read = u64::try_from(self.chains_read).unwrap_or(0);
        match &self.group {
            Some(group) => RateSource::Group { group: group.as_str().to_owned(), chains_read },
            None => RateSource::Fleet { chains_read },
        }
    }
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
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
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

    /// Its first day.
    #[must_use]
    pub fn begins(self) -> NaiveDate {
        let (year, month) = (self.0.div_euclid(12), self.0.rem_euclid(12) + 1);
        NaiveDate::from_ymd_opt(year as i32, month as u32, 1).unwrap_or_default()
    }

    /// The first month of its quarter.
    #[must_use]
    pub const fn quarter(self) -> Self {
        Self(self.0 - self.0.rem_euclid(3))
    }

    /// The first day after its quarter.
    #[must_use]
    pub fn quarter_ends(self) -> NaiveDate {
        Self(self.quarter().0 + 3).begins()
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

/// Forecasts whose coverage has left the band that chance explains.
#[derive(Debug, Clone, PartialEq)]
pub struct Drift {
    /// Of which group; none for all groups together.
    pub group: Option<GroupName>,
    /// What became of the forecasts.
    pub record: Record,
    /// Readings that were forecast.
    pub readings: u64,
}

impl Drift {
    /// The drift of a group's forecasts, or of all; none while chance explains their coverage.
    #[must_use]
    pub fn of(group: Option<&GroupName>, tally: &Tally) -> Option<Self> {
        let record = tally.record().filter(Record::has_drifted)?;
        Some(Self { group: group.cloned(), record, readings: tally.readings })
    }

    /// Whether the forecasts were surer than they should have been; else they were less sure than they could have been.
    #[must_use]
    pub fn is_too_narrow(&self) -> bool {
        self.record.coverage < self.record.coverage_band.0
    }

    /// That in words, with its stable code.
    #[must_use]
    pub fn said(&self) -> NoticeSaid {
        let percent = NoticeSaid::percent;
        let (least, most) = self.record.coverage_band;
        let (least, most, percent) = (percent(least), percent(most), percent(self.record.coverage));
        let readings = u32::try_from(self.readings).unwrap_or(u32::MAX);
        if self.is_too_narrow() {
            NoticeSaid::RecordTooNarrow { percent, readings, least, most }
        } else {
            NoticeSaid::RecordTooWide { percent, readings, least, most }
        }
    }
}
