//! The outlook of a chain of which several things may be true.

use super::filter::Posterior;
use super::outlook::{Outlook, Quantiles, Snapshot};
use super::process::CEILING_PERCENT;
use crate::units::{Limit, ReferenceKilometres};

/// Weights below this change no digit.
const NEGLIGIBLE: f64 = 1e-6;

/// Elongations at which distributions are mixed, percent: between them a straight line.
const LOWEST: f64 = -0.3;
const STEP: f64 = 0.002;

/// Longest remaining life told apart, reference km, and the steps of the search for one in ln s.
const LONGEST: f64 = 10_000_000.0;
const HALVINGS: usize = 44;

/// One thing that may be true.
#[derive(Debug, Clone, Copy)]
pub(super) struct Part<'a> {
    pub(super) weight: f64,
    pub(super) posterior: &'a Posterior,
    /// Its own exposure now.
    pub(super) at: ReferenceKilometres,
}

/// A chain of which several things may be true, at one exposure: `Σ w_i P_i`.
pub struct MixedSnapshot<'a> {
    at: ReferenceKilometres,
    limit: Limit,
    parts: Vec<(Part<'a>, Snapshot<'a>)>,
}

impl<'a> MixedSnapshot<'a> {
    /// Of parts whose weights needn't sum to 1; `at` is the exposure as the record counts it.
    pub(super) fn new(parts: Vec<Part<'a>>, at: ReferenceKilometres, limit: Limit) -> Self {
        let kept = parts.into_iter().filter(|part| part.weight > NEGLIGIBLE);
        let mut parts: Vec<_> = kept.map(|part| (part, part.posterior.snapshot(part.at, limit))).collect();
        let whole: f64 = parts.iter().map(|(part, _)| part.weight).sum();
        parts.iter_mut().for_each(|(part, _)| part.weight /= whole);
        Self { at, limit, parts }
    }

    /// Probability that the limit is reached within so many more reference km.
    #[must_use]
    pub fn over_within(&self, ahead: f64) -> f64 {
        self.parts.iter().map(|(part, snapshot)| part.weight * snapshot.over_within(ahead).0).sum()
    }

    /// Quantiles of what lies ahead and of the elongation now.
    #[must_use]
    pub fn outlook(&self) -> Outlook {
        let over_now = self.over_within(0.0);
        let remaining = |p: f64| {
            if over_now >= p {
                return 0.0;
            }
            let (mut low, mut high) = (0.0_f64, LONGEST.ln());
            for _ in 0..HALVINGS {
                let middle = 0.5 * (low + high);
                *(if self.over_within(middle.exp()) < p { &mut low } else { &mut high }) = middle;
            }
            (0.5 * (low + high)).exp()
        };
        let count = ((CEILING_PERCENT - LOWEST) / STEP) as usize;
        let grid: Vec<f64> = (0..=count).map(|i| LOWEST + STEP * i as f64).collect();
        let mut below = vec![0.0; grid.len()];
        for (part, _) in &self.parts {
            let own = part.posterior.elongation_distribution(part.at, &grid);
            below.iter_mut().zip(own).for_each(|(sum, own)| *sum += part.weight * own);
        }
        let elongation = |p: f64| {
            let after = below.partition_point(|value| *value < p).clamp(1, count);
            let (low, high) = (below[after - 1], below[after]);
            let share = if high > low { ((p - low) / (high - low)).clamp(0.0, 1.0) } else { 0.0 };
            grid[after - 1] + STEP * share
        };
        let quantiles = |of: &dyn Fn(f64) -> f64| Quantiles { p10: of(0.1), p50: of(0.5), p90: of(0.9) };
        Outlook {
            at: self.at,
            limit: self.limit,
            probability_over_limit: over_now.clamp(0.0, 1.0),
            remaining: quantiles(&remaining),
            elongation: quantiles(&elongation),
            worst_stretch: self.parts.first().and_then(|(_, snapshot)| snapshot.outlook().worst_stretch),
        }
    }
}
