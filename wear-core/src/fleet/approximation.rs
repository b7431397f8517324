//! How well a chain's readings go with a rate, a bias and a fast phase, by bells.
//!
//! Given θ the slow process is taken for a Gaussian one with the gamma process's mean and variance: increments
//! `N(θΔs, φθΔs)`. A number updates it as in Kalman's filter, a gauge's yes or no by the moments of the bell that it cuts
//! (assumed-density filtering; Minka 2001, M). First moments are exact, so what is learned of biases is as good as what the
//! exact filter would learn, at a thousandth of its cost; the groups' rates and every outlook come from the exact one.

use super::multipliers::ContextExposure;
use super::terms::Design;
use crate::degradation::{FastPhase, Start, WearParameters};
use crate::numeric::normal;
use crate::reading::FLOOR;

/// What lies between a reading and the one before.
#[derive(Debug, Clone, Copy)]
pub(super) struct Way {
    /// Reference km since the reading before.
    pub ds: f64,
    /// Running-in by then, percent.
    pub run_in: f64,
}

/// One reading as the approximation takes it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Seen {
    /// How it was come to, where the multipliers stand as they are believed before.
    pub way: Way,
    /// When, in years after the day that a drift is counted from; `None` where no drift is looked for.
    pub years: Option<(f64, f64)>,
    /// Mean and variance of the factor on them.
    pub factor: (f64, f64),
    /// Probability that more was ridden, and its mean and variance then.
    pub missing: Option<(f64, f64, f64)>,
    pub content: SeenContent,
    /// Standard deviation of the instrument at its spots.
    pub sd: f64,
    /// Places of its tool and of its person, where somebody is named.
    pub tool: usize,
    pub person: Option<usize>,
}

impl Seen {
    /// Whether a number was read, not a gauge's yes or no.
    pub(super) const fn is_number(&self) -> bool {
        matches!(self.content, SeenContent::Percent(_))
    }
}

#[derive(Debug, Clone, Copy)]
pub(super) enum SeenContent {
    Percent(f64),
    Gauge { mark: f64, drops_in: bool },
}

/// One chain as the approximation takes it.
#[derive(Debug, Clone)]
pub(super) struct SeenChain {
    pub group: usize,
    pub is_found: bool,
    /// Slow elongation when the record begins, percent: mean and variance, and what of it grows with θ.
    pub start: (f64, f64),
    pub ridden: Option<(f64, f64)>,
    pub readings: Vec<Seen>,
    /// Exposure at each reading by context, where it is known.
    pub exposures: Vec<ContextExposure>,
    /// Its model and its lubricants among those that are learned.
    pub design: Design,
}

/// What is being learned of all chains.
#[derive(Debug, Clone, Copy)]
pub(super) struct Common {
    pub scale: f64,
    pub fast: FastPhase,
}

/// Mean and variance of the elongation of a chain as the record begins; see [`crate::degradation::AsFound`].
pub(super) fn beginning(parameters: &WearParameters, start: Start) -> (f64, f64) {
    let new = (parameters.initial_mean(), parameters.initial_sd().powi(2));
    match start {
        Start::New => new,
        Start::AsFound(found) if found.ridden().is_some() => (new.0 + parameters.running_in(), new.1),
        Start::AsFound(found) => {
            // A plateau from a to D with an exponential tail of b: moments of the mixture by their lengths.
            let (a, limit) = (new.0 + parameters.running_in(), found.limit().get());
            let b = crate::degradation::LEFT_ON_BEYOND_LIMIT;
            let flat = (limit - a).max(0.05);
            let (mean_flat, mean_tail) = (limit - 0.5 * flat, limit + b);
            let share = flat / (flat + b);
            let mean = share * mean_flat + (1.0 - share) * mean_tail;
            let square = share * (mean_flat.powi(2) + flat * flat / 12.0)
                + (1.0 - share) * (mean_tail.powi(2) + b * b);
            (mean, square - mean * mean + new.1)
        }
    }
}

impl SeenChain {
    /// `ln p(readings | θ)` by these ways; `error` gives a reading's bias and what its spread is multiplied by.
    pub(super) fn log_evidence(
        &self,
        rate: f64,
        ways: &[Way],
        common: Common,
        error: &impl Fn(&Seen) -> (f64, f64),
    ) -> f64 {
        let (mut mean, mut variance) = self.start;
        if let Some((before, ln_sd)) = self.ridden {
            let wear = rate * before;
            mean += wear;
            variance += common.scale * wear + (wear * ln_sd).powi(2);
        }
        let mut state = Bell { mean, variance };
        let mut sum = 0.0;
        for (seen, way) in self.readings.iter().zip(ways) {
            let error = error(seen);
            let wear = rate * way.ds;
            let on_record = state.grown(wear * seen.factor.0, common.scale, wear * wear * seen.factor.1);
            sum += match seen.missing {
                None => state.see(on_record, (seen, *way), common.fast, error),
                Some((probability, mean, variance)) => {
                    let more = on_record.grown(rate * mean, common.scale, rate * rate * variance);
                    state.see_either(
                        [(1.0 - probability, on_record), (probability, more)],
                        (seen, *way),
                        common.fast,
                        error,
                    )
                }
            };
        }
        sum
    }
}

/// What is known of the slow process's elongation, percent.
#[derive(Debug, Clone, Copy)]
struct Bell {
    mean: f64,
    variance: f64,
}

impl Bell {
    /// After so much more wear, with what isn't known of it.
    fn grown(self, wear: f64, scale: f64, variance: f64) -> Self {
        Self { mean: self.mean + wear, variance: self.variance + scale * wear + variance }
    }

    /// Becomes `before` after a reading; its log evidence.
    fn see(
        &mut self,
        before: Self,
        (seen, way): (&Seen, Way),
        fast: FastPhase,
        (bias, wider): (f64, f64),
    ) -> f64 {
        let Self { mut mean, mut variance } = before;
        let sd = seen.sd * wider;
        let log = match seen.content {
            SeenContent::Percent(percent) => {
                number(&mut mean, &mut variance, fast, percent - bias, sd, way.run_in)
            }
            SeenContent::Gauge { mark, drops_in } => {
                gauge(&mut mean, &mut variance, fast, (mark - bias, drops_in), sd, way.run_in)
            }
        };
        *self = Self { mean, variance };
        log
    }

    /// The same when either of two may be true: the bell with the mean and the variance of both.
    fn see_either(
        &mut self,
        before: [(f64, Self); 2],
        seen: (&Seen, Way),
        fast: FastPhase,
        error: (f64, f64),
    ) -> f64 {
        let mut after = *self;
        let [a, b] = before.map(|(share, before)| {
            let log = share.max(f64::MIN_POSITIVE).ln() + after.see(before, seen, fast, error);
            (log, after)
        });
        let largest = a.0.max(b.0);
        let log = largest + ((a.0 - largest).exp() + (b.0 - largest).exp()).ln();
        let (first, second) = ((a.0 - log).exp(), (b.0 - log).exp());
        let mean = first * a.1.mean + second * b.1.mean;
        let spread = |of: Self| of.variance + (of.mean - mean).powi(2);
        *self = Self { mean, variance: first * spread(a.1) + second * spread(b.1) };
        log
    }
}

/// `ln p(number)`, and the state after it.
fn number(mean: &mut f64, variance: &mut f64, fast: FastPhase, elongation: f64, sd: f64, run_in: f64) -> f64 {
    let slope = fast.slope(elongation);
    let (x, noise) = (fast.slow(elongation) - run_in, (sd / slope).powi(2));
    let whole = *variance + noise;
    let away = x - *mean;
    // A blunder says nothing: the density never falls below a share of the instrument's peak.
    let log_bell = -0.5 * (away * away / whole + (std::f64::consts::TAU * whole).ln()) - slope.ln();
    let log_floor = FLOOR.ln() - (sd * std::f64::consts::TAU.sqrt()).ln();
    if log_bell > log_floor {
        let gain = *variance / whole;
        *mean += gain * away;
        *variance *= 1.0 - gain;
    }
    let (high, low) = if log_bell > log_floor { (log_bell, log_floor) } else { (log_floor, log_bell) };
    high + (low - high).exp().ln_1p()
}

/// `ln P(yes or no)`, and the state after it.
fn gauge(
    mean: &mut f64,
    variance: &mut f64,
    fast: FastPhase,
    (point, drops_in): (f64, bool),
    sd: f64,
    run_in: f64,
) -> f64 {
    let x = fast.slow(point) - run_in;
    let whole = *variance + (sd / fast.slope(point)).powi(2);
    let sign = if drops_in { 1.0 } else { -1.0 };
    let z = sign * (*mean - x) / whole.sqrt();
    let probability = FLOOR + (1.0 - FLOOR) * normal::distribution(z);
    let ratio = normal::density(z) / probability;
    let gain = *variance / whole.sqrt();
    *mean += sign * gain * ratio;
    *variance -= gain * gain * (ratio * (z + ratio)).clamp(0.0, 1.0);
    probability.ln()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn seen(ds: f64, content: SeenContent, sd: f64) -> Seen {
        Seen {
            way: Way { ds, run_in: 0.0 },
            years: None,
            factor: (1.0, 0.0),
            missing: None,
            content,
            sd,
            tool: 0,
            person: None,
        }
    }

    #[test]
    fn two_numbers_have_the_density_of_their_joint_bell() {
        // Covariance by hand: var ε0 + φθ min(s, t), plus the instrument's on the diagonal.
        let (rate, scale) = (1.25e-4, 0.01);
        let chain = SeenChain {
            group: 0,
            is_found: false,
            start: (0.04, 9e-4),
            ridden: None,
            readings: vec![
                seen(1_000.0, SeenContent::Percent(0.21), 0.06),
                seen(1_500.0, SeenContent::Percent(0.30), 0.06),
            ],
            exposures: vec![],
            design: vec![],
        };
        let ways: Vec<Way> = chain.readings.iter().map(|seen| seen.way).collect();
        let found =
            chain.log_evidence(rate, &ways, Common { scale, fast: FastPhase::NONE }, &|_| (0.02, 1.0));
        let (a, b) = (0.21 - 0.02 - 0.04 - rate * 1e3, 0.30 - 0.02 - 0.04 - rate * 2.5e3);
        let shared = 9e-4 + scale * rate * 1e3;
        let (v, w) = (shared + 3.6e-3, 9e-4 + scale * rate * 2.5e3 + 3.6e-3);
        let det = v * w - shared * shared;
        let square = (w * a * a - 2.0 * shared * a * b + v * b * b) / det;
        let expected = -0.5 * (square + det.ln()) - std::f64::consts::TAU.ln();
        assert!((found - expected).abs() < 1e-6, "{found} {expected}");
    }

    #[test]
    fn a_gauge_cuts_the_bell() {
        // P and the mean of the half that is left, by quadrature.
        let (mut mean, mut variance) = (0.4, 0.01);
        let log = gauge(&mut mean, &mut variance, FastPhase::NONE, (0.5, true), 0.05, 0.0);
        let (mut p, mut first, mut second) = (0.0, 0.0, 0.0);
        for i in 0..4_000 {
            let x = -0.6 + f64::from(i) * 5e-4;
            let w = normal::density((x - 0.4) / 0.1) / 0.1 * 5e-4 * normal::distribution((x - 0.5) / 0.05);
            (p, first, second) = (p + w, first + w * x, second + w * x * x);
        }
        assert!((log - f64::ln(p)).abs() < 1e-6);
        assert!(
            (mean - first / p).abs() < 1e-6 && (variance - (second / p - (first / p).powi(2))).abs() < 1e-6
        );
    }
}
