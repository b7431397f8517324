//! A step towards the top of a posterior of which slopes are known chain by chain.

/// Slopes of a log posterior in a few common unknowns and one mean a group, with the outer products of the chains' slopes,
/// which stand for its curvature (Berndt, Hall, Hall, Hausman 1974, Ann. Econ. Soc. Meas. 3:653, M).
pub(super) struct Slopes {
    common: Vec<f64>,
    curvature: Vec<Vec<f64>>,
    means: Vec<f64>,
    mean_curvature: Vec<f64>,
    /// Of a group's mean with each common unknown.
    mixed: Vec<Vec<f64>>,
}

/// Where to go from here.
pub(super) struct Step {
    pub common: Vec<f64>,
    pub means: Vec<f64>,
}

impl Slopes {
    /// The priors' part: slope and precision of each unknown.
    pub(super) fn of_priors(common: &[(f64, f64)], means: &[(f64, f64)]) -> Self {
        let count = common.len();
        let mut curvature = vec![vec![0.0; count]; count];
        for (k, (_, precision)) in common.iter().enumerate() {
            curvature[k][k] = *precision;
        }
        Self {
            common: common.iter().map(|(slope, _)| *slope).collect(),
            curvature,
            means: means.iter().map(|(slope, _)| *slope).collect(),
            mean_curvature: means.iter().map(|(_, precision)| *precision).collect(),
            mixed: vec![vec![0.0; count]; means.len()],
        }
    }

    /// Adds one chain, with its slopes in the common unknowns that touch it.
    pub(super) fn add(&mut self, group: usize, mean_slope: f64, touched: &[(usize, f64)]) {
        self.means[group] += mean_slope;
        self.mean_curvature[group] += mean_slope * mean_slope;
        for &(k, slope) in touched {
            self.common[k] += slope;
            self.mixed[group][k] += slope * mean_slope;
            for &(l, other) in touched {
                self.curvature[k][l] += slope * other;
            }
        }
    }

    /// `A − B D⁻¹ Bᵀ`, the curvature of the common unknowns with the means, whose own D is diagonal, let go along.
    fn reduced(&self) -> Vec<Vec<f64>> {
        let mut matrix = self.curvature.clone();
        for (mixed, curvature) in self.mixed.iter().zip(&self.mean_curvature) {
            for (k, row) in matrix.iter_mut().enumerate().filter(|(k, _)| mixed[*k] != 0.0) {
                for (value, other) in row.iter_mut().zip(mixed) {
                    *value -= mixed[k] * other / curvature;
                }
            }
        }
        matrix
    }

    /// The step to the top of the parabola: `[A B; Bᵀ D][δ; m] = [a; d]`.
    pub(super) fn step(&self) -> Option<Step> {
        let root = Root::of(&self.reduced())?;
        let mut right = self.common.clone();
        for ((mixed, curvature), slope) in self.mixed.iter().zip(&self.mean_curvature).zip(&self.means) {
            right.iter_mut().zip(mixed).for_each(|(value, mixed)| *value -= mixed * slope / curvature);
        }
        let common = root.solve(right);
        let means = self
            .mixed
            .iter()
            .zip(&self.mean_curvature)
            .zip(&self.means)
            .map(|((mixed, curvature), slope)| {
                let taken: f64 = mixed.iter().zip(&common).map(|(mixed, by)| mixed * by).sum();
                (slope - taken) / curvature
            })
            .collect();
        Some(Step { common, means })
    }

    /// Covariances of the common unknowns, the means being unknown as well.
    pub(super) fn covariances(&self) -> Option<Vec<Vec<f64>>> {
        let root = Root::of(&self.reduced())?;
        let count = self.common.len();
        Some(
            (0..count)
                .map(|k| {
                    let mut unit = vec![0.0; count];
                    unit[k] = 1.0;
                    root.solve(unit)
                })
                .collect(),
        )
    }
}

/// The lower triangle L with L Lᵀ a matrix.
#[derive(Debug, PartialEq)]
struct Root(Vec<Vec<f64>>);

impl Root {
    /// `None` when the matrix is not positive definite.
    fn of(matrix: &[Vec<f64>]) -> Option<Self> {
        let mut root: Vec<Vec<f64>> = Vec::with_capacity(matrix.len());
        for (i, row) in matrix.iter().enumerate() {
            let mut new: Vec<f64> = Vec::with_capacity(i + 1);
            for j in 0..=i {
                let above: &[f64] = if j < i { &root[j] } else { &new };
                let done: f64 = new.iter().zip(above).take(j).map(|(a, b)| a * b).sum();
                let left = row[j] - done;
                new.push(if j < i {
                    left / root[j][j]
                } else if left > 0.0 {
                    left.sqrt()
                } else {
                    return None;
                });
            }
            root.push(new);
        }
        Some(Self(root))
    }

    fn solve(&self, mut right: Vec<f64>) -> Vec<f64> {
        let count = right.len();
        for i in 0..count {
            let done: f64 = self.0[i].iter().zip(&right).take(i).map(|(l, x)| l * x).sum();
            right[i] = (right[i] - done) / self.0[i][i];
        }
        for i in (0..count).rev() {
            let done: f64 = (i + 1..count).map(|k| self.0[k][i] * right[k]).sum();
            right[i] = (right[i] - done) / self.0[i][i];
        }
        right
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_solution_solves() {
        let mut matrix = vec![vec![0.5; 5]; 5];
        (0..5).for_each(|k| matrix[k][k] = 2.0 + k as f64);
        let wanted = [1.0, -2.0, 3.0, 0.5, -0.25];
        let right = matrix.iter().map(|row| row.iter().zip(wanted).map(|(a, x)| a * x).sum()).collect();
        let found = Root::of(&matrix).unwrap().solve(right);
        assert!(found.iter().zip(wanted).all(|(a, b)| (a - b).abs() < 1e-12), "{found:?}");
        assert_eq!(Root::of(&[vec![1.0, 1.0], vec![1.0, 1.0]]), None);
    }

    #[test]
    fn a_step_goes_to_the_top_of_a_parabola() {
        // Two groups, one common unknown: solved by hand.
        let mut slopes = Slopes::of_priors(&[(0.0, 1.0)], &[(0.0, 1.0), (0.0, 1.0)]);
        slopes.add(0, 2.0, &[(0, 1.0)]);
        slopes.add(1, -1.0, &[]);
        let step = slopes.step().unwrap();
        // A = 2, B = (2, 0), D = (5, 2), a = 1, d = (2, −1): δ = (1 − 0.8)/(2 − 0.8).
        assert!((step.common[0] - 0.2 / 1.2).abs() < 1e-12);
        assert!((step.means[0] - (2.0 - 2.0 * step.common[0]) / 5.0).abs() < 1e-12);
        assert!((step.means[1] + 0.5).abs() < 1e-12);
        assert!((slopes.covariances().unwrap()[0][0] - 1.0 / 1.2).abs() < 1e-12);
    }
}
