//! What one chain's readings say of its wear rate.

use crate::degradation::{Posterior, Start, TimedReading, WearParameters};
use crate::reading::InstrumentCalibrations;
use crate::units::LogSd;

/// Nodes are no further apart than this in ln θ, so that sums over them hold down to a spread of 0.1.
const SPACING: f64 = 0.085;

/// How far below the best an impossible rate's log-likelihood is put, and how far below it details stop mattering.
const IMPOSSIBLE: f64 = 700.0;
const IRRELEVANT: f64 = 60.0;

/// `ln p(readings | θ)` on equidistant nodes in ln θ.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct RateLikelihood {
    first: f64,
    spacing: f64,
    log: Vec<f64>,
    /// Whether the chain was met on the road and not when it was new.
    found: bool,
}

/// Posterior of one chain's ln θ within its group.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct RateMoments {
    /// `ln p(readings)`.
    pub(super) log_evidence: f64,
    /// Mean of ln θ.
    pub(super) mean: f64,
    /// Variance of ln θ.
    pub(super) variance: f64,
}

impl RateLikelihood {
    /// From a chain's readings; `wide` is a prior broad enough to reach every rate that matters, and gives φ and how the
    /// record begins.
    pub(super) fn of(
        wide: &WearParameters,
        calibrations: &InstrumentCalibrations,
        readings: &[TimedReading],
    ) -> Option<Self> {
        // All of its spread is ignorance of the mean: no length bias here, it comes with the group's own τ.
        let wide = wide.with_common_spread(LogSd::new(wide.sd_log_rate()).unwrap_or(LogSd::ZERO));
        let posterior = Posterior::of(&wide, calibrations, readings);
        let (nodes, mut log): (Vec<f64>, Vec<f64>) = posterior.log_likelihood_of_rate().unzip();
        let (&first, &second) = (nodes.first()?, nodes.get(1)?);
        let mut spacing = second - first;
        // A rate that can't have led to the readings at all is as good as one at e⁻⁷⁰⁰ of the best.
        let best = log.iter().copied().filter(|value| value.is_finite()).fold(f64::NEG_INFINITY, f64::max);
        if !best.is_finite() {
            return None;
        }
        for value in &mut log {
            *value = if value.is_finite() { value.max(best - IMPOSSIBLE) } else { best - IMPOSSIBLE };
        }
        while spacing > SPACING {
            log = halved(&log);
            spacing *= 0.5;
        }
        Some(Self { first, spacing, log, found: wide.start() != Start::New })
    }

    /// Whether the chain was met on the road, so that its rate's mean moves with τ.
    pub(super) const fn is_of_found(&self) -> bool {
        self.found
    }

    /// Mean of its ln θ in a group of mean µ and spread τ.
    pub(super) fn centre(&self, mu: f64, tau: f64) -> f64 {
        if self.found { mu - tau * tau } else { mu }
    }

    /// Integrates over `ln θ ~ N(µ, τ²)`, or `N(µ − τ², τ²)` of a chain as found.
    pub(super) fn moments(&self, mu: f64, tau: f64) -> RateMoments {
        let mu = self.centre(mu, tau);
        // ∫ N(ln θ; µ, τ²) p(readings | θ) d ln θ, trapezoid rule
        let weight = |node: usize| {
            let z = (self.first + node as f64 * self.spacing - mu) / tau;
            self.log[node] - 0.5 * z * z
        };
        let largest = (0..self.log.len()).map(weight).fold(f64::NEG_INFINITY, f64::max);
        let (mut sum, mut first, mut second) = (0.0, 0.0, 0.0);
        for node in 0..self.log.len() {
            let w = (weight(node) - largest).exp();
            let away = self.first + node as f64 * self.spacing - mu;
            sum += w;
            first += w * away;
            second += w * away * away;
        }
        let mean = first / sum;
        let scale = self.spacing / (tau * std::f64::consts::TAU.sqrt());
        RateMoments {
            log_evidence: largest + (sum * scale).ln(),
            mean: mu + mean,
            variance: (second / sum - mean * mean).max(0.0),
        }
    }
}

/// Midpoints added by the cubic through the four nearest nodes; by the line where one of them is far below the best,
/// as a cubic overshoots at a cliff.
fn halved(values: &[f64]) -> Vec<f64> {
    let floor = values.iter().copied().fold(f64::NEG_INFINITY, f64::max) - IRRELEVANT;
    let mut out = Vec::with_capacity(2 * values.len());
    for (i, pair) in values.windows(2).enumerate() {
        out.push(pair[0]);
        let near = pair[0] + pair[1];
        out.push(
            if i > 0 && i + 2 < values.len() && values[i - 1..=i + 2].iter().all(|value| *value > floor) {
                (9.0 * near - values[i - 1] - values[i + 2]) / 16.0
            } else {
                0.5 * near
            },
        );
    }
    out.extend(values.last());
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn without_information_the_prior_comes_back() {
        let flat = RateLikelihood { first: -14.0, spacing: 0.08, log: vec![0.0; 126], found: false };
        let moments = flat.moments(-9.0, 0.3);
        assert!(moments.log_evidence.abs() < 1e-9);
        assert!((moments.mean + 9.0).abs() < 1e-9);
        assert!((moments.variance - 0.09).abs() < 1e-9);
    }

    #[test]
    fn a_bell_and_a_bell_make_the_bell_of_the_textbook() {
        let log = (0..126).map(|node| -0.5 * ((f64::from(node) * 0.08 - 14.0 + 8.5) / 0.2).powi(2)).collect();
        let bell = RateLikelihood { first: -14.0, spacing: 0.08, log, found: false };
        let moments = bell.moments(-9.0, 0.3);
        let variance = 1.0 / (1.0 / 0.04 + 1.0 / 0.09);
        assert!((moments.variance - variance).abs() < 1e-6);
        assert!((moments.mean - variance * (-8.5 / 0.04 - 9.0 / 0.09)).abs() < 1e-6);
    }

    #[test]
    fn a_cliff_does_not_make_a_peak() {
        let fine = halved(&[-700.0, -700.0, 0.0, 0.0, 0.0, -700.0]);
        assert!(fine.iter().all(|value| *value <= 0.0), "{fine:?}");
    }

    #[test]
    fn halving_keeps_a_cubic() {
        let cubic = |x: f64| 1.0 + x - 0.5 * x * x + 0.1 * x * x * x;
        let fine = halved(&(0..8).map(|i| cubic(f64::from(i))).collect::<Vec<_>>());
        for (i, value) in fine.iter().enumerate().skip(2).take(11) {
            assert!((value - cubic(i as f64 / 2.0)).abs() < 1e-12);
        }
    }
}
