//! What each chain says where the search stands.

use super::{Model, Place};
use crate::degradation::FastPhase;
use crate::fleet::approximation::{Common, Seen, SeenChain, SeenContent, Way};
use crate::fleet::calibration::by_threads;
use crate::fleet::drift;
use crate::fleet::multipliers::{COVARIATES, ContextExposure, Covariate};

/// Nodes in ln θ lie so close, and reach so many τ to either side.
const SPACING: f64 = 0.09;
const REACH: f64 = 4.0;
const MOST_NODES: f64 = 129.0;

/// Slopes are taken over such a step.
const AHEAD: f64 = 1e-4;

/// One chain where the search stands.
pub(super) struct Felt {
    pub(super) log_evidence: f64,
    /// Mean of ln θ over the group's, and its variance.
    pub(super) away: f64,
    pub(super) variance: f64,
    /// Slopes of the log evidence in the unknowns that touch the chain.
    pub(super) slopes: Vec<(usize, f64)>,
}

impl Model<'_> {
    pub(super) fn common(&self, unknowns: &[f64], fast: bool) -> Common {
        let onset = self.onset();
        let scale = unknowns[onset - 1].exp();
        let phase = FastPhase::new(unknowns[onset], unknowns[onset + 1].exp());
        Common { scale, fast: if fast { phase.unwrap_or(FastPhase::NONE) } else { FastPhase::NONE } }
    }

    /// Each chain where the search stands.
    pub(super) fn felt(&self, at: &Place) -> Vec<Felt> {
        by_threads(&self.chains, |chain| Some(self.feel(chain, at, &self.touching(chain, at))))
    }

    /// The same without slopes, which are most of the work.
    pub(super) fn felt_without_slopes(&self, at: &Place) -> Vec<Felt> {
        by_threads(&self.chains, |chain| Some(self.feel(chain, at, &[])))
    }

    /// With slopes in these of its unknowns.
    fn feel(&self, chain: &SeenChain, at: &Place, touching: &[usize]) -> Felt {
        let tau = at.tau;
        let lift = self.lift(chain, &at.unknowns);
        let centre = at.means[chain.group] + lift - if chain.is_found { tau * tau } else { 0.0 };
        let count = (2.0 * REACH * tau / SPACING).ceil().clamp(33.0, MOST_NODES);
        let spacing = 2.0 * REACH / (count - 1.0);
        let logs = |unknowns: &[f64]| -> Vec<f64> {
            let common = self.common(unknowns, at.fast);
            let error = |seen: &Seen| self.error(unknowns, seen);
            let ways = self.ways(chain, unknowns);
            (0..count as usize)
                .map(|node| {
                    let z = -REACH + node as f64 * spacing;
                    chain.log_evidence((centre + tau * z).exp(), &ways, common, &error) - 0.5 * z * z
                })
                .collect()
        };
        let (log_evidence, first, second) = integral(&logs(&at.unknowns), spacing);
        let mut slopes = Vec::new();
        let mut moved = at.unknowns.clone();
        for &k in touching {
            let here = moved[k];
            moved[k] = here + AHEAD;
            slopes.push((k, (integral(&logs(&moved), spacing).0 - log_evidence) / AHEAD));
            moved[k] = here;
        }
        // A model or a lubricant moves the centre as the group's mean does.
        let away = tau * first;
        let first_term = self.first_term();
        slopes.extend(chain.design.iter().map(|(k, share)| (first_term + k, share * away / (tau * tau))));
        Felt { log_evidence, away, variance: tau * tau * (second - first * first).max(0.0), slopes }
    }

    /// What a chain's ln θ is over its group's for its model and its lubricants.
    fn lift(&self, chain: &SeenChain, unknowns: &[f64]) -> f64 {
        let first = self.first_term();
        chain.design.iter().map(|(k, share)| share * unknowns[first + k]).sum()
    }

    /// The ways between readings, by the multipliers and by the clock where they stand.
    fn ways(&self, chain: &SeenChain, unknowns: &[f64]) -> Vec<Way> {
        let mut ways = self.undated_ways(chain, unknowns);
        if let Some(slope) = self.slope() {
            for (way, seen) in ways.iter_mut().zip(&chain.readings) {
                way.ds *= seen.years.map_or(1.0, |years| drift::mean_factor(unknowns[slope], years));
            }
        }
        ways
    }

    fn undated_ways(&self, chain: &SeenChain, unknowns: &[f64]) -> Vec<Way> {
        let Some(exposed) = self.exposed else { return chain.readings.iter().map(|seen| seen.way).collect() };
        let mut shift = [0.0; COVARIATES];
        shift.copy_from_slice(&unknowns[self.covariates()..self.covariates() + COVARIATES]);
        let (multipliers, care) = exposed.prior.shifted(&shift);
        let parameters = if chain.is_found { None } else { Some(self.base) };
        let mut last = 0.0;
        let way = |exposure: &ContextExposure| {
            let at = exposure.reference_km(&multipliers, &care);
            let run_in = parameters.map_or(0.0, |parameters| parameters.run_in_by(at));
            Way { ds: at - std::mem::replace(&mut last, at), run_in }
        };
        chain.exposures.iter().map(way).collect()
    }

    /// What a reading is off by, and what its spread is multiplied by.
    fn error(&self, unknowns: &[f64], seen: &Seen) -> (f64, f64) {
        let of_person = |place: usize| {
            let person = self.tools.len() + place;
            (unknowns[person], unknowns[person + self.persons.len()].exp())
        };
        let (person, wider) = seen.person.map_or((0.0, 1.0), of_person);
        let instrument = self.tools[seen.tool].instrument;
        (self.calibrations.of(instrument).bias() + unknowns[seen.tool] + person, wider)
    }

    /// The unknowns that a chain's evidence depends on.
    fn touching(&self, chain: &SeenChain, at: &Place) -> Vec<usize> {
        let (tools, persons) = (self.tools.len(), self.persons.len());
        let told = || chain.readings.iter().filter(|seen| self.anchored || seen.is_number());
        let mut touching: Vec<usize> = told().map(|seen| seen.tool).collect();
        for person in told().filter_map(|seen| seen.person) {
            touching.extend([tools + person, tools + persons + person]);
        }
        if let Some(exposed) = &self.exposed {
            let last = chain.exposures.last();
            let varies = |k: &usize| {
                exposed.learned[*k] && last.is_some_and(|last| last.share(Covariate::ALL[*k]) > 0.0)
            };
            touching.extend((0..COVARIATES).filter(varies).map(|k| self.covariates() + k));
        }
        touching.extend(self.slope().filter(|_| chain.readings.iter().any(|seen| seen.years.is_some())));
        touching.push(self.onset() - 1);
        let onset = at.unknowns[self.onset()];
        let beyond = |seen: &Seen| {
            let read = match seen.content {
                SeenContent::Percent(percent) => percent,
                SeenContent::Gauge { mark, .. } => mark,
            };
            read - self.error(&at.unknowns, seen).0 + AHEAD > onset
        };
        if at.fast && chain.readings.iter().any(beyond) {
            touching.extend([self.onset(), self.onset() + 1]);
        }
        touching.sort_unstable();
        touching.dedup();
        touching
    }
}

/// `ln ∫ exp(f(z)) φ(z)/…` by the trapezoid rule from logarithms that hold `−z²/2` already, with mean and square of z.
fn integral(logs: &[f64], spacing: f64) -> (f64, f64, f64) {
    let largest = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let (mut sum, mut first, mut second) = (0.0, 0.0, 0.0);
    for (node, log) in logs.iter().enumerate() {
        let (weight, z) = ((log - largest).exp(), -REACH + node as f64 * spacing);
        sum += weight;
        first += weight * z;
        second += weight * z * z;
    }
    (largest + (sum * spacing / std::f64::consts::TAU.sqrt()).ln(), first / sum, second / sum)
}
