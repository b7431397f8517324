//! The one place that asks what time it is.

use std::sync::Arc;
use std::sync::atomic::{AtomicI64, Ordering};

use chrono::{TimeDelta, Utc};

use crate::domain::Timestamp;

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
    pub fn stopped(at: Timestamp) -> Self {
        Self(Source::Stopped(Arc::new(AtomicI64::new(at.micros()))))
    }

    /// Moves a stopped clock; the machine's clock stays as it is.
    pub fn advance(&self, by: TimeDelta) {
        if let Source::Stopped(micros) = &self.0 {
            micros.fetch_add(by.num_microseconds().unwrap_or(0), Ordering::Relaxed);
        }
    }

    /// The present instant.
    #[must_use]
    pub fn now(&self) -> Timestamp {
        let micros = match &self.0 {
            Source::System => Utc::now().timestamp_micros(),
            Source::Stopped(micros) => micros.load(Ordering::Relaxed),
        };
        Timestamp::EPOCH.plus(TimeDelta::microseconds(micros))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_stopped_clock_moves_by_hand_in_every_copy() {
        let start: Timestamp = "2026-11-25T08:00:00Z".parse().expect("a legal instant");
        let clock = Clock::stopped(start);
        let copy = clock.clone();
        assert_eq!(clock.now(), start);
        clock.advance(TimeDelta::minutes(90));
        assert_eq!(copy.now().to_string(), "2026-11-25T09:30:00Z");
    }
}
