//! The one place that asks what time it is.

use std::sync::Arc;
use std::sync::atomic::{AtomicI64, Ordering};

use chrono::{DateTime, NaiveDate, SubsecRound as _, TimeDelta, Utc};
use chrono_tz::Tz;

/// Tells the time, cut to microseconds: what one store keeps, the other keeps too.
#[derive(Debug, Clone, Default)]
pub struct Clock(Source);

#[derive(Debug, Clone, Default)]
enum Source {
    #[default]
    System,
    Stopped(Arc<AtomicI64>),
}

impl Clock {
    /// The machine's clock.
    #[must_use]
    pub fn system() -> Self {
        Self(Source::System)
    }

    /// A clock that stands at `at` until [`Clock::advance`] moves it. Copies share one hand.
    #[must_use]
    pub fn stopped(at: DateTime<Utc>) -> Self {
        Self(Source::Stopped(Arc::new(AtomicI64::new(at.timestamp_micros()))))
    }

    /// Moves a stopped clock; the machine's clock stays as it is.
    pub fn advance(&self, by: TimeDelta) {
        if let Source::Stopped(micros) = &self.0 {
            micros.fetch_add(by.num_microseconds().unwrap_or(0), Ordering::Relaxed);
        }
    }

    /// The present instant, UTC, whole microseconds.
    #[must_use]
    pub fn now(&self) -> DateTime<Utc> {
        match &self.0 {
            Source::System => Utc::now().trunc_subsecs(6),
            Source::Stopped(micros) => {
                DateTime::from_timestamp_micros(micros.load(Ordering::Relaxed)).unwrap_or_default()
            }
        }
    }

    /// The present date in `zone`.
    #[must_use]
    pub fn today(&self, zone: Tz) -> NaiveDate {
        self.now().with_timezone(&zone).date_naive()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_system_clock_gives_whole_microseconds() {
        assert_eq!(Clock::system().now().timestamp_subsec_nanos() % 1_000, 0);
    }

    #[test]
    fn a_stopped_clock_moves_by_hand_in_every_copy() {
        let start = DateTime::from_timestamp(1_790_000_000, 0).expect("a legal instant");
        let clock = Clock::stopped(start);
        let copy = clock.clone();
        assert_eq!(clock.now(), start);
        clock.advance(TimeDelta::minutes(90));
        assert_eq!(copy.now(), start + TimeDelta::minutes(90));
    }

    #[test]
    fn the_date_is_that_of_the_zone() {
        let evening = "2026-11-25T23:30:00Z".parse().expect("a legal instant");
        let clock = Clock::stopped(evening);
        assert_eq!(clock.today(Tz::UTC).to_string(), "2026-11-25");
        assert_eq!(clock.today(Tz::Europe__Vienna).to_string(), "2026-11-26");
    }
}
