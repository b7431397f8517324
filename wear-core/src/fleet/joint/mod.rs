//! Tools, people and the fast phase, learned together with the groups.
//!
//! A reading's mean is `ε + β_tool + γ_person`; priors `β ~ N(b_kind, 0.05²)` for rule, caliper and dial, `N(b_kind, 0.10²)`
//! for a gauge, `γ ~ N(0, 0.04²)`, and a person's spread is the instrument's times `e^δ`, `δ ~ N(0, 0.3²)`. A fleet of
//! chains that all read high early and none late has a rule that reads high; one whose chains are all long has a high
//! rate: so the biases are found together with the groups' means, with τ, φ, what models and lubricants are worth
//! (`terms`), the slope over the calendar (`drift`) and, where chains have been read beyond 0.6 percent, the fast phase. The evidence of a chain comes from `approximation`; the mode of the joint posterior is
//! climbed to by Newton's steps (`newton`), and what is left of a bias is its standard deviation there.

mod climb;
mod feel;
mod prepare;

use prepare::seen_chain;

use super::approximation::{Seen, SeenChain, SeenContent};
use super::calibration::{ChainHistory, FLEET_SD, OMEGA_PRIOR, TAU_PRIOR};
use super::drift::{self, Calendar, Drift};
use super::multipliers::{COVARIATES, Covariate, ExposedReading, MultiplierPrior};
use super::read_with::Tool;
use super::terms::{self, Design, LearnedTerms, Term};
use crate::degradation::{FastPhase, WearParameters};
use crate::reading::{Instrument, InstrumentCalibrations};

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

/// The fast phase is looked for when so many chains have been read both before and beyond so many percent (A).
const CHAINS_FOR_FAST: usize = 10;
const READ_BEYOND: f64 = 0.6;

/// Onsets that a climb begins at, and by how much the phase has to raise the log posterior to be believed (A).
const FIRST_ONSETS: [f64; 3] = [0.5, 0.75, 1.0];
const WORTH_BELIEVING: f64 = 3.0;

/// Exposures by context, and what is believed of contexts and care.
#[derive(Debug, Clone, Copy)]
pub(super) struct Exposed<'a> {
    /// At each reading of each chain.
    pub readings: &'a [&'a [ExposedReading]],
    pub prior: MultiplierPrior<'a>,
    /// Which covariates are learned.
    pub learned: [bool; COVARIATES],
}

/// What the fleet's readings say of all but the groups.
#[derive(Debug, Clone)]
pub(super) struct JointFit {
    /// What the logarithm of each covariate is over what was believed before; the prior where it isn't learned.
    pub covariates: [Shift; COVARIATES],
    /// Each tool with its bias over that of its kind; no gauges where none could be judged.
    pub tools: Vec<(Tool, Bias)>,
    pub gauges_judged: bool,
    /// Each person with his.
    pub persons: Vec<(String, Bias)>,
    /// The logarithm of what each person's spread is over the instrument's.
    pub ln_wider: Vec<f64>,
    /// Covariance of each tool's bias with each person's.
    pub tool_with_person: Vec<Vec<f64>>,
    /// Models and lubricants.
    pub terms: LearnedTerms,
    /// The slope over the calendar, where enough chains have dates.
    pub drift: Option<Drift>,
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

/// The logarithm of a multiplier over what was believed of it.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct Shift {
    pub mean: f64,
    pub sd: f64,
}

/// Learns from all chains that were read; `None` when none was.
pub(super) fn fit(
    chains: &[ChainHistory<'_>],
    exposed: Option<Exposed<'_>>,
    base: &WearParameters,
    calibrations: &InstrumentCalibrations,
) -> Option<JointFit> {
    let model = Model::of(chains, exposed, base, calibrations)?;

    let plain = model.climb(model.first_place(None));
    // One reading can't tell a fast phase from a fast rate.
    let both_sides =
        |chain: &&SeenChain| chain.readings.iter().any(is_far) && !chain.readings.iter().all(is_far);
    let beyond = model.chains.iter().filter(both_sides).count();
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
    exposed: Option<Exposed<'a>>,
    base: &'a WearParameters,
    calibrations: &'a InstrumentCalibrations,
    groups: usize,
    tools: Vec<Tool>,
    persons: Vec<&'a str>,
    terms: Vec<Term>,
    calendar: Option<Calendar>,
    chains: Vec<SeenChain>,
    /// Mean and spread of each common unknown before anything is read.
    priors: Vec<(f64, f64)>,
    /// Whether enough numbers were read for gauges to be judged by.
    anchored: bool,
}

/// Where the search stands.
#[derive(Clone)]
struct Place {
    /// Tools, people, what their spread is over the instrument's, covariates, models and lubricants, the slope over the
    /// calendar where one is looked for, ln φ, onset and ln gain.
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

impl<'a> Model<'a> {
    fn of(
        chains: &'a [ChainHistory<'a>],
        exposed: Option<Exposed<'a>>,
        base: &'a WearParameters,
        calibrations: &'a InstrumentCalibrations,
    ) -> Option<Self> {
        let placed = || chains.iter().enumerate().filter(|(_, chain)| !chain.readings.is_empty());
        let read = || placed().map(|(_, chain)| chain);
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
        let (terms, calendar) = (terms::told_by(chains), Calendar::of(chains));
        let seen = |(place, chain): (usize, &ChainHistory<'a>)| {
            let exposures = exposed.map_or(&[][..], |exposed| exposed.readings[place]);
            let named = (&groups[..], &tools[..], &persons[..]);
            seen_chain((chain, exposures), named, (&terms, calendar), base, calibrations)
        };
        let seen: Vec<SeenChain> = placed().filter_map(seen).collect();
        if seen.is_empty() {
            return None;
        }
        let mut priors: Vec<(f64, f64)> =
            tools.iter().map(|tool| (0.0, prior_sd(tool.instrument, calibrations))).collect();
        priors.extend(persons.iter().map(|_| (0.0, PERSON_SD)));
        priors.extend(persons.iter().map(|_| (0.0, LN_WIDER_SD)));
        let of_covariate = |k: Covariate| (0.0, exposed.map_or(1.0, |exposed| exposed.prior.sd(k)));
        priors.extend(Covariate::ALL.iter().map(|k| of_covariate(*k)));
        priors.extend(terms.iter().map(|term| (0.0, terms::prior_sd(term))));
        priors.extend(calendar.map(|_| (0.0, drift::YEARLY_SD)));
        priors.extend([(base.scale().ln(), LN_SCALE_SD), ONSET, LN_GAIN]);
        let numbers = seen.iter().filter(|chain| chain.readings.iter().any(Seen::is_number)).count();
        let anchored = numbers >= CHAINS_TO_ANCHOR;
        Some(Self {
            exposed,
            base,
            calibrations,
            groups: groups.len(),
            tools,
            persons,
            terms,
            calendar,
            chains: seen,
            priors,
            anchored,
        })
    }

    /// Place of the first covariate among the unknowns.
    fn covariates(&self) -> usize {
        self.tools.len() + 2 * self.persons.len()
    }

    /// Place of the first model or lubricant.
    fn first_term(&self) -> usize {
        self.covariates() + COVARIATES
    }

    /// Place of the slope over the calendar, where one is looked for.
    fn slope(&self) -> Option<usize> {
        self.calendar.map(|_| self.first_term() + self.terms.len())
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

    fn told(&self, at: &Place, fast_sought: bool) -> JointFit {
        let covariances = self.slopes(at, &self.felt(at)).covariances();
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
        let covariate = |k: usize| {
            let place = self.covariates() + k;
            let sd = covariance(place, place).max(0.0).sqrt().min(self.priors[place].1);
            Shift { mean: at.unknowns[place], sd }
        };
        JointFit {
            covariates: std::array::from_fn(covariate),
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
            terms: self.told_terms(at, &covariance),
            drift: self.calendar.zip(self.slope()).map(|(calendar, place)| {
                let sd = covariance(place, place).max(0.0).sqrt().min(self.priors[place].1);
                calendar.drift(at.unknowns[place], sd)
            }),
            fast: self.common(&at.unknowns, at.fast).fast,
            fast_sought,
        }
    }

    fn told_terms(&self, at: &Place, covariance: &impl Fn(usize, usize) -> f64) -> LearnedTerms {
        let places = self.first_term()..self.first_term() + self.terms.len();
        let designs: Vec<&Design> = self.chains.iter().map(|chain| &chain.design).collect();
        let row = |k: usize| places.clone().map(|l| covariance(k, l)).collect();
        let rows = places.clone().map(row).collect();
        LearnedTerms::new(self.terms.clone(), at.unknowns[places.clone()].to_vec(), rows, &designs)
    }
}

/// Prior spread of the bias of a tool of this kind that nobody has read with.
pub(super) fn prior_sd(instrument: Instrument, calibrations: &InstrumentCalibrations) -> f64 {
    match (calibrations.own(instrument), instrument.is_gauge()) {
        (Some(_), _) => CALIBRATED_SD,
        (None, true) => GAUGE_SD,
        (None, false) => TOOL_SD,
    }
}
