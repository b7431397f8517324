//! The rides of parts' stays on bikes.

use std::collections::BTreeSet;
use std::sync::Arc;

use chrono::{DateTime, Days, NaiveDate};
use chrono_tz::Tz;
use wear_core::Moment;
use wear_core::bike::{RideTotals, Stay, UnloggedRiding};
use wear_core::exposure::care_habit::CareHabit;

use crate::domain::{BikeDay, BikeId, Care, Fitting, Ride, Timestamp};
use crate::store::{StoreError, Tx};

/// A stay whose rides are asked for.
#[derive(Clone)]
pub(super) struct Ridden {
    bike_id: BikeId,
    from: Timestamp,
    to: Timestamp,
    stay: Stay,
    /// Days whose rides are needed one by one.
    eventful: BTreeSet<NaiveDate>,
    /// Where the workshop is: days are days there.
    zone: Tz,
}

impl Ridden {
    /// Of a stay, up to `horizon` at the most, with what care the bike had meanwhile.
    pub fn of(fitting: &Fitting, horizon: Timestamp, care: &[Care], zone: Tz) -> Self {
        let from = fitting.fitted_at;
        let to = fitting.removed_at.map_or(horizon, |removed_at| removed_at.min(horizon)).max(from);
        let during = care.iter().filter(|care| from <= care.done_at && care.done_at < to);
        let named = |care: &Care| care.lubricant_id.map(|id| Arc::from(id.to_string()));
        // Care that names nothing matters where other care does.
        let is_named = during.clone().any(|care| care.lubricant_id.is_some());
        let lubricants =
            during.clone().filter(|_| is_named).map(|care| (care.done_at.moment_in(zone), named(care)));
        let stay = Stay::new(from.moment_in(zone), to.moment_in(zone))
            .with_lubricants(lubricants)
            .with_care(during.map(|care| (care.done_at.moment_in(zone), care.kind)));
        Self { bike_id: fitting.bike_id, from, to, stay, eventful: BTreeSet::new(), zone }.marked(&[], &[])
    }

    /// The same with what is known of the bike's care.
    pub fn with_care_habit(mut self, habit: CareHabit) -> Self {
        self.stay = self.stay.with_care_habit(habit);
        self
    }

    /// The same with distance that no ride accounts for.
    pub fn with_unlogged(mut self, told: Option<&UnloggedRiding>) -> Self {
        let unlogged = told.map_or(&[][..], |told| told.unlogged.as_slice());
        self.stay = self.stay.with_unlogged(unlogged.iter().cloned());
        self
    }

    /// The same on another bike than the one at hand.
    pub fn elsewhere(mut self) -> Self {
        self.stay = self.stay.elsewhere();
        self
    }

    /// The same with the moments at which the part was read, and sprockets of the bike at hand fitted.
    pub fn marked(mut self, readings: &[Moment], sprockets: &[Moment]) -> Self {
        let days = self.stay.needs_single_rides(readings, sprockets);
        self.eventful = days.into_iter().filter_map(date_of).collect();
        self
    }

    fn ends(&self) -> [NaiveDate; 2] {
        [self.from.date_in(self.zone), self.to.date_in(self.zone)]
    }

    /// What of a day belongs to the stay.
    fn part_of(&self, day: NaiveDate) -> Option<(Timestamp, Timestamp)> {
        let start = |day| Timestamp::start_of(day, self.zone).ok();
        let midnight = start(day)?;
        let next = day.checked_add_days(Days::new(1)).and_then(start).unwrap_or(self.to);
        let (from, to) = (midnight.max(self.from), next.min(self.to));
        (from < to).then_some((from, to))
    }
}

/// The stays with their rides: whole days from the rollup, days with an event in them ride by ride.
pub(super) async fn rides(tx: &mut Tx, stays: &[Ridden]) -> Result<Vec<Stay>, StoreError> {
    let days = Rollups::load(tx, stays).await?;
    let rides = Rides::load(tx, stays, &days).await?;
    Ok(stays.iter().map(|stay| with_rides(stay, &days, &rides)).collect())
}

fn with_rides(stay: &Ridden, days: &Rollups, rides: &Rides) -> Stay {
    let [first, last] = stay.ends();
    let whole = days
        .between(stay.bike_id, first, last)
        .iter()
        .filter(|sum| !stay.eventful.contains(&sum.key.day))
        .map(|sum| (midnight_of(sum.key.day), totals(sum)));
    let parts = stay.eventful.iter().filter_map(|day| stay.part_of(*day));
    let single = parts
        .flat_map(|(from, to)| rides.between(stay.bike_id, from, to))
        .map(|ride| (ride.started_at.moment_in(stay.zone), totals(&BikeDay::of(ride, stay.zone))));
    stay.stay.clone().with_rides(whole).with_rides(single)
}

pub(super) fn totals(sum: &BikeDay) -> RideTotals {
    let BikeDay {
        key,
        rides,
        distance_mm,
        climb_mm: _,
        energy_j,
        base_reference_mm,
        measured_reference_mm,
        climb_reference_mm,
    } = *sum;
    RideTotals {
        surface: key.surface,
        wet: key.wet,
        rides,
        distance_mm,
        energy_j,
        base_reference_mm,
        measured_reference_mm,
        climb_reference_mm,
    }
}

/// Sums of whole days, by bike, day and context.
struct Rollups(Vec<BikeDay>);

impl Rollups {
    async fn load(tx: &mut Tx, stays: &[Ridden]) -> Result<Self, StoreError> {
        let spans: BTreeSet<_> = stays
            .iter()
            .map(|stay| {
                let [first, last] = stay.ends();
                (stay.bike_id, first, last)
            })
            .collect();
        let mut sums = tx.bike_days_of(&spans.into_iter().collect::<Vec<_>>()).await?;
        sums.retain(|sum| sum.rides > 0);
        sums.sort_unstable_by_key(|sum| sum.key);
        // Stays on one bike share the day of the swap.
        sums.dedup_by_key(|sum| sum.key);
        Ok(Self(sums))
    }

    fn between(&self, bike_id: BikeId, first: NaiveDate, last: NaiveDate) -> &[BikeDay] {
        let place = |sum: &BikeDay| (sum.key.bike_id, sum.key.day);
        let from = self.0.partition_point(|sum| place(sum) < (bike_id, first));
        let to = self.0.partition_point(|sum| place(sum) <= (bike_id, last));
        self.0.get(from..to).unwrap_or_default()
    }
}

/// Rides of eventful days, by bike and time.
struct Rides(Vec<Ride>);

impl Rides {
    /// Those of days on which the rollup has any.
    async fn load(tx: &mut Tx, stays: &[Ridden], days: &Rollups) -> Result<Self, StoreError> {
        let mut spans = BTreeSet::new();
        for stay in stays {
            for day in &stay.eventful {
                if let Some((from, to)) = stay.part_of(*day)
                    && !days.between(stay.bike_id, *day, *day).is_empty()
                {
                    spans.insert((stay.bike_id, from, to));
                }
            }
        }
        let mut rides = tx.rides_of(&spans.into_iter().collect::<Vec<_>>()).await?;
        rides.sort_unstable_by(|a, b| {
            (a.bike_id, a.started_at, &a.identity).cmp(&(b.bike_id, b.started_at, &b.identity))
        });
        rides.dedup_by_key(|ride| ride.id);
        Ok(Self(rides))
    }

    fn between(&self, bike_id: BikeId, from: Timestamp, to: Timestamp) -> &[Ride] {
        let place = |ride: &Ride| (ride.bike_id, ride.started_at);
        let from = self.0.partition_point(|ride| place(ride) < (bike_id, from));
        let to = self.0.partition_point(|ride| place(ride) < (bike_id, to));
        self.0.get(from..to).unwrap_or_default()
    }
}

pub(super) fn date_of(day: i64) -> Option<NaiveDate> {
    DateTime::from_timestamp_micros(Moment::start_of(day).micros()).map(|start| start.date_naive())
}

/// The beginning of a day, by the clock on the wall.
pub(super) fn midnight_of(day: NaiveDate) -> Moment {
    Moment::start_of(day.signed_duration_since(DateTime::UNIX_EPOCH.date_naive()).num_days())
}
