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

/// How often a sprocket that would hold a new chain is reported to skip, against one that would not: stiff links, gears set
/// wrong and worn chains skip too (A).
const OTHER_CAUSES: f64 = 0.2;

/// What a chain did on a sprocket under load.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[non_exhaustive]
pub enum SkipOutcome {
    /// It skipped.
    Skips,
    /// It held.
    Holds,
    /// A rider reported that the chain of that time, new or not, skipped. Five such reports in six are of a worn
    /// sprocket where half of all sprockets are worn (A).
    Reported,
}

/// One skip test of one sprocket with a new chain, or a rider's report.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct SkipTest {
    /// Index of the sprocket, from 0 at the fewest teeth.
    pub sprocket: usize,
    /// How many of the chains in the history were behind it: 0 for the sprocket's first chain, one more than came off for
    /// a new chain that was only tried, while the present one has its wear behind it.
    pub chains_before: usize,
    /// What happened.
    pub outcome: SkipOutcome,
}

/// Range of ln threshold that tests leave for a sprocket, and ln damage at each report of a skip.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Left {
    above: f64,
    below: f64,
    reported: Vec<f64>,
}

impl Left {
    pub(super) const ALL: Self =
        Self { above: f64::NEG_INFINITY, below: f64::INFINITY, reported: Vec::new() };

    pub(super) fn narrow(&mut self, damage: f64, outcome: SkipOutcome) {
        let at = damage.ln();
        match outcome {
            SkipOutcome::Holds => self.above = self.above.max(at),
            // A sprocket without any damage skips for other causes.
            SkipOutcome::Skips if damage > 0.0 => self.below = self.below.min(at),
            SkipOutcome::Skips => {}
            SkipOutcome::Reported => {
                self.reported.push(at);
                self.reported.sort_by(f64::total_cmp);
            }
        }
    }

    pub(super) fn is_contradictory(&self) -> bool {
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
            let likelihood: f64 =
                thresholds.left.iter().map(|left| thresholds.mass(z * sd, left, f64::INFINITY)).product();
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

    /// Weight of ln T_j up to `end`, given the shared part: a threshold above the damage at a report explains the report
    /// only by other causes.
    fn mass(&self, shared: f64, left: &Left, end: f64) -> f64 {
        let end = left.below.min(end);
        let (mut from, mut weight, mut sum) = (left.above, 1.0, 0.0);
        for &at in &left.reported {
            let to = at.clamp(from, end.max(from));
            sum += weight * self.between(shared, from, to);
            from = to;
            weight *= OTHER_CAUSES;
        }
        sum + weight * self.between(shared, from, end)
    }

    /// Probability that a sprocket skips at `damage`, given the shared part and what tests left.
    fn skips_given(&self, shared: f64, sprocket: usize, damage: f64) -> f64 {
        let left = &self.left[sprocket];
        let at = damage.ln();
        if at <= left.above {
            return 0.0;
        }
        if at >= left.below {
            return 1.0;
        }
        let whole = self.mass(shared, left, f64::INFINITY);
        if whole > 0.0 { (self.mass(shared, left, at) / whole).clamp(0.0, 1.0) } else { 0.0 }
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
        let after = |damage, outcome| {
            let mut left = Left::ALL;
            left.narrow(damage, outcome);
            left
        };
        let held = after(1.2, SkipOutcome::Holds);
        let skipped = after(0.8, SkipOutcome::Skips);
        let none = Thresholds::new(1.0, vec![Left::ALL, Left::ALL]).unwrap();
        let tested_well = Thresholds::new(1.0, vec![held, Left::ALL]).unwrap();
        let tested_badly = Thresholds::new(1.0, vec![skipped, Left::ALL]).unwrap();
        assert_eq!(tested_well.skips(0, 1.2), 0.0);
        assert_eq!(tested_badly.skips(0, 0.8), 1.0);
        assert!(tested_well.skips(1, 1.0) < none.skips(1, 1.0) - 0.1);
        assert!(tested_badly.skips(1, 1.0) > none.skips(1, 1.0) + 0.1);
    }

    #[test]
    fn a_report_weighs_as_bayes_says() {
        for (damage, at) in [(0.8, 0.8), (0.8, 1.1), (1.1, 0.8), (1.5, 1.5)] {
            let mut left = Left::ALL;
            left.narrow(damage, SkipOutcome::Reported);
            let reported = Thresholds::new(1.0, vec![left, Left::ALL]).unwrap();
            let none = Thresholds::new(1.0, vec![Left::ALL, Left::ALL]).unwrap();
            // P(T ≤ x | report) = [P(T ≤ min(x, d)) + q·P(d < T ≤ x)] / [P(T ≤ d) + q·P(T > d)]
            let below = |x: f64| none.skips(0, x);
            let evidence = below(damage) + OTHER_CAUSES * (1.0 - below(damage));
            let expected =
                (below(damage.min(at)) + OTHER_CAUSES * (below(at) - below(damage)).max(0.0)) / evidence;
            assert!((reported.skips(0, at) - expected).abs() < 1e-9, "{damage} {at}");
            assert!(reported.skips(0, at) > none.skips(0, at));
            assert!(reported.skips(1, at) > none.skips(1, at));
        }
        let mut twice = Left::ALL;
        twice.narrow(0.9, SkipOutcome::Reported);
        let once = Thresholds::new(1.0, vec![twice.clone()]).unwrap().skips(0, 0.9);
        twice.narrow(0.9, SkipOutcome::Reported);
        assert!(Thresholds::new(1.0, vec![twice]).unwrap().skips(0, 0.9) > once);
        let mut unworn = Left::ALL;
        unworn.narrow(0.0, SkipOutcome::Reported);
        let unworn = Thresholds::new(1.0, vec![unworn]).unwrap();
        let none = Thresholds::new(1.0, vec![Left::ALL]).unwrap();
        assert!((unworn.skips(0, 1.0) - none.skips(0, 1.0)).abs() < 1e-12, "no wear: other causes");
    }
}
