//! What each chain did as a new one on the cassette and rings that it met.

use super::Moment;
use super::bike::SkipReport;
use super::chain::{ChainStart, KnownChain};
use crate::drivetrain::Teeth;
use crate::knock_on::{SkipOutcome, SkipTest, SwapReason, TRIAL_KM};

/// A cassette's, or a set of rings', time on the bike.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Span {
    pub since: Moment,
    /// `None` while it is on.
    pub until: Option<Moment>,
    /// Whether it was on when the record begins, of an age that nobody knows.
    pub as_found: bool,
    /// Why it came off.
    pub reason: Option<SwapReason>,
}

impl Span {
    pub fn present(since: Moment, as_found: bool) -> Self {
        Self { since, until: None, as_found, reason: None }
    }

    /// The chains that ran on it.
    pub fn ran<'a>(&self, chains: &'a [KnownChain]) -> Vec<&'a KnownChain> {
        let before_the_end = |chain: &&KnownChain| {
            let first = chain.record.stays().iter().find(|stay| stay.was_here_after(self.since));
            self.until.is_none_or(|until| first.is_some_and(|stay| stay.from() < until))
        };
        chains.iter().filter(|chain| chain.record.was_here_after(self.since)).filter(before_the_end).collect()
    }

    fn holds(&self, at: Moment) -> bool {
        at >= self.since && self.until.is_none_or(|until| at <= until)
    }
}

/// How a new chain did.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Met {
    /// Ridden less than [`TRIAL_KM`] without a word.
    Undecided,
    /// Ridden so far, and no skip was reported.
    Held,
    /// A skip was reported within that.
    Skipped,
}

/// What is known of one chain and a set of sprockets that it met.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct ChainTrial {
    /// The chain's place among those that ran on the sprockets.
    pub chain: usize,
    /// The sprocket, where it is of one.
    pub sprocket: Option<usize>,
    /// Whether the chain was new.
    pub new_chain: bool,
    pub outcome: SkipOutcome,
}

/// What is known of all chains that met a set of sprockets.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Trials {
    /// In order of time.
    pub told: Vec<ChainTrial>,
    /// Reports that name a cog, with its teeth.
    pub reports: Vec<(SkipReport, u16)>,
    /// How the last chain did; `None` where it wasn't new on sprockets with some wear.
    pub last: Option<Met>,
}

impl Trials {
    /// Of the chains that ran during a span; `cogs` is empty for rings, of which nobody reports a skip.
    pub fn of(ran: &[&KnownChain], span: &Span, reports: &[SkipReport], cogs: &[Teeth]) -> Self {
        let mut reports: Vec<&SkipReport> = reports.iter().filter(|it| span.holds(it.reported_at)).collect();
        reports.sort_by_key(|report| (report.reported_at, report.cog.map(Teeth::get), report.new_chain));
        let mut trials = Self::default();
        for (place, chain) in ran.iter().enumerate() {
            let new = New::of(ran, place, span);
            let mut skipped = false;
            let mut later = Vec::new();
            let of_chain = |report: &&&SkipReport| chain.record.was_here_at(report.reported_at);
            for report in reports.iter().filter(of_chain) {
                let sprocket = match report.cog {
                    Some(cog) => cogs.iter().position(|teeth| *teeth == cog),
                    None => (cogs.len() == 1).then_some(0),
                };
                if let Some(sprocket) = sprocket {
                    trials.reports.push((**report, cogs[sprocket].get()));
                }
                let while_new = new.as_ref().is_some_and(|new| new.is_at(chain, report.reported_at));
                skipped |= while_new;
                let told = |chain, new_chain, outcome| ChainTrial { chain, sprocket, new_chain, outcome };
                match (while_new, report.new_chain) {
                    (true, true) => trials.told.push(told(place, true, SkipOutcome::Skips)),
                    (true, false) => trials.told.push(told(place, true, SkipOutcome::ReportedNew)),
                    // Another one was tried, with the wear of this one behind it.
                    (false, true) => later.push(told(place + 1, false, SkipOutcome::Skips)),
                    (false, false) => later.push(told(place, false, SkipOutcome::Reported)),
                }
            }
            let met = new.map(|new| match (skipped, new.km >= TRIAL_KM) {
                (true, _) => Met::Skipped,
                (false, true) => Met::Held,
                (false, false) => Met::Undecided,
            });
            if met == Some(Met::Held) {
                let outcome = SkipOutcome::Unreported;
                trials.told.push(ChainTrial { chain: place, sprocket: None, new_chain: true, outcome });
            }
            trials.told.extend(later);
            trials.last = met;
        }
        trials
    }

    /// For an outlook: tests of single sprockets, and reports that name none, as the number of chains behind them.
    pub fn tests(&self, sprockets: usize) -> (Vec<SkipTest>, Vec<usize>) {
        let mut tests = Vec::new();
        let mut unnamed = Vec::new();
        for &ChainTrial { chain: chains_before, sprocket, new_chain: _, outcome } in &self.told {
            match (sprocket, outcome) {
                (Some(sprocket), _) => tests.push(SkipTest { sprocket, chains_before, outcome }),
                (None, SkipOutcome::Reported) => unnamed.push(chains_before + 1),
                (None, SkipOutcome::ReportedNew | SkipOutcome::Skips) => unnamed.push(chains_before),
                (None, SkipOutcome::Holds | SkipOutcome::Unreported) => {
                    tests.extend((0..sprockets).map(|sprocket| SkipTest {
                        sprocket,
                        chains_before,
                        outcome,
                    }));
                }
            }
        }
        (tests, unnamed)
    }

    /// Chains that held.
    pub fn held(&self) -> u32 {
        self.count(|outcome| outcome == SkipOutcome::Unreported)
    }

    /// Skips that were reported.
    pub fn skipped(&self) -> u32 {
        self.count(|outcome| outcome != SkipOutcome::Unreported)
    }

    fn count(&self, of: impl Fn(SkipOutcome) -> bool) -> u32 {
        u32::try_from(self.told.iter().filter(|trial| of(trial.outcome)).count()).unwrap_or(u32::MAX)
    }
}

/// A chain that was new when it met sprockets with some wear.
struct New {
    /// How far it was ridden on them, km.
    km: f64,
}

impl New {
    fn of(ran: &[&KnownChain], place: usize, span: &Span) -> Option<Self> {
        let chain = ran[place];
        let first = chain.record.stays().first()?;
        let (from, to) = (first.from(), span.until.map_or(first.to(), |until| first.to().min(until)));
        let is_new = chain.record.chain_start() == ChainStart::New && first.is_here() && from >= span.since;
        // Where chains take turns, wear of later turns would count as done before.
        let takes_turns = ran[..place].iter().any(|earlier| earlier.record.was_here_after(from));
        if !is_new || takes_turns || (place == 0 && !span.as_found) {
            return None;
        }
        let days = chain.accrued.days.iter().filter(|day| day.day <= to.day());
        Some(Self { km: days.map(|day| day.used.km).sum() })
    }

    /// Whether a moment falls into the chain's first [`TRIAL_KM`], to the day.
    fn is_at(&self, chain: &KnownChain, at: Moment) -> bool {
        let before = chain.accrued.days.iter().filter(|day| day.day < at.day());
        before.map(|day| day.used.km).sum::<f64>() < TRIAL_KM
    }
}
