//! The bench: its days, its settings, and when bikes are away.

use super::{Field, Form};
use chrono::{Datelike, NaiveDate, Weekday};
use wear_core::bounds;

use super::{BenchDayId, BikeId, BookingId, Invalid, Note, Place, Timestamp};

/// Whole minutes of a bench or of a job.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct Minutes(u32);

impl Minutes {
    /// Most minutes, as in [`bounds::BENCH_MINUTES`].
    pub const MAXIMUM: i64 = 1_000_000;

    /// Whole minutes, 0 to [`Minutes::MAXIMUM`].
    ///
    /// # Errors
    /// [`Invalid::WholeNumber`].
    pub fn new(given: i64) -> Result<Self, Invalid> {
        u32::try_from(given).ok().filter(|minutes| i64::from(*minutes) <= Self::MAXIMUM).map(Self).ok_or(
            Invalid::WholeNumber {
                what: Field::Quantity { bound: &bounds::BENCH_MINUTES },
                given,
                minimum: 0,
                maximum: Self::MAXIMUM,
            },
        )
    }

    /// The number.
    #[must_use]
    pub const fn get(self) -> u32 {
        self.0
    }
}

/// When the bench closes for the day.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct ClosingTime(u32);

impl ClosingTime {
    /// Midnight, minutes after the one before.
    const MIDNIGHT: u32 = 24 * 60;

    /// Minutes after midnight, up to 1,440: the next midnight.
    ///
    /// # Errors
    /// [`Invalid::WholeNumber`].
    pub fn new(minutes: i64) -> Result<Self, Invalid> {
        let maximum = i64::from(Self::MIDNIGHT);
        u32::try_from(minutes)
            .ok()
            .filter(|minutes| *minutes <= Self::MIDNIGHT)
            .map(Self)
            .ok_or(Invalid::WholeNumber { what: Field::ClosesAt, given: minutes, minimum: 0, maximum })
    }

    /// Minutes after midnight.
    #[must_use]
    pub const fn minutes(self) -> u32 {
        self.0
    }
}

/// `18:00`; `24:00` is midnight.
impl std::str::FromStr for ClosingTime {
    type Err = Invalid;

    fn from_str(text: &str) -> Result<Self, Invalid> {
        let wrong = || Invalid::unparsed(Field::ClosesAt, text, Form::TimeOfDay);
        let (hours, minutes) = text.split_once(':').ok_or_else(wrong)?;
        let is_two = |digits: &str| digits.len() == 2 && digits.bytes().all(|byte| byte.is_ascii_digit());
        if !is_two(hours) || !is_two(minutes) {
            return Err(wrong());
        }
        let (hours, minutes): (u32, u32) =
            (hours.parse().map_err(|_| wrong())?, minutes.parse().map_err(|_| wrong())?);
        let at = 60 * hours + minutes;
        if minutes < 60 && at <= Self::MIDNIGHT { Ok(Self(at)) } else { Err(wrong()) }
    }
}

impl std::fmt::Display for ClosingTime {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{:02}:{:02}", self.0 / 60, self.0 % 60)
    }
}

/// What can be set of a bench day.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BenchDayFacts {
    /// The date.
    pub date: NaiveDate,
    /// Minutes that the bench works; 0 closes it.
    pub minutes: Minutes,
    /// A remark.
    pub note: Option<Note>,
}

/// A day whose minutes are not those of its weekday.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BenchDay {
    /// Its id.
    pub id: BenchDayId,
    /// What can be set.
    pub facts: BenchDayFacts,
    /// When it was entered.
    pub created_at: Timestamp,
    /// Counts its changes, from 1.
    pub revision: i64,
}

/// What can be set of a booking.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BookingFacts {
    /// The bike that is away.
    pub bike_id: BikeId,
    /// First day that it is away.
    pub from: NaiveDate,
    /// Last day that it is away, the same day or later.
    pub to: NaiveDate,
    /// A remark.
    pub note: Option<Note>,
}

/// A time at which a bike is away and can't be on the bench.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Booking {
    /// Its id.
    pub id: BookingId,
    /// What can be set.
    pub facts: BookingFacts,
    /// When it was entered.
    pub created_at: Timestamp,
    /// Counts its changes, from 1.
    pub revision: i64,
}

/// Which bookings a list holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct BookingFilter {
    /// Of this bike.
    pub bike_id: Option<BikeId>,
    /// That touch these days.
    pub days: DateRange,
}

/// Days from one to another, both included; open on a side that is `None`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct DateRange {
    /// First day.
    pub from: Option<NaiveDate>,
    /// Last day.
    pub to: Option<NaiveDate>,
}

/// Minutes that the bench works on each weekday, Monday first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct WeekMinutes(pub [Minutes; 7]);

impl WeekMinutes {
    /// Minutes of a date's weekday.
    #[must_use]
    pub fn on(&self, date: NaiveDate) -> Minutes {
        let days_from_monday: fn(Weekday) -> u32 = |day| day.num_days_from_monday();
        self.0[days_from_monday(date.weekday()) as usize]
    }
}

/// How the bench works unless a day says otherwise.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct BenchSettings {
    /// Minutes by weekday.
    pub week: WeekMinutes,
    /// Minutes to swap a chain.
    pub chain: Minutes,
    /// Minutes to swap a cassette, or a cog that is a part of its own.
    pub cassette: Minutes,
    /// Minutes to swap a ring.
    pub ring: Minutes,
    /// Minutes of each of these that go to setting up: washed, on the stand, tested. Work on one bike on one day
    /// sets up once.
    pub setup: Minutes,
    /// When it closes: what is left of a day ends then.
    pub closes_at: ClosingTime,
}

/// Minutes that one pair of hands works in a day (A): a bench of more has more hands.
const MINUTES_OF_HANDS: u32 = 480;

impl Default for BenchSettings {
    /// Four hours from Monday to Friday; 20 minutes for a chain, 25 for a cassette, 30 for a ring, 10 of each of
    /// them for setting up; closed at six in the evening (all A).
    fn default() -> Self {
        let [open, closed] = [Minutes(240), Minutes(0)];
        Self {
            week: WeekMinutes([open, open, open, open, open, closed, closed]),
            chain: Minutes(20),
            cassette: Minutes(25),
            ring: Minutes(30),
            setup: Minutes(10),
            closes_at: ClosingTime(18 * 60),
        }
    }
}

impl BenchSettings {
    /// Minutes to swap one part at a place, setting up included.
    #[must_use]
    pub const fn minutes_of(&self, place: Place) -> Minutes {
        match place {
            Place::Chain => self.chain,
            Place::Cassette | Place::Cog | Place::JockeyWheels => self.cassette,
            Place::Ring => self.ring,
        }
    }

    /// What is left of a day's minutes at a minute after midnight, with so many used: no more than fits in before closing.
    #[must_use]
    pub fn left_of(&self, day: Minutes, minute: u32, used: u32) -> Minutes {
        let hands = day.0.div_ceil(MINUTES_OF_HANDS).max(1);
        let until_closing = self.closes_at.minutes().saturating_sub(minute).saturating_mul(hands);
        Minutes(day.0.saturating_sub(used).min(until_closing))
    }

    /// Minutes on the bench of so many jobs on one bike, setting up once.
    #[must_use]
    pub fn minutes_of_all(&self, places: impl IntoIterator<Item = Place>) -> u32 {
        let (jobs, minutes) = places.into_iter().fold((0_u32, 0_u32), |(jobs, minutes), place| {
            (jobs + 1, minutes.saturating_add(self.minutes_of(place).get()))
        });
        minutes.saturating_sub(self.setup.get().saturating_mul(jobs.saturating_sub(1)))
    }

    /// The settings, when setting up takes no longer than any of the work that it is part of.
    ///
    /// # Errors
    /// [`Invalid::Together`].
    pub fn check(self) -> Result<Self, Invalid> {
        if self.setup > self.chain.min(self.cassette).min(self.ring) {
            let what = Field::SetupAndSwapMinutes;
            return Err(Invalid::Together { what, allowed: Form::SetupUpToShortest });
        }
        Ok(self)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn defaults_are_legal_and_go_by_weekday() {
        let settings = BenchSettings::default().check().unwrap();
        let on = |date: &str| settings.week.on(date.parse().unwrap()).get();
        assert_eq!((on("2026-11-27"), on("2026-11-28"), on("2026-11-30")), (240, 0, 240));
        let setup = Minutes::new(21).unwrap();
        assert!(BenchSettings { setup, ..settings }.check().is_err());
    }

    #[test]
    fn what_is_left_of_a_day_ends_at_closing() {
        let settings = BenchSettings::default();
        let left = |minutes: i64, at: &str, used| {
            let at: ClosingTime = at.parse().unwrap();
            settings.left_of(Minutes::new(minutes).unwrap(), at.minutes(), used).get()
        };
        assert_eq!(settings.closes_at.to_string(), "18:00");
        let table = [
            (240, "09:00", 0, 240),
            (240, "09:00", 100, 140),
            (240, "15:00", 0, 180),
            (240, "15:00", 100, 140),
            (240, "17:30", 100, 30),
            (240, "18:00", 0, 0),
            (240, "23:00", 0, 0),
            (240, "10:00", 300, 0),
            // Five pairs of hands, not one.
            (2_400, "10:00", 0, 2_400),
            (2_400, "14:00", 0, 1_200),
        ];
        for (minutes, at, used, expected) in table {
            assert_eq!(left(minutes, at, used), expected, "{minutes} at {at}, {used} used");
        }
        for wrong in ["25:00", "24:01", "18", "18:60", "6:00", "+6:00", ""] {
            assert!(wrong.parse::<ClosingTime>().is_err(), "{wrong}");
        }
        assert!(ClosingTime::new(1_441).is_err());
        let places = [Place::Chain, Place::Cassette, Place::Ring];
        assert_eq!(settings.minutes_of_all(places), 20 + 25 + 30 - 2 * 10);
        assert_eq!(settings.minutes_of_all([]), 0);
    }

    #[test]
    fn minutes_have_bounds() {
        assert_eq!(Minutes::MAXIMUM as f64, bounds::BENCH_MINUTES.maximum);
        assert!(Minutes::new(Minutes::MAXIMUM).is_ok());
        assert!(Minutes::new(Minutes::MAXIMUM + 1).is_err());
        assert!(Minutes::new(-1).is_err());
    }
}
