//! How a year goes for a workshop's bikes.

use std::fmt;

use chrono::{Datelike as _, NaiveDate};
use serde::{Deserialize, Serialize};
use wear_core::forecast::{UseHistory, UsualYear};
use wear_core::sentences::{Decimal, Parameter};

use super::{BikeId, GroupName, Timestamp};

/// From whose riding the season of a bike's use ahead is known.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum UseSeason {
    /// Its group's.
    Group,
    /// Its workshop's.
    Workshop,
    /// Its own.
    Bike,
    /// Nobody's: less than a year is on record.
    #[default]
    Assumed,
}

impl UseSeason {
    /// Its stable word.
    #[must_use]
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Group => "group",
            Self::Workshop => "workshop",
            Self::Bike => "bike",
            Self::Assumed => "assumed",
        }
    }
}

/// How a bike was used.
#[derive(Debug, Clone, PartialEq)]
pub struct UsedBike {
    /// The bike.
    pub bike_id: BikeId,
    /// Its group.
    pub group: GroupName,
    /// Its use.
    pub history: UseHistory,
}

/// How a year goes for the bikes of a group, as it was learned last.
#[derive(Debug, Clone, PartialEq)]
pub struct GroupYear {
    /// The group; none for the workshop as a whole, whose year holds for groups that have none.
    pub group: Option<GroupName>,
    /// Its year.
    pub year: UsualYear,
    /// Bikes that it was learned from.
    pub bikes: i64,
    /// When it was learned.
    pub learned_at: Timestamp,
}

/// Use in a month over the year's mean.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MonthShare {
    /// 1 to 12.
    pub month: u32,
    /// Times the year's mean: as likely less as more.
    pub p50: f64,
    /// One chance in ten that it is less.
    pub p10: f64,
    /// One chance in ten that it is more.
    pub p90: f64,
}

/// A month of the year in a sentence.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct MonthNamed(u8);

impl MonthNamed {
    fn of(share: &MonthShare) -> Self {
        Self(u8::try_from(share.month).unwrap_or(1))
    }
}

impl fmt::Display for MonthNamed {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let first = NaiveDate::from_ymd_opt(2026, u32::from(self.0), 1).unwrap_or_default();
        write!(f, "{}", first.format("%B"))
    }
}

impl From<&MonthNamed> for Parameter {
    fn from(month: &MonthNamed) -> Self {
        Self::Month(month.0)
    }
}

wear_core::sentences! {
    /// How use goes with the year.
    SeasonSaid {
        NotYet { days: u32 } = "not_yet",
            "Less than a year is on record ({days} days): no season is known, and dates allow for one";
        Flat = "flat", "About the same all year";
        Peak { most: MonthNamed, times: Decimal, give_or_take: Decimal, least: MonthNamed, least_times: Decimal } = "peak",
            "Most is ridden in {most}: {times} times the year's mean, give or take {give_or_take} %; least in {least}: {least_times} times";
    }
}

/// Standard normal deviate of P90.
const P90: f64 = 1.281_551_565_544_6;

/// Months within a tenth of the mean are no season worth a word (A).
const WORTH_A_WORD: f64 = 0.1;

impl GroupYear {
    /// From where a bike that is forecast with it has its season.
    #[must_use]
    pub fn season_of(&self) -> UseSeason {
        match &self.group {
            _ if !self.year.is_learned() => UseSeason::Assumed,
            Some(_) if self.year.is_its_own() => UseSeason::Group,
            _ => UseSeason::Workshop,
        }
    }

    /// Use in each month of a calendar year over the year's mean; none while less than a year is on record.
    #[must_use]
    pub fn months(&self, year: i32) -> Vec<MonthShare> {
        let month = |month: u32| {
            let first = NaiveDate::from_ymd_opt(year, month, 1)?;
            let next = NaiveDate::from_ymd_opt(year + i32::from(month == 12), month % 12 + 1, 1)?;
            let days = u16::try_from((next - first).num_days()).ok()?;
            let since = i64::from(first.num_days_from_ce() - NaiveDate::default().num_days_from_ce());
            let (p50, ln_sd) = self.year.share_over(since, days)?;
            let by = (P90 * ln_sd).exp();
            Some(MonthShare { month, p50, p10: p50 / by, p90: p50 * by })
        };
        (1..=12).filter_map(month).collect()
    }

    /// The season in a sentence.
    #[must_use]
    pub fn said(&self, year: i32) -> SeasonSaid {
        let months = self.months(year);
        let by_use = |a: &&MonthShare, b: &&MonthShare| a.p50.total_cmp(&b.p50);
        let (Some(least), Some(most)) = (months.iter().min_by(by_use), months.iter().max_by(by_use)) else {
            return SeasonSaid::NotYet { days: u32::try_from(self.year.days_on_record()).unwrap_or(0) };
        };
        if most.p50 < 1.0 + WORTH_A_WORD && least.p50 > 1.0 - WORTH_A_WORD {
            return SeasonSaid::Flat;
        }
        SeasonSaid::Peak {
            most: MonthNamed::of(most),
            times: Decimal::new(most.p50, 1),
            give_or_take: Decimal::new(100.0 * (most.p90 / most.p50 - 1.0), 0),
            least: MonthNamed::of(least),
            least_times: Decimal::new(least.p50, 1),
        }
    }
}
