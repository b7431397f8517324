//! Forecasts of passages, held against what came.

use std::collections::{BTreeMap, HashMap};

use chrono_tz::Tz;
use wear_core::Moment;
use wear_core::bike::{ReadOver, SeenPassing, given};
use wear_core::fleet::demand::Demand;
use wear_core::fleet::demand_record::QuarterDemand;
use wear_core::fleet::passage::{Passage, PassageForecast};
use wear_core::fleet::passage_record::PassageTally;
use wear_core::fleet::skip_reliability::SkipReliability;
use wear_core::fleet::swap_by_record::SwapByTally;
use wear_core::knock_on::ToldSkip;
use wear_core::units::Probability;

use crate::domain::{BikeId, GroupName, KeptPassage, Made, Month, RecordTally, Sums, Timestamp};

/// Days after the beginning of a quarter in which a bike's first forecast counts for it (A).
const QUARTER_BEGINS_DAYS: i64 = 14;

/// What became of a chain.
pub(super) struct Ended {
    /// When it came off for the last time; none while it is on.
    pub removed_at: Option<Timestamp>,
    /// The zone by whose clock the library's moments are told.
    pub zone: Tz,
    /// When it passed each limit that was forecast, as its readings say.
    pub seen: HashMap<u64, SeenPassing>,
    /// Whether the next chain skipped on the same cassette; none where nobody knows.
    pub next_skipped: Option<bool>,
}

impl Ended {
    /// A limit as a key.
    pub fn limit(kept: &KeptPassage) -> u64 {
        kept.limit.get().to_bits()
    }

    /// What became of it, as seen from one forecast: in kilometres and in days.
    fn since(&self, kept: &KeptPassage) -> (Option<Passage>, Option<Passage>) {
        let Some(SeenPassing { read, would_pass }) = self.seen.get(&Self::limit(kept)) else {
            return (None, None);
        };
        let made_at = kept.made_at.moment_in(self.zone);
        let later: Vec<&ReadOver> = read.iter().filter(|read| read.at > made_at).collect();
        let km = |read: &ReadOver| (read.km - kept.chain_km).max(0.0);
        let mut in_km: Vec<(f64, f64)> = later.iter().map(|read| (km(read), read.over)).collect();
        let mut in_days: Vec<(f64, f64)> =
            later.iter().map(|read| (days_between(made_at, read.at), read.over)).collect();
        if let Some(last) = later.last().filter(|_| self.removed_at.is_some()) {
            let (km, days) = (km(last), days_between(made_at, last.at));
            in_km.extend(would_pass.iter().map(|(ahead, level)| (km + ahead, *level)));
            // Ridden on as since the forecast.
            let per_day = km / days;
            if per_day > 0.0 && per_day.is_finite() {
                in_days.extend(would_pass.iter().map(|(ahead, level)| (days + ahead / per_day, *level)));
            }
        }
        (Passage::seen(in_km), Passage::seen(in_days))
    }
}

fn days_between(from: Moment, to: Moment) -> f64 {
    to.days() - from.days()
}

/// What a bike's first forecast of a quarter said of its swap.
struct Expected {
    made_at: Timestamp,
    group: GroupName,
    probability: f64,
    common: f64,
    came: bool,
}

/// Scores added up.
#[derive(Default)]
pub(super) struct Scores {
    kilometres: BTreeMap<Key, PassageTally>,
    dates: BTreeMap<Key, PassageTally>,
    swap_by: BTreeMap<Key, SwapByTally>,
    skips: BTreeMap<Key, SkipReliability>,
    demand: BTreeMap<(Made, Month), HashMap<BikeId, Expected>>,
}

type Key = (Made, GroupName, Month);

fn key(kept: &KeptPassage) -> Key {
    (kept.made, kept.group.clone(), kept.month)
}

impl Scores {
    /// The forecasts of one chain, made in one way, in the order in which they were made.
    pub fn add(&mut self, forecasts: &[KeptPassage], ended: &Ended, now: Timestamp, zone: Tz) {
        let seen: Vec<_> = forecasts.iter().map(|kept| ended.since(kept)).collect();
        let in_km =
            forecasts.iter().zip(&seen).map(|(kept, (km, _))| (kept, Some(&kept.kilometres), km.as_ref()));
        add_passages(&mut self.kilometres, in_km);
        let in_days =
            forecasts.iter().zip(&seen).map(|(kept, (_, days))| (kept, kept.days.as_ref(), days.as_ref()));
        add_passages(&mut self.dates, in_days);
        self.add_swap_by(forecasts, &seen, ended, now);
        if let (Some(skipped), Some(removed_at)) = (ended.next_skipped, ended.removed_at) {
            let last = forecasts.iter().rfind(|kept| kept.made_at <= removed_at);
            if let Some((kept, told)) = last.and_then(|kept| Some((kept, kept.skips?))) {
                let told = ToldSkip { probability: told.get(), skipped };
                self.skips.entry(key(kept)).or_default().add(&told);
            }
        }
        for kept in forecasts {
            self.expect(kept, ended, now, zone);
        }
    }

    /// The first day named that came before another was, with the chain on; else how early it came off.
    fn add_swap_by(
        &mut self,
        forecasts: &[KeptPassage],
        seen: &[(Option<Passage>, Option<Passage>)],
        ended: &Ended,
        now: Timestamp,
    ) {
        for (place, kept) in forecasts.iter().enumerate() {
            let next = forecasts.get(place + 1).map(|next| next.made_at);
            let named = kept.days.as_ref().zip(kept.swap_in_days.filter(|days| *days > 0));
            let Some((days, ahead)) = named else { continue };
            let due = kept.made_at.plus(chrono::Duration::days(i64::from(ahead)));
            let on_until = ended.removed_at.unwrap_or(now);
            if due <= on_until && next.is_none_or(|next| due < next) {
                let passage = seen[place].1.as_ref();
                self.swap_by.entry(key(kept)).or_default().add_ridden(days, f64::from(ahead), passage);
                return;
            }
            if let Some(removed_at) = ended.removed_at.filter(|it| next.is_none_or(|next| *it <= next)) {
                if kept.made_at < removed_at && removed_at < due {
                    let early = days_between(removed_at.moment_in(Tz::UTC), due.moment_in(Tz::UTC));
                    self.swap_by.entry(key(kept)).or_default().add_early(early);
                }
                return;
            }
        }
    }

    /// What a forecast expects of its quarter, where it is the bike's first there and the quarter is over.
    fn expect(&mut self, kept: &KeptPassage, ended: &Ended, now: Timestamp, zone: Tz) {
        let KeptPassage { made, month, made_at, bike_id, .. } = kept;
        let quarter = month.quarter();
        let made_on = made_at.date_in(zone);
        let days_in = made_on.signed_duration_since(quarter.begins()).num_days();
        let ends = month.quarter_ends();
        if days_in >= QUARTER_BEGINS_DAYS || ends > now.date_in(zone) {
            return;
        }
        let came = ended.removed_at.is_some_and(|at| at > *made_at && at.date_in(zone) < ends);
        let expected = Expected {
            made_at: *made_at,
            group: kept.group.clone(),
            probability: kept.quarter_swap.get(),
            common: kept.quarter_common,
            came,
        };
        let bikes = self.demand.entry((*made, quarter)).or_default();
        if bikes.get(bike_id).is_none_or(|before| *made_at < before.made_at) {
            bikes.insert(*bike_id, expected);
        }
    }

    /// All of it, to be stored.
    pub fn tallies(self) -> Vec<RecordTally> {
        let Self { kilometres, dates, swap_by, skips, demand } = self;
        let mut tallies = Vec::new();
        let mut add = |(made, group, month): Key, sums: Sums| {
            tallies.push(RecordTally { made, group: Some(group), month, sums });
        };
        // What says nothing yet isn't kept.
        let passed = |tally: &PassageTally| tally.forecasts > 0;
        kilometres
            .into_iter()
            .filter(|(_, it)| passed(it))
            .for_each(|(key, it)| add(key, Sums::Kilometres(it)));
        dates.into_iter().filter(|(_, it)| passed(it)).for_each(|(key, it)| add(key, Sums::Dates(it)));
        swap_by.into_iter().for_each(|(key, it)| add(key, Sums::SwapBy(it)));
        skips.into_iter().for_each(|(key, it)| add(key, Sums::Skips(it)));
        for ((made, month), bikes) in demand {
            let mut groups: BTreeMap<Option<GroupName>, Vec<&Expected>> = BTreeMap::new();
            for expected in bikes.values() {
                groups.entry(None).or_default().push(expected);
                groups.entry(Some(expected.group.clone())).or_default().push(expected);
            }
            let counted = groups.into_iter().map(|(group, bikes)| RecordTally {
                made,
                group,
                month,
                sums: Sums::Demand(counted(&bikes)),
            });
            tallies.extend(counted);
        }
        tallies
    }
}

/// Adds what forecasts of one chain said of when it passes, each with the part that it is of those of which something is
/// known.
fn add_passages<'a>(
    tallies: &mut BTreeMap<Key, PassageTally>,
    forecasts: impl Iterator<Item = (&'a KeptPassage, Option<&'a PassageForecast>, Option<&'a Passage>)>,
) {
    let telling: Vec<_> = forecasts
        .filter_map(|(kept, forecast, passage)| Some((kept, forecast?, passage?)))
        .filter(|(_, forecast, passage)| PassageTally::tells(forecast, passage))
        .collect();
    let part = 1.0 / telling.len() as f64;
    for (kept, forecast, passage) in telling {
        tallies.entry(key(kept)).or_default().add(forecast, passage, part);
    }
}

/// Swaps that were expected of bikes, and those that came.
fn counted(bikes: &[&Expected]) -> QuarterDemand {
    // In an order of their own, so that sums are the same each night.
    let mut chances: Vec<(f64, f64)> = bikes.iter().map(|it| (it.probability, it.common)).collect();
    chances.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)));
    let demand = Demand::under_shared_deviate(|deviate| {
        let given = chances.iter().map(|(probability, common)| given(*probability, *common, deviate));
        given.map(Probability::saturating).collect()
    });
    let count = |level: f64| demand.quantile(Probability::saturating(level)) as u64;
    QuarterDemand {
        p10: count(0.1),
        p50: count(0.5),
        p90: count(0.9),
        mean: chances.iter().map(|(probability, _)| probability).sum(),
        bikes: bikes.len() as u64,
        came: bikes.iter().filter(|it| it.came).count() as u64,
    }
}
