//! How forecasts of when chains pass their limits did, in kilometres or in days.
//!
//! Each forecast is asked with what probability it had expected the passage by when it came. Of right forecasts these
//! probabilities are spread evenly from 0 to 1 (probability integral transform; Dawid 1984, J. R. Stat. Soc. A 147:278, M), a tenth
//! of them below P10 and a tenth above P90. Readings tell no more than between which of them a passage lies, and chains that came
//! off before, or are still on, only that it lies beyond: see [`super::censored`].

use super::censored::{CELLS, Share, Spans};
use super::passage::{Passage, PassageForecast};
use super::track_record::INTERVAL;
use crate::numeric::normal;
use crate::vocabulary::vocabulary;

/// Cells below P10, and the one after the last below P90.
const P10: usize = CELLS / 10;
const P90: usize = CELLS - P10;

/// Share before P10, and beyond P90.
const TAIL: f64 = 0.1;

/// With less known than so many chains would tell, nothing is said (A).
pub const FEWEST: f64 = 10.0;

/// Standard normal quantile at 90 %.
const Z90: f64 = 1.281_551_565_544_6;

vocabulary! {
    /// What a record of forecasts means for the next one.
    PassageVerdict, "verdict" {
        /// Too few chains have shown when they passed their limit.
        TooFew = "too_few",
        /// The forecasts keep their promise.
        Holds = "holds",
        /// More chains than promised pass before P10: look earlier.
        TooLate = "too_late",
        /// More chains than promised pass after P90: they last longer than told.
        TooEarly = "too_early",
        /// Fewer than promised between P10 and P90, on both sides: less sure than told.
        TooNarrow = "too_narrow",
        /// More than promised between P10 and P90: surer than told.
        TooWide = "too_wide",
    }
}

/// Sums over forecasts: they add up over groups and months.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct PassageTally {
    /// Forecasts of which something is known.
    pub forecasts: u64,
    /// Chains that they are of: each forecast counts by its part in those of its chain of which something is known.
    pub chains: f64,
    /// Where in their forecasts the passages lie.
    pub spans: Spans,
    /// Sums of P10, P50 and P90 of those that had all three.
    pub told: [f64; 3],
    /// How many had all three.
    pub with_all: u64,
}

impl PassageTally {
    /// One more forecast, of which the outcome is known or begins to be; `part` is one over the number of forecasts of its
    /// chain of which that is so.
    ///
    /// Each forecast has the same weight: a chain that lasts has more of them, and weighing chains alike would give those
    /// that pass early, with few forecasts, more than their share. How much is known is counted by chains.
    pub fn add(&mut self, forecast: &PassageForecast, passage: &Passage, part: f64) {
        let mut tells = false;
        for between in passage.between() {
            let (from, to) = forecast.span(&between);
            tells |= self.spans.add(from, to, between.probability);
        }
        if !tells {
            return;
        }
        self.forecasts += 1;
        self.chains += part;
        let told = [0.1, 0.5, 0.9].map(|level| forecast.quantile(level));
        if let [Some(p10), Some(p50), Some(p90)] = told {
            self.told.iter_mut().zip([p10, p50, p90]).for_each(|(sum, told)| *sum += told);
            self.with_all += 1;
        }
    }

    /// Whether an outcome says anything of a forecast.
    #[must_use]
    pub fn tells(forecast: &PassageForecast, passage: &Passage) -> bool {
        let mut one = Self::default();
        one.add(forecast, passage, 1.0);
        one.forecasts > 0
    }

    /// How good the forecasts were; none where nothing is known yet.
    #[must_use]
    pub fn record(&self) -> Option<PassageRecord> {
        if self.forecasts == 0 || self.spans.weight() <= 0.0 {
            return None;
        }
        let shares = self.spans.shares();
        let each = (self.chains / self.forecasts as f64).clamp(0.0, 1.0);
        let share = |cells: std::ops::Range<usize>| self.spans.share_of(&cells, &shares, each);
        Some(PassageRecord {
            forecasts: self.forecasts,
            chains: self.chains,
            known: each * self.spans.known_of(&(P10..P90), &shares),
            covered: share(P10..P90),
            before_p10: share(0..P10),
            beyond_p90: share(P90..CELLS),
            shift: self.shift(&shares),
        })
    }

    /// How much later than P50 half of the passages had come.
    fn shift(&self, shares: &[f64]) -> Option<f64> {
        if self.with_all == 0 {
            return None;
        }
        let mut below = 0.0;
        let cell = shares.iter().position(|share| {
            below += share;
            below >= 0.5
        })?;
        let within = (0.5 - (below - shares[cell])) / shares[cell];
        let z = normal::quantile(((cell as f64 + within) / CELLS as f64).clamp(0.001, 0.999));
        let [p10, p50, p90] = self.told;
        let side = if z < 0.0 { p50 - p10 } else { p90 - p50 };
        Some(z / Z90 * side / self.with_all as f64)
    }
}

impl std::ops::AddAssign<&Self> for PassageTally {
    fn add_assign(&mut self, other: &Self) {
        let Self { forecasts, chains, spans, told, with_all } = other;
        self.forecasts += forecasts;
        self.chains += chains;
        self.spans += spans;
        self.told.iter_mut().zip(told).for_each(|(sum, told)| *sum += told);
        self.with_all += with_all;
    }
}

/// How good forecasts of passages have been.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub struct PassageRecord {
    /// Forecasts of which something is known.
    pub forecasts: u64,
    /// Chains that they are of.
    pub chains: f64,
    /// How many chains of which all is known would tell as much.
    pub known: f64,
    /// Share of passages between P10 and P90; [`INTERVAL`] is right.
    pub covered: Share,
    /// Share before P10; a tenth is right.
    pub before_p10: Share,
    /// Share beyond P90; a tenth is right.
    pub beyond_p90: Share,
    /// How much later than told half of the passages had come, km or days; below nought, earlier. None where no
    /// forecast had all of P10, P50 and P90.
    pub shift: Option<f64>,
}

impl PassageRecord {
    /// What it means for the next forecast.
    #[must_use]
    pub fn verdict(&self) -> PassageVerdict {
        let (early, late) = (self.before_p10.is_above(TAIL), self.beyond_p90.is_above(TAIL));
        if self.known < FEWEST {
            PassageVerdict::TooFew
        } else if early && !late {
            PassageVerdict::TooLate
        } else if late && !early {
            PassageVerdict::TooEarly
        } else if self.covered.is_below(INTERVAL) {
            PassageVerdict::TooNarrow
        } else if self.covered.is_above(INTERVAL) {
            PassageVerdict::TooWide
        } else {
            PassageVerdict::Holds
        }
    }
}
