//! Tools, people and the fast phase, learned together with the groups.
//!
//! A reading's mean is `ε + β_tool + γ_person`; priors `β ~ N(b_kind, 0.05²)` for rule, caliper and dial, `N(b_kind, 0.10²)`
//! for a gauge, `γ ~ N(0, 0.04²)`, and a person's spread is the instrument's times `e^δ`, `δ ~ N(0, 0.3²)`. A fleet of
//! chains that all read high early and none late has a rule that reads high; one whose chains are all long has a high
//! rate: so the biases are found together with the groups' means, with τ, φ and, where chains have been read beyond
//! 0.6 percent, the fast phase. The evidence of a chain comes from [`super::approximation`]; the mode of the joint posterior is
//! climbed to by [`super::newton`], and what is left of a bias is its standard deviation there.

use super::approximation::{Common, Seen, SeenChain, SeenContent, beginning};
use super::calibration::{ChainHistory, by_threads};
use super::newton::{Slopes, Step};
use super::read_with::Tool;
use crate::bounds;
use crate::degradation::{FastPhase, Start, WearParameters};
use crate::reading::{Content, Instrument, InstrumentCalibrations};

/// Spread of a tool's bias round that of its kind, percent (A; of a gauge, reports of 0.15 to 0.44 percent, S second hand).
const TOOL_SD: f64 = 0.05;
const GAUGE_SD: f64 = 0.10;

/// The same of an instrument that the workshop has calibrated itself (A).
const CALIBRATED_SD: f64 = 0.02;

/// Spread of a person's bias, percent, and of the logarithm of what his spread is over the instrument's (A).
pub(super) const PERSON_SD: f64 = 0.04;
const LN_WIDER_SD: f64 = 0.3;

/// A gauge's yes and no alone can't tell its offset from the rate at which chains wear: offsets are learned when so many
/// chains have been read with an instrument that gives a number (A).
const CHAINS_TO_ANCHOR: usize = 10;

/// Spread of ln φ round the default (A).
const LN_SCALE_SD: f64 = 1.0;

/// Onset of the fast phase, percent, and the logarithm of its gain: mean and spread (A).
const ONSET: (f64, f64) = (1.0, 0.25);
const LN_GAIN: (f64, f64) = (std::f64::consts::LN_2, 0.7);

/// The fast phase is looked for when so many chains have been read beyond so many percent (A).
const CHAINS_FOR_FAST: usize = 10;
const READ_BEYOND: f64 = 0.6;

/// Onsets that a climb begins at, and by how much the phase has to raise the log posterior to be believed (A).
const FIRST_ONSETS: [f64; 3] = [0.5, 0.75, 1.0];
const WORTH_BELIEVING: f64 = 3.0;

/// Prior guesses of τ and ω, and how many chains or groups each guess is worth (A).
const TAU_PRIOR: (f64, f64) = (0.35, 3.0);
const OMEGA_PRIOR: (f64, f64) = (0.2, 2.0);
const FLEET_SD: f64 = 0.5;
const SPREADS: (f64, f64) = (0.1, 1.5);

/// Nodes in ln θ lie so close, and reach so many τ to either side.
const SPACING: f64 = 0.09;
const REACH: f64 = 4.0;
const MOST_NODES: f64 = 129.0;

/// Slopes are taken over such a step.
const AHEAD: f64 = 1e-4;

/// Most steps of a climb; it has settled when no unknown moves by more of its prior's spread. A step is halved so often.
const STEPS: usize = 40;
const SETTLED: f64 = 0.01;
const HALVINGS: usize = 8;

/// No unknown moves further in one step, in spreads of its prior; no mean further in the logarithm.
const TRUSTED: f64 = 1.0;
const TRUSTED_MEAN: f64 = 0.5;

/// What the fleet's readings say of all but the groups.
#[derive(Debug, Clone)]
pub(super) struct JointFit {
    /// Each tool with its bias over that of its kind; no gauges where none could be judged.
    pub tools: Vec<(Tool, Bias)>,
    pub gauges_judged: bool,
    /// Each person with his.
    pub persons: Vec<(String, Bias)>,
    /// The logarithm of what each person's spread is over the instrument's.
    pub ln_wider: Vec<f64>,
    /// Covariance of each tool's bias with each person's.
    pub tool_with_person: Vec<Vec<f64>>,
    pub fast: FastPhase,
    /// Whether enough chains were read far enough for a fast phase to be looked for.
    pub fast_sought: bool,
}

/// A bias as far as it is known, percent.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Bias {
    pub mean: f64,
    pub sd: f64,
    pub readings: usize,
}

/// Learns from all chains that were read; `None` when none was.
pub(super) fn fit(
    chains: &[ChainHistory<'_>],
    base: &WearParameters,
    calibrations: &InstrumentCalibrations,
) -> Option<JointFit> {
    let model = Model::of(chains, base, calibrations)?;
    let plain = model.climb(model.first_place(None));
    let beyond = model.chains.iter().filter(|chain| chain.readings.iter().any(is_far)).count();
    let fast_sought = beyond >= CHAINS_FOR_FAST;
    let mut best = plain;
    if fast_sought {
        let without = best.log_posterior;
        for onset in FIRST_ONSETS {
            let mut from = model.first_place(Some(onset));
            from.take_over(&best, model.onset());
            let climbed = model.climb(from);
            if climbed.log_posterior > best.log_posterior.max(without + WORTH_BELIEVING) {
                best = climbed;
            }
        }
    }
    Some(model.told(&best, fast_sought))
}

fn is_far(seen: &Seen) -> bool {
    match seen.content {
        SeenContent::Percent(percent) => percent > READ_BEYOND,
        SeenContent::Gauge { mark, drops_in } => drops_in && mark > READ_BEYOND,
    }
}

struct Model<'a> {
    base: &'a WearParameters,
    calibrations: &'a InstrumentCalibrations,
    groups: usize,
    tools: Vec<Tool>,
    persons: Vec<&'a str>,
    chains: Vec<SeenChain>,
    /// Mean and spread of each common unknown before anything is read.
    priors: Vec<(f64, f64)>,
    /// Whether enough numbers were read for gauges to be judged by.
    anchored: bool,
}

/// Where the search stands.
#[derive(Clone)]
struct Place {
    /// Tools, people, what their spread is over the instrument's, ln φ, onset and ln gain.
    unknowns: Vec<f64>,
    fast: bool,
    means: Vec<f64>,
    tau: f64,
    omega: f64,
    fleet_mean: f64,
    log_posterior: f64,
}

impl Place {
    /// The same but for what the fast phase is.
    fn take_over(&mut self, other: &Self, onset: usize) {
        self.unknowns[..onset].copy_from_slice(&other.unknowns[..onset]);
        (self.tau, self.omega, self.fleet_mean) = (other.tau, other.omega, other.fleet_mean);
        self.means.clone_from(&other.means);
    }
}

/// One chain where the search stands.
struct Felt {
    log_evidence: f64,
    /// Mean of ln θ over the group's, and its variance.
    away: f64,
    variance: f64,
    /// Slopes of the log evidence in the unknowns that touch the chain.
    slopes: Vec<(usize, f64)>,
}

impl<'a> Model<'a> {
    fn of(
        chains: &'a [ChainHistory<'a>],
        base: &'a WearParameters,
        calibrations: &'a InstrumentCalibrations,
    ) -> Option<Self> {
        let read = || chains.iter().filter(|chain| !chain.readings.is_empty());
        let mut groups: Vec<&str> = read().map(|chain| chain.group).collect();
        let mut tools: Vec<Tool> =
            read().flat_map(|chain| chain.readings_with_tools().map(|(_, tool, _)| tool)).collect();
        let mut persons: Vec<&str> =
            read().flat_map(|chain| chain.readings_with_tools().filter_map(|(.., person)| person)).collect();
        groups.sort_unstable();
        groups.dedup();
        tools.sort_unstable();
        tools.dedup();
        persons.sort_unstable();
        persons.dedup();
        let seen =
            |chain: &ChainHistory<'a>| seen_chain(chain, &groups, &tools, &persons, base, calibrations);
        let seen: Vec<SeenChain> = read().filter_map(seen).collect();
        if seen.is_empty() {
            return None;
        }
        let mut priors: Vec<(f64, f64)> =
            tools.iter().map(|tool| (0.0, prior_sd(tool.instrument, calibrations))).collect();
        priors.extend(persons.iter().map(|_| (0.0, PERSON_SD)));
        priors.extend(persons.iter().map(|_| (0.0, LN_WIDER_SD)));
        priors.extend([(base.scale().ln(), LN_SCALE_SD), ONSET, LN_GAIN]);
        let numbers = seen.iter().filter(|chain| chain.readings.iter().any(Seen::is_number)).count();
        let anchored = numbers >= CHAINS_TO_ANCHOR;
        Some(Self {
            base,
            calibrations,
            groups: groups.len(),
            tools,
            persons,
            chains: seen,
            priors,
            anchored,
        })
    }

    fn onset(&self) -> usize {
        self.priors.len() - 2
    }

    fn first_place(&self, onset: Option<f64>) -> Place {
        let mut unknowns: Vec<f64> = self.priors.iter().map(|(mean, _)| *mean).collect();
        if let Some(onset) = onset {
            unknowns[self.onset()] = onset;
        }
        let default = self.base.mean_log_rate();
        Place {
            unknowns,
            fast: onset.is_some(),
            means: vec![default; self.groups],
            tau: TAU_PRIOR.0,
            omega: OMEGA_PRIOR.0,
            fleet_mean: default,
            log_posterior: f64::NEG_INFINITY,
        }
    }

    /// Up to the top, τ and ω brought up to date at each step.
    fn climb(&self, mut at: Place) -> Place {
        let mut felt = self.felt(&at, true);
        for _ in 0..STEPS {
            self.settle_spreads(&mut at, &felt);
            felt = self.felt(&at, true);
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
            let felt = self.felt(&to, true);
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
            None => (-1.0, 1.0),
        };
        value.clamp(low, high)
    }

    fn common(&self, unknowns: &[f64], fast: bool) -> Common {
        let onset = self.onset();
        let scale = unknowns[onset - 1].exp();
        let phase = FastPhase::new(unknowns[onset], unknowns[onset + 1].exp());
        Common { scale, fast: if fast { phase.unwrap_or(FastPhase::NONE) } else { FastPhase::NONE } }
    }

    /// Each chain where the search stands.
    fn felt(&self, at: &Place, with_slopes: bool) -> Vec<Felt> {
        by_threads(&self.chains, |chain| Some(self.feel(chain, at, with_slopes)))
    }

    fn feel(&self, chain: &SeenChain, at: &Place, with_slopes: bool) -> Felt {
        let tau = at.tau;
        let centre = at.means[chain.group] - if chain.is_found { tau * tau } else { 0.0 };
        let count = (2.0 * REACH * tau / SPACING).ceil().clamp(33.0, MOST_NODES);
        let spacing = 2.0 * REACH / (count - 1.0);
        let logs = |unknowns: &[f64]| -> Vec<f64> {
            let common = self.common(unknowns, at.fast);
            let error = |seen: &Seen| self.error(unknowns, seen);
            (0..count as usize)
                .map(|node| {
                    let z = -REACH + node as f64 * spacing;
                    chain.log_evidence((centre + tau * z).exp(), common, &error) - 0.5 * z * z
                })
                .collect()
        };
        let (log_evidence, first, second) = integral(&logs(&at.unknowns), spacing);
        let mut slopes = Vec::new();
        if with_slopes {
            let mut moved = at.unknowns.clone();
            for k in self.touching(chain, at) {
                let here = moved[k];
                moved[k] = here + AHEAD;
                slopes.push((k, (integral(&logs(&moved), spacing).0 - log_evidence) / AHEAD));
                moved[k] = here;
            }
        }
        Felt {
            log_evidence,
            away: tau * first,
            variance: tau * tau * (second - first * first).max(0.0),
            slopes,
        }
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

    fn slopes(&self, at: &Place, felt: &[Felt]) -> Slopes {
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

    fn told(&self, at: &Place, fast_sought: bool) -> JointFit {
        let covariances = self.slopes(at, &self.felt(at, true)).covariances();
        let covariance = |k: usize, l: usize| match &covariances {
            Some(all) => all[k][l],
            None if k == l => self.priors[k].1.powi(2),
            None => 0.0,
        };
        let count = |of: &dyn Fn(&Seen) -> bool| {
            self.chains.iter().flat_map(|chain| &chain.readings).filter(|seen| of(seen)).count()
        };
        let bias = |k: usize, readings: usize| Bias {
            mean: at.unknowns[k],
            sd: covariance(k, k).max(0.0).sqrt().min(self.priors[k].1),
            readings,
        };
        let (tools, persons) = (self.tools.len(), self.persons.len());
        JointFit {
            tools: self
                .tools
                .iter()
                .enumerate()
                .filter(|(_, tool)| self.anchored || !tool.instrument.is_gauge())
                .map(|(k, tool)| (tool.clone(), bias(k, count(&|seen| seen.tool == k))))
                .collect(),
            gauges_judged: self.anchored,
            persons: self
                .persons
                .iter()
                .enumerate()
                .map(|(k, name)| ((*name).to_owned(), bias(tools + k, count(&|seen| seen.person == Some(k)))))
                .collect(),
            ln_wider: at.unknowns[tools + persons..tools + 2 * persons].to_vec(),
            tool_with_person: (0..tools)
                .filter(|tool| self.anchored || !self.tools[*tool].instrument.is_gauge())
                .map(|tool| (0..persons).map(|person| covariance(tool, tools + person)).collect())
                .collect(),
            fast: self.common(&at.unknowns, at.fast).fast,
            fast_sought,
        }
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

fn seen_chain(
    chain: &ChainHistory<'_>,
    groups: &[&str],
    tools: &[Tool],
    persons: &[&str],
    base: &WearParameters,
    calibrations: &InstrumentCalibrations,
) -> Option<SeenChain> {
    let parameters = base.with_start(chain.start);
    let ridden = match chain.start {
        Start::New => None,
        Start::AsFound(found) => found.ridden().map(|(before, ln_sd)| (before.get(), ln_sd.get())),
    };
    let mut told: Vec<_> = chain.readings_with_tools().collect();
    told.sort_by(|(a, ..), (b, ..)| a.order(b));
    let mut last = 0.0;
    let readings = told
        .into_iter()
        .filter_map(|(timed, tool, person)| {
            let at = timed.at.get();
            let factor = timed.exposure_factor_moments();
            let missing = timed.missing_riding.map(|missing| {
                let mean = missing.mean.get();
                (missing.probability.get(), mean, mean * mean / f64::from(missing.parts.get()))
            });
            let ds = at - std::mem::replace(&mut last, at);
            let content = match timed.measurement.content() {
                Content::Elongation(spots) => SeenContent::Percent(spots.mean()),
                Content::Gauge { mark, drops_in } => SeenContent::Gauge { mark: mark.get(), drops_in },
            };
            Some(Seen {
                ds,
                factor,
                missing: missing.filter(|_| ds > 0.0),
                run_in: parameters.run_in_by(at),
                content,
                sd: timed.measurement.sd(calibrations.of(timed.measurement.instrument())),
                tool: tools.binary_search(&tool).ok()?,
                person: person.and_then(|person| persons.binary_search(&person).ok()),
            })
        })
        .collect();
    Some(SeenChain {
        group: groups.binary_search(&chain.group).ok()?,
        is_found: chain.start != Start::New,
        start: beginning(&parameters, chain.start),
        ridden,
        readings,
    })
}

/// Prior spread of the bias of a tool of this kind that nobody has read with.
pub(super) fn prior_sd(instrument: Instrument, calibrations: &InstrumentCalibrations) -> f64 {
    match (calibrations.own(instrument), instrument.is_gauge()) {
        (Some(_), _) => CALIBRATED_SD,
        (None, true) => GAUGE_SD,
        (None, false) => TOOL_SD,
    }
}
