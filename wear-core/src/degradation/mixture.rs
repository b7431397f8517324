//! The outlook of a chain of which several things may be true.

use super::filter::Posterior;
use super::outlook::{Outlook, Quantiles};
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
pub(super) struct Part<'a> {
    pub(super) weight: f64,
    pub(super) posterior: &'a Posterior,
    /// Its own exposure now.
    pub(super) at: ReferenceKilometres,
}

/// Quantiles of `Σ w_i P_i`.
pub(super) fn outlook(parts: &[Part<'_>], at: ReferenceKilometres, limit: Limit) -> Outlook {
    let parts: Vec<&Part<'_>> = parts.iter().filter(|part| part.weight > NEGLIGIBLE).collect();
    let whole: f64 = parts.iter().map(|part| part.weight).sum();
    let sights: Vec<_> =
        parts.iter().map(|part| (part.weight / whole, part.posterior.sight(part.at, limit))).collect();
    let over = |ahead: f64| -> f64 {
        sights.iter().map(|(weight, sight)| weight * sight.over_within(ahead).0).sum()
    };
    let over_now = over(0.0);
    let remaining = |p: f64| {
        if over_now >= p {
            return 0.0;
        }
        let (mut low, mut high) = (0.0_f64, LONGEST.ln());
        for _ in 0..HALVINGS {
            let middle = 0.5 * (low + high);
            *(if over(middle.exp()) < p { &mut low } else { &mut high }) = middle;
        }
        (0.5 * (low + high)).exp()
    };
    let count = ((CEILING_PERCENT - LOWEST) / STEP) as usize;
    let grid: Vec<f64> = (0..=count).map(|i| LOWEST + STEP * i as f64).collect();
    let mut below = vec![0.0; grid.len()];
    for part in &parts {
        let own = part.posterior.elongation_distribution(part.at, &grid);
        below.iter_mut().zip(own).for_each(|(sum, own)| *sum += part.weight / whole * own);
    }
    let elongation = |p: f64| {
        let after = below.partition_point(|value| *value < p).clamp(1, count);
        let (low, high) = (below[after - 1], below[after]);
        let share = if high > low { ((p - low) / (high - low)).clamp(0.0, 1.0) } else { 0.0 };
        grid[after - 1] + STEP * share
    };
    let quantiles = |of: &dyn Fn(f64) -> f64| Quantiles { p10: of(0.1), p50: of(0.5), p90: of(0.9) };
    let worst_stretch = sights.first().and_then(|(_, sight)| sight.outlook().worst_stretch);
    Outlook {
        at,
        limit,
        probability_over_limit: over_now.clamp(0.0, 1.0),
        remaining: quantiles(&remaining),
        elongation: quantiles(&elongation),
        worst_stretch,
    }
}
