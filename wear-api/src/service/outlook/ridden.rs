//! The rides of parts' stays on bikes.

use std::collections::BTreeSet;

use chrono::{Days, NaiveDate};

use super::timeline::{Event, Stretch};
use crate::domain::{BikeDay, BikeId, Fitting, Ride, Timestamp};
use crate::store::{StoreError, Tx};

/// A stay whose rides are asked for.
pub(super) struct Ridden<'a> {
    bike_id: BikeId,
    from: Timestamp,
    to: Timestamp,
    /// What happened meanwhile, in order.
    events: &'a [(Timestamp, Event)],
}

impl<'a> Ridden<'a> {
    /// Of a stay, up to `horizon` while it lasts.
    pub fn of(stay: &Fitting, horizon: Timestamp, events: &'a [(Timestamp, Event)]) -> Self {
        Self { bike_id: stay.bike_id, from: stay.fitted_at, to: stay.removed_at.unwrap_or(horizon), events }
    }

    fn ends(&self) -> [NaiveDate; 2] {
        [self.from.utc_date(), self.to.utc_date()]
    }

    /// Days that can't be taken as a whole.
    fn eventful(&self) -> BTreeSet<NaiveDate> {
        self.events.iter().map(|(at, _)| at.utc_date()).chain(self.ends()).collect()
    }

    /// What of a day belongs to the stay.
    fn part_of(&self, day: NaiveDate) -> Option<(Timestamp, Timestamp)> {
        let midnight = start_of(day)?;
        let next = day.checked_add_days(Days::new(1)).and_then(start_of).unwrap_or(self.to);
        let (from, to) = (midnight.max(self.from), next.min(self.to));
        (from < to).then_some((from, to))
    }
}

/// The rides of each stay, in order of time: whole days from the rollup, days with an event in them ride by ride.
pub(super) async fn stretches(tx: &mut Tx, stays: &[Ridden<'_>]) -> Result<Vec<Vec<Stretch>>, StoreError> {
    let days = Rollups::load(tx, stays).await?;
    let rides = Rides::load(tx, stays, &days).await?;
    Ok(stays.iter().map(|stay| stretches_of(stay, &days, &rides)).collect())
}

fn stretches_of(stay: &Ridden<'_>, days: &Rollups, rides: &Rides) -> Vec<Stretch> {
    let eventful = stay.eventful();
    let [first, last] = stay.ends();
    let mut stretches: Vec<Stretch> = days
        .between(stay.bike_id, first, last)
        .chunk_by(|a, b| a.key.day == b.key.day)
        .filter(|sums| sums.first().is_some_and(|sum| !eventful.contains(&sum.key.day)))
        .filter_map(|sums| {
            let day = sums.first()?.key.day;
            let sums = sums.to_vec();
            Some(Stretch { at: start_of(day)?, day, sums })
        })
        .collect();
    for day in eventful {
        let Some((from, to)) = stay.part_of(day) else { continue };
        stretches.extend(rides.between(stay.bike_id, from, to).iter().map(|ride| Stretch {
            at: ride.started_at,
            day,
            sums: vec![BikeDay::of(ride)],
        }));
    }
    stretches.sort_by_key(|stretch| stretch.at);
    stretches
}

/// Sums of whole days, by bike, day and context.
struct Rollups(Vec<BikeDay>);

impl Rollups {
    async fn load(tx: &mut Tx, stays: &[Ridden<'_>]) -> Result<Self, StoreError> {
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
    async fn load(tx: &mut Tx, stays: &[Ridden<'_>], days: &Rollups) -> Result<Self, StoreError> {
        let mut spans = BTreeSet::new();
        for stay in stays {
            for day in stay.eventful() {
                if let Some((from, to)) = stay.part_of(day)
                    && !days.between(stay.bike_id, day, day).is_empty()
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

fn start_of(day: NaiveDate) -> Option<Timestamp> {
    Timestamp::new(day.and_hms_opt(0, 0, 0)?.and_utc()).ok()
}
