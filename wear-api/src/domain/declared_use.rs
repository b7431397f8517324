//! How far bikes are said to go.

use chrono::NaiveDate;
use wear_core::bounds::KM_PER_WEEK;

use super::{BikeId, DeclaredUseId, Field, Form, GroupName, Invalid, Timestamp};

/// Millimetres in a kilometre.
const MM_PER_KM: f64 = 1e6;

/// Distance a week, kept in whole millimetres.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct DistanceAWeek(i64);

impl DistanceAWeek {
    /// From kilometres inside [`KM_PER_WEEK`].
    ///
    /// # Errors
    /// [`Invalid::OutOfRange`].
    pub fn from_km(km: f64) -> Result<Self, Invalid> {
        Ok(Self((KM_PER_WEEK.check(km)? * MM_PER_KM).round() as i64))
    }

    /// From millimetres that were stored.
    ///
    /// # Errors
    /// [`Invalid::OutOfRange`].
    pub fn from_mm(mm: i64) -> Result<Self, Invalid> {
        KM_PER_WEEK.check(mm as f64 / MM_PER_KM)?;
        Ok(Self(mm))
    }

    /// Millimetres.
    #[must_use]
    pub const fn mm(self) -> i64 {
        self.0
    }

    /// Kilometres.
    #[must_use]
    pub fn km(self) -> f64 {
        self.0 as f64 / MM_PER_KM
    }
}

/// Of what use is declared.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum UseOf {
    /// One bike. It goes before its group's.
    Bike(BikeId),
    /// Each bike of a group.
    Group(GroupName),
}

/// The days for which use is declared, in the workshop's time zone; an open end is open.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct DaysOfUse {
    from: Option<NaiveDate>,
    until: Option<NaiveDate>,
}

impl DaysOfUse {
    /// All days.
    pub const ALWAYS: Self = Self { from: None, until: None };

    /// From a first day to a last one, included.
    ///
    /// # Errors
    /// [`Invalid::Together`] when the last day is before the first.
    pub fn new(from: Option<NaiveDate>, until: Option<NaiveDate>) -> Result<Self, Invalid> {
        match (from, until) {
            (Some(from), Some(until)) if until < from => {
                Err(Invalid::Together { what: Field::FromAndUntil, allowed: Form::LastNotBeforeFirst })
            }
            _ => Ok(Self { from, until }),
        }
    }

    /// First day; none when always.
    #[must_use]
    pub const fn from(self) -> Option<NaiveDate> {
        self.from
    }

    /// Last day; none when until further notice.
    #[must_use]
    pub const fn until(self) -> Option<NaiveDate> {
        self.until
    }
}

/// How far a bike, or each bike of a group, is said to go.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DeclaredUse {
    /// Its id.
    pub id: DeclaredUseId,
    /// Of what.
    pub of: UseOf,
    /// For which days.
    pub days: DaysOfUse,
    /// How far.
    pub per_week: DistanceAWeek,
    /// When it was entered.
    pub entered_at: Timestamp,
}
