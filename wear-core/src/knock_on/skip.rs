//! What skip tests, reports and silence say about the thresholds of one set of sprockets.

use statrs::function::erf::erfc;

use super::threshold::SkipThreshold;

/// Nodes of the sum over the shared part, and how far it reaches in standard deviations: steps of a quarter of one, with
/// which the trapezoidal rule is exact to more than nine digits for what is smooth over a third of one.
const NODES: usize = 49;
const REACH: f64 = 6.0;

/// How often a sprocket that would hold a new chain is reported to skip, against one that would not: stiff links, gears set
/// wrong and worn chains skip too (A).
const OTHER_CAUSES: f64 = 0.2;

/// How far silence can be trusted: of new chains that skip, nine in ten are reported within [`TRIAL_KM`] (A).
pub(crate) const RELIABILITY: f64 = 0.9;

/// A new chain that has been ridden so far without a reported skip has held, km (A).
pub const TRIAL_KM: f64 = 100.0;

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
    /// A rider reported that a new chain skipped, within its first [`TRIAL_KM`]; weighs as [`SkipOutcome::Reported`], with
    /// nothing of the chain's own wear behind it.
    ReportedNew,
    /// A new chain was ridden [`TRIAL_KM`] and nobody reported a skip. The likelihood is `r·P(threshold > d) + (1 − r)`
    /// with r = 0.9 (A).
    Unreported,
}

/// One skip test of one sprocket with a new chain, a rider's report, or a rider's silence.
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

/// Likelihood of ln threshold of one sprocket: a weight between each two edges, nothing outside of them.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Said {
    above: f64,
    below: f64,
    /// ln damage, with the weights of a threshold below and above it.
    steps: Vec<(f64, f64, f64)>,
}

impl Said {
    pub(crate) const NOTHING: Self =
        Self { above: f64::NEG_INFINITY, below: f64::INFINITY, steps: Vec::new() };

    pub(crate) fn hear(&mut self, damage: f64, outcome: SkipOutcome) {
        self.hear_with(damage, outcome, RELIABILITY);
    }

    /// The same where silence can be trusted so far.
    pub(crate) fn hear_with(&mut self, damage: f64, outcome: SkipOutcome, reliability: f64) {
        // A sprocket without any damage skips for other causes, and that it holds says nothing.
        if damage.is_nan() || damage <= 0.0 {
            return;
        }
        let at = damage.ln();
        match outcome {
            SkipOutcome::Holds => self.above = self.above.max(at),
            SkipOutcome::Skips => self.below = self.below.min(at),
            SkipOutcome::Reported | SkipOutcome::ReportedNew => self.steps.push((at, 1.0, OTHER_CAUSES)),
            SkipOutcome::Unreported => self.steps.push((at, 1.0 - reliability, 1.0)),
        }
    }

    pub(super) fn is_contradictory(&self) -> bool {
        self.above >= self.below
    }

    /// Edges in order, and the weight between each and the next.
    fn pieces(&self) -> Pieces {
        let mut steps = self.steps.clone();
        steps.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut weight: f64 = steps.iter().map(|(_, below, _)| below).product();
        let mut pieces = Pieces { edges: vec![self.above], weights: Vec::new() };
        for (at, below, above) in steps {
            if at > self.above && at < self.below {
                pieces.edges.push(at);
                pieces.weights.push(weight);
            }
            // A silence that is trusted altogether leaves nothing below it.
            weight = if below > 0.0 { weight / below * above } else { above };
        }
        pieces.edges.push(self.below);
        pieces.weights.push(weight);
        pieces
    }
}

struct Pieces {
    edges: Vec<f64>,
    weights: Vec<f64>,
}

/// A report that names no sprocket, or the end of a cassette that skipped: at least one of its sprockets would not hold a
/// new chain at that damage, or it has other causes.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Somewhere {
    /// ln damage of each sprocket.
    pub at: Vec<f64>,
    /// How much less likely it is where all of them would hold, 0 to 1.
    pub weight: f64,
}

/// The same for a rider's report.
pub(crate) const REPORT: f64 = 1.0 - OTHER_CAUSES;

/// All that was said of one set of sprockets.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Evidence {
    pub said: Vec<Said>,
    /// In order of damage, which only grows.
    pub somewhere: Vec<Somewhere>,
}

impl Evidence {
    pub(crate) fn nothing(sprockets: usize) -> Self {
        Self { said: vec![Said::NOTHING; sprockets], somewhere: Vec::new() }
    }

    /// `Π_u (1 − w_u·1[all T > d_u])` as a sum over products: as damage only grows, of any of these that all hold the last one
    /// counts, `1 − Σ_i w_i Π_{u<i}(1 − w_u)·1[all T > d_i]`.
    fn terms(&self) -> Vec<Term> {
        let mut terms = vec![Term { factor: 1.0, above: vec![f64::NEG_INFINITY; self.said.len()] }];
        let mut left = 1.0;
        for Somewhere { at, weight } in &self.somewhere {
            terms.push(Term { factor: -weight * left, above: at.clone() });
            left *= 1.0 - weight;
        }
        terms
    }

    /// ln of the evidence for such thresholds; −∞ when there is none.
    pub(crate) fn ln_likelihood(&self, threshold: &SkipThreshold) -> f64 {
        Thresholds::unchecked(threshold, self, NODES_OF_FLEETS, REACH_OF_FLEETS).1.ln()
    }
}

/// For a fleet's fit: steps of 0.4 standard deviations, exact to about six digits.
const NODES_OF_FLEETS: usize = 25;
const REACH_OF_FLEETS: f64 = 4.8;

/// A product over sprockets of `1[T_j > above_j]`, with its factor.
struct Term {
    factor: f64,
    above: Vec<f64>,
}

/// Posterior of the thresholds of one set of sprockets: [`SkipThreshold`] and what was said.
pub(super) struct Thresholds {
    pieces: Vec<Pieces>,
    terms: Vec<Term>,
    own_sd: f64,
    /// Sums over the shared part.
    nodes: Vec<Node>,
}

struct Node {
    /// Mean of ln threshold here.
    centre: f64,
    /// Prior weight over the evidence of all nodes.
    weight: f64,
    /// Evidence here.
    evidence: f64,
    /// For each sprocket, the weight above each of its edges.
    above_edge: Vec<Vec<f64>>,
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
    /// With the evidence; `None` when nothing is left.
    pub(super) fn new(threshold: &SkipThreshold, evidence: &Evidence) -> Option<(Self, f64)> {
        let (thresholds, sum) = Self::unchecked(threshold, evidence, NODES, REACH);
        (sum > f64::MIN_POSITIVE).then_some((thresholds, sum))
    }

    fn unchecked(threshold: &SkipThreshold, evidence: &Evidence, count: usize, reach: f64) -> (Self, f64) {
        let (common_sd, own_sd) = (threshold.common_sd(), threshold.own_sd());
        let pieces: Vec<Pieces> = evidence.said.iter().map(Said::pieces).collect();
        let mut thresholds =
            Self { pieces, terms: evidence.terms(), own_sd, nodes: Vec::with_capacity(count) };
        let last = (count - 1) as f64;
        let mut prior = 0.0;
        for i in 0..count {
            let z = reach * (2.0 * i as f64 / last - 1.0);
            let centre = threshold.ln_median() + z * common_sd;
            let above_edge =
                thresholds.pieces.iter().map(|pieces| above_edges(pieces, centre, own_sd)).collect();
            let mut node = Node { centre, weight: (-0.5 * z * z).exp(), evidence: 0.0, above_edge };
            node.evidence = thresholds.all_above(&node, |_| f64::NEG_INFINITY);
            prior += node.weight;
            thresholds.nodes.push(node);
        }
        let sum: f64 = thresholds.nodes.iter().map(|node| node.weight * node.evidence).sum();
        for node in &mut thresholds.nodes {
            node.weight /= sum;
        }
        (thresholds, (sum / prior).max(0.0))
    }

    /// Weight of ln T_j above `from`, given the shared part.
    fn above(&self, node: &Node, sprocket: usize, from: f64) -> f64 {
        let Pieces { edges, weights } = &self.pieces[sprocket];
        let above = &node.above_edge[sprocket];
        if from <= edges[0] {
            return above[0];
        }
        let after = edges.partition_point(|edge| *edge <= from);
        if after == edges.len() {
            return 0.0;
        }
        let rest =
            normal_between((from - node.centre) / self.own_sd, (edges[after] - node.centre) / self.own_sd);
        weights[after - 1] * rest + above[after]
    }

    /// Evidence that all thresholds are above, given the shared part.
    fn all_above(&self, node: &Node, from: impl Fn(usize) -> f64) -> f64 {
        let term = |term: &Term| {
            let above = term.above.iter().enumerate();
            let all: f64 = above.map(|(j, above)| self.above(node, j, above.max(from(j)))).product();
            term.factor * all
        };
        self.terms.iter().map(term).sum::<f64>().max(0.0)
    }

    /// The rest of the evidence, as a probability, where it holds so far in each node.
    fn unless(&self, holds: impl Fn(&Node) -> f64) -> f64 {
        // The complement within each node, so that nothing cancels when no sprocket skips.
        let skips = self.nodes.iter().map(|node| node.weight * (node.evidence - holds(node)).max(0.0));
        skips.sum::<f64>().clamp(0.0, 1.0)
    }

    /// Probability that a new chain skips on one sprocket.
    pub(super) fn skips(&self, sprocket: usize, damage: f64) -> f64 {
        let at = damage.ln();
        let from = |j: usize| if j == sprocket { at } else { f64::NEG_INFINITY };
        self.unless(|node| self.all_above(node, from))
    }

    /// Probability that a new chain skips on at least one sprocket.
    pub(super) fn skips_on_any(&self, damage: &[f64]) -> f64 {
        let at: Vec<f64> = damage.iter().map(|damage| damage.ln()).collect();
        self.unless(|node| self.all_above(node, |j| at[j]))
    }
}

/// The weight above each edge.
fn above_edges(Pieces { edges, weights }: &Pieces, centre: f64, sd: f64) -> Vec<f64> {
    let mut above = vec![0.0; edges.len()];
    for piece in (0..weights.len()).rev() {
        let mass = normal_between((edges[piece] - centre) / sd, (edges[piece + 1] - centre) / sd);
        above[piece] = above[piece + 1] + weights[piece] * mass;
    }
    above
}

#[cfg(test)]
mod tests {
    use super::*;

    const SIGMA: f64 = super::super::threshold::SIGMA;

    fn posterior(said: Vec<Said>) -> Thresholds {
        let evidence = Evidence { said, somewhere: Vec::new() };
        Thresholds::new(&SkipThreshold::ASSUMED, &evidence).unwrap().0
    }

    fn after(damage: f64, outcome: SkipOutcome) -> Said {
        let mut said = Said::NOTHING;
        said.hear(damage, outcome);
        said
    }

    #[test]
    fn half_of_the_sprockets_are_used_up_at_the_median() {
        let used_up = |damage| SkipThreshold::ASSUMED.probability_used_up(damage);
        assert_eq!((used_up(0.0), used_up(f64::NAN)), (0.0, 0.0));
        assert!((used_up(1.0) - 0.5).abs() < 1e-10);
        assert!((used_up(SIGMA.exp()) - 0.841_344_746).abs() < 1e-8);
        // The same as a set of one sprocket has it.
        let one = posterior(vec![Said::NOTHING]);
        for damage in [0.4, 0.9, 1.3, 2.0] {
            assert!((one.skips(0, damage) - used_up(damage)).abs() < 1e-7, "{damage}");
        }
        assert_eq!(one.skips(0, 0.0), 0.0);
    }

    #[test]
    fn a_test_truncates_and_teaches_its_neighbours() {
        let held = after(1.2, SkipOutcome::Holds);
        let skipped = after(0.8, SkipOutcome::Skips);
        let none = posterior(vec![Said::NOTHING, Said::NOTHING]);
        let tested_well = posterior(vec![held, Said::NOTHING]);
        let tested_badly = posterior(vec![skipped, Said::NOTHING]);
        assert_eq!(tested_well.skips(0, 1.2), 0.0);
        assert!((tested_badly.skips(0, 0.8) - 1.0).abs() < 1e-12);
        assert!(tested_well.skips(1, 1.0) < none.skips(1, 1.0) - 0.1);
        assert!(tested_badly.skips(1, 1.0) > none.skips(1, 1.0) + 0.1);
    }

    /// P(T ≤ x | said at d) = [a·P(T ≤ min(x, d)) + b·P(d < T ≤ x)] / [a·P(T ≤ d) + b·P(T > d)]
    #[test]
    fn reports_and_silence_weigh_as_bayes_says() {
        let none = posterior(vec![Said::NOTHING, Said::NOTHING]);
        let below = |x: f64| none.skips(0, x);
        let cases =
            [(SkipOutcome::Reported, 1.0, OTHER_CAUSES), (SkipOutcome::Unreported, 1.0 - RELIABILITY, 1.0)];
        for (outcome, a, b) in cases {
            for (damage, at) in [(0.8, 0.8), (0.8, 1.1), (1.1, 0.8), (1.5, 1.5)] {
                let told = posterior(vec![after(damage, outcome), Said::NOTHING]);
                let evidence = a * below(damage) + b * (1.0 - below(damage));
                let upper = (below(at) - below(damage)).max(0.0);
                let expected = (a * below(damage.min(at)) + b * upper) / evidence;
                assert!((told.skips(0, at) - expected).abs() < 1e-9, "{outcome:?} {damage} {at}");
                assert_eq!(told.skips(0, at) > below(at), outcome == SkipOutcome::Reported);
                assert_eq!(told.skips(1, at) > none.skips(1, at), outcome == SkipOutcome::Reported);
            }
        }
        let mut twice = after(0.9, SkipOutcome::Reported);
        let once = posterior(vec![twice.clone()]).skips(0, 0.9);
        twice.hear(0.9, SkipOutcome::Reported);
        assert!(posterior(vec![twice]).skips(0, 0.9) > once);
        let unworn = posterior(vec![after(0.0, SkipOutcome::Reported)]).skips(0, 1.0);
        assert!(
            (unworn - posterior(vec![Said::NOTHING]).skips(0, 1.0)).abs() < 1e-12,
            "no wear: other causes"
        );
    }

    /// Against a plain sum over a fine grid of both thresholds' shared and own parts.
    #[test]
    fn all_kinds_of_evidence_agree_with_brute_force() {
        let mut first = after(0.5, SkipOutcome::Unreported);
        first.hear(1.0, SkipOutcome::Unreported);
        first.hear(0.9, SkipOutcome::Reported);
        let mut second = after(0.3, SkipOutcome::Unreported);
        second.hear(0.25, SkipOutcome::Holds);
        let reports = [([0.9_f64, 0.6_f64], REPORT), ([1.2, 0.8], 0.95)];
        let somewhere = reports.map(|(at, weight)| Somewhere { at: at.map(f64::ln).to_vec(), weight });
        let evidence = Evidence { said: vec![first, second], somewhere: somewhere.to_vec() };
        let threshold = SkipThreshold::learned(0.1, 0.2, 0.7, 0.3).unwrap();
        let (posterior, found) = Thresholds::new(&threshold, &evidence).unwrap();

        let likelihood = |a: f64, b: f64| {
            let silent = |t: f64, d: f64| if t > d { 1.0 } else { 1.0 - RELIABILITY };
            let reported = if a > 0.9 { OTHER_CAUSES } else { 1.0 };
            let hard = f64::from(u8::from(b > 0.25));
            let anywhere: f64 = reports
                .iter()
                .map(|(d, weight)| if a > d[0] && b > d[1] { 1.0 - weight } else { 1.0 })
                .product();
            silent(a, 0.5) * silent(a, 1.0) * reported * silent(b, 0.3) * hard * anywhere
        };
        let (common, own) = ((0.3_f64 * 0.49 + 0.04).sqrt(), 0.7 * 0.7_f64.sqrt());
        let steps = 240;
        let grid: Vec<(f64, f64)> = (0..steps)
            .map(|i| {
                let z = -6.0 + 12.0 * (f64::from(i) + 0.5) / f64::from(steps);
                (z, crate::numeric::normal::density(z) * 12.0 / f64::from(steps))
            })
            .collect();
        let (mut whole, mut skips, mut on_second) = (0.0, 0.0, 0.0);
        for &(z, wz) in &grid {
            for &(e, we) in &grid {
                let a = (0.1 + common * z + own * e).exp();
                for &(f, wf) in &grid {
                    let b = (0.1 + common * z + own * f).exp();
                    let weight = wz * we * wf * likelihood(a, b);
                    whole += weight;
                    skips += if a <= 1.1 || b <= 0.7 { weight } else { 0.0 };
                    on_second += if b <= 0.7 { weight } else { 0.0 };
                }
            }
        }
        assert!((found / whole - 1.0).abs() < 0.01, "{found} {whole}");
        assert!((evidence.ln_likelihood(&threshold) - found.ln()).abs() < 1e-5);
        assert!((posterior.skips_on_any(&[1.1, 0.7]) - skips / whole).abs() < 0.01);
        assert!((posterior.skips(1, 0.7) - on_second / whole).abs() < 0.01);
    }
}
