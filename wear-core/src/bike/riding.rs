//! A bike's riding from all that was told of it: rides, odometer statements and declared use.

use super::warning::Warning;
use super::{Moment, Ride, RideTotals};
use crate::drivetrain::Drivetrain;
use crate::exposure::odometer::{
    self, DeclaredUse, LoggedRide, OdometerNotice, Statement, Stretch, StretchSource,
};
use crate::exposure::{ExposureModel, Use};
use crate::forecast::WINDOW_DAYS;
use crate::units::{Kilometres, RideDistance};

/// Millimetres in a kilometre.
const MM_PER_KM: f64 = 1e6;

/// Typical riding of the use that is counted beside a bike's own where nobody logged its kind, km (A): one wet ride
/// doesn't colour all of it, and a few hundred kilometres speak for themselves.
const TYPICAL_KM: RideDistance = RideDistance::constant(300.0);

/// How far a bike is said to go.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Declared {
    /// Since when; none for as long as the record lasts.
    pub from: Option<Moment>,
    /// Until when; none where nobody said.
    pub until: Option<Moment>,
    /// Distance a week.
    pub per_week: Kilometres,
}

/// What was told of one bike's riding, in any order.
///
/// ```
/// use wear_core::bike::Riding;
/// use wear_core::units::Kilometres;
/// use wear_core::{Drivetrain, Moment, Use};
///
/// # fn main() -> Result<(), Box<dyn std::error::Error>> {
/// let drivetrain = Drivetrain::derailleur([42], [11, 13, 15, 17, 20, 23, 26, 30], 114)?;
/// let read = [(0, 1_200.0), (30, 1_500.0)];
/// let read = read.map(|(day, km)| Kilometres::new(km).map(|km| (Moment::from(day), km)));
/// let riding = Riding::new([]).with_statements(read.into_iter().flatten());
/// let found = riding.unlogged(&drivetrain, Use::Town, Moment::from(30));
/// assert_eq!(found.unlogged.len(), 1);
/// assert!((found.unlogged[0].km() - 300.0).abs() < 1e-9);
/// # Ok(())
/// # }
/// ```
#[derive(Debug, Clone, Default)]
pub struct Riding {
    /// In order of time.
    rides: Vec<(Moment, RideTotals)>,
    statements: Vec<(Moment, Kilometres)>,
    declared: Vec<Declared>,
}

/// What is known of a bike's riding besides its rides.
#[derive(Debug, Clone, Default)]
pub struct UnloggedRiding {
    /// Distance that no ride accounts for, in order of time.
    pub unlogged: Vec<Unlogged>,
    /// What a person should know.
    pub warnings: Vec<Warning>,
}

/// Distance that no ride accounts for, with the kind of riding that it is taken to be.
#[derive(Debug, Clone, PartialEq)]
pub struct Unlogged {
    pub(super) stretch: Stretch,
    /// Sums of the rides that it is taken to be like, by context; its distance is shared out in proportion.
    like: Vec<RideTotals>,
}

impl Riding {
    /// Rides, or sums of rides of a day at its beginning. Rides of days on which an odometer was read are needed one by
    /// one.
    #[must_use]
    pub fn new(rides: impl IntoIterator<Item = (Moment, RideTotals)>) -> Self {
        let mut rides: Vec<_> = rides.into_iter().collect();
        rides.sort_unstable();
        Self { rides, ..Self::default() }
    }

    /// The same with what a counter showed: when, and the total.
    #[must_use]
    pub fn with_statements(mut self, shown: impl IntoIterator<Item = (Moment, Kilometres)>) -> Self {
        self.statements.extend(shown);
        self
    }

    /// The same with declared use.
    #[must_use]
    pub fn with_declared(mut self, declared: impl IntoIterator<Item = Declared>) -> Self {
        self.declared.extend(declared);
        self
    }

    /// Distance up to `now` that no ride accounts for, on a bike of that drivetrain and use, and what doesn't fit.
    ///
    /// It counts as riding of the bike's usual kind: like its rides of the twelve weeks up to the last ride before the
    /// end of the stretch, together with 300 km as they are typical for its use. Per kilometre,
    ///
    /// mix = (Σ own + 300 km · typical) / (own km + 300 km)
    ///
    /// in each context, so that without rides it is the typical one.
    #[must_use]
    pub fn unlogged(&self, drivetrain: &Drivetrain, usage: Use, now: Moment) -> UnloggedRiding {
        if self.statements.is_empty() && self.declared.is_empty() {
            return UnloggedRiding::default();
        }
        let rides: Vec<LoggedRide> = self
            .rides
            .iter()
            .filter_map(|(at, ride)| {
                let distance = Kilometres::new(ride.distance_mm as f64 / MM_PER_KM).ok()?;
                Some(LoggedRide { at: at.days(), distance })
            })
            .collect();
        let statements: Vec<Statement> =
            self.statements.iter().map(|&(at, total)| Statement { at: at.days(), total }).collect();
        let first_event =
            [self.rides.first().map(|(at, _)| *at), self.statements.iter().map(|(at, _)| *at).min()];
        let beginning = first_event.into_iter().flatten().min().unwrap_or(now);
        let declared: Vec<DeclaredUse> = self
            .declared
            .iter()
            .map(|one| DeclaredUse {
                from: one.from.unwrap_or(beginning).days(),
                until: one.until.map_or(f64::INFINITY, Moment::days),
                per_week: one.per_week,
            })
            .collect();
        let joined = odometer::join(&rides, &statements, &declared, now.days());
        let typical = Ride::of(TYPICAL_KM).totals(drivetrain, usage, &ExposureModel::default());
        let unlogged = joined
            .stretches
            .into_iter()
            .map(|stretch| Unlogged { stretch, like: self.kind_before(stretch.until, typical) });
        let warnings = joined.notices.iter().map(warning_of);
        UnloggedRiding { unlogged: unlogged.collect(), warnings: warnings.collect() }
    }

    /// Sums by context of the twelve weeks of rides up to the last one before `end`, days, and of `typical` riding.
    fn kind_before(&self, end: f64, typical: RideTotals) -> Vec<RideTotals> {
        let before = &self.rides[..self.rides.partition_point(|(at, _)| at.days() < end)];
        let first = before.last().map_or(end, |(last, _)| last.days() - WINDOW_DAYS as f64);
        let mut sums = vec![typical];
        for (_, ride) in before.iter().rev().take_while(|(at, _)| at.days() > first) {
            match sums.iter_mut().find(|sum| sum.is_alike(ride)) {
                Some(sum) => sum.add(ride),
                None => sums.push(*ride),
            }
        }
        sums.retain(|sum| sum.distance_mm > 0);
        sums.sort_unstable();
        sums
    }
}

fn warning_of(notice: &OdometerNotice) -> Warning {
    let at = |statement: &Statement| Moment::of_days(statement.at);
    match notice {
        OdometerNotice::NewCounter { before, after } => Warning::NewCounter {
            between: (at(before), at(after)),
            before_km: before.total.get(),
            after_km: after.total.get(),
        },
        OdometerNotice::RidesExceedCounter { before, after, rides_km } => Warning::RidesExceedCounter {
            between: (at(before), at(after)),
            counter_km: after.total.get() - before.total.get(),
            rides_km: *rides_km,
        },
    }
}

impl Unlogged {
    /// Its distance, km.
    #[must_use]
    pub const fn km(&self) -> f64 {
        self.stretch.km
    }

    /// When it begins and ends.
    #[must_use]
    pub fn span(&self) -> (Moment, Moment) {
        (Moment::of_days(self.stretch.from), Moment::of_days(self.stretch.until))
    }

    /// From what it is known.
    #[must_use]
    pub const fn source(&self) -> StretchSource {
        self.stretch.source
    }

    /// What the part of it between two moments adds up to, by context.
    pub(super) fn between(&self, from: Moment, to: Moment) -> Vec<RideTotals> {
        let km = self.stretch.km_between(from.days(), to.days());
        let all: f64 = self.like.iter().map(|sum| sum.distance_mm as f64).sum();
        if km <= 0.0 || all <= 0.0 {
            return Vec::new();
        }
        let share = km * MM_PER_KM / all;
        let scaled = |whole: i64| (whole as f64 * share).round() as i64;
        let part = |sum: &RideTotals| RideTotals {
            rides: 0,
            distance_mm: scaled(sum.distance_mm),
            energy_j: scaled(sum.energy_j),
            base_reference_mm: scaled(sum.base_reference_mm),
            // Nobody measured these kilometres.
            measured_reference_mm: 0,
            climb_reference_mm: 0,
            ..*sum
        };
        self.like.iter().map(part).filter(|sum| sum.base_reference_mm > 0).collect()
    }
}
