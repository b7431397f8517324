//! Events of one bike as they are told, and the chains that follow from them.

use super::chain::{ChainRecord, ChainStart};
use super::timeline::Stay;
use super::{Moment, Reading, RideTotals};
use crate::exposure::care::CareKind;
use crate::exposure::care_habit::CareHabit;

/// Events in any order.
#[derive(Debug, Clone, Default)]
pub(super) struct Log {
    pub rides: Vec<(Moment, RideTotals)>,
    pub care: Vec<(Moment, CareKind)>,
    pub readings: Vec<(Moment, Reading)>,
    pub chain_swaps: Vec<Moment>,
}

impl Log {
    fn moments(&self) -> impl Iterator<Item = Moment> + '_ {
        let rides = self.rides.iter().map(|(at, _)| *at);
        let care = self.care.iter().map(|(at, _)| *at);
        let readings = self.readings.iter().map(|(at, _)| *at);
        rides.chain(care).chain(readings).chain(self.chain_swaps.iter().copied())
    }

    /// The bike's chains by `now`, oldest first: the first one since the first event, another since each swap.
    pub fn chains(&self, now: Moment, first_chain: ChainStart, care: CareHabit) -> Vec<ChainRecord> {
        let first = self.moments().min().unwrap_or(now).min(now);
        // Just after the last event, so that it counts.
        let end =
            Moment::from_micros(self.moments().max().unwrap_or(now).max(now).micros().saturating_add(1));
        let mut swaps = self.chain_swaps.clone();
        swaps.sort_unstable();
        swaps.dedup();
        let from: Vec<Moment> =
            std::iter::once(first).chain(swaps.iter().copied().filter(|at| *at > first)).collect();
        let to = from.iter().skip(1).copied().chain([end]);
        let mut chains = Vec::with_capacity(from.len());
        for (place, (&from, to)) in from.iter().zip(to).enumerate() {
            let during = |at: Moment| from <= at && at < to;
            // Who measures a chain at the moment of its swap measures the old one.
            let read = |at: Moment| at <= to && (from < at || place == 0);
            let stay = Stay::new(from, to)
                .with_rides(self.rides.iter().copied().filter(|(at, _)| during(*at)))
                .with_care(self.care.iter().copied().filter(|(at, _)| during(*at)));
            let readings = self.readings.iter().copied().filter(|(at, _)| read(*at));
            let start = if place == 0 { first_chain } else { ChainStart::New };
            let chain = ChainRecord::new(vec![stay]).starting(start).with_care_habit(care);
            chains.push(chain.with_readings(readings));
        }
        chains
    }
}
