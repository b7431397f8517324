//! What became of a bike's chains, by what is known today.

use std::collections::{BTreeMap, HashMap};

use chrono::Duration;

use super::origins::Known;
use super::scores::Ended;
use crate::domain::{Fitting, KeptPassage, PartId, Place, Timestamp};
use crate::service::outlook::{PastBike, PastChain};

/// A new chain that went so far, km, and so many days without a reported skip has held (A).
const HELD_KM: f64 = 100.0;
const HELD_DAYS: i64 = 28;

/// Parts that come off and go on within this belong to one swap.
const AT_ONE_SWAP: Duration = Duration::days(1);

/// What became of those chains of a bike that end on it and of which a forecast was kept.
pub(super) fn ended(
    bike: &PastBike,
    known: &Known,
    kept: &HashMap<PartId, Vec<KeptPassage>>,
    now: Timestamp,
) -> Vec<(PartId, Ended)> {
    let forecast = |chain: &&PastChain| chain.ends_here && kept.contains_key(&chain.part_id);
    if !bike.chains.iter().any(|chain| forecast(&chain)) {
        return Vec::new();
    }
    let assessment = bike.drivetrain(known, now).assess(bike.moment(now));
    let limits: BTreeMap<u64, _> =
        kept.values().flatten().map(|kept| (Ended::limit(kept), kept.limit)).collect();
    let seen: Vec<(u64, Vec<_>)> =
        limits.into_iter().map(|(key, limit)| (key, assessment.seen_passing(limit).collect())).collect();
    let distances: Vec<f64> = assessment.distances_km().collect();
    let trials = Trials { bike, distances: &distances, now };
    let chains = bike.chains.iter().enumerate().filter(|(_, chain)| forecast(chain));
    let ended = chains.map(|(place, chain)| {
        let seen = seen.iter().filter_map(|(limit, of_chains)| Some((*limit, of_chains.get(place)?.clone())));
        let ended = Ended {
            removed_at: chain.removed_at,
            zone: bike.zone(),
            seen: seen.collect(),
            next_skipped: chain.removed_at.and_then(|at| trials.next_skipped(at)),
        };
        (chain.part_id, ended)
    });
    ended.collect()
}

/// New chains that were tried on the cassette of those before.
struct Trials<'a> {
    bike: &'a PastBike,
    /// Of each chain, km.
    distances: &'a [f64],
    now: Timestamp,
}

impl Trials<'_> {
    /// Whether the chain that was put on when one came off skipped on the cassette that stayed; none where no chain was put on,
    /// the cassette went as well, or it hasn't gone far enough.
    fn next_skipped(&self, removed_at: Timestamp) -> Option<bool> {
        let Self { bike, distances, now } = self;
        let of = |place: Place| bike.fittings.iter().filter(move |it| it.place == place);
        let is_next =
            |it: &&Fitting| it.fitted_at >= removed_at && it.fitted_at < removed_at.plus(AT_ONE_SWAP);
        let next = of(Place::Chain).filter(is_next).min_by_key(|it| it.fitted_at)?;
        let tried_until = next.fitted_at.plus(Duration::days(HELD_DAYS));
        let on = of(Place::Cassette).find(|it| it.covers(removed_at.plus(Duration::microseconds(-1))))?;
        let gone_at = on.removed_at.filter(|gone_at| *gone_at < tried_until);
        if gone_at.is_some_and(|gone_at| gone_at < next.fitted_at.plus(AT_ONE_SWAP)) {
            return None;
        }
        let tried = |at: Timestamp| next.fitted_at <= at && at < tried_until;
        if bike.skips.iter().any(|report| tried(report.reported_at)) {
            return Some(true);
        }
        let place = bike.chains.iter().position(|chain| chain.part_id == next.part_id)?;
        let stayed = next.removed_at.is_none_or(|removed_at| removed_at >= tried_until) && gone_at.is_none();
        let went_far = distances.get(place).is_some_and(|km| *km >= HELD_KM);
        (stayed && went_far && *now >= tried_until).then_some(false)
    }
}
