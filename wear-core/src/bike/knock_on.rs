//! What the chains of a bike did to its cassette and rings.

use super::Moment;
use super::chain::KnownChain;
use super::outlook::{CassetteReport, RingReport, SprocketDamage};
use crate::degradation::Quantiles;
use crate::drivetrain::Drivetrain;
use crate::exposure::{GearShare, Use};
use crate::knock_on::{
    self, CassetteBuild, CassetteFacts, CassetteOutlook, ChainWear, RingFacts, RingOutlook, SkipTest,
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
        let share_of_life = if accrued.reference_km > 0.0 {
            (chain.at().get() - from.get()) / accrued.reference_km
        } else {
            0.0
        };
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
        km_per_reference_km: Option<f64>,
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
        let outlook = CassetteOutlook::of(&facts).ok()?;
        let chain = wear.last()?.chain;
        let percent_per_km =
            chain.mean_rate() / km_per_reference_km.filter(|ratio| *ratio > 0.0).unwrap_or(1.0);
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

    pub fn rings(&self, wear: &[SprocketWear<'_>]) -> Vec<RingReport> {
        let rings = self.drivetrain.rings();
        let shares = GearShare::usual(self.drivetrain, self.usage).by_ring(rings);
        let chains: Vec<ChainWear> = wear.iter().map(|stay| stay.done(&shares)).collect();
        let Some((present, past)) = chains.split_last() else { return Vec::new() };
        let facts = RingFacts { rings, past, present, chains_before_ring: &[], limit: self.limit };
        let Ok(outlook) = RingOutlook::of(&facts) else { return Vec::new() };
        let reports = outlook.rings.iter().map(|ring| RingReport {
            teeth: ring.teeth,
            damage: ring.damage / knock_on::RING_THRESHOLD,
            probability_worn: ring.skips_with_new_chain,
        });
        reports.collect()
    }
}
