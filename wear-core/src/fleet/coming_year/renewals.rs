//! A bike's swaps after the next one.

use crate::bike::{NextSwap, SWAP_DAYS};
use crate::knock_on::SkipThreshold;
use crate::numeric::normal;

/// Days ahead for which the use of a bike is kept; in between it is linear, and goes on as at the end.
pub const AHEAD_DAYS: [f64; 14] =
    [15.0, 30.0, 60.0, 90.0, 120.0, 150.0, 180.0, 210.0, 240.0, 270.0, 300.0, 330.0, 365.0, 410.0];

/// Swaps of one bike that are followed.
pub(super) const MOST_SWAPS: usize = 8;

/// What a bike's swaps after the next one rest on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Renewals {
    /// Median use by each of [`AHEAD_DAYS`], reference km.
    pub ahead: [f64; AHEAD_DAYS.len()],
    /// Standard deviation of the logarithm of use over a year that is the bike's own.
    pub own_ln_sd: f64,
    /// The same that all bikes have in common.
    pub common_ln_sd: f64,
    /// Median life of a new chain to the limit, reference km.
    pub life: f64,
    /// Standard deviation of its logarithm.
    pub life_ln_sd: f64,
    /// Cassettes that one chain uses up until it comes off.
    pub cassette_per_chain: f64,
}

impl Renewals {
    fn used_by(&self, days: f64) -> f64 {
        let after = AHEAD_DAYS.partition_point(|day| *day < days).min(AHEAD_DAYS.len() - 1);
        let (from, before) =
            after.checked_sub(1).map_or((0.0, 0.0), |before| (AHEAD_DAYS[before], self.ahead[before]));
        before + (self.ahead[after] - before) * (days - from) / (AHEAD_DAYS[after] - from)
    }
}

/// Φ from a table, to 2e-6: it is asked for millions of times.
pub(super) struct Below(Vec<f64>);

impl Below {
    const REACH: f64 = 6.0;
    const STEP: f64 = 1.0 / 256.0;

    pub fn table() -> Self {
        let count = (2.0 * Self::REACH / Self::STEP) as usize + 2;
        Self((0..count).map(|i| normal::distribution(Self::STEP * i as f64 - Self::REACH)).collect())
    }

    fn at(&self, z: f64) -> f64 {
        if z <= -Self::REACH {
            return 0.0;
        }
        if z >= Self::REACH {
            return 1.0;
        }
        let at = (z + Self::REACH) / Self::STEP;
        let (below, rest) = (at as usize, at.fract());
        self.0[below] + rest * (self.0[below + 1] - self.0[below])
    }
}

/// Deviates of a bike's own use and their weights: three-point Gauss–Hermite (M).
const OWN: [(f64, f64); 3] =
    [(-1.732_050_807_568_877_2, 1.0 / 6.0), (0.0, 2.0 / 3.0), (1.732_050_807_568_877_2, 1.0 / 6.0)];

/// What a bike's swaps are worked out from, whatever the deviates are.
pub(super) struct Swaps<'a> {
    below: &'a Below,
    first: First,
    /// Use by the edges of the steps, with the swaps after the next one; none where there will hardly be any.
    later: Option<Later>,
}

/// Each swap's probabilities by step.
pub(super) type BySwap = Vec<Vec<f64>>;

impl<'a> Swaps<'a> {
    pub fn of(below: &'a Below, swap: &NextSwap, edges: &[f64], age_days: f64) -> Self {
        let days: Vec<f64> = edges.iter().map(|edge| age_days + edge).collect();
        Self { below, first: First::of(swap, &days), later: Later::of(swap, &days) }
    }

    /// Under a value of the common deviate. A bike that is used more than was expected stays so, for all of its swaps.
    pub fn given(&self, deviate: f64) -> BySwap {
        let Some(later) = &self.later else { return vec![self.first.given(self.below, deviate, 0.0, 0.0)] };
        let mut by_swap: BySwap = Vec::new();
        for (own, weight) in OWN {
            let mut step = self.first.given(self.below, deviate, own, later.own_to_common);
            let moves = later.moves(self.below, deviate, own);
            for k in 0..MOST_SWAPS {
                if k > 0 {
                    step = later.moved(&step, &moves);
                }
                if step.iter().sum::<f64>() < 1e-6 {
                    break;
                }
                if by_swap.len() == k {
                    by_swap.push(vec![0.0; step.len()]);
                }
                by_swap[k].iter_mut().zip(&step).for_each(|(sum, p)| *sum += weight * p);
            }
        }
        by_swap
    }
}

/// The next swap: what is kept for some days, and where the edges of the steps lie among them.
struct First {
    /// The normal deviate of each probability that is kept, and the share in common.
    kept: Vec<(f64, f64)>,
    /// For each edge the kept day before it, and how far it is on the way to the next: by use, as those days are months
    /// apart.
    places: Vec<(usize, f64)>,
    /// The edge from which on it has come for certain.
    certain: Option<usize>,
}

impl First {
    fn of(swap: &NextSwap, days: &[f64]) -> Self {
        let timing = &swap.timing;
        let deviate = |p: f64| {
            if p <= 0.0 {
                -9.0
            } else if p >= 1.0 {
                9.0
            } else {
                normal::quantile(p)
            }
        };
        let kept =
            timing.by_day.iter().zip(timing.common).map(|(p, common)| (deviate(*p), common.clamp(0.0, 0.99)));
        let place = |day: &f64| {
            let after = SWAP_DAYS.partition_point(|kept| f64::from(*kept) <= *day);
            let before = after.saturating_sub(1);
            let Some(to) = SWAP_DAYS.get(after).map(|to| f64::from(*to)) else { return (before, 0.0) };
            let from = f64::from(SWAP_DAYS[before]);
            let used = swap.renewals.map(|it| [from, *day, to].map(|days| it.used_by(days)));
            let [from, at, to] = used.filter(|[from, _, to]| to > from).unwrap_or([from, *day, to]);
            (before, ((at - from) / (to - from)).clamp(0.0, 1.0))
        };
        let certain = timing.certain_in_days.map(f64::from);
        Self {
            kept: kept.collect(),
            places: days.iter().skip(1).map(place).collect(),
            certain: certain
                .map(|from| days.iter().skip(1).position(|day| *day >= from).unwrap_or(days.len())),
        }
    }

    /// Probability of each step, where the bike's own use has `own_to_common` times the variance that is common.
    fn given(&self, below: &Below, deviate: f64, own: f64, own_to_common: f64) -> Vec<f64> {
        let last = self.places.last().map_or(0, |(place, _)| place + 2).min(self.kept.len());
        let by = |(quantile, common): &(f64, f64)| {
            let of_bike = (own_to_common * common).min(0.99 - common);
            let shifted = quantile + common.sqrt() * deviate + of_bike.sqrt() * own;
            below.at(shifted / (1.0 - common - of_bike).sqrt())
        };
        let kept: Vec<f64> = self.kept[..last].iter().map(by).collect();
        let mut before = 0.0;
        let steps = self.places.iter().enumerate().map(|(edge, &(place, share))| {
            let from = kept[place];
            let next = kept.get(place + 1).copied().unwrap_or(from);
            let is_certain = self.certain.is_some_and(|certain| edge >= certain);
            let by = if is_certain { 1.0 } else { from + share * (next - from) };
            let within = (by - before).max(0.0);
            before = by.max(before);
            within
        });
        steps.collect()
    }
}

/// The swaps after the next one.
struct Later {
    /// Logarithm of the use from the middle of each step to the end of that one and of each after it, in lives.
    lives: Vec<Vec<f64>>,
    life_ln_sd: f64,
    own_ln_sd: f64,
    common_ln_sd: f64,
    own_to_common: f64,
}

/// Largest common and own deviate together that a second swap is looked for at.
const FAR: f64 = 3.0;

impl Later {
    fn of(swap: &NextSwap, days: &[f64]) -> Option<Self> {
        let renewals = swap.renewals.filter(|it| it.life > 0.0)?;
        let Renewals { own_ln_sd, common_ln_sd, life, .. } = renewals;
        let used: Vec<f64> = days.iter().map(|day| renewals.used_by(*day)).collect();
        let life_ln_sd = renewals.life_ln_sd.max(0.02);
        let widest = life_ln_sd.hypot(own_ln_sd).hypot(common_ln_sd);
        if (used.last()? / life).ln() < -FAR * widest {
            return None;
        }
        let from = |i: usize| -> Vec<f64> {
            let start = 0.5 * (used[i] + used[i + 1]);
            used[i + 1..].iter().map(|edge| ((edge - start).max(0.0) / life).ln()).collect()
        };
        let own_to_common = (own_ln_sd / common_ln_sd.max(1e-3)).powi(2);
        let lives = (0..used.len() - 1).map(from).collect();
        Some(Self { lives, life_ln_sd, own_ln_sd, common_ln_sd, own_to_common })
    }

    /// Probability that a chain put on in the middle of a step comes off in that one and each after it.
    fn moves(&self, below: &Below, deviate: f64, own: f64) -> Vec<Vec<f64>> {
        let more = self.common_ln_sd * deviate + self.own_ln_sd * own;
        let from = |lives: &Vec<f64>| -> Vec<f64> {
            let mut before = 0.0;
            let by = lives.iter().map(|lives| {
                let by = below.at((lives + more) / self.life_ln_sd);
                let within = by - before;
                before = by;
                within
            });
            by.collect()
        };
        self.lives.iter().map(from).collect()
    }

    /// From one swap to the next.
    fn moved(&self, step: &[f64], moves: &[Vec<f64>]) -> Vec<f64> {
        let mut next = vec![0.0; step.len()];
        for (i, p) in step.iter().enumerate().filter(|(_, p)| **p > 1e-9) {
            next[i..].iter_mut().zip(&moves[i]).for_each(|(to, by)| *to += p * by);
        }
        next
    }
}

/// Probability that a part is replaced at each swap, when it is used up by the first with probability `first` and each chain
/// after that uses up `per_chain` of one, against that threshold: the renewal equation over the chains that it lasts.
pub(super) fn replaced(first: f64, per_chain: f64, threshold: &SkipThreshold) -> [f64; MOST_SWAPS] {
    let used_up = |damage: f64| threshold.probability_used_up(damage);
    let used_up_by = |chains: usize| used_up(per_chain * chains as f64);
    // The damage by the first swap that its probability stands for.
    let (mut low, mut high) = (0.0_f64, 20.0_f64);
    for _ in 0..30 {
        let middle = 0.5 * (low + high);
        *(if used_up(middle) < first { &mut low } else { &mut high }) = middle;
    }
    let by_first = 0.5 * (low + high);
    let found_by = |swap: usize| if swap == 0 { first } else { used_up(by_first + per_chain * swap as f64) };
    let mut replaced = [0.0; MOST_SWAPS];
    for k in 0..MOST_SWAPS {
        let found = if k == 0 { first } else { (found_by(k) - found_by(k - 1)).max(0.0) };
        let again: f64 =
            (0..k).map(|i| replaced[i] * (used_up_by(k - i) - used_up_by(k - i - 1)).max(0.0)).sum();
        replaced[k] = (found + again).clamp(0.0, 1.0);
    }
    replaced
}
