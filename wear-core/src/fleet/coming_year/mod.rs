//! The coming year by month: how many swaps of a fleet, what they use up, what they take of the bench, what they cost.
//!
//! A bike's next swap comes as its outlook says; those after it by the life of a new chain and the use ahead, season
//! included. What all bikes have in common is one normal deviate; given that they are independent. It takes nine of its
//! values and a table of half months for each bike, and no simulation.

mod renewals;
mod sums;

pub use renewals::{AHEAD_DAYS, Renewals};

use crate::bike::NextSwap;
use crate::knock_on::SkipThreshold;
use crate::numeric::normal;
use renewals::{Below, Swaps};
use sums::{Outcome, Sum, Total};

/// A number that isn't known: one chance in ten that it is less than P10, and more than P90.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Range {
    /// One chance in ten that it is less.
    pub p10: f64,
    /// As likely less as more.
    pub p50: f64,
    /// One chance in ten that it is more.
    pub p90: f64,
    /// Expected.
    pub mean: f64,
}

/// What a period uses.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Needs {
    /// Chains.
    pub chains: Range,
    /// Cassettes.
    pub cassettes: Range,
    /// Rings.
    pub rings: Range,
    /// Minutes at the bench.
    pub minutes: Range,
    /// Money, in the unit of the prices.
    pub cost: Range,
}

/// A coming year.
#[derive(Debug, Clone, PartialEq)]
pub struct ComingYear {
    /// Each period, in their order.
    pub periods: Vec<Needs>,
    /// Those from the second on together.
    pub year: Needs,
}

/// What a part takes.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Takes {
    /// Money.
    pub cost: f64,
    /// Minutes at the bench.
    pub minutes: f64,
}

/// A bike whose swaps are counted.
#[derive(Debug, Clone, PartialEq)]
pub struct BikeAhead {
    /// Its next swap, and those after it.
    pub swap: NextSwap,
    /// Days since the outlook that says so.
    pub age_days: f64,
    /// A chain, with the labour of a swap.
    pub chain: Takes,
    /// A cassette.
    pub cassette: Takes,
    /// Each ring, the largest first.
    pub rings: Vec<Takes>,
}

/// Values of the common deviate: from −3 to 3.
const DEVIATES: usize = 9;
const DEVIATE_STEP: f64 = 0.75;

/// Days of a step of the table (A): a second swap within one is as good as at its end.
const STEP_DAYS: f64 = 16.0;

/// A swap's combinations of parts that are told apart: cassette and up to three rings.
const MOST_RINGS: usize = 3;

impl ComingYear {
    /// Of bikes, over periods that begin where the one before ends; `ends` in days ahead, rising. The first one is what
    /// comes before the year: the rest of a month. Cassettes that go on bear so much damage.
    #[must_use]
    pub fn of(bikes: &[BikeAhead], ends: &[f64], cassettes_bear: &SkipThreshold) -> Self {
        let table = Table::of(ends);
        let below = Below::table();
        let bikes: Vec<Prepared> =
            bikes.iter().map(|bike| Prepared::of(bike, (&table, &below), cassettes_bear)).collect();
        // Periods, then the year, by quantity.
        let mut totals = vec![[const { Total::EMPTY }; QUANTITIES]; ends.len() + 1];
        for (place, (deviate, _)) in deviates().enumerate() {
            let mut sums: Vec<Sums> = (0..=ends.len()).map(|_| Sums::default()).collect();
            for bike in &bikes {
                bike.add(&table, deviate, &mut sums);
            }
            for (totals, sums) in totals.iter_mut().zip(&sums) {
                for (quantity, (total, sum)) in totals.iter_mut().zip(sums).enumerate() {
                    total.add(place, sum, quantity < COUNTS);
                }
            }
        }
        let weights = deviates().map(|(_, weight)| weight);
        let weights: Vec<f64> = weights.collect();
        let needs = |totals: &[Total; QUANTITIES]| {
            let [chains, cassettes, rings, minutes, cost] = totals;
            Needs {
                chains: chains.range(&weights, true),
                cassettes: cassettes.range(&weights, true),
                rings: rings.range(&weights, true),
                minutes: minutes.range(&weights, false),
                cost: cost.range(&weights, false),
            }
        };
        let year = totals.last().map(needs).unwrap_or_default();
        totals.pop();
        Self { periods: totals.iter().map(needs).collect(), year }
    }
}

/// Chains, cassettes, rings, minutes, cost.
const QUANTITIES: usize = 5;

/// The first so many of them are whole numbers.
const COUNTS: usize = 3;

type Sums = [Sum; QUANTITIES];

fn deviates() -> impl Iterator<Item = (f64, f64)> {
    let all = (0..DEVIATES).map(|i| DEVIATE_STEP * (i as f64 - (DEVIATES / 2) as f64));
    let whole: f64 = all.clone().map(normal::density).sum();
    all.map(move |z| (z, normal::density(z) / whole))
}

/// Steps, and the period of each.
struct Table {
    edges: Vec<f64>,
    period: Vec<usize>,
}

impl Table {
    fn of(ends: &[f64]) -> Self {
        let (mut edges, mut period) = (vec![0.0], Vec::new());
        let mut from = 0.0;
        for (place, &end) in ends.iter().enumerate() {
            let end = end.max(from);
            let steps = ((end - from) / STEP_DAYS).ceil().max(1.0);
            for step in 1..=steps as u32 {
                edges.push(from + (end - from) * f64::from(step) / steps);
                period.push(place);
            }
            from = end;
        }
        Self { edges, period }
    }
}

/// A bike with what each of its swaps uses, the first one first.
struct Prepared<'a> {
    bike: &'a BikeAhead,
    swaps: Swaps<'a>,
    /// Probability of a cassette at each swap.
    cassette: [f64; renewals::MOST_SWAPS],
    /// The same of each ring.
    rings: Vec<[f64; renewals::MOST_SWAPS]>,
}

impl<'a> Prepared<'a> {
    fn of(bike: &'a BikeAhead, (table, below): (&Table, &'a Below), cassettes_bear: &SkipThreshold) -> Self {
        let worn = |first: Option<f64>, per_chain: f64, threshold: &SkipThreshold| {
            first.map_or([0.0; renewals::MOST_SWAPS], |first| renewals::replaced(first, per_chain, threshold))
        };
        let per_chain = bike.swap.renewals.map_or(0.0, |renewals| renewals.cassette_per_chain);
        let ring = crate::knock_on::RING_THRESHOLD;
        let rings = bike.swap.rings.iter().take(bike.rings.len().min(MOST_RINGS));
        Self {
            bike,
            swaps: Swaps::of(below, &bike.swap, &table.edges, bike.age_days),
            cassette: worn(bike.swap.cassette, per_chain, cassettes_bear),
            rings: rings.map(|first| worn(Some(*first), per_chain / ring, &SkipThreshold::ASSUMED)).collect(),
        }
    }

    fn add(&self, table: &Table, deviate: f64, sums: &mut [Sums]) {
        let Some((year, periods)) = sums.split_last_mut() else { return };
        let mut within = vec![[0.0; renewals::MOST_SWAPS]; periods.len()];
        for (k, steps) in self.swaps.given(deviate).iter().enumerate() {
            for (period, p) in table.period.iter().zip(steps) {
                within[*period][k] += p;
            }
        }
        for (by_swap, sums) in within.iter().zip(periods) {
            self.add_period(by_swap, sums);
        }
        self.add_year(&std::array::from_fn(|k| within.iter().skip(1).map(|by_swap| by_swap[k]).sum()), year);
    }

    /// One swap or none: `by_swap` are the probabilities that it is the first, the second …
    fn add_period(&self, by_swap: &[f64; renewals::MOST_SWAPS], sums: &mut Sums) {
        let whole: f64 = by_swap.iter().sum();
        if whole < NEGLIGIBLE {
            return;
        }
        let share = |used: &[f64; renewals::MOST_SWAPS]| -> f64 {
            by_swap.iter().zip(used).map(|(p, used)| p * used).sum::<f64>() / whole
        };
        let (cassette, rings): (f64, Vec<f64>) =
            (share(&self.cassette), self.rings.iter().map(share).collect());
        // Further ones of a bike that swaps twice within the period count in full.
        for p in [whole.min(1.0), (whole - 1.0).clamp(0.0, 1.0), (whole - 2.0).clamp(0.0, 1.0)] {
            if p < NEGLIGIBLE {
                break;
            }
            self.add_swap(p, cassette, &rings, sums);
        }
    }

    fn add_swap(&self, p: f64, cassette: f64, rings: &[f64], sums: &mut Sums) {
        let [of_chains, of_cassettes, of_rings, of_minutes, of_cost] = sums;
        of_chains.add(&Outcome::of([(1.0, p)]));
        if p * cassette >= NEGLIGIBLE {
            of_cassettes.add(&Outcome::of([(1.0, p * cassette)]));
        }
        for ring in rings {
            if p * ring >= NEGLIGIBLE {
                of_rings.add(&Outcome::of([(1.0, p * ring)]));
            }
        }
        let combined = self.combined(p, cassette, rings);
        of_minutes.add(&Outcome::of(combined.iter().map(|(takes, p)| (takes.minutes, *p))));
        of_cost.add(&Outcome::of(combined.iter().map(|(takes, p)| (takes.cost, *p))));
    }

    /// What a swap of probability `p` takes, by what goes with the chain.
    fn combined(&self, p: f64, cassette: f64, rings: &[f64]) -> Vec<(Takes, f64)> {
        let mut combined = vec![(self.bike.chain, p)];
        let used = std::iter::once((self.bike.cassette, cassette))
            .chain(self.bike.rings.iter().copied().zip(rings.iter().copied()));
        for (takes, probability) in used {
            if probability < NEGLIGIBLE {
                continue;
            }
            let with = combined.iter().map(|(sum, p)| {
                let sum = Takes { cost: sum.cost + takes.cost, minutes: sum.minutes + takes.minutes };
                (sum, p * probability)
            });
            let with: Vec<(Takes, f64)> = with.collect();
            combined.iter_mut().for_each(|(_, p)| *p *= 1.0 - probability);
            combined.extend(with);
        }
        combined
    }

    /// All swaps of the year: `reached` are the probabilities that the first, the second … fall into it.
    fn add_year(&self, reached: &[f64; renewals::MOST_SWAPS], sums: &mut Sums) {
        let [of_chains, of_cassettes, of_rings, of_minutes, of_cost] = sums;
        // The first swap may lie before the year, so the count is that of those within: the k-th of them is at least as
        // likely as the next.
        let mut falling = *reached;
        falling.sort_by(|a, b| b.total_cmp(a));
        let exactly = |k: usize| falling[k - 1].min(1.0) - falling.get(k).copied().unwrap_or(0.0).min(1.0);
        let counts = (1..=renewals::MOST_SWAPS).map(|k| (k, exactly(k)));
        let counts: Vec<(usize, f64)> = counts.filter(|(_, p)| *p >= NEGLIGIBLE).collect();
        if counts.is_empty() {
            return;
        }
        of_chains.add(&Outcome::of(counts.iter().map(|(k, p)| (*k as f64, *p))));
        let add = |used: &[f64; renewals::MOST_SWAPS], sum: &mut Sum| {
            let each = reached.iter().zip(used).map(|(p, used)| (p * used).min(1.0));
            each.filter(|p| *p >= NEGLIGIBLE).for_each(|p| sum.add(&Outcome::of([(1.0, p)])));
        };
        add(&self.cassette, of_cassettes);
        self.rings.iter().for_each(|ring| add(ring, of_rings));
        let whole: f64 = reached.iter().sum();
        let share = |used: &[f64; renewals::MOST_SWAPS]| -> f64 {
            reached.iter().zip(used).map(|(p, used)| p * used).sum::<f64>() / whole
        };
        let (cassette, rings): (f64, Vec<f64>) =
            (share(&self.cassette), self.rings.iter().map(share).collect());
        let one = self.combined(1.0, cassette, &rings);
        of_minutes.add(&Outcome::of(so_many(&counts, &one, |takes| takes.minutes)));
        of_cost.add(&Outcome::of(so_many(&counts, &one, |takes| takes.cost)));
    }
}

/// What so many swaps take of which each takes one of these: of more than one the mean and the spread, as two values equally
/// likely.
fn so_many(counts: &[(usize, f64)], one: &[(Takes, f64)], of: fn(&Takes) -> f64) -> Vec<(f64, f64)> {
    let moment = |power| one.iter().map(|(takes, p)| p * of(takes).powi(power)).sum::<f64>();
    let mean = moment(1);
    let variance = (moment(2) - mean * mean).max(0.0);
    let values = counts.iter().flat_map(|&(k, p)| {
        if k == 1 {
            return one.iter().map(|(takes, share)| (of(takes), p * share)).collect::<Vec<_>>();
        }
        let (mean, sd) = (k as f64 * mean, (k as f64 * variance).sqrt().min(k as f64 * mean));
        vec![(mean - sd, 0.5 * p), (mean + sd, 0.5 * p)]
    });
    values.collect()
}

/// Probabilities that make no difference.
const NEGLIGIBLE: f64 = 1e-7;

#[cfg(test)]
mod tests;
