//! Shares of things of which it is only known between which two marks they fell.
//!
//! A scale is cut into cells. An observation is the span of cells in which something lies: one cell where it was seen,
//! several where it happened between two inspections, all to the end of the scale where it hadn't happened yet. The
//! distribution that makes the spans most probable is the self-consistent one (Turnbull 1976, J. R. Stat. Soc. B 38:290, M);
//! with nothing but seen events and open ends it is Kaplan and Meier's (1958, J. Am. Stat. Assoc. 53:457, M).

use std::collections::BTreeMap;
use std::ops::Range;

use super::track_record::DRIFT_RISK;
use crate::numeric::normal;

/// Steps of the search for the self-consistent distribution.
const STEPS: usize = 4_000;

/// A step that moves no cell by more ends it.
const SETTLED: f64 = 1e-10;

/// The self-consistent distribution over `cells` of spans with their weights: each span's weight lies in its cells as
/// the distribution itself has them. What no span can tell apart stays spread evenly. All even without a span.
///
/// ```
/// use wear_core::fleet::censored::distribution;
///
/// // Two events seen in the first of three cells, one thing that lasted at least until the second cell began.
/// let shares = distribution(3, [(0..1, 2.0), (1..3, 1.0)]);
/// assert!((shares[0] - 2.0 / 3.0).abs() < 1e-9);
/// ```
#[must_use]
pub fn distribution(cells: usize, spans: impl IntoIterator<Item = (Range<usize>, f64)>) -> Vec<f64> {
    let legal = |(span, weight): &(Range<usize>, f64)| {
        span.start < span.end && span.end <= cells && *weight > 0.0 && weight.is_finite()
    };
    let spans: Vec<(Range<usize>, f64)> = spans.into_iter().filter(legal).collect();
    let whole: f64 = spans.iter().map(|(_, weight)| weight).sum();
    let mut shares = vec![1.0 / cells.max(1) as f64; cells];
    if whole <= 0.0 {
        return shares;
    }
    for _ in 0..STEPS {
        // f_k ← f_k · Σ_{spans ∋ k} w / (W · Σ_{j in span} f_j)
        let mut rises = vec![0.0; cells + 1];
        for (span, weight) in &spans {
            let within: f64 = shares[span.clone()].iter().sum();
            if within > 0.0 {
                rises[span.start] += weight / within;
                rises[span.end] -= weight / within;
            }
        }
        let (mut factor, mut moved) = (0.0, 0.0_f64);
        for (share, rise) in shares.iter_mut().zip(&rises) {
            factor += rise;
            let next = *share * (factor / whole).max(0.0);
            moved = moved.max((next - *share).abs());
            *share = next;
        }
        if moved < SETTLED {
            break;
        }
    }
    shares
}

/// A share with how far chance may have moved it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Share {
    /// The share.
    pub share: f64,
    /// As low as the true share may be, but for half of [`DRIFT_RISK`].
    pub lowest: f64,
    /// As high as it may be.
    pub highest: f64,
}

impl Share {
    /// A share of so many: Wilson's interval (1927, J. Am. Stat. Assoc. 22:209, M). Anything may be true of fewer than one.
    #[must_use]
    pub fn of(share: f64, count: f64) -> Self {
        if count.is_nan() || count < 1.0 {
            return Self { share, lowest: 0.0, highest: 1.0 };
        }
        let z = normal::quantile(1.0 - 0.5 * DRIFT_RISK);
        let spread = z * z / count;
        let centre = (share + 0.5 * spread) / (1.0 + spread);
        let half = (share * (1.0 - share) * spread + 0.25 * spread * spread).max(0.0).sqrt() / (1.0 + spread);
        Self { share, lowest: (centre - half).max(0.0), highest: (centre + half).min(1.0) }
    }

    /// Whether the true share is above `expected`, but for chance.
    #[must_use]
    pub fn is_above(&self, expected: f64) -> bool {
        self.lowest > expected
    }

    /// Whether it is below.
    #[must_use]
    pub fn is_below(&self, expected: f64) -> bool {
        self.highest < expected
    }
}

/// Cells of the scale on which forecasts are scored: each holds a fortieth of what was forecast.
pub const CELLS: usize = 40;

/// Spans on a scale on which right forecasts are spread evenly, added up. They take no more room for a thousand forecasts than
/// for ten.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Spans(BTreeMap<(u8, u8), f64>);

impl Spans {
    /// Spans that were kept, by first cell and cell after the last; none where one isn't on the scale.
    #[must_use]
    pub fn kept(spans: impl IntoIterator<Item = (u8, u8, f64)>) -> Option<Self> {
        let mut kept = Self::default();
        for (from, to, weight) in spans {
            if from >= to || usize::from(to) > CELLS || !(0.0..=f64::MAX).contains(&weight) {
                return None;
            }
            *kept.0.entry((from, to)).or_default() += weight;
        }
        Some(kept)
    }

    /// First cell, cell after the last, and weight of each.
    pub fn iter(&self) -> impl Iterator<Item = (u8, u8, f64)> + '_ {
        self.0.iter().map(|((from, to), weight)| (*from, *to, *weight))
    }

    /// One more, between two places from 0 to 1. What spans the whole scale tells nothing and isn't kept; whether it was.
    pub fn add(&mut self, from: f64, to: f64, weight: f64) -> bool {
        let edge = |place: f64| (place.clamp(0.0, 1.0) * CELLS as f64).round() as u8;
        let (mut first, mut end) = (edge(from), edge(to));
        if first >= end {
            let middle = (0.5 * (from + to)).clamp(0.0, 1.0) * CELLS as f64;
            first = (middle as u8).min(CELLS as u8 - 1);
            end = first + 1;
        }
        let tells = usize::from(end - first) < CELLS && weight > 0.0;
        if tells {
            *self.0.entry((first, end)).or_default() += weight;
        }
        tells
    }

    /// Weight of all of them.
    #[must_use]
    pub fn weight(&self) -> f64 {
        self.0.values().sum()
    }

    /// Share of each cell.
    #[must_use]
    pub fn shares(&self) -> Vec<f64> {
        distribution(
            CELLS,
            self.0.iter().map(|((from, to), weight)| (usize::from(*from)..usize::from(*to), *weight)),
        )
    }

    /// How many forecasts of which all is known tell as much of the share of those cells, given the share of each cell: a
    /// span counts by how much it leaves of the variance of "within or without", `1 − w(1 − w)/π(1 − π)`, w the part of
    /// its share that is within and π that of all (missing information; Orchard and Woodbury 1972, M). One forecast's
    /// worth of even spread is added, so that π is never nought.
    #[must_use]
    pub fn known_of(&self, cells: &Range<usize>, shares: &[f64]) -> f64 {
        let even = 1.0 / CELLS as f64;
        let whole = self.weight();
        let shares: Vec<f64> = shares.iter().map(|share| (whole * share + even) / (whole + 1.0)).collect();
        let sum = |range: Range<usize>| shares.get(range).map_or(0.0, |shares| shares.iter().sum::<f64>());
        let expected = sum(cells.clone());
        let variance = expected * (1.0 - expected);
        let known = |((from, to), weight): (&(u8, u8), &f64)| {
            let (from, to) = (usize::from(*from), usize::from(*to));
            let within =
                sum(from.max(cells.start)..to.min(cells.end).max(from.max(cells.start))) / sum(from..to);
            weight * (1.0 - within * (1.0 - within) / variance)
        };
        self.0.iter().map(known).sum::<f64>().max(0.0)
    }

    /// The share of those cells, given the share of each; what is known of it counts `each` times.
    pub(super) fn share_of(&self, cells: &Range<usize>, shares: &[f64], each: f64) -> Share {
        let share = shares[cells.clone()].iter().sum::<f64>().clamp(0.0, 1.0);
        Share::of(share, each * self.known_of(cells, shares))
    }
}

impl std::ops::AddAssign<&Self> for Spans {
    fn add_assign(&mut self, other: &Self) {
        for (span, weight) in &other.0 {
            *self.0.entry(*span).or_default() += weight;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Weeks in remission of 21 children on 6-mercaptopurine (Freireich et al. 1963, Blood 21:699), and the survival
    /// that Kaplan and Meier's product gives, as textbooks print it (from memory; M for the product itself, which the test computes
    /// as well).
    #[test]
    fn without_intervals_it_is_kaplan_and_meiers() {
        let relapsed = [6, 6, 6, 7, 10, 13, 16, 22, 23];
        let still_well = [6, 9, 10, 11, 17, 19, 20, 25, 32, 32, 34, 35];
        let printed =
            [(6, 0.857), (7, 0.807), (10, 0.753), (13, 0.690), (16, 0.627), (22, 0.538), (23, 0.448)];
        let seen = relapsed.iter().map(|week| (*week - 1..*week, 1.0));
        let open = still_well.iter().map(|week| (*week..40, 1.0));
        let shares = distribution(40, seen.chain(open));
        let mut product = 1.0;
        for (week, survival) in printed {
            let at_risk = relapsed.iter().chain(&still_well).filter(|it| **it >= week).count();
            let events = relapsed.iter().filter(|it| **it == week).count();
            product *= 1.0 - events as f64 / at_risk as f64;
            let ours: f64 = shares[week..].iter().sum();
            assert!((ours - product).abs() < 1e-6, "{week}: {ours} against {product}");
            assert!((ours - survival).abs() < 6e-4, "{week}: {ours} against {survival}");
        }
    }

    #[test]
    fn what_no_span_tells_apart_stays_even() {
        assert_eq!(distribution(4, []), [0.25; 4]);
        let shares = distribution(4, [(0..2, 3.0), (2..4, 1.0)]);
        for (share, expected) in shares.iter().zip([0.375, 0.375, 0.125, 0.125]) {
            assert!((share - expected).abs() < 1e-9, "{shares:?}");
        }
    }

    #[test]
    fn shares_of_few_may_be_anything() {
        let all = Share::of(1.0, 5.0);
        assert!(all.lowest < 0.5 && all.highest > 1.0 - 1e-9, "{all:?}");
        assert_eq!(Share::of(0.3, 0.5), Share { share: 0.3, lowest: 0.0, highest: 1.0 });
        let many = Share::of(0.2, 4_000.0);
        assert!((many.highest - many.lowest - 2.0 * 2.576 * (0.16_f64 / 4_000.0).sqrt()).abs() < 1e-4);
        assert!(many.is_above(0.18) && many.is_below(0.22) && !many.is_above(0.2));
    }

    #[test]
    fn spans_tell_as_much_as_they_are_short() {
        let mut spans = Spans::default();
        assert!(spans.add(0.31, 0.33, 1.0) && spans.add(0.95, 1.0, 1.0));
        assert!(!spans.add(0.0, 1.0, 1.0) && !spans.add(0.004, 0.999, 1.0));
        let known = |spans: &Spans, cells: Range<usize>| spans.known_of(&cells, &[1.0 / CELLS as f64; CELLS]);
        assert!((known(&spans, 4..36) - 2.0).abs() < 1e-12);
        // Beyond the median: P10 to P90 is as likely as before.
        spans.add(0.5, 1.0, 1.0);
        assert!((known(&spans, 4..36) - 2.0).abs() < 1e-12);
        assert!(known(&spans, 0..20) > 2.99);
        assert_eq!(Spans::kept(spans.iter()), Some(spans));
        assert_eq!(Spans::kept([(3, 3, 1.0)]), None);
        assert_eq!(Spans::kept([(3, 41, 1.0)]), None);
    }
}
