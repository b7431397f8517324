//! What one policy costs per 1,000 reference kilometres: a swap limit, a set run to its end, chains in turn.

use super::cost::Costs;
use super::mean_life::MeanLife;
use crate::knock_on::{RING_THRESHOLD, SkipThreshold, accrued};

/// Elongation at which chain, cassette and rings that run to their end together are thrown away, percent, the median (A:
/// teeth that wore with their chain carry it far beyond any swap limit, and skip long before the 3 percent at which
/// industrial drives do, S).
pub const END_PERCENT: f64 = 1.5;

/// Elongation to which mean lives are known, percent.
const LAST_PERCENT: f64 = 2.0;

/// How chains are looked after under a limit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LimitPolicy {
    /// Distance between looks, reference km; `None` when each chain comes off at its limit without being looked at.
    pub inspection_interval_km: Option<f64>,
    /// Mean overshoot of the process at its jumps, percent: half of a gamma process's scale (C: mean over its jumps).
    pub jump_overshoot_percent: f64,
}

/// Cost per 1,000 reference km by cause.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct LimitCost {
    /// Chains and their labour.
    pub chains: f64,
    /// Cassettes or single cogs and their labour.
    pub cassettes: f64,
    /// Rings and their labour.
    pub rings: f64,
    /// Looks at the chain, and turns of a rotation.
    pub looks: f64,
    /// Failures on the road.
    pub failures: f64,
}

impl LimitCost {
    /// The sum.
    #[must_use]
    pub fn total(&self) -> f64 {
        self.chains + self.cassettes + self.rings + self.looks + self.failures
    }
}

/// Mean number of chains that a sprocket takes: the first always, each further one while the damage before it is below
/// its threshold.
fn chains_per_sprocket(damage_per_chain: f64, threshold: &SkipThreshold) -> f64 {
    // E[N] = Σ_{n≥0} P(T > n·a)
    let mut sum = 1.0;
    for n in 1..100_000 {
        let holds = 1.0 - threshold.probability_used_up(f64::from(n) * damage_per_chain);
        sum += holds;
        if holds < 1e-12 {
            break;
        }
    }
    sum
}

fn cassette_whole(costs: &Costs, damage_per_chain: f64) -> f64 {
    costs.cassette.sum() / chains_per_sprocket(damage_per_chain, &costs.cassettes_bear)
}

/// Cost of cogs for each chain, where the cassette comes apart and that is cheaper than whole cassettes.
pub(super) fn cassette_by_cog(costs: &Costs, damage_per_chain: f64) -> Option<f64> {
    let cogs = costs.cogs.as_ref()?;
    let one_by_one: f64 = cogs
        .weights
        .iter()
        .filter(|&&weight| weight > 0.0)
        .map(|&weight| {
            let damage = (damage_per_chain * weight).max(1e-3);
            cogs.price.sum() / chains_per_sprocket(damage, &costs.cassettes_bear)
        })
        .sum();
    (one_by_one < cassette_whole(costs, damage_per_chain)).then_some(one_by_one)
}

/// Cost of taking chains off at `limit_percent`.
///
/// With looks every τ km a chain comes off on average τ/2 after its limit, at an elongation spread evenly over what it
/// wears in τ.
#[must_use]
pub fn cost_of_limit(
    costs: &Costs,
    life: &MeanLife,
    damage_scale: f64,
    policy: LimitPolicy,
    limit_percent: f64,
) -> LimitCost {
    let interval = policy.inspection_interval_km.filter(|km| *km > 0.0);
    let late_km = interval.unwrap_or(0.0) / 2.0;
    let start = limit_percent + policy.jump_overshoot_percent;
    let wears = life.rate_at(limit_percent) * 2.0 * late_km;
    let damage = damage_scale * super::integral::panel(0.0, 1.0, |u| accrued(start + wears * u));
    let km = life.at(limit_percent) + late_km;
    let failures = life.accumulate(limit_percent, |percent| costs.failures.per_km(percent))
        + late_km
            * super::integral::panel(0.0, 1.0, |u| {
                2.0 * (1.0 - u) * costs.failures.per_km(start + wears * u)
            });
    LimitCost {
        chains: costs.chain.sum(),
        cassettes: cassette_by_cog(costs, damage).unwrap_or_else(|| cassette_whole(costs, damage)),
        rings: costs.rings.sum() / chains_per_sprocket(damage, &SkipThreshold::ASSUMED.times(RING_THRESHOLD)),
        looks: interval.map_or(0.0, |interval| costs.inspection * km / interval),
        failures: costs.failure * failures,
    }
    .per_1000_km(km)
}

impl LimitCost {
    fn per_1000_km(self, km: f64) -> Self {
        let each = |cost: f64| if cost == 0.0 { 0.0 } else { 1_000.0 * cost / km };
        Self {
            chains: each(self.chains),
            cassettes: each(self.cassettes),
            rings: each(self.rings),
            looks: each(self.looks),
            failures: each(self.failures),
        }
    }
}

/// Cost of running chain, cassette and rings until `end_percent` and throwing all of them away. Nobody looks.
#[must_use]
pub fn cost_to_the_end(costs: &Costs, life: &MeanLife, end_percent: f64) -> LimitCost {
    LimitCost {
        chains: costs.chain.sum(),
        cassettes: costs.cassette.sum(),
        rings: costs.rings.sum(),
        looks: 0.0,
        failures: costs.failure * life.accumulate(end_percent, |percent| costs.failures.per_km(percent)),
    }
    .per_1000_km(life.at(end_percent))
}

/// Cost of running `chains` chains in turn, each for `turn_km` at a time, until together they have used up the cassette,
/// and throwing all of them away with it. No new chain meets a worn cassette.
///
/// Returns the elongation at which the chains come off, and the cost. With one chain the set ends at 1.0 percent.
#[must_use]
pub fn cost_of_rotation(
    costs: &Costs,
    life: &MeanLife,
    damage_scale: f64,
    chains: u32,
    turn_km: f64,
) -> (f64, LimitCost) {
    // n·A(L)·scale = 1
    let count = f64::from(chains.max(1));
    let (mut low, mut high) = (0.0, LAST_PERCENT);
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if count * damage_scale * accrued(middle) < 1.0 { low = middle } else { high = middle }
    }
    let percent = 0.5 * (low + high);
    let km = count * life.at(percent);
    let turns = if chains > 1 && turn_km > 0.0 { km / turn_km } else { 0.0 };
    let failures = count * life.accumulate(percent, |percent| costs.failures.per_km(percent));
    let cost = LimitCost {
        chains: costs.chain.sum() * count,
        cassettes: costs.cassette.sum(),
        rings: costs.rings.sum() / RING_THRESHOLD,
        looks: costs.rotation * turns,
        failures: costs.failure * failures,
    };
    (percent, cost.per_1000_km(km))
}

impl Default for LimitPolicy {
    fn default() -> Self {
        Self { inspection_interval_km: None, jump_overshoot_percent: 0.005 }
    }
}
