//! What skip tests, reports and silence say about the thresholds of one set of sprockets.

use std::ops::Range;

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
    /// with r = 0.9 (A), of all sprockets together where it is of a chain.
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

/// What a chain did on all sprockets together: silence, or a report that names none of them.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ChainTest {
    /// How many chains of the history had their wear behind it.
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
        // A sprocket without any damage skips for other causes, and that it holds says nothing.
        if damage.is_nan() || damage <= 0.0 {
            return;
        }
        let at = damage.ln();
        match outcome {
            SkipOutcome::Holds => self.above = self.above.max(at),
            SkipOutcome::Skips => self.below = self.below.min(at),
            SkipOutcome::Reported | SkipOutcome::ReportedNew => self.steps.push((at, 1.0, OTHER_CAUSES)),
            SkipOutcome::Unreported => self.steps.push((at, 1.0 - RELIABILITY, 1.0)),
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
            weight *= above / below;
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

/// What was said of all sprockets together at some damage: `c·(1 − w·1[all T > d])`.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Together {
    /// ln damage of each sprocket.
    at: Vec<f64>,
    /// c, the likelihood where a new chain would skip on one of them.
    constant: f64,
    /// w, how much less likely it is where all of them would hold; below nought it is more likely.
    weight: f64,
}

impl Together {
    /// At least one of the sprockets would not hold a new chain, or it has other causes, so much less often.
    pub(crate) fn skips(damage: &[f64], weight: f64) -> Self {
        Self { at: logarithms(damage), constant: 1.0, weight }
    }

    /// A new chain ran on all of them in silence: `(1 − r)·(1 + r/(1 − r)·1[all T > d])`.
    pub(crate) fn silence(damage: &[f64]) -> Self {
        let constant = 1.0 - RELIABILITY;
        Self { at: logarithms(damage), constant, weight: -RELIABILITY / constant }
    }
}

fn logarithms(damage: &[f64]) -> Vec<f64> {
    damage.iter().map(|damage| damage.ln()).collect()
}

/// How much less likely a rider's report is where all sprockets would hold.
pub(crate) const REPORT: f64 = 1.0 - OTHER_CAUSES;

/// The same of a skip that somebody saw who tested for it (A).
pub(crate) const SEEN: f64 = 0.95;

/// All that was said of one set of sprockets.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Evidence {
    pub said: Vec<Said>,
    /// In order of damage, which only grows.
    pub together: Vec<Together>,
}

impl Evidence {
    pub(crate) fn nothing(sprockets: usize) -> Self {
        Self { said: vec![Said::NOTHING; sprockets], together: Vec::new() }
    }

    /// Adds what was said of all sprockets together.
    pub(crate) fn hear_together(&mut self, damage: &[f64], outcome: SkipOutcome) {
        match outcome {
            SkipOutcome::Holds => {
                self.said.iter_mut().zip(damage).for_each(|(said, damage)| said.hear(*damage, outcome));
            }
            SkipOutcome::Skips => self.together.push(Together::skips(damage, SEEN)),
            SkipOutcome::Reported | SkipOutcome::ReportedNew => {
                self.together.push(Together::skips(damage, REPORT));
            }
            SkipOutcome::Unreported => self.together.push(Together::silence(damage)),
        }
    }

    /// `Π_u c_u(1 − w_u·1[all T > d_u])` as a sum over products: as damage only grows, of any of these that all hold the last
    /// one counts, `Π c·(1 − Σ_i w_i Π_{u<i}(1 − w_u)·1[all T > d_i])`.
    fn terms(&self) -> Vec<Term> {
        let constant: f64 = self.together.iter().map(|one| one.constant).product();
        let mut terms = vec![Term { factor: constant, above: vec![f64::NEG_INFINITY; self.said.len()] }];
        let mut left = constant;
        for Together { at, constant: _, weight } in &self.together {
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
    /// Where each sprocket's edges begin among those of all.
    first_edges: Vec<usize>,
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
    /// Sprocket by sprocket, the weight above each of its edges.
    above_edge: Vec<f64>,
    /// Term by term, the weight of each sprocket's threshold above what the term asks.
    held: Vec<f64>,
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
        let mut edges = 0;
        let first_edges = pieces.iter().map(|pieces| {
            let first = edges;
            edges += pieces.edges.len();
            first
        });
        let first_edges = first_edges.collect();
        let terms = evidence.terms();
        let nodes = Vec::with_capacity(count);
        let mut thresholds = Self { pieces, first_edges, terms, own_sd, nodes };
        let last = (count - 1) as f64;
        let mut prior = 0.0;
        for i in 0..count {
            let z = reach * (2.0 * i as f64 / last - 1.0);
            let centre = threshold.ln_median() + z * common_sd;
            let mut above_edge = vec![0.0; edges];
            for (pieces, first) in thresholds.pieces.iter().zip(&thresholds.first_edges) {
                above_edges(pieces, centre, own_sd, &mut above_edge[*first..*first + pieces.edges.len()]);
            }
            let weight = (-0.5 * z * z).exp();
            let mut node = Node { centre, weight, evidence: 0.0, above_edge, held: Vec::new() };
            node.held = thresholds.held(&node);
            let held = node.held.chunks(thresholds.pieces.len());
            node.evidence = thresholds.sum(held.map(|held| held.iter().product()));
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
        let above = &node.above_edge[self.first_edges[sprocket]..];
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

    fn held(&self, node: &Node) -> Vec<f64> {
        let mut held = Vec::with_capacity(self.terms.len() * self.pieces.len());
        for term in &self.terms {
            held.extend(term.above.iter().enumerate().map(|(j, above)| self.above(node, j, *above)));
        }
        held
    }

    /// The sum over the terms of each one's factor times its product over sprockets.
    fn sum(&self, products: impl Iterator<Item = f64>) -> f64 {
        let terms = self.terms.iter().zip(products).map(|(term, product)| term.factor * product);
        terms.sum::<f64>().max(0.0)
    }

    /// How likely thresholds are above such damage, for each sprocket.
    pub(super) fn beyond(&self, damage: &[f64]) -> Beyond {
        let from = logarithms(damage);
        let of_node = |node| from.iter().enumerate().map(move |(j, from)| self.above(node, j, *from));
        let above = self.nodes.iter().flat_map(of_node).collect();
        Beyond { from, above }
    }

    /// Probability that a new chain skips on one of these sprockets: the rest of the evidence where it holds on all of them.
    fn skips_on(&self, sprockets: Range<usize>, Beyond { from, above }: &Beyond) -> f64 {
        let Range { start, end } = sprockets;
        let all_above = |node: &Node, beyond: &[f64]| {
            let product = |(term, held): (&Term, &[f64])| {
                let asked = (start..end).map(|j| if from[j] <= term.above[j] { held[j] } else { beyond[j] });
                held[..start].iter().copied().chain(asked).chain(held[end..].iter().copied()).product()
            };
            self.sum(self.terms.iter().zip(node.held.chunks(from.len())).map(product))
        };
        let nodes = self.nodes.iter().zip(above.chunks(from.len()));
        // The complement within each node, so that nothing cancels when no sprocket skips.
        let skips =
            nodes.map(|(node, beyond)| node.weight * (node.evidence - all_above(node, beyond)).max(0.0));
        skips.sum::<f64>().clamp(0.0, 1.0)
    }

    /// Probability that a new chain skips on one sprocket.
    pub(super) fn skips(&self, sprocket: usize, beyond: &Beyond) -> f64 {
        self.skips_on(sprocket..sprocket + 1, beyond)
    }

    /// Probability that a new chain skips on at least one sprocket.
    pub(super) fn skips_on_any(&self, beyond: &Beyond) -> f64 {
        self.skips_on(0..beyond.from.len(), beyond)
    }
}

/// How likely the thresholds of one set of sprockets are above some damage.
pub(super) struct Beyond {
    /// ln damage of each sprocket.
    from: Vec<f64>,
    /// Node by node, the weight above it for each sprocket.
    above: Vec<f64>,
}

/// The weight above each edge, into `above`.
fn above_edges(Pieces { edges, weights }: &Pieces, centre: f64, sd: f64, above: &mut [f64]) {
    for piece in (0..weights.len()).rev() {
        let mass = normal_between((edges[piece] - centre) / sd, (edges[piece + 1] - centre) / sd);
        above[piece] = above[piece + 1] + weights[piece] * mass;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const SIGMA: f64 = super::super::threshold::SIGMA;

    fn posterior(said: Vec<Said>) -> Thresholds {
        let evidence = Evidence { said, together: Vec::new() };
        Thresholds::new(&SkipThreshold::ASSUMED, &evidence).unwrap().0
    }

    fn skips_on_one(known: &Thresholds, sprocket: usize, damage: f64) -> f64 {
        known.skips(sprocket, &known.beyond(&vec![damage; known.pieces.len()]))
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
            assert!((skips_on_one(&one, 0, damage) - used_up(damage)).abs() < 1e-7, "{damage}");
        }
        assert_eq!(skips_on_one(&one, 0, 0.0), 0.0);
    }

    #[test]
    fn a_test_truncates_and_teaches_its_neighbours() {
        let held = after(1.2, SkipOutcome::Holds);
        let skipped = after(0.8, SkipOutcome::Skips);
        let none = posterior(vec![Said::NOTHING, Said::NOTHING]);
        let tested_well = posterior(vec![held, Said::NOTHING]);
        let tested_badly = posterior(vec![skipped, Said::NOTHING]);
        assert_eq!(skips_on_one(&tested_well, 0, 1.2), 0.0);
        assert!((skips_on_one(&tested_badly, 0, 0.8) - 1.0).abs() < 1e-12);
        assert!(skips_on_one(&tested_well, 1, 1.0) < skips_on_one(&none, 1, 1.0) - 0.1);
        assert!(skips_on_one(&tested_badly, 1, 1.0) > skips_on_one(&none, 1, 1.0) + 0.1);
    }

    /// P(T ≤ x | said at d) = [a·P(T ≤ min(x, d)) + b·P(d < T ≤ x)] / [a·P(T ≤ d) + b·P(T > d)]
    #[test]
    fn reports_and_silence_weigh_as_bayes_says() {
        let none = posterior(vec![Said::NOTHING, Said::NOTHING]);
        let below = |x: f64| skips_on_one(&none, 0, x);
        let cases =
            [(SkipOutcome::Reported, 1.0, OTHER_CAUSES), (SkipOutcome::Unreported, 1.0 - RELIABILITY, 1.0)];
        for (outcome, a, b) in cases {
            for (damage, at) in [(0.8, 0.8), (0.8, 1.1), (1.1, 0.8), (1.5, 1.5)] {
                let told = posterior(vec![after(damage, outcome), Said::NOTHING]);
                let evidence = a * below(damage) + b * (1.0 - below(damage));
                let upper = (below(at) - below(damage)).max(0.0);
                let expected = (a * below(damage.min(at)) + b * upper) / evidence;
                assert!((skips_on_one(&told, 0, at) - expected).abs() < 1e-9, "{outcome:?} {damage} {at}");
                assert_eq!(skips_on_one(&told, 0, at) > below(at), outcome == SkipOutcome::Reported);
                assert_eq!(
                    skips_on_one(&told, 1, at) > skips_on_one(&none, 1, at),
                    outcome == SkipOutcome::Reported
                );
            }
        }
        let mut twice = after(0.9, SkipOutcome::Reported);
        let once = skips_on_one(&posterior(vec![twice.clone()]), 0, 0.9);
        twice.hear(0.9, SkipOutcome::Reported);
        assert!(skips_on_one(&posterior(vec![twice]), 0, 0.9) > once);
        let unworn = skips_on_one(&posterior(vec![after(0.0, SkipOutcome::Reported)]), 0, 1.0);
        assert!(
            (unworn - skips_on_one(&posterior(vec![Said::NOTHING]), 0, 1.0)).abs() < 1e-12,
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
        let mut together = vec![Together::silence(&[0.7, 0.5])];
        together.extend(reports.map(|(at, weight)| Together::skips(&at, weight)));
        let evidence = Evidence { said: vec![first, second], together };
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
            let chain = if a > 0.7 && b > 0.5 { 1.0 } else { 1.0 - RELIABILITY };
            chain * silent(a, 0.5) * silent(a, 1.0) * reported * silent(b, 0.3) * hard * anywhere
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
        assert!((posterior.skips_on_any(&posterior.beyond(&[1.1, 0.7])) - skips / whole).abs() < 0.01);
        assert!((skips_on_one(&posterior, 1, 0.7) - on_second / whole).abs() < 0.01);
    }
}
