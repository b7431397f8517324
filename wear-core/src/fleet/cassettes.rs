//! How much damage a fleet's cassettes bear before a new chain skips on them.
//!
//! The lives of cassettes ([`CassetteLife`]) are interval-censored data: a chain that held says that the thresholds were
//! above the damage of that day, a skip that one was below it, a cassette that was replaced for its wear that one was below
//! the damage at its end, and one that was replaced for anything else no more than what held on it. [`fit`] finds the most
//! probable ln median, σ and common share of [`SkipThreshold`] with these priors (A):
//!
//! - ln median ~ N(0, 0.5²): common practice sets the unit, one cassette;
//! - ln σ ~ N(ln 0.6, 0.5²);
//! - common share ~ Beta(2, 2), as a density of its logit.

use std::collections::BTreeMap;

use crate::bounds;
use crate::knock_on::{COMMON_SHARE, CassetteLife, Evidence, SkipThreshold, THRESHOLD_SIGMA};

/// Spread of the prior of ln median (A).
const LN_MEDIAN_SD: f64 = 0.5;

/// Spread of the prior of ln σ (A).
const LN_SIGMA_SD: f64 = 0.5;

/// Cassettes that say something before what they say is used (A).
pub const FEWEST_CASSETTES: usize = 5;

/// Reported skips and cassettes at the end of their lives before what cassettes say is used (A): where nobody ever reports one,
/// silence isn't taken for cassettes that bear anything.
pub const FEWEST_ENDS: usize = 2;

/// Step for slopes, in units in which each prior's spread is about one half to one.
const STEP: f64 = 1e-3;

const MOST_STEPS: usize = 40;

/// What a fleet's cassettes taught.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CassetteFit {
    /// ln of the median threshold, in cassettes of damage, and one standard deviation of what isn't known of it.
    pub ln_median: (f64, f64),
    /// Standard deviation of ln threshold, likewise.
    pub sigma: (f64, f64),
    /// Share of its square that the sprockets of a cassette have in common, likewise.
    pub common_share: (f64, f64),
    /// Cassettes that said something.
    pub cassettes: usize,
    /// New chains that held.
    pub held: usize,
    /// Skips that were reported.
    pub skipped: usize,
    /// Cassettes that came off at the end of their lives.
    pub used_up: usize,
}

impl CassetteFit {
    /// Whether enough cassettes have told for outlooks to use it.
    #[must_use]
    pub const fn is_enough(&self) -> bool {
        self.cassettes >= FEWEST_CASSETTES && self.skipped + self.used_up >= FEWEST_ENDS
    }

    /// What outlooks use: the fleet's own, once [`FEWEST_CASSETTES`] said something, and [`FEWEST_ENDS`] of an end.
    #[must_use]
    pub fn threshold(&self) -> SkipThreshold {
        if !self.is_enough() {
            return SkipThreshold::ASSUMED;
        }
        let ((ln_median, sd), (sigma, _), (common, _)) = (self.ln_median, self.sigma, self.common_share);
        let sd = sd.min(bounds::LN_SD.maximum);
        SkipThreshold::learned(ln_median, sd, sigma, common).unwrap_or(SkipThreshold::ASSUMED)
    }
}

/// Fits thresholds to the lives of cassettes; the order in which they are given makes no difference.
#[must_use]
pub fn fit(lives: &[CassetteLife]) -> CassetteFit {
    let telling: Vec<&CassetteLife> = lives.iter().filter(|life| life.tells()).collect();
    let data = Data::of(&telling);
    let (top, covariance) = data.climb();
    let threshold = top.threshold();
    let sd = |k: usize| covariance[k].max(0.0).sqrt();
    CassetteFit {
        ln_median: (top.0[0], sd(0)),
        sigma: (threshold.sigma(), threshold.sigma() * sd(1)),
        common_share: (
            threshold.common_share(),
            threshold.common_share() * (1.0 - threshold.common_share()) * sd(2),
        ),
        cassettes: telling.len(),
        held: telling.iter().map(|life| life.held()).sum(),
        skipped: telling.iter().map(|life| life.skipped()).sum(),
        used_up: telling.iter().filter(|life| life.was_used_up()).count(),
    }
}

/// ln median, ln σ and the logit of the common share.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Place([f64; 3]);

impl Place {
    fn start() -> Self {
        Self([0.0, THRESHOLD_SIGMA.ln(), (COMMON_SHARE / (1.0 - COMMON_SHARE)).ln()])
    }

    fn threshold(self) -> SkipThreshold {
        let Self([ln_median, ln_sigma, logit]) = self;
        let median = ln_median.clamp(bounds::LN_SKIP_MEDIAN.minimum, bounds::LN_SKIP_MEDIAN.maximum);
        let sigma = ln_sigma.exp().clamp(bounds::SKIP_SIGMA.minimum, bounds::SKIP_SIGMA.maximum);
        let common = 1.0 / (1.0 + (-logit.clamp(-4.0, 4.0)).exp());
        SkipThreshold::learned(median, 0.0, sigma, common).unwrap_or(SkipThreshold::ASSUMED)
    }

    fn ln_prior(self) -> f64 {
        let Self([ln_median, ln_sigma, logit]) = self;
        let common = 1.0 / (1.0 + (-logit).exp());
        // Beta(2, 2) times the slope of the logistic function: (κ(1 − κ))².
        -0.5 * (ln_median / LN_MEDIAN_SD).powi(2)
            - 0.5 * ((ln_sigma - THRESHOLD_SIGMA.ln()) / LN_SIGMA_SD).powi(2)
            + 2.0 * (common * (1.0 - common)).ln()
    }

    fn by(self, step: [f64; 3]) -> Self {
        Self([0, 1, 2].map(|k| self.0[k] + step[k]))
    }
}

/// Cassettes of which the same was said count together.
struct Data(Vec<(Evidence, f64)>);

impl Data {
    fn of(lives: &[&CassetteLife]) -> Self {
        let mut distinct: BTreeMap<Vec<u64>, (Evidence, f64)> = BTreeMap::new();
        for life in lives {
            let entry = distinct.entry(life.fingerprint()).or_insert_with(|| (life.all_evidence(), 0.0));
            entry.1 += 1.0;
        }
        Self(distinct.into_values().collect())
    }

    fn ln_posterior(&self, at: Place) -> f64 {
        let threshold = at.threshold();
        let data: f64 = self.0.iter().map(|(said, times)| times * said.ln_likelihood(&threshold)).sum();
        let sum = data + at.ln_prior();
        if sum.is_nan() { f64::NEG_INFINITY } else { sum }
    }

    /// The top of the posterior, by Newton's steps with slopes from differences, and variances from its curvature there.
    fn climb(&self) -> (Place, [f64; 3]) {
        let mut at = Place::start();
        let mut height = self.ln_posterior(at);
        let mut shape = self.shape(at, height);
        for _ in 0..MOST_STEPS {
            let Some((next, higher)) = self.step(at, height, &shape) else { break };
            let gain = higher - height;
            (at, height) = (next, higher);
            shape = self.shape(at, height);
            if gain < 1e-9 {
                break;
            }
        }
        let variances = shape
            .precision(0.0)
            .and_then(inverse)
            .map_or([f64::NAN; 3], |covariance| [0, 1, 2].map(|k| covariance[k][k]));
        // Where the curvature tells nothing, as much as the priors.
        let of_priors = [LN_MEDIAN_SD * LN_MEDIAN_SD, LN_SIGMA_SD * LN_SIGMA_SD, 1.0];
        (at, [0, 1, 2].map(|k| if variances[k] > 0.0 { variances[k] } else { of_priors[k] }))
    }

    fn step(&self, at: Place, height: f64, shape: &Shape) -> Option<(Place, f64)> {
        // Towards the steepest ascent where a whole step doesn't lead up (Levenberg 1944, Quart. Appl. Math. 2:164, M).
        [0.0, 1.0, 10.0, 1e2, 1e3, 1e4, 1e5, 1e6].into_iter().find_map(|damping| {
            let covariance = inverse(shape.precision(damping)?)?;
            let step = [0, 1, 2].map(|k| {
                let to: f64 = (0..3).map(|l| covariance[k][l] * shape.slopes[l]).sum();
                to.clamp(-1.0, 1.0)
            });
            let next = at.by(step);
            let higher = self.ln_posterior(next);
            (higher > height).then_some((next, higher))
        })
    }

    fn shape(&self, at: Place, height: f64) -> Shape {
        let moved = |k: usize, by: f64| {
            let mut step = [0.0; 3];
            step[k] = by;
            step
        };
        let both = |k: usize, l: usize, by: f64| {
            let mut step = moved(k, by);
            step[l] += by;
            self.ln_posterior(at.by(step))
        };
        let up = [0, 1, 2].map(|k| self.ln_posterior(at.by(moved(k, STEP))));
        let down = [0, 1, 2].map(|k| self.ln_posterior(at.by(moved(k, -STEP))));
        let mut curvature = [[0.0; 3]; 3];
        for k in 0..3 {
            curvature[k][k] = (up[k] - 2.0 * height + down[k]) / (STEP * STEP);
            for l in 0..k {
                // f(+,+) + f(−,−) − f(+,0) − f(0,+) − f(−,0) − f(0,−) + 2 f over 2 h²
                let sum = both(k, l, STEP) + both(k, l, -STEP) - up[k] - up[l] - down[k] - down[l];
                curvature[k][l] = (sum + 2.0 * height) / (2.0 * STEP * STEP);
                curvature[l][k] = curvature[k][l];
            }
        }
        Shape { slopes: [0, 1, 2].map(|k| (up[k] - down[k]) / (2.0 * STEP)), curvature }
    }
}

/// Slopes and curvatures of the log posterior at a place.
struct Shape {
    slopes: [f64; 3],
    curvature: [[f64; 3]; 3],
}

impl Shape {
    /// Minus the curvature, with so much more of its diagonal; `None` when it isn't positive definite.
    fn precision(&self, damping: f64) -> Option<[[f64; 3]; 3]> {
        let mut precision = self.curvature.map(|row| row.map(|value| -value));
        for (k, row) in precision.iter_mut().enumerate() {
            row[k] += damping * row[k].abs().max(1.0);
        }
        let [a, b, c] = precision;
        let second = a[0] * b[1] - a[1] * b[0];
        (a[0] > 0.0 && second > 0.0 && determinant(&[a, b, c]) > 0.0).then_some(precision)
    }
}

fn determinant([a, b, c]: &[[f64; 3]; 3]) -> f64 {
    a[0] * (b[1] * c[2] - b[2] * c[1]) - a[1] * (b[0] * c[2] - b[2] * c[0])
        + a[2] * (b[0] * c[1] - b[1] * c[0])
}

/// By cofactors.
fn inverse(matrix: [[f64; 3]; 3]) -> Option<[[f64; 3]; 3]> {
    let whole = determinant(&matrix);
    if !whole.is_finite() || whole == 0.0 {
        return None;
    }
    let minor = |k: usize, l: usize| {
        let (r, s) = ((k + 1) % 3, (k + 2) % 3);
        let (t, u) = ((l + 1) % 3, (l + 2) % 3);
        matrix[r][t] * matrix[s][u] - matrix[r][u] * matrix[s][t]
    };
    Some([0, 1, 2].map(|k| [0, 1, 2].map(|l| minor(l, k) / whole)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::knock_on::{Removal, SkipOutcome, SwapReason, Trial};

    fn trial(damage: &[f64], outcome: SkipOutcome) -> Trial {
        Trial { damage: damage.to_vec(), sprocket: None, new_chain: true, outcome }
    }

    /// One sprocket each: plain interval-censored log-normal data.
    fn interval(above: f64, below: Option<f64>) -> CassetteLife {
        let mut trials = vec![trial(&[above], SkipOutcome::Holds)];
        trials.extend(below.map(|below| Trial { sprocket: Some(0), ..trial(&[below], SkipOutcome::Skips) }));
        CassetteLife { trials, ..CassetteLife::default() }
    }

    #[test]
    fn intervals_come_out_as_an_independent_library_has_them() {
        let intervals = [
            (0.4, Some(0.8)),
            (0.8, Some(1.2)),
            (0.5, Some(1.0)),
            (1.0, Some(1.5)),
            (1.5, Some(2.0)),
            (0.9, None),
            (2.0, None),
            (0.3, Some(0.6)),
            (1.2, Some(1.8)),
            (0.7, None),
        ];
        let lives: Vec<CassetteLife> =
            intervals.iter().map(|&(above, below)| interval(above, below)).collect();
        let fit = fit(&lives);
        // Minimum of the same negative log posterior by scipy 1.17.1: `norm.sf`, `optimize.minimize` with Nelder-Mead to
        // 1e-10; spreads from the inverse of its second differences.
        assert!((fit.ln_median.0 - 0.114_272_6).abs() < 2e-4, "{fit:?}");
        assert!((fit.sigma.0 - 0.551_191_6).abs() < 2e-4, "{fit:?}");
        assert!((fit.ln_median.1 - 0.179_522).abs() < 2e-3, "{fit:?}");
        assert!((fit.sigma.1 / fit.sigma.0 - 0.256_700).abs() < 2e-3, "{fit:?}");
        // One sprocket says nothing of what several have in common.
        assert!((fit.common_share.0 - 0.5).abs() < 1e-3 && (fit.common_share.1 - 0.25).abs() < 0.01);
    }

    #[test]
    fn order_makes_no_difference_and_little_is_no_more_than_the_priors() {
        let mut lives: Vec<CassetteLife> = (1..30)
            .map(|i| CassetteLife {
                trials: vec![trial(&[0.1 * f64::from(i % 7), 0.05], SkipOutcome::Unreported)],
                removal: (i % 3 == 0).then(|| Removal {
                    damage: vec![0.1 * f64::from(i % 7) + 0.5, 0.3],
                    reason: Some(if i % 2 == 0 { SwapReason::Skips } else { SwapReason::Upgrade }),
                }),
                ..CassetteLife::default()
            })
            .collect();
        let forwards = fit(&lives);
        lives.reverse();
        assert_eq!(format!("{:?}", fit(&lives)), format!("{forwards:?}"));
        let none = fit(&[]);
        assert_eq!(none.threshold(), SkipThreshold::ASSUMED);
        assert!(none.ln_median.0.abs() < 1e-9 && (none.ln_median.1 - 0.5).abs() < 1e-6, "{none:?}");
        assert!((none.sigma.0 - 0.6).abs() < 1e-9 && (none.sigma.1 - 0.3).abs() < 1e-6);
    }

    /// The top found against a grid over all three.
    #[test]
    fn the_top_is_no_lower_than_any_place_of_a_grid() {
        let lives: Vec<CassetteLife> = (1..=24)
            .map(|i| {
                let d = 0.12 * f64::from(i % 9 + 1);
                let mut trials = vec![trial(&[d, 0.8 * d, 0.5 * d], SkipOutcome::Unreported)];
                if i % 4 == 0 {
                    let damage = vec![d + 0.5, 0.8 * d + 0.4, 0.5 * d + 0.2];
                    let outcome = SkipOutcome::ReportedNew;
                    trials.push(Trial {
                        damage,
                        sprocket: Some(usize::from(i % 8 == 0)),
                        new_chain: true,
                        outcome,
                    });
                }
                CassetteLife { trials, ..CassetteLife::default() }
            })
            .collect();
        let data = Data::of(&lives.iter().collect::<Vec<_>>());
        let (top, _) = data.climb();
        let height = data.ln_posterior(top);
        for i in -8..=8 {
            for j in -8..=8 {
                for k in -4..=4 {
                    let at = top.by([0.1 * f64::from(i), 0.1 * f64::from(j), 0.5 * f64::from(k)]);
                    assert!(data.ln_posterior(at) <= height + 1e-7, "{at:?} {top:?}");
                }
            }
        }
    }
}
