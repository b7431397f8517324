//! What is known of bikes besides their rides: odometers, declared use, and how far care is told.

use std::collections::{BTreeMap, BTreeSet, HashMap};

use chrono::{Days, NaiveDate};
use chrono_tz::Tz;
use wear_core::bike::{Declared, Riding, UnloggedRiding};
use wear_core::exposure::care_habit::CareHabit;
use wear_core::units::Kilometres;

use super::ridden::{midnight_of, totals};
use crate::domain::{
    Bike, BikeDay, BikeId, CLOCK_SKEW, Care, CareSetting, DeclaredUse, Fitting, OdometerStatement, Timestamp,
    UseOf, Workshop,
};
use crate::service::bikes;
use crate::service::by;
use crate::store::{StoreError, Tx};

/// What is known of a bike's care: as the bike says, else as its workshop does, else from its first entry on.
pub(super) fn care_habit(workshop: &Workshop, bike: &Bike, care: &[Care]) -> CareHabit {
    match bike.facts.care.or(workshop.settings.care) {
        Some(CareSetting::Recorded) => CareHabit::Recorded,
        Some(CareSetting::Routine(interval)) => CareHabit::Routine(interval.routine()),
        Some(CareSetting::Unrecorded) => CareHabit::Unrecorded,
        None => care.iter().map(|care| care.done_at).min().map_or(CareHabit::Unrecorded, |first| {
            CareHabit::RecordedSince(first.moment_in(workshop.settings.time_zone).days())
        }),
    }
}

/// Bikes, each with when the first of these stays on it began.
pub(super) fn since_first<'a>(
    bikes: &[&'a Bike],
    stays: &[Fitting],
    now: Timestamp,
) -> Vec<(&'a Bike, Timestamp)> {
    let mut since: HashMap<BikeId, Timestamp> = HashMap::new();
    for stay in stays {
        let first = since.entry(stay.bike_id).or_insert(stay.fitted_at);
        *first = stay.fitted_at.min(*first);
    }
    bikes.iter().map(|bike| (*bike, since.get(&bike.id).copied().unwrap_or(now))).collect()
}

/// What was told of several bikes' riding besides their rides.
pub(super) struct Told {
    of: HashMap<BikeId, UnloggedRiding>,
    weekly: HashMap<BikeId, Kilometres>,
}

impl Told {
    /// Of these bikes, each with when the first of its stays that matter began ([`since_first`]).
    ///
    /// # Errors
    /// [`StoreError`].
    pub async fn load(
        tx: &mut Tx,
        workshop: &Workshop,
        bikes: &[(&Bike, Timestamp)],
        now: Timestamp,
    ) -> Result<Self, StoreError> {
        let zone = workshop.settings.time_zone;
        let ids: Vec<BikeId> = bikes.iter().map(|(bike, _)| bike.id).collect();
        let groups: BTreeSet<_> = bikes.iter().map(|(bike, _)| &bike.facts.group).collect();
        let statements = by(tx.odometer_of_bikes(&ids).await?, |statement| statement.bike_id);
        let declared = tx.declared_use_of(&ids, groups).await?;
        let mut told = Self { of: HashMap::new(), weekly: HashMap::new() };
        if statements.is_empty() && declared.is_empty() {
            return Ok(told);
        }
        let mut asked = Vec::new();
        for &(bike, since) in bikes {
            let shown = statements.get(&bike.id).map_or(&[][..], Vec::as_slice);
            let periods = Periods::of(bike, &declared);
            if shown.is_empty() && periods.0.is_empty() {
                continue;
            }
            if let Some(per_week) = periods.on(now.date_in(zone)) {
                told.weekly.insert(bike.id, per_week);
            }
            asked.push((bike, shown, periods.declared(workshop, since)));
        }
        let shown: Vec<_> = asked.iter().map(|(bike, shown, _)| (bike.id, *shown)).collect();
        let mut rides = Rides::load(tx, &shown, zone, now).await?;
        for (bike, shown, declared) in asked {
            let shown = shown.iter().filter_map(|statement| {
                Some((statement.read_at.moment_in(zone), Kilometres::new(statement.total.km()).ok()?))
            });
            let riding = Riding::new(rides.take(bike.id)).with_statements(shown).with_declared(declared);
            let until = bike.counts_until(now).moment_in(zone);
            let unlogged = riding.unlogged(&bike.facts.drivetrain, bike.facts.usage, until);
            told.of.insert(bike.id, unlogged);
        }
        Ok(told)
    }

    /// What was told of a bike.
    pub fn of(&self, bike: BikeId) -> Option<&UnloggedRiding> {
        self.of.get(&bike)
    }

    /// How far a bike is said to go a week now.
    pub fn weekly(&self, bike: BikeId) -> Option<Kilometres> {
        self.weekly.get(&bike).copied()
    }
}

/// What was told of bikes' riding, in the order of the bikes.
///
/// # Errors
/// [`StoreError`].
pub(in crate::service) async fn told_of(
    tx: &mut Tx,
    workshop: &Workshop,
    bikes: &[&Bike],
    now: Timestamp,
) -> Result<Vec<(BikeId, UnloggedRiding)>, StoreError> {
    let mut told = Told::load(tx, workshop, &since_first(bikes, &[], now), now).await?;
    Ok(bikes.iter().filter_map(|bike| Some((bike.id, told.of.remove(&bike.id)?))).collect())
}

/// Declared use of one bike: days from the first up to, but not with, the last. Where two overlap, the later first day
/// holds.
#[derive(Debug, PartialEq)]
struct Periods(Vec<Period>);

#[derive(Debug, Clone, Copy, PartialEq)]
struct Period {
    from: Option<NaiveDate>,
    end: Option<NaiveDate>,
    per_week: Kilometres,
}

impl Periods {
    /// The bike's own, and its group's for days on which it has none of its own.
    fn of(bike: &Bike, declared: &[DeclaredUse]) -> Self {
        let period = |one: &DeclaredUse| {
            let end = one.days.until().map(|last| last.checked_add_days(Days::new(1)).unwrap_or(last));
            Some(Period { from: one.days.from(), end, per_week: Kilometres::new(one.per_week.km()).ok()? })
        };
        let of = |wanted: UseOf| declared.iter().filter(move |one| one.of == wanted).filter_map(period);
        let own: Vec<Period> = of(UseOf::Bike(bike.id)).collect();
        let groups = of(UseOf::Group(bike.facts.group.clone()));
        let left = groups.flat_map(|group| {
            own.iter().fold(vec![group], |parts, own| {
                parts.into_iter().flat_map(|part| part.without(own)).collect()
            })
        });
        let mut all: Vec<Period> = own.iter().copied().chain(left).collect();
        all.sort_by(|a, b| {
            (a.from, a.end).cmp(&(b.from, b.end)).then(a.per_week.get().total_cmp(&b.per_week.get()))
        });
        Self(all)
    }

    /// The use that is declared for a day.
    fn on(&self, day: NaiveDate) -> Option<Kilometres> {
        let holds = |period: &&Period| {
            period.from.is_none_or(|from| from <= day) && period.end.is_none_or(|end| day < end)
        };
        self.0.iter().rev().find(holds).map(|period| period.per_week)
    }

    /// As the library takes it; what always held began at `since`.
    fn declared(&self, workshop: &Workshop, since: Timestamp) -> Vec<Declared> {
        let zone = workshop.settings.time_zone;
        let start = |day: NaiveDate| bikes::start_of(workshop, day).ok().map(|at| at.moment_in(zone));
        let declared = self.0.iter().map(|&Period { from, end, per_week }| Declared {
            from: from.and_then(start).or(Some(since.moment_in(zone))),
            until: end.and_then(start),
            per_week,
        });
        declared.collect()
    }
}

impl Period {
    /// The days of it that aren't the other's.
    fn without(self, other: &Self) -> Vec<Self> {
        let before = Self { end: least(self.end, other.from), ..self };
        let after = Self { from: self.from.max(other.end), ..self };
        let mut left = Vec::with_capacity(2);
        if other.from.is_some() && before.has_days() {
            left.push(before);
        }
        if other.end.is_some() && after.has_days() {
            left.push(after);
        }
        left
    }

    fn has_days(&self) -> bool {
        self.from.zip(self.end).is_none_or(|(from, end)| from < end)
    }
}

/// The earlier of two ends, of which none is open.
fn least(one: Option<NaiveDate>, other: Option<NaiveDate>) -> Option<NaiveDate> {
    one.into_iter().chain(other).min()
}

/// All rides of bikes: whole days from the rollup, days on which a counter was read ride by ride.
struct Rides(BTreeMap<BikeId, Vec<(wear_core::Moment, wear_core::bike::RideTotals)>>);

impl Rides {
    async fn load(
        tx: &mut Tx,
        bikes: &[(BikeId, &[OdometerStatement])],
        zone: Tz,
        now: Timestamp,
    ) -> Result<Self, StoreError> {
        let last = now.plus(CLOCK_SKEW).date_in(zone);
        let spans: Vec<_> =
            bikes.iter().map(|(bike, _)| (*bike, Timestamp::EPOCH.utc_date(), last)).collect();
        let read: BTreeSet<(BikeId, NaiveDate)> = bikes
            .iter()
            .flat_map(|(bike, shown)| shown.iter().map(|statement| (*bike, statement.read_at)))
            .map(|(bike, at)| (bike, at.date_in(zone)))
            .collect();
        let mut rides: BTreeMap<BikeId, Vec<_>> = BTreeMap::new();
        let mut single = BTreeSet::new();
        for sum in tx.bike_days_of(&spans).await? {
            let (bike, day) = (sum.key.bike_id, sum.key.day);
            if sum.rides <= 0 {
                continue;
            }
            if read.contains(&(bike, day)) {
                let start = |day| Timestamp::start_of(day, zone).ok();
                let next = day.checked_add_days(Days::new(1)).and_then(start).unwrap_or(Timestamp::LAST);
                single.insert((bike, start(day).unwrap_or(Timestamp::EPOCH), next));
            } else {
                rides.entry(bike).or_default().push((midnight_of(day), totals(&sum)));
            }
        }
        for ride in tx.rides_of(&single.into_iter().collect::<Vec<_>>()).await? {
            let of_bike = rides.entry(ride.bike_id).or_default();
            of_bike.push((ride.started_at.moment_in(zone), totals(&BikeDay::of(&ride, zone))));
        }
        Ok(Self(rides))
    }

    fn take(&mut self, bike: BikeId) -> Vec<(wear_core::Moment, wear_core::bike::RideTotals)> {
        self.0.remove(&bike).unwrap_or_default()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn period(from: &str, end: &str) -> Period {
        let day = |text: &str| (!text.is_empty()).then(|| text.parse().unwrap());
        Period { from: day(from), end: day(end), per_week: Kilometres::new(1.0).unwrap() }
    }

    #[test]
    fn a_group_is_left_the_days_that_are_not_the_bikes_own() {
        let always = period("", "");
        assert_eq!(
            always.without(&period("2026-03-01", "2026-04-01")),
            [period("", "2026-03-01"), period("2026-04-01", "")]
        );
        assert_eq!(always.without(&period("2026-03-01", "")), [period("", "2026-03-01")]);
        assert_eq!(always.without(&always), []);
        let march = period("2026-03-01", "2026-04-01");
        assert_eq!(march.without(&period("2026-05-01", "2026-06-01")), [march]);
        assert_eq!(march.without(&period("2026-02-01", "2026-03-11")), [period("2026-03-11", "2026-04-01")]);
    }
}
