//! Up to the top of the joint posterior.

use super::feel::Felt;
use super::{FLEET_SD, Model, OMEGA_PRIOR, Place, TAU_PRIOR};
use crate::bounds;
use crate::fleet::newton::{Slopes, Step};

/// Most steps of a climb; it has settled when no unknown moves by more of its prior's spread. A step is halved so often.
const STEPS: usize = 40;
const SETTLED: f64 = 0.01;
const HALVINGS: usize = 8;

/// No unknown but ln φ and those of the fast phase lies further from nought: a covariate a factor of 4.5, a bias 1.5
/// percent.
const FURTHEST: f64 = 1.5;

/// No unknown moves further in one step, in spreads of its prior; no mean further in the logarithm.
const TRUSTED: f64 = 1.0;
const TRUSTED_MEAN: f64 = 0.5;

const SPREADS: (f64, f64) = (0.1, 1.5);

impl Model<'_> {
    /// Up to the top, τ and ω brought up to date at each step.
    pub(super) fn climb(&self, mut at: Place) -> Place {
        let mut felt = self.felt_without_slopes(&at);
        for _ in 0..STEPS {
            self.settle_spreads(&mut at, &felt);
            felt = self.felt(&at);
            at.log_posterior = self.log_posterior(&at, &felt);
            let Some(step) = self.slopes(&at, &felt).step() else { break };
            let Some((next, there)) = self.higher(&at, &step) else { break };
            let moved = self
                .priors
                .iter()
                .zip(next.unknowns.iter().zip(&at.unknowns))
                .map(|((_, sd), (to, from))| (to - from).abs() / sd)
                .chain(next.means.iter().zip(&at.means).map(|(to, from)| (to - from).abs()))
                .fold(0.0, f64::max);
            (at, felt) = (next, there);
            if moved < SETTLED {
                break;
            }
        }
        at.log_posterior = self.log_posterior(&at, &felt);
        at
    }

    /// The first place along the step, halved and halved, where the posterior is higher.
    fn higher(&self, from: &Place, step: &Step) -> Option<(Place, Vec<Felt>)> {
        let of_prior = step.common.iter().zip(&self.priors).map(|(by, (_, sd))| by.abs() / sd / TRUSTED);
        let of_means = step.means.iter().map(|by| by.abs() / TRUSTED_MEAN);
        let mut share = 1.0 / of_prior.chain(of_means).fold(1.0, f64::max);
        for _ in 0..HALVINGS {
            let mut to = from.clone();
            for (k, by) in step.common.iter().enumerate() {
                to.unknowns[k] = self.legal(k, to.unknowns[k] + share * by);
            }
            to.means.iter_mut().zip(&step.means).for_each(|(mean, by)| *mean += share * by);
            let felt = self.felt_without_slopes(&to);
            to.log_posterior = self.log_posterior(&to, &felt);
            if to.log_posterior >= from.log_posterior {
                return Some((to, felt));
            }
            share *= 0.5;
        }
        None
    }

    fn legal(&self, k: usize, value: f64) -> f64 {
        let within = |bound: &bounds::Bound| (bound.minimum, bound.maximum);
        let (low, high) = match k.checked_sub(self.onset() - 1) {
            Some(0) => (within(&bounds::WEAR_SCALE).0.ln(), within(&bounds::WEAR_SCALE).1.ln()),
            Some(1) => within(&bounds::FAST_PHASE_ONSET),
            Some(_) => (within(&bounds::FAST_PHASE_GAIN).0.ln(), within(&bounds::FAST_PHASE_GAIN).1.ln()),
            None => (-FURTHEST, FURTHEST),
        };
        value.clamp(low, high)
    }

    pub(super) fn slopes(&self, at: &Place, felt: &[Felt]) -> Slopes {
        let precision = |sd: f64| sd.powi(-2);
        let common: Vec<(f64, f64)> = self
            .priors
            .iter()
            .zip(&at.unknowns)
            .map(|((mean, sd), value)| ((mean - value) * precision(*sd), precision(*sd)))
            .collect();
        let among = precision(at.omega);
        let means: Vec<(f64, f64)> =
            at.means.iter().map(|mean| ((at.fleet_mean - mean) * among, among)).collect();
        let mut slopes = Slopes::of_priors(&common, &means);
        for (chain, felt) in self.chains.iter().zip(felt) {
            slopes.add(chain.group, felt.away / (at.tau * at.tau), &felt.slopes);
        }
        slopes
    }

    /// τ, ω and the fleet's mean of highest density given what the chains say (EM).
    fn settle_spreads(&self, at: &mut Place, felt: &[Felt]) {
        let spread = |squares: f64, count: f64, (guess, worth): (f64, f64)| {
            ((squares + worth * guess * guess) / (count + worth)).sqrt().clamp(SPREADS.0, SPREADS.1)
        };
        let squares: f64 = felt.iter().map(|felt| felt.away.powi(2) + felt.variance).sum();
        at.tau = spread(squares, felt.len() as f64, TAU_PRIOR);
        let (among, own) = (at.omega.powi(-2), FLEET_SD.powi(-2));
        at.fleet_mean = (at.means.iter().sum::<f64>() * among + self.base.mean_log_rate() * own)
            / (self.groups as f64 * among + own);
        let squares: f64 = at.means.iter().map(|mean| (mean - at.fleet_mean).powi(2)).sum();
        at.omega = spread(squares, self.groups as f64, OMEGA_PRIOR);
    }

    fn log_posterior(&self, at: &Place, felt: &[Felt]) -> f64 {
        let bell = |away: f64, sd: f64| -0.5 * (away / sd).powi(2) - sd.ln();
        let spread =
            |sd: f64, (guess, worth): (f64, f64)| -worth * sd.ln() - 0.5 * worth * (guess / sd).powi(2);
        // Without a fast phase its two unknowns stay where their priors are highest: they aren't part of the comparison.
        let counted = if at.fast { self.priors.len() } else { self.onset() };
        let unknowns = self.priors.iter().zip(&at.unknowns).take(counted);
        felt.iter().map(|felt| felt.log_evidence).sum::<f64>()
            + unknowns.map(|((mean, sd), value)| -0.5 * ((value - mean) / sd).powi(2)).sum::<f64>()
            + at.means.iter().map(|mean| bell(mean - at.fleet_mean, at.omega)).sum::<f64>()
            + bell(at.fleet_mean - self.base.mean_log_rate(), FLEET_SD)
            + spread(at.tau, TAU_PRIOR)
            + spread(at.omega, OMEGA_PRIOR)
    }
}
