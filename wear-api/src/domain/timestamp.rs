//! An instant, to the microsecond.

use super::{Field, Form};
use std::fmt;
use std::str::FromStr;

use chrono::{DateTime, Duration, NaiveDate, NaiveDateTime, NaiveTime, SecondsFormat, SubsecRound, Utc};
use chrono_tz::Tz;
use serde::{Deserialize, Deserializer, Serialize, Serializer};
use wear_core::Moment;

use super::Invalid;

/// An instant in UTC between the years 1970 and 9999, truncated to microseconds: both stores keep
/// exactly that.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Timestamp(DateTime<Utc>);

/// How far an event's clock may run ahead of ours before the event counts as future (A).
pub const CLOCK_SKEW: Duration = Duration::minutes(5);

/// 10000-01-01T00:00:00Z in microseconds.
const END_MICROS: i64 = 253_402_300_800_000_000;

const FORM: Form = Form::Time;

impl Timestamp {
    /// 1970-01-01T00:00:00Z.
    pub const EPOCH: Self = Self(DateTime::UNIX_EPOCH);

    /// The last microsecond of the year 9999.
    pub const LAST: Self = match DateTime::from_timestamp_micros(END_MICROS - 1) {
        Some(instant) => Self(instant),
        None => Self::EPOCH,
    };

    /// Truncates to microseconds.
    ///
    /// # Errors
    /// [`Invalid::Malformed`] outside the years 1970 to 9999.
    pub fn new(instant: DateTime<Utc>) -> Result<Self, Invalid> {
        Self::from_micros(instant.timestamp_micros())
    }

    /// From microseconds since 1970-01-01T00:00:00Z.
    ///
    /// # Errors
    /// [`Invalid::Malformed`] outside the years 1970 to 9999.
    pub fn from_micros(micros: i64) -> Result<Self, Invalid> {
        (0..END_MICROS)
            .contains(&micros)
            .then(|| DateTime::from_timestamp_micros(micros))
            .flatten()
            .map(Self)
            .ok_or(Invalid::Malformed { what: Field::Time, allowed: FORM })
    }

    /// The instant as the library has it: by the clock on the wall in `zone`, so that the library's days are the days there.
    #[must_use]
    pub fn moment_in(self, zone: Tz) -> Moment {
        Moment::from_micros(self.0.with_timezone(&zone).naive_local().and_utc().timestamp_micros())
    }

    /// An instant that the library gives back by the clock on the wall in `zone`, held inside the legal range. An hour that the
    /// clock shows twice is the first one.
    #[must_use]
    pub fn of(moment: Moment, zone: Tz) -> Self {
        Self::new(on_the_clock(shown_at(moment), zone)).unwrap_or(Self::EPOCH)
    }

    /// The day of a moment, by the clock that it is told by.
    #[must_use]
    pub fn day_of(moment: Moment) -> NaiveDate {
        shown_at(moment).date()
    }

    /// The beginning of a day in `zone`.
    ///
    /// # Errors
    /// [`Invalid::Malformed`] outside the years 1970 to 9999.
    pub fn start_of(day: NaiveDate, zone: Tz) -> Result<Self, Invalid> {
        Self::new(on_the_clock(day.and_time(NaiveTime::MIN), zone))
    }

    /// Microseconds since 1970-01-01T00:00:00Z.
    #[must_use]
    pub const fn micros(self) -> i64 {
        self.0.timestamp_micros()
    }

    /// The date in `zone`.
    #[must_use]
    pub fn date_in(self, zone: Tz) -> NaiveDate {
        self.0.with_timezone(&zone).date_naive()
    }

    /// The instant as chrono has it.
    #[must_use]
    pub const fn datetime(self) -> DateTime<Utc> {
        self.0
    }

    /// The date in UTC.
    #[must_use]
    pub fn utc_date(self) -> NaiveDate {
        self.0.date_naive()
    }

    /// This instant, when it isn't after `now` by more than a clock may be wrong (five minutes).
    ///
    /// # Errors
    /// [`Invalid::InFuture`].
    pub fn not_after(self, now: Self) -> Result<Self, Invalid> {
        if self.0 > now.0 + CLOCK_SKEW {
            return Err(Invalid::InFuture { given: self, now });
        }
        Ok(self)
    }

    /// The minute that the instant is in, from its beginning.
    #[must_use]
    pub fn minute(self) -> Self {
        self.plus(-Duration::microseconds(self.micros().rem_euclid(60_000_000)))
    }

    /// This instant moved by a duration, held inside the legal range.
    #[must_use]
    pub fn plus(self, duration: Duration) -> Self {
        let micros = self.micros().saturating_add(duration.num_microseconds().unwrap_or(i64::MAX));
        Self::from_micros(micros.clamp(0, END_MICROS - 1)).unwrap_or(self)
    }
}

/// What the clock shows at a moment that is told by it.
fn shown_at(moment: Moment) -> NaiveDateTime {
    let held = DateTime::from_timestamp_micros(moment.micros().clamp(0, END_MICROS - 1));
    held.unwrap_or(DateTime::UNIX_EPOCH).naive_utc()
}

/// When a clock in `zone` first shows this; where it leaves it out, when it goes on.
fn on_the_clock(local: NaiveDateTime, zone: Tz) -> DateTime<Utc> {
    let first = |local: NaiveDateTime| local.and_local_timezone(zone).earliest();
    let shown = first(local).or_else(|| first(local + Duration::hours(1)));
    shown.map_or_else(|| local.and_utc(), |shown| shown.to_utc())
}

impl fmt::Display for Timestamp {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let form = match self.0.timestamp_subsec_micros() {
            0 => SecondsFormat::Secs,
            micros if micros % 1000 == 0 => SecondsFormat::Millis,
            _ => SecondsFormat::Micros,
        };
        f.write_str(&self.0.trunc_subsecs(6).to_rfc3339_opts(form, true))
    }
}

impl FromStr for Timestamp {
    type Err = Invalid;

    fn from_str(given: &str) -> Result<Self, Invalid> {
        let instant = DateTime::parse_from_rfc3339(given)
            .map_err(|_| Invalid::Malformed { what: Field::Time, allowed: FORM })?;
        Self::new(instant.to_utc())
    }
}

impl Serialize for Timestamp {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for Timestamp {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        String::deserialize(deserializer)?.parse().map_err(serde::de::Error::custom)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_library_goes_by_the_clock_on_the_wall() {
        let zone = Tz::Pacific__Auckland;
        let at: Timestamp = "2026-11-27T19:30:00Z".parse().unwrap();
        let moment = at.moment_in(zone);
        // Eight in the morning of the next day.
        let [there, in_utc] = [zone, Tz::UTC].map(|zone| at.moment_in(zone).day());
        assert_eq!(there, in_utc + 1);
        assert_eq!(Timestamp::of(moment, zone), at);
        assert_eq!(at.moment_in(Tz::UTC), Moment::from_micros(at.micros()));
        let day = NaiveDate::from_ymd_opt(2026, 11, 28).unwrap();
        assert_eq!(Timestamp::start_of(day, zone).unwrap().to_string(), "2026-11-27T11:00:00Z");
        // Lebanon's summer time begins at midnight.
        let first = NaiveDate::from_ymd_opt(2026, 3, 29).unwrap();
        assert_eq!(Timestamp::start_of(first, Tz::Asia__Beirut).unwrap().to_string(), "2026-03-28T22:00:00Z");
        // The hour that Berlin's clocks show twice is the first of the two.
        let twice: Timestamp = "2026-10-25T01:30:00Z".parse().unwrap();
        let first = Timestamp::of(twice.moment_in(Tz::Europe__Berlin), Tz::Europe__Berlin);
        assert_eq!(first.to_string(), "2026-10-25T00:30:00Z");
    }

    #[test]
    fn the_date_is_that_of_the_zone() {
        let evening: Timestamp = "2026-11-25T23:30:00Z".parse().unwrap();
        assert_eq!(evening.date_in(Tz::UTC).to_string(), "2026-11-25");
        assert_eq!(evening.date_in(Tz::Europe__Vienna).to_string(), "2026-11-26");
    }

    #[test]
    fn a_time_is_cut_to_microseconds_and_written_in_utc() {
        let time: Timestamp = "2026-03-01T09:00:00.1234567+01:00".parse().unwrap();
        assert_eq!(time.to_string(), "2026-03-01T08:00:00.123456Z");
        assert_eq!(Timestamp::from_micros(time.micros()), Ok(time));
        assert_eq!("2026-03-01T08:00:00Z".parse::<Timestamp>().unwrap().to_string(), "2026-03-01T08:00:00Z");
    }

    #[test]
    fn a_time_outside_the_range_or_without_offset_is_refused() {
        for given in ["1969-12-31T23:59:59Z", "2026-03-01T08:00:00", "2026-02-30T08:00:00Z", ""] {
            assert!(given.parse::<Timestamp>().is_err(), "{given}");
        }
        assert!(Timestamp::from_micros(END_MICROS - 1).unwrap().to_string().starts_with("9999-12-31"));
        assert!(Timestamp::from_micros(END_MICROS).is_err());
    }

    #[test]
    fn the_future_begins_five_minutes_from_now() {
        let now: Timestamp = "2026-03-01T08:00:00Z".parse().unwrap();
        assert!(now.plus(CLOCK_SKEW).not_after(now).is_ok());
        let late = now.plus(CLOCK_SKEW + Duration::microseconds(1));
        assert_eq!(late.not_after(now), Err(Invalid::InFuture { given: late, now }));
    }
}
