//! Nodes in ln θ: where they lie, how they are refined.

/// Largest node spacing in units of the standard deviation that the sharpest part of the posterior has.
/// The trapezoid rule on a bell errs by `2 exp(−2π²/c²)`, here 5·10⁻⁹. A bell that a gauge has cut on one side needs
/// closer nodes than its curvature tells: at 1.25 such a posterior erred by 3·10⁻⁴.
const SPACING: f64 = 1.0;

/// A refinement goes beyond what is needed now by this factor, to last for some readings.
const PROVIDENCE: f64 = 1.4;

/// Half width of the first grid, in prior standard deviations: readings that would move the rate to its end are
/// less probable than what is set aside.
const SPAN: f64 = 7.0;

/// Curvature counts where the weight exceeds this share of the largest.
const CURVATURE_WEIGHT: f64 = 1e-3;

/// Nodes at the ends are dropped when their weight falls below this share of the largest.
const NEGLIGIBLE_WEIGHT: f64 = 1e-11;

/// No refinement beyond this many nodes.
pub(super) const MOST_NODES: usize = 2_048;

/// Equally spaced values of ln θ.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct RateGrid {
    pub(super) first: f64,
    pub(super) spacing: f64,
    pub(super) count: usize,
}

impl RateGrid {
    pub(super) fn around(mean: f64, sd: f64, fineness: f64) -> Self {
        let spacing = SPACING * sd / (PROVIDENCE * fineness);
        let half = (SPAN * sd / spacing).ceil();
        Self { first: mean - half * spacing, spacing, count: 2 * half as usize + 1 }
    }

    pub(super) fn log_rate(&self, node: usize) -> f64 {
        self.first + node as f64 * self.spacing
    }

    /// The grid that these log weights need, when this one is too coarse for them.
    ///
    /// The second difference of a bell's logarithm is `−(spacing/σ)²`, however coarse the nodes are.
    pub(super) fn finer_for(&self, log_weights: &[f64], fineness: f64) -> Option<Self> {
        let largest = log_weights.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let sharpest = log_weights
            .windows(3)
            .filter(|w| w[1] > largest + CURVATURE_WEIGHT.ln())
            .map(|w| 2.0 * w[1] - w[0] - w[2])
            .fold(0.0, f64::max);
        let spacing = SPACING * self.spacing / (sharpest.sqrt() * fineness);
        if spacing < self.spacing { self.with_spacing(spacing / PROVIDENCE) } else { None }
    }

    /// The same range with nodes at most `spacing` apart; `None` when they are already or cannot be.
    pub(super) fn with_spacing(&self, spacing: f64) -> Option<Self> {
        let intervals = self.count.saturating_sub(1) as f64;
        let range = self.spacing * intervals;
        let finer = (range / spacing).ceil().min((MOST_NODES - 1) as f64);
        (finer > intervals).then(|| Self {
            first: self.first,
            spacing: range / finer,
            count: finer as usize + 1,
        })
    }

    /// The part of this grid that covers the nodes `kept` of a coarser one, and one more at each end.
    pub(super) fn over(&self, coarse: Self, kept: &std::ops::Range<usize>) -> Self {
        let place = |node: f64| (coarse.first + node * coarse.spacing - self.first) / self.spacing;
        let start = place(kept.start as f64 - 1.0).floor().max(0.0) as usize;
        let end = (place(kept.end as f64).ceil() as usize + 1).min(self.count);
        self.cut(&(start..end))
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

/// Logarithm of the integral over ln θ of what has these logarithms on nodes so far apart.
pub(super) fn log_integral(log_weights: &[f64], spacing: f64) -> f64 {
    let largest = log_weights.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let sum: f64 = log_weights.iter().map(|w| (w - largest).exp()).sum();
    largest + (sum * spacing).ln()
}

/// The range of nodes that carry weight.
pub(super) fn significant(log_weights: &[f64]) -> std::ops::Range<usize> {
    let largest = log_weights.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let counts = |w: &f64| *w >= largest + NEGLIGIBLE_WEIGHT.ln();
    let first = log_weights.iter().position(counts).unwrap_or(0);
    let last = log_weights.iter().rposition(counts).unwrap_or(log_weights.len().saturating_sub(1));
    first..last + 1
}

/// Weights that interpolate between equidistant nodes: from the six nearest inside, from four at the ends.
pub(super) struct Stencil {
    left: usize,
    first: usize,
    weights: [f64; 6],
    points: usize,
}

impl Stencil {
    /// For `position`, counted in nodes from the first of `count`.
    pub(super) fn at(position: f64, count: usize) -> Self {
        let left = (position.max(0.0) as usize).min(count.saturating_sub(2));
        let points = match (left, count.saturating_sub(left + 2)) {
            (2.., 2..) => 6,
            _ => 4.min(count),
        };
        let first = (left + 1).saturating_sub(points / 2).min(count - points);
        let offset = position - first as f64;
        let mut weights = [0.0; 6];
        for (i, weight) in weights.iter_mut().enumerate().take(points) {
            *weight = (0..points)
                .filter(|j| *j != i)
                .map(|j| (offset - j as f64) / (i as f64 - j as f64))
                .product();
        }
        Self { left, first, weights, points }
    }

    /// Interpolates the values at the nodes.
    pub(super) fn interpolate(&self, value: impl Fn(usize) -> f64) -> f64 {
        (0..self.points).map(|i| self.weights[i] * value(self.first + i)).sum()
    }

    /// Interpolates, but to no more than `rise` above the higher neighbour: a polynomial overshoots at a cliff.
    pub(super) fn interpolate_below_neighbours(&self, rise: f64, values: &[f64]) -> f64 {
        let right = (self.left + 1).min(values.len().saturating_sub(1));
        self.interpolate(|i| values[i]).min(values[self.left].max(values[right]) + rise)
    }

    /// Interpolates between the two nearest, which never overshoots.
    pub(super) fn interpolate_linearly(position: f64, values: &[f64]) -> f64 {
        let left = (position.max(0.0) as usize).min(values.len().saturating_sub(1));
        let right = (left + 1).min(values.len().saturating_sub(1));
        let share = (position - left as f64).clamp(0.0, 1.0);
        values[left] * (1.0 - share) + values[right] * share
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_quintic_is_interpolated_exactly_inside_and_a_cubic_at_the_ends() {
        let quintic = |x: f64| 1.0 - x + 0.3 * x.powi(3) - 0.02 * x.powi(5);
        let stencil = Stencil::at(3.37, 8);
        assert!((stencil.interpolate(|node| quintic(node as f64)) - quintic(3.37)).abs() < 1e-10);
        let cubic = |x: f64| 2.0 - x + 0.4 * x * x - 0.1 * x.powi(3);
        for position in [0.0, 0.4, 1.0, 1.7, 5.6, 6.8, 7.0] {
            let value = Stencil::at(position, 8).interpolate(|node| cubic(node as f64));
            assert!((value - cubic(position)).abs() < 1e-11, "{position} {value}");
        }
        for count in 1..8 {
            let line = Stencil::at(0.3, count).interpolate(|node| 2.0 - node as f64);
            assert!((line - if count == 1 { 2.0 } else { 1.7 }).abs() < 1e-12, "{count} {line}");
        }
        let cliff = [-700.0, -700.0, -700.0, 0.0, 0.0, 0.0];
        assert_eq!(Stencil::at(3.5, 6).interpolate_below_neighbours(0.5, &cliff), 0.5);
    }

    #[test]
    fn a_bell_asks_for_the_spacing_it_needs() {
        let grid = RateGrid { first: -3.0, spacing: 1.0, count: 7 };
        let bell =
            |sd: f64| -> Vec<f64> { (0..7).map(|node| -0.5 * (grid.log_rate(node) / sd).powi(2)).collect() };
        assert_eq!(grid.finer_for(&bell(1.1), 1.0), None);
        let finer = grid.finer_for(&bell(0.5), 1.0).unwrap();
        assert!((finer.log_rate(finer.count - 1) - 3.0).abs() < 1e-12);
        assert!(finer.spacing <= 0.5 / PROVIDENCE && finer.spacing > 0.3, "{finer:?}");
        assert_eq!(significant(&bell(0.3)), 1..6);
        let narrow = finer.over(grid, &(2..5));
        assert!(narrow.count < finer.count, "{narrow:?}");
        assert!(narrow.first <= -2.0 && narrow.first > -2.0 - finer.spacing, "{narrow:?}");
        let last = narrow.log_rate(narrow.count - 1);
        assert!((2.0..2.0 + finer.spacing).contains(&last), "{narrow:?}");
        assert_eq!(finer.over(grid, &(0..7)), finer);
        let area = (1.1 * std::f64::consts::TAU.sqrt()).ln();
        assert!((log_integral(&bell(1.1), 1.0) - area).abs() < 5e-3);
        assert_eq!(grid.cut(&(1..6)), RateGrid { first: -2.0, spacing: 1.0, count: 5 });
    }
}
