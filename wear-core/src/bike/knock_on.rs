//! What the chains of a bike did to its cassette and rings.

use super::Moment;
use super::chain::KnownChain;
use super::outlook::{CassetteReport, RingReport, SprocketDamage};
use crate::degradation::Quantiles;
use crate::drivetrain::Drivetrain;
use crate::exposure::{GearShare, Use};
use crate::knock_on::{
    self, CassetteBuild, CassetteFacts, CassetteOutlook, ChainWear, RingFacts, RingOutlook, SkipTest,
    SprocketOutlook,
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

/// Expectations of [`knock_on::accrued`] and [`knock_on::slope`] over a density.
pub(super) fn expected_knock_on(density: impl FnOnce(&[f64]) -> Vec<f64>) -> ExpectedKnockOn {
    let grid: Vec<f64> = (0..=(END / STEP) as u32).map(|i| f64::from(i) * STEP).collect();
    let density = density(&grid);
    let mass: f64 = density.iter().sum();
    let expected = |of: fn(f64) -> f64| {
        if mass > 0.0 {
            grid.iter().zip(&density).map(|(&e, d)| of(e) * d).sum::<f64>() / mass
        } else {
            // All of it lies outside of the grid.
            of(END)
        }
    };
    ExpectedKnockOn { accrued: expected(knock_on::accrued), slope: expected(knock_on::slope) }
}

/// A chain's part in the wear of the sprockets it ran on: from an exposure of its own to its last.
#[derive(Debug, Clone, Copy)]
pub(super) struct SprocketWear<'a> {
    chain: &'a KnownChain,
    since: Moment,
}

impl<'a> SprocketWear<'a> {
    /// What each chain did on this bike to a sprocket fitted at `since`; the present one is the last.
    pub fn since(chains: &'a [KnownChain], since: Moment) -> Vec<Self> {
        let ran = chains.iter().filter(|chain| chain.record.was_here_after(since));
        ran.map(|chain| Self { chain, since }).collect()
    }

    /// By expectation; `shares` of the work go through each sprocket.
    fn done(&self, shares: &[f64]) -> ChainWear {
        let Self { chain, since } = self;
        let from = chain.at_sprocket(*since);
        let before = if from.get() > 0.0 { chain.knock_on_at(from).accrued } else { 0.0 };
        let accrued = &chain.accrued;
        let share_of_life =
            if chain.at().get() > 0.0 { (chain.at().get() - from.get()) / chain.at().get() } else { 0.0 };
        ChainWear {
            expected_accrued: (chain.knock_on().accrued - before).max(0.0),
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
        wear: &[SprocketWear<'_>],
        build: CassetteBuild,
        price: Option<f64>,
        skip_tests: &[SkipTest],
        km_per_reference_km: f64,
        as_found: bool,
    ) -> Option<CassetteReport> {
        let cogs = self.drivetrain.cogs();
        let shares = GearShare::usual(self.drivetrain, self.usage).by_cog(cogs);
        let chains: Vec<ChainWear> = wear.iter().map(|stay| stay.done(&shares)).collect();
        let (present, past) = chains.split_last()?;
        let facts = CassetteFacts {
            cogs,
            build,
            past,
            present,
            chains_before_cog: &[],
            skip_tests,
            limit: self.limit,
        };
        let outlook =
            if as_found { found_cassette(&facts, &shares)? } else { CassetteOutlook::of(&facts).ok()? };
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
        Some(CassetteReport {
            sprockets: damage.collect(),
            probability_skips: outlook.skips_with_new_chain,
            chains_to_come: Quantiles { p10: f64::from(p10), p50: f64::from(p50), p90: f64::from(p90) },
            share_per_km_now: share_now,
            share_per_km_at_limit: share_at_limit,
            cost_per_1000_km_now: money(share_now),
            cost_per_1000_km_at_limit: money(share_at_limit),
        })
    }

    pub fn rings(&self, wear: &[SprocketWear<'_>], as_found: bool) -> Vec<RingReport> {
        let rings = self.drivetrain.rings();
        let shares = GearShare::usual(self.drivetrain, self.usage).by_ring(rings);
        let chains: Vec<ChainWear> = wear.iter().map(|stay| stay.done(&shares)).collect();
        let Some((present, past)) = chains.split_last() else { return Vec::new() };
        let facts = RingFacts { rings, past, present, chains_before_ring: &[], limit: self.limit };
        let outlook = if as_found { found_rings(&facts, &shares) } else { RingOutlook::of(&facts).ok() };
        let Some(outlook) = outlook else { return Vec::new() };
        let reports = outlook.rings.iter().map(|ring| RingReport {
            teeth: ring.teeth,
            damage: ring.damage / knock_on::RING_THRESHOLD,
            probability_worn: ring.skips_with_new_chain,
        });
        reports.collect()
    }
}

/// Shares of a used-up part that a cassette or ring may have had when its record began: middles of five equal parts of
/// 0 to 1.2, each as likely as the others (A). Beyond that it would skip with the chain that is on.
const SHARES_FOUND: [f64; 5] = [0.12, 0.36, 0.6, 0.84, 1.08];

/// What was done to sprockets before their record began, as if by one chain.
fn before_record(share: f64, work: &[f64]) -> ChainWear {
    ChainWear { expected_accrued: share, work: work.to_vec() }
}

/// Each sprocket's mean over outlooks that are as likely as each other.
fn mean_of(outlooks: &[&[SprocketOutlook]]) -> Vec<SprocketOutlook> {
    let count = outlooks.len().max(1) as f64;
    let mean = |place: usize, of: fn(&SprocketOutlook) -> f64| {
        outlooks.iter().filter_map(|all| all.get(place)).map(of).sum::<f64>() / count
    };
    let mut sprockets = outlooks.first().map_or_else(Vec::new, |all| all.to_vec());
    for (place, sprocket) in sprockets.iter_mut().enumerate() {
        sprocket.damage = mean(place, |one| one.damage);
        sprocket.skips_with_new_chain = mean(place, |one| one.skips_with_new_chain);
    }
    sprockets
}

/// A cassette that was on when its record began.
///
/// Chains to come: the middle share's, widened to the medians of the shares at both ends.
fn found_cassette(facts: &CassetteFacts<'_>, work: &[f64]) -> Option<CassetteOutlook> {
    let outlook = |share: f64| {
        let past: Vec<ChainWear> =
            std::iter::once(before_record(share, work)).chain(facts.past.iter().cloned()).collect();
        let later = |test: &SkipTest| SkipTest { chains_before: test.chains_before + 1, ..*test };
        let skip_tests: Vec<SkipTest> = facts.skip_tests.iter().map(later).collect();
        CassetteOutlook::of(&CassetteFacts { past: &past, skip_tests: &skip_tests, ..*facts }).ok()
    };
    let all: Vec<CassetteOutlook> = SHARES_FOUND.into_iter().filter_map(outlook).collect();
    let (least, most) = (all.first()?, all.last()?);
    let mut middle = all.get(all.len() / 2)?.clone();
    middle.sprockets = mean_of(&all.iter().map(|one| one.sprockets.as_slice()).collect::<Vec<_>>());
    middle.skips_with_new_chain =
        all.iter().map(|one| one.skips_with_new_chain).sum::<f64>() / all.len() as f64;
    middle.chains_to_come.p10 = middle.chains_to_come.p10.min(most.chains_to_come.p50);
    middle.chains_to_come.p90 = middle.chains_to_come.p90.max(least.chains_to_come.p50);
    Some(middle)
}

/// Rings that were on when their record began.
fn found_rings(facts: &RingFacts<'_>, work: &[f64]) -> Option<RingOutlook> {
    let outlook = |share: f64| {
        let before = before_record(share * knock_on::RING_THRESHOLD, work);
        let past: Vec<ChainWear> = std::iter::once(before).chain(facts.past.iter().cloned()).collect();
        RingOutlook::of(&RingFacts { past: &past, ..*facts }).ok()
    };
    let all: Vec<RingOutlook> = SHARES_FOUND.into_iter().filter_map(outlook).collect();
    let mut middle = all.get(all.len() / 2)?.clone();
    middle.rings = mean_of(&all.iter().map(|one| one.rings.as_slice()).collect::<Vec<_>>());
    Some(middle)
}
