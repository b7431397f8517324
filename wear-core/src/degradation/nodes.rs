//! Nodes in ln θ: where they lie, how they are refined.

/// Largest node spacing in units of the standard deviation that the sharpest part of the posterior has.
/// The trapezoid rule on a bell errs by `2 exp(−2π²/c²)`, here 5·10⁻⁹. A bell that a gauge has cut on one side needs
/// closer nodes than its curvature tells: at 1.25 such a posterior erred by 3·10⁻⁴.
const SPACING: f64 = 1.0;

/// Half width of the first grid, in prior standard deviations.
const SPAN: f64 = 5.5;

/// Curvature counts where the weight exceeds this share of the largest.
const CURVATURE_WEIGHT: f64 = 1e-3;

/// Nodes at the ends are dropped when their weight falls below this share of the largest.
const NEGLIGIBLE_WEIGHT: f64 = 1e-11;

/// No refinement beyond this many nodes.
const MOST_NODES: usize = 2_048;

/// Equally spaced values of ln θ.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct RateGrid {
    pub(super) first: f64,
    pub(super) spacing: f64,
    pub(super) count: usize,
}

impl RateGrid {
    pub(super) fn around(mean: f64, sd: f64, fineness: f64) -> Self {
        let spacing = 0.5 * SPACING * sd / fineness;
        let half = (SPAN * sd / spacing).ceil();
        Self { first: mean - half * spacing, spacing, count: 2 * half as usize + 1 }
    }

    pub(super) fn log_rate(&self, node: usize) -> f64 {
        self.first + node as f64 * self.spacing
    }

    /// How many times the spacing has to be halved for these log weights.
    ///
    /// The second difference of a bell's logarithm is `−(spacing/σ)²`, however coarse the nodes are.
    pub(super) fn halvings_needed(&self, log_weights: &[f64], fineness: f64) -> u32 {
        let largest = log_weights.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let sharpest = log_weights
            .windows(3)
            .filter(|w| w[1] > largest + CURVATURE_WEIGHT.ln())
            .map(|w| 2.0 * w[1] - w[0] - w[2])
            .fold(0.0, f64::max);
        self.halvings_for(sharpest / (self.spacing * self.spacing), fineness)
    }

    /// How many times the spacing has to be halved for something of this precision (1/variance) in ln θ.
    pub(super) fn halvings_for(&self, precision: f64, fineness: f64) -> u32 {
        let ratio = self.spacing * precision.sqrt() * fineness / SPACING;
        let wanted = ratio.log2().ceil().clamp(0.0, 12.0) as u32;
        let affordable = (MOST_NODES as f64 * fineness / self.count as f64).log2().floor().clamp(0.0, 12.0);
        wanted.min(affordable as u32)
    }

    /// The grid with its midpoints added.
    pub(super) fn halved(&self) -> Self {
        Self { first: self.first, spacing: 0.5 * self.spacing, count: 2 * self.count - 1 }
    }

    /// The grid of the nodes in `kept` only.
    pub(super) fn cut(&self, kept: &std::ops::Range<usize>) -> Self {
        Self { first: self.log_rate(kept.start), spacing: self.spacing, count: kept.len() }
    }
}

/// Weights that sum to one, from their logarithms.
pub(super) fn normalised(log_weights: &[f64]) -> Vec<f64> {
    let largest = log_weights.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let mut weights: Vec<f64> = log_weights.iter().map(|w| (w - largest).exp()).collect();
    let sum: f64 = weights.iter().sum();
    weights.iter_mut().for_each(|w| *w /= sum);
    weights
}

/// The range of nodes that carry weight.
pub(super) fn significant(log_weights: &[f64]) -> std::ops::Range<usize> {
    let largest = log_weights.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let counts = |w: &f64| *w >= largest + NEGLIGIBLE_WEIGHT.ln();
    let first = log_weights.iter().position(counts).unwrap_or(0);
    let last = log_weights.iter().rposition(counts).unwrap_or(log_weights.len().saturating_sub(1));
    first..last + 1
}

/// The value halfway between nodes `left` and `left + 1`, from the six, four or two nearest.
pub(super) fn midpoint(left: usize, count: usize, value: impl Fn(usize) -> f64) -> f64 {
    let pair = |distance: usize| value(left - distance) + value(left + 1 + distance);
    if left >= 2 && left + 3 < count {
        (150.0 * pair(0) - 25.0 * pair(1) + 3.0 * pair(2)) / 256.0
    } else if left >= 1 && left + 2 < count {
        (9.0 * pair(0) - pair(1)) / 16.0
    } else {
        0.5 * pair(0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn midpoints_of_a_quintic_are_exact_inside() {
        let quintic = |x: f64| 1.0 - x + 0.3 * x.powi(3) - 0.02 * x.powi(5);
        let at = |node: usize| quintic(node as f64);
        assert!((midpoint(3, 8, at) - quintic(3.5)).abs() < 1e-10);
    }

    #[test]
    fn a_bell_asks_for_the_spacing_it_needs() {
        let grid = RateGrid { first: -3.0, spacing: 1.0, count: 7 };
        let bell =
            |sd: f64| -> Vec<f64> { (0..7).map(|node| -0.5 * (grid.log_rate(node) / sd).powi(2)).collect() };
        assert_eq!(grid.halvings_needed(&bell(1.1), 1.0), 0);
        assert_eq!(grid.halvings_needed(&bell(0.7), 1.0), 1);
        assert_eq!(grid.halvings_needed(&bell(0.13), 1.0), 3);
        assert_eq!(significant(&bell(0.3)), 1..6);
        assert_eq!(grid.cut(&(1..6)), RateGrid { first: -2.0, spacing: 1.0, count: 5 });
    }
}
