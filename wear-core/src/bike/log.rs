//! Events of one bike as they are told, and the chains that follow from them.

use std::sync::Arc;

use super::chain::{ChainRecord, ChainStart};
use super::riding::{Declared, Riding, UnloggedRiding};
use super::timeline::Stay;
use super::{Moment, Reading, RideTotals};
use crate::drivetrain::Drivetrain;
use crate::exposure::Use;
use crate::exposure::care::CareKind;
use crate::exposure::care_habit::CareHabit;
use crate::units::Kilometres;

/// Events in any order.
#[derive(Debug, Clone, Default)]
pub(super) struct Log {
    pub rides: Vec<(Moment, RideTotals)>,
    pub care: Vec<(Moment, CareKind)>,
    pub lubricants: Vec<(Moment, Option<Arc<str>>)>,
    pub readings: Vec<(Moment, Reading)>,
    pub chain_swaps: Vec<Moment>,
    pub odometer: Vec<(Moment, Kilometres)>,
    pub declared: Vec<Declared>,
}

/// What holds for all of a log's chains.
#[derive(Debug, Clone, Copy)]
pub(super) struct LogOf<'a> {
    pub drivetrain: &'a Drivetrain,
    pub usage: Use,
    /// How the first chain begins.
    pub first_chain: ChainStart,
    /// What is known of care; where nobody said, by what was entered.
    pub care: Option<CareHabit>,
}

impl Log {
    fn moments(&self) -> impl Iterator<Item = Moment> + '_ {
        let rides = self.rides.iter().map(|(at, _)| *at);
        let care = self.care.iter().map(|(at, _)| *at);
        let readings = self.readings.iter().map(|(at, _)| *at);
        let odometer = self.odometer.iter().map(|(at, _)| *at);
        rides.chain(care).chain(readings).chain(odometer).chain(self.chain_swaps.iter().copied())
    }

    /// Unrecorded until the first entry.
    fn care_as_entered(&self) -> CareHabit {
        let first = self.care.iter().map(|(at, _)| *at).min();
        first.map_or(CareHabit::Unrecorded, |first| CareHabit::RecordedSince(first.days()))
    }

    /// What is known of riding besides the rides.
    pub fn unlogged(&self, of: LogOf<'_>, now: Moment) -> UnloggedRiding {
        Riding::new(self.rides.iter().copied())
            .with_statements(self.odometer.iter().copied())
            .with_declared(self.declared.iter().copied())
            .unlogged(of.drivetrain, of.usage, now)
    }

    /// The bike's chains by `now`, oldest first: the first one since the first event, another since each swap.
    pub fn chains(&self, of: LogOf<'_>, now: Moment) -> Vec<ChainRecord> {
        let habit = of.care.unwrap_or_else(|| self.care_as_entered());
        let unlogged = self.unlogged(of, now).unlogged;
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
                .with_care(self.care.iter().copied().filter(|(at, _)| during(*at)))
                .with_lubricants(self.lubricants.iter().filter(|(at, _)| during(*at)).cloned())
                .with_care_habit(habit)
                .with_unlogged(unlogged.iter().cloned());
            let readings = self.readings.iter().copied().filter(|(at, _)| read(*at));
            let start = if place == 0 { of.first_chain } else { ChainStart::New };
            chains.push(ChainRecord::new(vec![stay]).starting(start).with_readings(readings));
        }
        chains
    }
}
