//! Riding told in three ways: rides, odometer statements and declared use.
//!
//! Between two statements of one counter the distance is their difference; what rides don't account for is unlogged, of
//! the bike's usual kind and spread evenly over the days. Rides that add up to more stand, and a notice names the
//! interval. A total smaller than the one before is a new counter. Declared use counts where neither of the other two
//! speaks. Since the last statement the bike is taken to go on as in the twelve weeks before, for another twelve. The answer depends on what was told and not on the order in which it came.
//!
//! Times are days from any common origin, as fractions: 19.5 is noon of day 19.

use crate::units::{Kilometres, LogSd};

/// Spread of the logarithm of what unlogged distance is worth, of its own, next to the bike's usual kind (A).
pub const UNLOGGED_LN_SD: LogSd = LogSd::constant(0.25);

/// The same of declared use (A).
pub const DECLARED_LN_SD: LogSd = LogSd::constant(0.5);

/// The same of what a bike has probably done since its counter was last read (A).
pub const CONTINUED_LN_SD: LogSd = LogSd::constant(0.5);

/// Days of statements that the pace since the last one rests on, and for which it is taken to go on (A).
const PACE_DAYS: f64 = 84.0;

/// Fewest days over which a pace is told: two statements of one afternoon tell none (A).
const SHORTEST_PACE_DAYS: f64 = 7.0;

/// Rides exceed a counter when they do by more than this share and by more than [`EXCESS_KM`] (A).
const EXCESS_SHARE: f64 = 0.02;
const EXCESS_KM: f64 = 1.0;

/// A total smaller by no more than this, km, is the same counter read in whole kilometres (A).
const ROUNDING_KM: f64 = 1.0;

/// Days before and after a ride for which rides speak: silence in between is no riding (A).
const RIDES_SPEAK_FOR: f64 = 28.0;

/// What a counter showed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Statement {
    /// When it was read, days.
    pub at: f64,
    /// What it showed.
    pub total: Kilometres,
}

/// A ride on record.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LoggedRide {
    /// When it began, days. One that begins as a counter is read comes after the statement.
    pub at: f64,
    /// Its distance.
    pub distance: Kilometres,
}

/// How far a bike is said to go. Where two overlap, the one that begins later holds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DeclaredUse {
    /// Days from which on it holds.
    pub from: f64,
    /// Days until which it holds; infinite when nobody said.
    pub until: f64,
    /// Distance a week.
    pub per_week: Kilometres,
}

/// From what a stretch without rides is known.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[non_exhaustive]
pub enum StretchSource {
    /// A counter went further than the rides.
    Odometer,
    /// The same since the last statement, at the pace of those before.
    Continued,
    /// Declared use.
    Declared,
}

impl StretchSource {
    /// Spread of the logarithm of what its distance is worth, one source of error that all such stretches of a bike share.
    #[must_use]
    pub const fn ln_sd(self) -> LogSd {
        match self {
            Self::Odometer => UNLOGGED_LN_SD,
            Self::Continued => CONTINUED_LN_SD,
            Self::Declared => DECLARED_LN_SD,
        }
    }
}

/// Distance that no ride accounts for, spread evenly over its time.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub struct Stretch {
    /// Begin, days.
    pub from: f64,
    /// End, days; not before the begin.
    pub until: f64,
    /// Distance, km.
    pub km: f64,
    /// From what it is known.
    pub source: StretchSource,
}

impl Stretch {
    /// Kilometres of it between two times, days. One without duration falls on its begin.
    #[must_use]
    pub fn km_between(&self, from: f64, until: f64) -> f64 {
        let whole = self.until - self.from;
        if whole > 0.0 {
            self.km * ((until.min(self.until) - from.max(self.from)).max(0.0) / whole)
        } else if (from..until).contains(&self.from) {
            self.km
        } else {
            0.0
        }
    }
}

/// What a person should know of what was told.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub enum OdometerNotice {
    /// A total is smaller than the one before: a new counter. The distance between the two isn't known; rides and
    /// declared use stand.
    NewCounter {
        /// The last statement of the old counter.
        before: Statement,
        /// The first of the new one.
        after: Statement,
    },
    /// Rides add up to more than the counter.
    RidesExceedCounter {
        /// The statement before the rides.
        before: Statement,
        /// The statement after them.
        after: Statement,
        /// What the rides add up to, km.
        rides_km: f64,
    },
}

/// What is known of riding besides the rides.
#[derive(Debug, Clone, PartialEq, Default)]
#[non_exhaustive]
pub struct JoinedRiding {
    /// Distance that no ride accounts for, in order of time.
    pub stretches: Vec<Stretch>,
    /// What a person should know, in order of time.
    pub notices: Vec<OdometerNotice>,
}

impl JoinedRiding {
    /// Kilometres without a ride between two times, days.
    #[must_use]
    pub fn km_between(&self, from: f64, until: f64) -> f64 {
        self.stretches.iter().map(|stretch| stretch.km_between(from, until)).sum()
    }
}

/// Joins what was told of a bike's riding up to `now`, days; each list in any order. Times that aren't finite are left out.
#[must_use]
pub fn join(
    rides: &[LoggedRide],
    statements: &[Statement],
    declared: &[DeclaredUse],
    now: f64,
) -> JoinedRiding {
    let mut rides: Vec<LoggedRide> = rides.iter().filter(|ride| ride.at.is_finite()).copied().collect();
    rides.sort_by(|a, b| a.at.total_cmp(&b.at).then(a.distance.get().total_cmp(&b.distance.get())));
    let mut statements: Vec<Statement> =
        statements.iter().filter(|statement| statement.at.is_finite()).copied().collect();
    statements.sort_by(|a, b| a.at.total_cmp(&b.at).then(a.total.get().total_cmp(&b.total.get())));
    statements.dedup();

    let mut joined = JoinedRiding::default();
    let mut spoken: Vec<(f64, f64)> =
        rides.iter().map(|ride| (ride.at - RIDES_SPEAK_FOR, ride.at + RIDES_SPEAK_FOR)).collect();
    for pair in statements.windows(2) {
        let (before, after) = (pair[0], pair[1]);
        let distance = after.total.get() - before.total.get();
        if distance < -ROUNDING_KM {
            joined.notices.push(OdometerNotice::NewCounter { before, after });
            continue;
        }
        spoken.push((before.at, after.at));
        let first = rides.partition_point(|ride| ride.at < before.at);
        let end = rides.partition_point(|ride| ride.at < after.at);
        let rides_km: f64 = rides[first..end].iter().map(|ride| ride.distance.get()).sum();
        let excess = rides_km - distance;
        if excess > EXCESS_KM && excess > EXCESS_SHARE * distance {
            joined.notices.push(OdometerNotice::RidesExceedCounter { before, after, rides_km });
        } else if excess < 0.0 {
            joined.stretches.push(Stretch {
                from: before.at,
                until: after.at,
                km: -excess,
                source: StretchSource::Odometer,
            });
        }
    }
    joined.stretches.extend(since_the_last(&statements, declared, &joined.stretches, now));
    joined.stretches.extend(declared_where_silent(declared, &mut spoken, now));
    joined.stretches.sort_by(|a, b| a.from.total_cmp(&b.from).then(a.until.total_cmp(&b.until)));
    joined
}

/// What a counter would have counted besides rides since it was last read, if the bike goes on as before: unlogged distance
/// of the twelve weeks before, over their days. Nothing where declared use speaks.
fn since_the_last(
    statements: &[Statement],
    declared: &[DeclaredUse],
    unlogged: &[Stretch],
    now: f64,
) -> Option<Stretch> {
    let (first, last) = (statements.first()?.at, statements.last()?.at);
    let until = now.min(last + PACE_DAYS);
    let declared_then = |one: &DeclaredUse| one.from < until && one.until > last;
    if until <= last || declared.iter().any(declared_then) {
        return None;
    }
    let from = first.max(last - PACE_DAYS);
    let days = (last - from).max(SHORTEST_PACE_DAYS);
    let km: f64 = unlogged.iter().map(|stretch| stretch.km_between(from, last)).sum();
    let km = km * (until - last) / days;
    (km > 0.0).then_some(Stretch { from: last, until, km, source: StretchSource::Continued })
}

/// Declared use, less the times for which something else speaks.
fn declared_where_silent(declared: &[DeclaredUse], spoken: &mut [(f64, f64)], now: f64) -> Vec<Stretch> {
    let mut declared: Vec<DeclaredUse> =
        declared.iter().filter(|one| one.from.is_finite()).copied().collect();
    declared.sort_by(|a, b| {
        a.from
            .total_cmp(&b.from)
            .then(a.until.total_cmp(&b.until))
            .then(a.per_week.get().total_cmp(&b.per_week.get()))
    });
    spoken.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut stretches = Vec::new();
    for (index, one) in declared.iter().enumerate() {
        let next = declared.get(index + 1).map_or(f64::INFINITY, |next| next.from);
        let end = one.until.min(next).min(now);
        let mut silent = |from: f64, until: f64| {
            if until > from {
                let km = one.per_week.get() * (until - from) / 7.0;
                stretches.push(Stretch { from, until, km, source: StretchSource::Declared });
            }
        };
        let mut from = one.from;
        for &(begins, ends) in spoken.iter() {
            silent(from, begins.min(end));
            from = from.max(ends);
        }
        silent(from, end);
    }
    stretches
}

#[cfg(test)]
mod tests {
    use super::*;

    fn km(value: f64) -> Kilometres {
        Kilometres::new(value).unwrap()
    }

    fn shown(at: f64, total: f64) -> Statement {
        Statement { at, total: km(total) }
    }

    fn ride(at: f64, distance: f64) -> LoggedRide {
        LoggedRide { at, distance: km(distance) }
    }

    #[test]
    fn what_rides_do_not_account_for_is_spread_over_the_days() {
        let joined = join(
            &[ride(2.0, 30.0), ride(5.5, 20.0)],
            &[shown(11.0, 1_150.0), shown(1.0, 1_000.0)],
            &[],
            40.0,
        );
        assert!(joined.notices.is_empty());
        assert!((joined.km_between(0.0, 40.0) - 100.0).abs() < 1e-12);
        assert!((joined.km_between(4.0, 5.0) - 10.0).abs() < 1e-12);
    }

    #[test]
    fn rides_beyond_the_counter_stand_and_a_smaller_total_is_a_new_counter() {
        let told = [shown(0.0, 500.0), shown(10.0, 550.0), shown(20.0, 30.0), shown(30.0, 80.0)];
        let joined = join(&[ride(3.0, 52.5), ride(22.0, 50.9)], &told, &[], 40.0);
        assert_eq!(
            joined.notices,
            [
                OdometerNotice::RidesExceedCounter { before: told[0], after: told[1], rides_km: 52.5 },
                OdometerNotice::NewCounter { before: told[1], after: told[2] },
            ]
        );
        assert!(joined.stretches.is_empty(), "{:?}", joined.stretches);
        // Whole kilometres are no new counter.
        let rounded = join(&[], &[shown(0.0, 500.4), shown(1.0, 500.0), shown(2.0, 510.0)], &[], 3.0);
        assert!(rounded.notices.is_empty() && (rounded.km_between(0.0, 3.0) - 10.0).abs() < 1e-12);
    }

    #[test]
    fn declared_use_counts_where_nothing_else_speaks() {
        let weekly = |from, until, per_week| DeclaredUse { from, until, per_week: km(per_week) };
        let declared = [weekly(100.0, f64::INFINITY, 70.0), weekly(0.0, f64::INFINITY, 35.0)];
        let told = [shown(20.0, 0.0), shown(30.0, 200.0)];
        let joined = join(&[ride(140.0, 10.0)], &told, &declared, 200.0);
        // 0 to 20 and 30 to 100 at 5 a day, 100 to 112 and 168 to 200 at 10 a day, 200 by the counter.
        assert!((joined.km_between(0.0, 200.0) - (100.0 + 350.0 + 120.0 + 320.0 + 200.0)).abs() < 1e-9);
        assert_eq!(joined.stretches.iter().filter(|one| one.source == StretchSource::Declared).count(), 4);
    }

    #[test]
    fn the_order_in_which_it_is_told_makes_no_difference() {
        let mut rides: Vec<_> =
            (0..20).map(|i| ride(f64::from(i * 37 % 100), f64::from(5 + i % 7))).collect();
        let mut told: Vec<_> = (0..9).map(|i| shown(f64::from(i) * 12.0, f64::from(i * 61 % 400))).collect();
        let joined = join(&rides, &told, &[], 120.0);
        rides.reverse();
        told.rotate_left(4);
        assert_eq!(join(&rides, &told, &[], 120.0), joined);
    }
}
