//! What explains readings that the record before them speaks against.
//!
//! A record is walked as it is, and again under each single change that might mend it: a new chain put on at a time spread
//! evenly since the reading before (`E e^{−κUc} = (1 − e^{−κc})/(κc)`), an exponential exposure more
//! (`1/(1 + mθc/φ)`), the number without meaning. Each walk goes on through all later readings, so that they tell a swap
//! from a slip of the pen. Where one change has more than half of the probability it is taken for true, and what is left is
//! asked again: a history may hold more than one.

use std::collections::{BTreeMap, BTreeSet};

use super::WearParameters;
use super::doubt::{self, ExplanationKind};
use super::filter::{Posterior, TimedReading};
use super::mixture::{MixedSnapshot, Part};
use super::outlook::{Outlook, Quantiles};
use super::process::{Extra, MissingRiding};
use super::start::Start;
use crate::reading::InstrumentCalibrations;
use crate::units::{Limit, ReferenceKilometres};

/// Readings before a doubted one that may be where the change happened.
const LOOK_BACK: usize = 3;

/// Doubted readings looked at in one round, those of the highest odds; the others are for the next.
const MOST_DOUBTED: usize = 4;

/// Changes found in one history at most.
const MOST_CHANGES: usize = 6;

/// Probability above which a change is taken for true.
const TAKEN: f64 = 0.5;

/// What is asked of missing riding: exposures from this on, reference km, each so much longer than the one before.
const MISSING_FROM: f64 = 20.0;
const MISSING_GROWS: f64 = 1.34;
const MISSING_STEPS: u16 = 24;

/// Where in the record a change happened.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub struct Place {
    /// Number of the reading, counted from 0 in order of exposure: the wrong one, or the first after the change.
    pub index: usize,
    /// That reading.
    pub reading: TimedReading,
    /// Exposure of the reading before it, or where the record begins: the change was made between the two.
    pub after: ReferenceKilometres,
}

/// One explanation, and what it makes of the chain.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Explanation {
    /// What it says.
    pub kind: ExplanationKind,
    /// Its probability, all places where it may have happened together.
    pub probability: f64,
    /// Where it most likely happened; `None` for [`ExplanationKind::AsRecorded`].
    pub place: Option<Place>,
    /// How much riding is missing, reference km; for [`ExplanationKind::MissingRiding`] of some probability.
    pub missing: Option<Quantiles>,
    walk: Walk,
}

impl Explanation {
    /// What is known of the chain if this is true. Its exposure counts from [`Explanation::counts_from`].
    #[must_use]
    pub const fn posterior(&self) -> &Posterior {
        &self.walk.posterior
    }

    /// Exposure on record at which this explanation has the chain begin, reference km: 0, or the middle of the interval in
    /// which a new one was put on.
    #[must_use]
    pub const fn counts_from(&self) -> f64 {
        self.walk.offset
    }

    /// What lies ahead if this is true; `at` counts as the record does.
    #[must_use]
    pub fn outlook(&self, at: ReferenceKilometres, limit: Limit) -> Outlook {
        self.walk.posterior.outlook(less(at, self.walk.offset), limit)
    }
}

/// One question asked of a record: what explains it.
#[derive(Debug, Clone, PartialEq)]
pub struct Doubt {
    explanations: Vec<Explanation>,
}

impl Doubt {
    /// Every explanation, the most probable first; their probabilities sum to 1.
    #[must_use]
    pub fn explanations(&self) -> &[Explanation] {
        &self.explanations
    }

    /// The most probable explanation.
    #[must_use]
    pub fn likeliest(&self) -> &Explanation {
        &self.explanations[0]
    }

    /// Probability of one kind.
    #[must_use]
    pub fn probability(&self, kind: ExplanationKind) -> f64 {
        self.explanations.iter().filter(|one| one.kind == kind).map(|one| one.probability).sum()
    }

    /// The chain under all explanations, each with its probability; `at` counts as the record does.
    #[must_use]
    pub fn outlook(&self, at: ReferenceKilometres, limit: Limit) -> Outlook {
        self.snapshot(at, limit).outlook()
    }

    /// Density of the elongation under all explanations, per percent, at the elongations of `grid`, percent; `at` counts as
    /// the record does.
    #[must_use]
    pub fn elongation_density(&self, at: ReferenceKilometres, grid: &[f64]) -> Vec<f64> {
        self.mixed(grid, |one| one.posterior().elongation_density(less(at, one.walk.offset), grid))
    }

    /// Probability under all explanations of being at or below the elongations of `grid`, percent; `at` counts as the
    /// record does.
    #[must_use]
    pub fn elongation_distribution(&self, at: ReferenceKilometres, grid: &[f64]) -> Vec<f64> {
        self.mixed(grid, |one| one.posterior().elongation_distribution(less(at, one.walk.offset), grid))
    }

    /// `Σ w_i f_i` on a grid.
    fn mixed(&self, grid: &[f64], of: impl Fn(&Explanation) -> Vec<f64>) -> Vec<f64> {
        let mut sum = vec![0.0; grid.len()];
        for one in &self.explanations {
            sum.iter_mut().zip(of(one)).for_each(|(sum, value)| *sum += one.probability * value);
        }
        sum
    }

    /// The same, for several questions.
    #[must_use]
    pub fn snapshot(&self, at: ReferenceKilometres, limit: Limit) -> MixedSnapshot<'_> {
        let parts = self.explanations.iter().map(|one| Part {
            weight: one.probability,
            posterior: one.posterior(),
            at: less(at, one.walk.offset),
        });
        MixedSnapshot::new(parts.collect(), at, limit)
    }
}

/// What explains a history with a reading that is in doubt.
#[derive(Debug, Clone, PartialEq)]
pub struct Explanations {
    doubts: Vec<Doubt>,
}

impl Explanations {
    /// The first question: what explains the record as it is.
    #[must_use]
    pub fn first(&self) -> &Doubt {
        &self.doubts[0]
    }

    /// What is left to ask when every change found is taken for true; the same as [`Explanations::first`] when none has
    /// more than half of the probability.
    #[must_use]
    pub fn last(&self) -> &Doubt {
        &self.doubts[self.doubts.len() - 1]
    }

    /// Changes that are more likely than not, in the order found: what would mend the record.
    pub fn changes(&self) -> impl Iterator<Item = &Explanation> {
        self.doubts.iter().map(Doubt::likeliest).filter(|one| is_change(one))
    }

    /// Whether the record is more likely right than not.
    #[must_use]
    pub fn is_as_recorded(&self) -> bool {
        self.changes().next().is_none()
    }

    /// The chain under all explanations, each with its probability, the changes found being taken for true but for the
    /// last question.
    #[must_use]
    pub fn outlook(&self, at: ReferenceKilometres, limit: Limit) -> Outlook {
        self.snapshot(at, limit).outlook()
    }

    /// The same, for several questions.
    #[must_use]
    pub fn snapshot(&self, at: ReferenceKilometres, limit: Limit) -> MixedSnapshot<'_> {
        self.telling().snapshot(at, limit)
    }

    /// The question whose answers make the chain's numbers.
    #[must_use]
    pub fn telling(&self) -> &Doubt {
        match self.doubts.as_slice() {
            // With nothing left to ask after the one change its own uncertainty counts.
            [only] | [only, _] => only,
            _ => self.last(),
        }
    }
}

fn is_change(one: &Explanation) -> bool {
    one.kind != ExplanationKind::AsRecorded && one.probability > TAKEN
}

impl Posterior {
    /// Whether some reading is in doubt, so that [`Posterior::explain`] has something to say.
    #[must_use]
    pub const fn is_doubted(&self) -> bool {
        self.doubted
    }

    /// What explains the readings of a chain, in any order: `None` when all of them agree with the record well enough
    /// that nothing else is worth asking.
    #[must_use]
    pub fn explain(
        parameters: &WearParameters,
        calibrations: &InstrumentCalibrations,
        readings: &[TimedReading],
    ) -> Option<Explanations> {
        let mut sorted = readings.to_vec();
        Self::put_in_order(&mut sorted);
        let mut record: Vec<Step> =
            sorted.into_iter().map(|reading| Step { reading, change: ExplanationKind::AsRecorded }).collect();
        let start = Walk::new(parameters, calibrations);
        let mut doubts = Vec::new();
        while doubts.len() <= MOST_CHANGES {
            let Some(doubt) = ask(&record, &start) else { break };
            let likeliest = doubt.likeliest();
            let change =
                likeliest.place.filter(|_| is_change(likeliest)).map(|at| (at.index, likeliest.kind));
            doubts.push(doubt);
            match change {
                Some((index, kind)) => record[index].change = kind,
                None => break,
            }
        }
        (!doubts.is_empty()).then_some(Explanations { doubts })
    }
}

/// A reading, and what is taken to be wrong with it or with the record before it.
#[derive(Debug, Clone, Copy)]
struct Step {
    reading: TimedReading,
    change: ExplanationKind,
}

/// The filter on its way along a record with changes.
#[derive(Debug, Clone, PartialEq)]
struct Walk {
    posterior: Posterior,
    /// Exposure on record at which the present chain's begins.
    offset: f64,
    /// Exposure at the reading before.
    last: f64,
    /// `ln p` of what belongs to earlier chains, and of numbers without meaning.
    log_evidence: f64,
}

impl Walk {
    fn new(parameters: &WearParameters, calibrations: &InstrumentCalibrations) -> Self {
        let posterior = Posterior::new(parameters, calibrations);
        Self { posterior, offset: 0.0, last: 0.0, log_evidence: 0.0 }
    }

    fn log_evidence(&self) -> f64 {
        self.log_evidence + self.posterior.log_evidence
    }

    /// Takes a step; the odds of something else when its reading is in doubt.
    fn take(&mut self, Step { reading, change }: Step) -> Option<f64> {
        let at = reading.at.get();
        let mut extra = reading.missing_riding.map(Extra::Missing);
        match change {
            ExplanationKind::AsRecorded => {}
            ExplanationKind::MissingRiding => extra = Some(Extra::Missing(MissingRiding::CERTAIN)),
            ExplanationKind::WrongReading => {
                let likelihood = reading.likelihood(&self.posterior.calibrations);
                self.log_evidence += doubt::log_density_of_wrong(&likelihood);
                self.last = at;
                return None;
            }
            ExplanationKind::UnrecordedSwap => {
                let within = at - self.last;
                self.log_evidence += self.posterior.log_evidence;
                let Posterior { parameters, calibrations, resolution, open, .. } = &self.posterior;
                let (parameters, open) = (parameters.with_start(Start::New), *open);
                let mut new = Posterior::with_resolution(&parameters, calibrations, *resolution);
                new.set_open_exposure(open);
                new.state.s = 0.5 * within;
                self.offset = at - new.state.s;
                self.posterior = new;
                extra = (within > 0.0).then_some(Extra::UpTo(within));
            }
        }
        self.last = at;
        self.posterior.take_in(TimedReading { at: less(reading.at, self.offset), ..reading }, extra);
        self.posterior.predictives().last().filter(|before| before.is_doubted()).map(|before| before.odds)
    }

    fn after(mut self, steps: &[Step]) -> Self {
        for step in steps {
            self.take(*step);
        }
        self
    }
}

fn less(at: ReferenceKilometres, offset: f64) -> ReferenceKilometres {
    ReferenceKilometres::new((at.get() - offset).max(0.0)).unwrap_or(at)
}

/// A change somewhere, and how it fares.
struct Candidate {
    kind: ExplanationKind,
    index: usize,
    log_weight: f64,
    walk: Walk,
}

/// Weighs the record as it is against each single change; `None` when nothing is in doubt.
fn ask(record: &[Step], start: &Walk) -> Option<Doubt> {
    let mut walk = start.clone();
    let mut doubted: Vec<(usize, f64)> = Vec::new();
    for (index, step) in record.iter().enumerate() {
        doubted.extend(walk.take(*step).map(|odds| (index, odds)));
    }
    doubted.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
    let places: BTreeSet<usize> = doubted
        .iter()
        .take(MOST_DOUBTED)
        .flat_map(|&(index, _)| index.saturating_sub(LOOK_BACK)..=index)
        .collect();
    let mut before = BTreeMap::new();
    let mut prefix = start.clone();
    for (index, step) in record.iter().enumerate().take(places.last()? + 1) {
        if places.contains(&index) {
            before.insert(index, prefix.clone());
        }
        prefix.take(*step);
    }
    let log_odds = |kind: ExplanationKind| (kind.prior() / ExplanationKind::AsRecorded.prior()).ln();
    let recorded =
        Candidate { kind: ExplanationKind::AsRecorded, index: 0, log_weight: walk.log_evidence(), walk };
    let mut candidates = vec![recorded];
    let unchanged = |index: &usize| record[*index].change == ExplanationKind::AsRecorded;
    for (&index, prefix) in before.iter().filter(|(index, _)| unchanged(index)) {
        let step = record[index];
        for &kind in ExplanationKind::ALL {
            if kind == ExplanationKind::AsRecorded {
                continue;
            }
            let mut walk = prefix.clone();
            walk.take(Step { change: kind, ..step });
            let walk = walk.after(&record[index + 1..]);
            candidates.push(Candidate {
                kind,
                index,
                log_weight: log_odds(kind) + walk.log_evidence(),
                walk,
            });
        }
    }
    let explanations = summed_up(candidates, record, &before);
    Some(Doubt { explanations })
}

/// One explanation a kind, the most probable first.
fn summed_up(
    candidates: Vec<Candidate>,
    record: &[Step],
    before: &BTreeMap<usize, Walk>,
) -> Vec<Explanation> {
    let largest = candidates.iter().map(|one| one.log_weight).fold(f64::NEG_INFINITY, f64::max);
    let weight = |one: &Candidate| (one.log_weight - largest).exp();
    let all: f64 = candidates.iter().map(weight).sum();
    let mut best: Vec<(Candidate, f64)> = Vec::new();
    for one in candidates {
        let own = weight(&one) / all;
        match best.iter_mut().find(|(other, _)| other.kind == one.kind) {
            Some((other, probability)) => {
                *probability += own;
                if one.log_weight > other.log_weight {
                    *other = one;
                }
            }
            None => best.push((one, own)),
        }
    }
    best.sort_by(|a, b| b.1.total_cmp(&a.1));
    let explained = |(Candidate { kind, index, walk, .. }, probability): (Candidate, f64)| {
        let place = (kind != ExplanationKind::AsRecorded).then(|| Place {
            index,
            reading: record[index].reading,
            after: before
                .get(&index)
                .and_then(|walk| ReferenceKilometres::new(walk.last).ok())
                .unwrap_or(ReferenceKilometres::ZERO),
        });
        let missing = before
            .get(&index)
            .filter(|_| kind == ExplanationKind::MissingRiding && probability > 0.05)
            .map(|prefix| missing_riding(prefix, &record[index..]));
        Explanation { kind, probability, place, missing, walk }
    };
    best.into_iter().map(explained).collect()
}

/// How much riding is missing before the first of these steps: the record walked with each of some exposures more.
fn missing_riding(prefix: &Walk, steps: &[Step]) -> Quantiles {
    let mean = MissingRiding::CERTAIN.mean.get();
    let extras: Vec<f64> =
        (0..MISSING_STEPS).map(|i| MISSING_FROM * MISSING_GROWS.powi(i32::from(i))).collect();
    let logs: Vec<f64> = extras
        .iter()
        .map(|extra| {
            let mut walk = prefix.clone();
            walk.offset -= extra;
            // ∫ e^{−x/m} p(readings | x) dx over ln x
            walk.after(steps).log_evidence() - extra / mean + extra.ln()
        })
        .collect();
    let largest = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let weights: Vec<f64> = logs.iter().map(|log| (log - largest).exp()).collect();
    let all: f64 = weights.iter().sum();
    let quantile = |p: f64| {
        let (mut below, half) = (0.0, MISSING_GROWS.sqrt());
        for (extra, weight) in extras.iter().zip(&weights) {
            if below + weight >= p * all {
                // Even in ln x within a step.
                return extra / half * MISSING_GROWS.powf((p * all - below) / weight);
            }
            below += weight;
        }
        extras[extras.len() - 1]
    };
    Quantiles { p10: quantile(0.1), p50: quantile(0.5), p90: quantile(0.9) }
}
