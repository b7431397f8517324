//! Shifts of covariates and means of groups, climbing together.

use super::calibration::FleetFit;
use super::rate_likelihood::RateLikelihood;

/// How far ahead in a covariate a chain's evidence is taken for its slope.
pub(super) const AHEAD: f64 = 0.04;

/// No chain's slope counts for more (A): beyond it a reading was set aside at one of the two places, and the evidence
/// jumped instead of bending.
const STEEPEST: f64 = 20.0;

/// The spread within groups is moved no further from the fleet's than by this factor.
const SPREAD: f64 = 2.0;

/// How often the spread is brought up to date at one place.
const SPREAD_STEPS: usize = 4;

/// One chain's evidence by rate where the shifts stand, and a little ahead in each covariate that touches it.
pub(super) struct Sloped {
    pub(super) group: usize,
    pub(super) at: RateLikelihood,
    pub(super) ahead: [Option<RateLikelihood>; COVARIATES],
}

/// Means of the groups and the spread within them.
#[derive(Clone)]
pub(super) struct Groups {
    pub(super) means: Vec<f64>,
    pub(super) tau: f64,
}

impl Groups {
    /// Brings τ to what the chains say of it, with the fleet's own for three chains more.
    pub(super) fn settle_spread(&mut self, chains: &[Sloped], fleet: &FleetFit) {
        for _ in 0..SPREAD_STEPS {
            let squares: f64 = chains
                .iter()
                .map(|chain| {
                    let mean = self.means[chain.group];
                    let moments = chain.at.moments(mean, self.tau);
                    (moments.mean - chain.at.centre(mean, self.tau)).powi(2) + moments.variance
                })
                .sum();
            let tau = ((squares + 3.0 * fleet.sd_within.powi(2)) / (chains.len() as f64 + 3.0)).sqrt();
            self.tau = tau.clamp((fleet.sd_within / SPREAD).max(0.1), fleet.sd_within * SPREAD);
        }
    }
}

/// The log posterior where the chains were taken, with its slopes.
pub(super) fn scores(
    chains: &[Sloped],
    groups: &Groups,
    fleet: &FleetFit,
    shift: [f64; COVARIATES],
    prior_precision: [f64; COVARIATES],
) -> Scores {
    let tau = groups.tau;
    let mut scores = Scores::new(shift, prior_precision, &groups.means, fleet);
    for chain in chains {
        let mean = groups.means[chain.group];
        let here = chain.at.moments(mean, tau);
        let slopes = chain.ahead.each_ref().map(|ahead| {
            ahead.as_ref().map_or(0.0, |ahead| {
                let rise = ahead.moments(mean, tau).log_evidence - here.log_evidence;
                (rise / AHEAD).clamp(-STEEPEST, STEEPEST)
            })
        });
        scores.add(
            chain.group,
            here.log_evidence,
            &slopes,
            (here.mean - chain.at.centre(mean, tau)) / (tau * tau),
        );
    }
    scores
}

/// Number of covariates.
pub(super) const COVARIATES: usize = 5;

/// Log posterior at a place, its slopes, and the outer products of the chains' slopes, which stand for its curvature
/// (Berndt, Hall, Hall, Hausman 1974, Ann. Econ. Soc. Meas. 3:653, M).
pub(super) struct Scores {
    pub(super) log_posterior: f64,
    prior_precision: [f64; COVARIATES],
    slope: [f64; COVARIATES],
    curvature: [[f64; COVARIATES]; COVARIATES],
    mean_slope: Vec<f64>,
    mean_curvature: Vec<f64>,
    /// Of a group's mean with each covariate.
    mixed: Vec<[f64; COVARIATES]>,
}

/// Where to go from here.
pub(super) struct Step {
    pub(super) shift: [f64; COVARIATES],
    pub(super) means: Vec<f64>,
    /// Standard deviations of the shifts, the means being unknown as well.
    pub(super) sds: [f64; COVARIATES],
}

impl Scores {
    /// The prior's part.
    fn new(
        shift: [f64; COVARIATES],
        prior_precision: [f64; COVARIATES],
        means: &[f64],
        fleet: &FleetFit,
    ) -> Self {
        let among = fleet.sd_among.powi(-2);
        let centre = fleet.fleet.mean_log_rate();
        let finite = prior_precision.map(|precision| if precision.is_finite() { precision } else { 0.0 });
        let mut curvature = [[0.0; COVARIATES]; COVARIATES];
        let mut slope = [0.0; COVARIATES];
        let mut log_posterior = 0.0;
        for k in 0..COVARIATES {
            curvature[k][k] = finite[k];
            slope[k] = -finite[k] * shift[k];
            log_posterior -= 0.5 * finite[k] * shift[k] * shift[k];
        }
        let away = |mean: f64| mean - centre;
        log_posterior -= means.iter().map(|&mean| 0.5 * among * away(mean).powi(2)).sum::<f64>();
        Self {
            log_posterior,
            prior_precision,
            slope,
            curvature,
            mean_slope: means.iter().map(|&mean| -among * away(mean)).collect(),
            mean_curvature: vec![among; means.len()],
            mixed: vec![[0.0; COVARIATES]; means.len()],
        }
    }

    /// Adds one chain.
    fn add(&mut self, group: usize, evidence: f64, slopes: &[f64; COVARIATES], mean_slope: f64) {
        self.log_posterior += evidence;
        self.mean_slope[group] += mean_slope;
        self.mean_curvature[group] += mean_slope * mean_slope;
        for k in 0..COVARIATES {
            self.slope[k] += slopes[k];
            self.mixed[group][k] += slopes[k] * mean_slope;
            for l in 0..COVARIATES {
                self.curvature[k][l] += slopes[k] * slopes[l];
            }
        }
    }

    /// The step to the top of the parabola; `None` where it has none.
    pub(super) fn step(&self) -> Option<Step> {
        // [A B; Bᵀ D][δ; m] = [a; d] with D diagonal: (A − B D⁻¹ Bᵀ) δ = a − B D⁻¹ d, m = D⁻¹(d − Bᵀ δ).
        let mut matrix = self.curvature;
        let mut right = self.slope;
        for ((mixed, curvature), slope) in self.mixed.iter().zip(&self.mean_curvature).zip(&self.mean_slope) {
            for k in 0..COVARIATES {
                right[k] -= mixed[k] * slope / curvature;
                for l in 0..COVARIATES {
                    matrix[k][l] -= mixed[k] * mixed[l] / curvature;
                }
            }
        }
        for k in 0..COVARIATES {
            if self.prior_precision[k].is_infinite() {
                (0..COVARIATES).for_each(|l| (matrix[k][l], matrix[l][k]) = (0.0, 0.0));
                (matrix[k][k], right[k]) = (1.0, 0.0);
            }
        }
        let root = cholesky(&matrix)?;
        let shift = solve(&root, right);
        let mut sds = [0.0; COVARIATES];
        for (k, sd) in sds.iter_mut().enumerate() {
            let mut unit = [0.0; COVARIATES];
            unit[k] = 1.0;
            *sd = solve(&root, unit)[k].max(0.0).sqrt();
        }
        let means = self
            .mixed
            .iter()
            .zip(&self.mean_curvature)
            .zip(&self.mean_slope)
            .map(|((mixed, curvature), slope)| {
                let taken: f64 = mixed.iter().zip(&shift).map(|(mixed, by)| mixed * by).sum();
                (slope - taken) / curvature
            })
            .collect();
        Some(Step { shift, means, sds })
    }
}

type Matrix = [[f64; COVARIATES]; COVARIATES];

/// The lower triangle L with L Lᵀ the matrix; `None` when it is not positive definite.
fn cholesky(matrix: &Matrix) -> Option<Matrix> {
    let mut root = [[0.0; COVARIATES]; COVARIATES];
    for i in 0..COVARIATES {
        for j in 0..=i {
            let done: f64 = (0..j).map(|k| root[i][k] * root[j][k]).sum();
            let left = matrix[i][j] - done;
            root[i][j] = if i > j {
                left / root[j][j]
            } else if left > 0.0 {
                left.sqrt()
            } else {
                return None;
            };
        }
    }
    Some(root)
}

fn solve(root: &Matrix, mut right: [f64; COVARIATES]) -> [f64; COVARIATES] {
    for i in 0..COVARIATES {
        let done: f64 = (0..i).map(|k| root[i][k] * right[k]).sum();
        right[i] = (right[i] - done) / root[i][i];
    }
    for i in (0..COVARIATES).rev() {
        let done: f64 = (i + 1..COVARIATES).map(|k| root[k][i] * right[k]).sum();
        right[i] = (right[i] - done) / root[i][i];
    }
    right
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_solution_solves() {
        let mut matrix = [[0.5; COVARIATES]; COVARIATES];
        (0..COVARIATES).for_each(|k| matrix[k][k] = 2.0 + k as f64);
        let wanted = [1.0, -2.0, 3.0, 0.5, -0.25];
        let right = matrix.map(|row| row.iter().zip(wanted).map(|(a, x)| a * x).sum());
        let found = solve(&cholesky(&matrix).unwrap(), right);
        assert!(found.iter().zip(wanted).all(|(a, b)| (a - b).abs() < 1e-12), "{found:?}");
        assert_eq!(cholesky(&[[1.0; COVARIATES]; COVARIATES]), None);
    }
}
