//! At what damage a new chain skips on a sprocket, and what skip tests say about it.

use statrs::function::erf::erfc;

use crate::numeric::normal;

/// Standard deviation of ln threshold (A).
const LN_SD: f64 = 0.3;

/// Share of the variance of ln threshold that is common to one cassette (A).
const SHARED: f64 = 0.5;

/// Nodes of the sum over the shared part, and how far it reaches in standard deviations.
const NODES: usize = 81;
const REACH: f64 = 6.0;

/// Probability that one sprocket is used up, of which nothing is known but its damage, as a share of what the median
/// one bears: Φ(ln damage / σ) with σ 0.3 (A); 0 for a damage that isn't above zero.
#[must_use]
pub fn probability_used_up(damage: f64) -> f64 {
    if damage > 0.0 { normal::distribution(damage.ln() / LN_SD) } else { 0.0 }
}

/// What a new chain did on a sprocket under load.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub enum SkipOutcome {
    /// It skipped.
    Skips,
    /// It held.
    Holds,
}

/// One skip test of one sprocket with a new chain.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct SkipTest {
    /// Index of the sprocket, from 0 at the fewest teeth.
    pub sprocket: usize,
    /// How many of the chains in the history were behind it: 0 for the sprocket's first chain.
    pub chains_before: usize,
    /// What happened.
    pub outcome: SkipOutcome,
}

/// Range of ln threshold that tests leave for a sprocket.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Left {
    pub(super) above: f64,
    pub(super) below: f64,
}

impl Left {
    pub(super) const ALL: Self = Self { above: f64::NEG_INFINITY, below: f64::INFINITY };

    pub(super) fn narrowed(self, damage: f64, outcome: SkipOutcome) -> Self {
        let at = damage.ln();
        match outcome {
            SkipOutcome::Holds => Self { above: self.above.max(at), ..self },
            SkipOutcome::Skips => Self { below: self.below.min(at), ..self },
        }
    }

    pub(super) fn is_contradictory(self) -> bool {
        self.above >= self.below
    }
}

/// Posterior of the thresholds of one set of sprockets.
///
/// ln T_j = ln median + Z + E_j: a part Z that the whole set shares and a part E_j of each sprocket.
pub(super) struct Thresholds {
    ln_median: f64,
    left: Vec<Left>,
    /// Value and posterior weight of Z; weights sum to 1.
    shared: Vec<(f64, f64)>,
}

/// Probability that a standard normal variable lies in (a, b], without cancellation in the upper tail.
fn normal_between(a: f64, b: f64) -> f64 {
    if b <= a {
        return 0.0;
    }
    let tail = |x: f64| 0.5 * erfc(x / std::f64::consts::SQRT_2);
    if a > 0.0 { tail(a) - tail(b) } else { tail(-b) - tail(-a) }
}

impl Thresholds {
    /// `None` when the tests leave no probability at all.
    pub(super) fn new(median: f64, left: Vec<Left>) -> Option<Self> {
        let mut thresholds = Self { ln_median: median.ln(), left, shared: Vec::with_capacity(NODES) };
        let sd = LN_SD * SHARED.sqrt();
        for i in 0..NODES {
            let z = REACH * (2.0 * i as f64 / (NODES - 1) as f64 - 1.0);
            let weight = (-0.5 * z * z).exp();
            let likelihood: f64 = thresholds
                .left
                .iter()
                .map(|left| thresholds.between(z * sd, left.above, left.below))
                .product();
            thresholds.shared.push((z * sd, weight * likelihood));
        }
        let sum: f64 = thresholds.shared.iter().map(|(_, weight)| weight).sum();
        if sum <= f64::MIN_POSITIVE {
            return None;
        }
        for (_, weight) in &mut thresholds.shared {
            *weight /= sum;
        }
        Some(thresholds)
    }

    /// Probability that ln T_j lies in (above, below] given the shared part.
    fn between(&self, shared: f64, above: f64, below: f64) -> f64 {
        let sd = LN_SD * (1.0 - SHARED).sqrt();
        let centre = self.ln_median + shared;
        normal_between((above - centre) / sd, (below - centre) / sd)
    }

    /// Probability that a sprocket skips at `damage`, given the shared part and what tests left.
    fn skips_given(&self, shared: f64, sprocket: usize, damage: f64) -> f64 {
        let left = self.left[sprocket];
        let at = damage.ln();
        if at <= left.above {
            return 0.0;
        }
        if at >= left.below {
            return 1.0;
        }
        let whole = self.between(shared, left.above, left.below);
        if whole > 0.0 { (self.between(shared, left.above, at) / whole).clamp(0.0, 1.0) } else { 0.0 }
    }

    /// Probability that a new chain skips on one sprocket.
    pub(super) fn skips(&self, sprocket: usize, damage: f64) -> f64 {
        let skips: f64 =
            self.shared.iter().map(|&(z, weight)| weight * self.skips_given(z, sprocket, damage)).sum();
        skips.clamp(0.0, 1.0)
    }

    /// Probability that a new chain skips on at least one sprocket.
    pub(super) fn skips_on_any(&self, damage: &[f64]) -> f64 {
        // Summed as the complement within each node, so that nothing cancels when no sprocket skips.
        let skips: f64 = self
            .shared
            .iter()
            .map(|&(z, weight)| {
                let hold: f64 =
                    damage.iter().enumerate().map(|(j, &d)| 1.0 - self.skips_given(z, j, d)).product();
                weight * (1.0 - hold)
            })
            .sum();
        skips.clamp(0.0, 1.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn half_of_the_sprockets_are_used_up_at_the_median() {
        assert_eq!((probability_used_up(0.0), probability_used_up(f64::NAN)), (0.0, 0.0));
        assert!((probability_used_up(1.0) - 0.5).abs() < 1e-10);
        assert!((probability_used_up(0.3_f64.exp()) - 0.841_344_746).abs() < 1e-8);
        // The same as a set of one sprocket has it.
        let one = Thresholds::new(1.0, vec![Left::ALL]).expect("no tests");
        for damage in [0.4, 0.9, 1.3, 2.0] {
            assert!((one.skips(0, damage) - probability_used_up(damage)).abs() < 1e-6, "{damage}");
        }
    }

    #[test]
    fn one_untested_sprocket_is_log_normal() {
        let thresholds = Thresholds::new(1.0, vec![Left::ALL]).unwrap();
        for damage in [0.3, 0.6, 1.0, 1.5, 3.0] {
            let expected = normal_between(f64::NEG_INFINITY, f64::ln(damage) / LN_SD);
            assert!((thresholds.skips(0, damage) - expected).abs() < 1e-9);
        }
        assert_eq!(thresholds.skips(0, 0.0), 0.0);
    }

    #[test]
    fn a_test_truncates_and_teaches_its_neighbours() {
        let held = Left::ALL.narrowed(1.2, SkipOutcome::Holds);
        let skipped = Left::ALL.narrowed(0.8, SkipOutcome::Skips);
        let none = Thresholds::new(1.0, vec![Left::ALL, Left::ALL]).unwrap();
        let tested_well = Thresholds::new(1.0, vec![held, Left::ALL]).unwrap();
        let tested_badly = Thresholds::new(1.0, vec![skipped, Left::ALL]).unwrap();
        assert_eq!(tested_well.skips(0, 1.2), 0.0);
        assert_eq!(tested_badly.skips(0, 0.8), 1.0);
        assert!(tested_well.skips(1, 1.0) < none.skips(1, 1.0) - 0.1);
        assert!(tested_badly.skips(1, 1.0) > none.skips(1, 1.0) + 0.1);
    }
}
