//! Whether chains that were ridden to the day named for their swap were over their limit by then.
//!
//! `swap_by` is the day on which the probability of being over reaches the risk that was accepted, so of chains
//! ridden to it that share is over. Nobody looks on the day itself: a chain read below its limit later wasn't over, one read
//! over before was, and between two readings the forecast's own odds say how far either is likely.

use super::censored::{CELLS, Share, Spans};
use super::passage::{Passage, PassageForecast};
use crate::vocabulary::vocabulary;

/// Cells below the accepted risk, whatever it is: a fifth of them.
const OVER: usize = CELLS / 5;

/// The share is judged when what is known is worth so many chains (A). Of simulated fleets whose forecasts were right one in
/// eight was called too late where it was worth 60: readings that lie on either side of a day tell it less sharply than they
/// seem to.
pub const FEWEST: f64 = 100.0;

vocabulary! {
    /// What it means for the risk that is chosen.
    SwapByVerdict, "verdict" {
        /// Too few chains were ridden to the day named and read afterwards.
        TooFew = "too_few",
        /// As many were over as was accepted.
        Kept = "kept",
        /// More were over than was accepted.
        TooLate = "too_late",
        /// Fewer were over than was accepted.
        TooEarly = "too_early",
    }
}

/// Sums over chains: they add up over groups and months.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct SwapByTally {
    /// Chains that were still on when the day named came.
    pub ridden: u64,
    /// Those of them of which a reading tells something of that day.
    pub judged: u64,
    /// Sum of the risks that had been accepted for those.
    pub risk: f64,
    /// On which side of the day they passed.
    pub spans: Spans,
    /// Chains that came off before the day named.
    pub early: u64,
    /// Sum of the days by which they did.
    pub early_days: f64,
}

impl SwapByTally {
    /// One more chain, still on when the day named came, `ahead` days after the forecast that named it.
    pub fn add_ridden(&mut self, forecast: &PassageForecast, ahead: f64, passage: Option<&Passage>) {
        self.ridden += 1;
        let accepted = forecast.probability(ahead);
        let Some(passage) = passage.filter(|_| accepted > 0.0 && accepted < 1.0) else { return };
        // What was accepted stands at a fifth of the scale, so that all risks add up.
        let split = OVER as f64 / CELLS as f64;
        let place = |u: f64| {
            if u <= accepted {
                split * u / accepted
            } else {
                split + (1.0 - split) * (u - accepted) / (1.0 - accepted)
            }
        };
        let mut tells = false;
        for between in passage.between() {
            let (from, to) = forecast.span(&between);
            tells |= self.spans.add(place(from), place(to), between.probability);
        }
        if tells {
            self.judged += 1;
            self.risk += accepted;
        }
    }

    /// One more chain that came off so many days before the day named.
    pub fn add_early(&mut self, days: f64) {
        self.early += 1;
        self.early_days += days;
    }

    /// How the days named did; none where no chain was ridden to one and none came off before one.
    #[must_use]
    pub fn record(&self) -> Option<SwapByRecord> {
        if self.ridden + self.early == 0 {
            return None;
        }
        let shares = self.spans.shares();
        let judged = self.judged as f64;
        let is_judged = self.judged > 0;
        Some(SwapByRecord {
            ridden: self.ridden,
            judged: self.judged,
            known: self.spans.known_of(&(0..OVER), &shares),
            over: is_judged.then(|| self.spans.share_of(&(0..OVER), &shares, 1.0)),
            accepted: is_judged.then(|| self.risk / judged),
            early: self.early,
            early_days: (self.early > 0).then(|| self.early_days / self.early as f64),
        })
    }
}

impl std::ops::AddAssign<&Self> for SwapByTally {
    fn add_assign(&mut self, other: &Self) {
        let Self { ridden, judged, risk, spans, early, early_days } = other;
        self.ridden += ridden;
        self.judged += judged;
        self.risk += risk;
        self.spans += spans;
        self.early += early;
        self.early_days += early_days;
    }
}

/// How days named for swaps have done.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub struct SwapByRecord {
    /// Chains still on when the day named came.
    pub ridden: u64,
    /// Those of them of which a reading tells something of that day.
    pub judged: u64,
    /// How many chains that were measured on the day itself would tell as much.
    pub known: f64,
    /// The share over the limit on the day; none while no reading tells.
    pub over: Option<Share>,
    /// Mean of the risks that had been accepted for them.
    pub accepted: Option<f64>,
    /// Chains that came off before the day named.
    pub early: u64,
    /// Days by which they did, in the mean.
    pub early_days: Option<f64>,
}

impl SwapByRecord {
    /// What it means for the risk that is chosen.
    #[must_use]
    pub fn verdict(&self) -> SwapByVerdict {
        // Rescaled, what was accepted is a fifth, whatever it was.
        let expected = OVER as f64 / CELLS as f64;
        match self.over.filter(|_| self.known >= FEWEST) {
            None => SwapByVerdict::TooFew,
            Some(over) if over.is_above(expected) => SwapByVerdict::TooLate,
            Some(over) if over.is_below(expected) => SwapByVerdict::TooEarly,
            Some(_) => SwapByVerdict::Kept,
        }
    }
}
