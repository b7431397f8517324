//! When something happened.

/// Microseconds in a day.
const DAY: i64 = 86_400_000_000;

/// An instant, in microseconds since an origin of the caller's choice, the same for all events of a fleet.
///
/// A plain number of days stands for the beginning of that day, so `171` is a moment wherever one is asked for. What
/// calendar the days belong to is the caller's business; days of riding begin at whole multiples of 24 hours.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize), serde(transparent))]
pub struct Moment(i64);

impl Moment {
    /// Microseconds after the origin; negative before it.
    #[must_use]
    pub const fn from_micros(micros: i64) -> Self {
        Self(micros)
    }

    /// Microseconds after the origin; negative before it.
    #[must_use]
    pub const fn micros(self) -> i64 {
        self.0
    }

    /// The day that it falls on, counted from the origin.
    #[must_use]
    pub const fn day(self) -> i64 {
        self.0.div_euclid(DAY)
    }

    /// The beginning of a day; the first or last moment there is for days beyond 290,000 years.
    #[must_use]
    pub const fn start_of(day: i64) -> Self {
        Self(day.saturating_mul(DAY))
    }

    /// Days after the origin, as a fraction.
    #[must_use]
    pub fn days(self) -> f64 {
        self.0 as f64 / DAY as f64
    }

    /// The moment so many days after the origin, to the microsecond.
    pub(super) fn of_days(days: f64) -> Self {
        Self((days * DAY as f64).round() as i64)
    }

    /// Days from another moment to this one.
    pub(crate) fn days_since(self, other: Self) -> f64 {
        self.0.saturating_sub(other.0) as f64 / DAY as f64
    }
}

impl From<i32> for Moment {
    fn from(day: i32) -> Self {
        Self::start_of(i64::from(day))
    }
}

impl std::fmt::Display for Moment {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "day {}", self.day())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_day_begins_at_its_start_and_ends_before_the_next() {
        for day in [-400_i32, -1, 0, 1, 171] {
            let start = Moment::from(day);
            assert_eq!(start.day(), i64::from(day));
            assert_eq!(Moment::from_micros(start.micros() + DAY - 1).day(), i64::from(day));
            assert_eq!(Moment::from_micros(start.micros() - 1).day(), i64::from(day) - 1);
        }
    }
}
