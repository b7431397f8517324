//! What the chains of a bike did to its cassette and rings.

use super::Moment;
use super::bike::SkipReport;
use super::chain::KnownChain;
use super::outlook::{CassetteReport, RingReport, SprocketDamage};
use super::trials::{ChainTrial, Met, Span, Trials};
use crate::degradation::Quantiles;
use crate::drivetrain::Drivetrain;
use crate::exposure::{GearShare, Use};
use crate::knock_on::{
    self, CassetteBuild, CassetteFacts, CassetteLife, CassetteOutlook, ChainWear, Removal, RingFacts,
    RingOutlook, SkipOutcome, SkipThreshold, Trial, damage_by_chain,
};
use crate::units::Limit;

/// Step of the grid over elongation for expectations, percent.
const STEP: f64 = 0.02;

/// End of that grid, percent; what is beyond counts as at the end.
const END: f64 = 2.0;

/// What a chain is expected to have done to the sprockets, and does per percent of further elongation.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct ExpectedKnockOn {
    /// Cassettes used up on the busiest sprocket.
    pub accrued: f64,
    /// Cassettes per percent.
    pub slope: f64,
}

/// Expectations of [`knock_on::accrued`] and [`knock_on::slope`] over a density, each elongation e taken for `path(e)`.
pub(super) fn expected_knock_on(
    density: impl FnOnce(&[f64]) -> Vec<f64>,
    path: impl Fn(f64) -> f64,
) -> ExpectedKnockOn {
    let grid: Vec<f64> = (0..=(END / STEP) as u32).map(|i| f64::from(i) * STEP).collect();
    let density = density(&grid);
    let mass: f64 = density.iter().sum();
    let expected = |of: fn(f64) -> f64| {
        if mass > 0.0 {
            grid.iter().zip(&density).map(|(&e, d)| of(path(e)) * d).sum::<f64>() / mass
        } else {
            // All of it lies outside of the grid.
            of(path(END))
        }
    };
    ExpectedKnockOn { accrued: expected(knock_on::accrued), slope: expected(knock_on::slope) }
}

/// A chain's part in the wear of the sprockets it ran on: from an exposure of its own to its last, or to the sprockets'.
#[derive(Debug, Clone, Copy)]
pub(super) struct SprocketWear<'a> {
    pub chain: &'a KnownChain,
    since: Moment,
    until: Option<Moment>,
}

impl<'a> SprocketWear<'a> {
    /// What each chain did on this bike to sprockets that were on for a span; the last one comes last.
    pub fn during(chains: &'a [KnownChain], span: &Span) -> Vec<Self> {
        let part = |chain| Self { chain, since: span.since, until: span.until };
        span.ran(chains).into_iter().map(part).collect()
    }

    /// By expectation; `shares` of the work go through each sprocket.
    fn done(&self, shares: &[f64]) -> ChainWear {
        let Self { chain, since, until } = self;
        let from = chain.at_sprocket(*since);
        let before = if from.get() > 0.0 { chain.knock_on_at(from).accrued } else { 0.0 };
        let (to, by_then) = match until.filter(|until| chain.record.was_here_at(*until)) {
            Some(until) => {
                let to = chain.at_sprocket(until);
                (to, chain.knock_on_at(to).accrued)
            }
            None => (chain.at(), chain.knock_on().accrued),
        };
        let accrued = &chain.accrued;
        let share_of_life =
            if accrued.reference_km > 0.0 { (to.get() - from.get()) / accrued.reference_km } else { 0.0 };
        ChainWear {
            expected_accrued: (by_then - before).max(0.0),
            work: shares.iter().map(|share| share * accrued.energy_kj * share_of_life).collect(),
        }
    }
}

/// The bike that the sprockets are on.
#[derive(Debug, Clone, Copy)]
pub(super) struct OnBike<'a> {
    pub drivetrain: &'a Drivetrain,
    pub usage: Use,
    pub limit: Limit,
}

impl OnBike<'_> {
    pub fn cassette(
        &self,
        (wear, trials, as_found): (&[SprocketWear<'_>], &Trials, bool),
        build: CassetteBuild,
        threshold: SkipThreshold,
        price: Option<f64>,
        km_per_reference_km: f64,
    ) -> Option<(CassetteReport, f64)> {
        let cogs = self.drivetrain.cogs();
        let shares = GearShare::usual(self.drivetrain, self.usage).by_cog(cogs);
        let chains: Vec<ChainWear> = wear.iter().map(|stay| stay.done(&shares)).collect();
        let (present, past) = chains.split_last()?;
        let (skip_tests, unnamed_reports) = trials.tests(cogs.len());
        let facts = CassetteFacts {
            cogs,
            build,
            past,
            present,
            chains_before_cog: &[],
            skip_tests: &skip_tests,
            unnamed_reports: &unnamed_reports,
            found: as_found.then_some(shares.as_slice()),
            threshold,
            limit: self.limit,
        };
        let outlook = CassetteOutlook::of(&facts).ok()?;
        let chain = wear.last()?.chain;
        let percent_per_km = chain.mean_rate() / km_per_reference_km;
        let share_now = knock_on::cost_per_km(1.0, chain.knock_on().slope, percent_per_km);
        let share_at_limit = knock_on::cost_per_km(1.0, knock_on::slope(self.limit.get()), percent_per_km);
        let money = |share: f64| price.map(|price| price * share * 1e3);
        let knock_on::CountQuantiles { p10, p50, p90 } = outlook.chains_to_come;
        let damage = outlook.sprockets.iter().map(|sprocket| SprocketDamage {
            teeth: sprocket.teeth,
            damage: sprocket.damage,
            probability_skips: sprocket.skips_with_new_chain,
        });
        let report = CassetteReport {
            sprockets: damage.collect(),
            probability_skips: outlook.skips_with_new_chain,
            probability_skips_at_limit: outlook.skips_after_present_chain,
            chains_to_come: Quantiles { p10: f64::from(p10), p50: f64::from(p50), p90: f64::from(p90) },
            share_per_km_now: share_now,
            share_per_km_at_limit: share_at_limit,
            cost_per_1000_km_now: money(share_now),
            cost_per_1000_km_at_limit: money(share_at_limit),
        };
        Some((report, outlook.skipped_when_fitted))
    }

    pub fn rings(&self, wear: &[SprocketWear<'_>], trials: &Trials, as_found: bool) -> Vec<RingReport> {
        let rings = self.drivetrain.rings();
        let shares = GearShare::usual(self.drivetrain, self.usage).by_ring(rings);
        let chains: Vec<ChainWear> = wear.iter().map(|stay| stay.done(&shares)).collect();
        let Some((present, past)) = chains.split_last() else { return Vec::new() };
        let facts = RingFacts {
            rings,
            past,
            present,
            chains_before_ring: &[],
            skip_tests: &trials.tests(rings.len()).0,
            found: as_found.then_some(shares.as_slice()),
            limit: self.limit,
        };
        let Ok(outlook) = RingOutlook::of(&facts) else { return Vec::new() };
        let reports = outlook.rings.iter().map(|ring| RingReport {
            teeth: ring.teeth,
            damage: ring.damage / knock_on::RING_THRESHOLD,
            probability_worn: ring.skips_with_new_chain,
            probability_worn_at_limit: ring.skips_after_present_chain,
        });
        reports.collect()
    }

    /// One cassette's life on the bike, where it was new.
    pub fn cassette_life(
        &self,
        chains: &[KnownChain],
        span: &Span,
        reports: &[SkipReport],
    ) -> Option<CassetteLife> {
        let cogs = self.drivetrain.cogs();
        let shares = GearShare::usual(self.drivetrain, self.usage).by_cog(cogs);
        let wear = SprocketWear::during(chains, span);
        let ran: Vec<&KnownChain> = wear.iter().map(|stay| stay.chain).collect();
        let wear: Vec<ChainWear> = wear.iter().map(|stay| stay.done(&shares)).collect();
        let damage = damage_by_chain(cogs, &wear);
        let trials = Trials::of(&ran, span, reports, cogs);
        let told = trials.told.iter().filter_map(|&ChainTrial { chain, sprocket, new_chain, outcome }| {
            // What is reported of a chain is of its own wear as well.
            let row = if outcome == SkipOutcome::Reported { chain + 1 } else { chain };
            Some(Trial { damage: damage.get(row)?.clone(), sprocket, new_chain, outcome })
        });
        let trials_told = told.collect();
        let undecided = (trials.last == Some(Met::Undecided)).then(|| damage.iter().rev().nth(1)).flatten();
        let removal =
            span.until.and_then(|_| Some(Removal { damage: damage.last()?.clone(), reason: span.reason }));
        (!span.as_found && !ran.is_empty()).then(|| CassetteLife {
            trials: trials_told,
            undecided: undecided.cloned(),
            removal,
        })
    }
}
