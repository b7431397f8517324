//! What water, gravel, mud, the trainer and neglect do to wear, learned from a fleet.
//!
//! A chain's exposure is `s(β) = Σ_c m_c(β)·(b_c + (N(β) − 1)·n_c)` over contexts c: `b_c` reference kilometres before
//! the context, of which `n_c` count as neglected (0 up to 200 km since care, all beyond 800). Multipliers are
//! log-linear, `ln m_c = ln m̂_c + Σ_k β_k` over the covariates k that c has, and `ln(N − 1) = ln(N̂ − 1) + β_care`; hats
//! are the priors' medians, `β_k ~ N(0, σ_k²)` with the priors' spreads. A covariate is learned when at least 50 chains
//! vary in it; otherwise β_k is 0 and the prior stands.
//!
//! β and the groups' means are found together, as a fleet that rides much in rain has both a high mean and a wet
//! multiplier that could explain it. Each chain's evidence as a function of its rate is taken where β stands and a
//! little ahead of it in each covariate; its slopes and their outer products give the next step, which is halved until
//! the posterior rises. φ is that of [`calibration::fit`] before, and found anew after half of the steps.

use super::calibration::{self, ChainHistory, FleetFit};
use super::multiplier_scores::{AHEAD, COVARIATES, Groups, Sloped, scores};
use super::rate_likelihood::RateLikelihood;
use crate::degradation::{Start, TimedReading, WearParameters};
use crate::exposure::care::CareModel;
use crate::exposure::{Context, ContextMultipliers, Multiplier, Surface};
use crate::reading::{InstrumentCalibrations, Measurement};
use crate::units::{LogSd, Probability, ReferenceKilometres};
use crate::vocabulary::vocabulary;

/// Chains that have to vary in a covariate before it is learned (A).
pub const CHAINS_TO_LEARN: usize = 50;

/// A chain varies when its share of a covariate is this far from the fleet's mean share (A).
const VARIES: f64 = 0.05;

/// The search looks at no more chains than this, taken evenly.
const CHAINS_SEARCHED: usize = 400;

/// Spread of the logarithm of what neglect adds (A).
const CARE_LN_SD: f64 = 0.4;

/// No covariate moves further from its prior, in the logarithm; nor further in one step.
const FURTHEST: f64 = 1.5;
const TRUSTED: f64 = 0.4;

/// A step is halved no further than this.
const SMALLEST_SHARE: f64 = 0.1;

/// Spread of rates that a chain's evidence is taken over.
const WIDE_SD: f64 = 0.7;

/// Most steps of one climb; it is settled when no covariate moves by more.
const STEPS: usize = 6;
const SETTLED: f64 = 0.02;

/// How often a climb begins, each with φ found where the one before ended.
const CLIMBS: usize = 2;

vocabulary! {
    /// What a multiplier can be learned for.
    Covariate, "covariate" {
        /// Water, on any surface.
        Wet = "wet",
        /// Gravel.
        Gravel = "gravel",
        /// Mud or sand.
        Mud = "mud",
        /// A trainer.
        Indoor = "indoor",
        /// Distance since care.
        Care = "care",
    }
}

impl Covariate {
    /// Whether a context has it. No context has [`Covariate::Care`].
    #[must_use]
    pub fn is_in(self, context: Context) -> bool {
        match self {
            Self::Wet => context.is_wet(),
            Self::Gravel => context.surface() == Surface::Gravel,
            Self::Mud => context.surface() == Surface::Mud,
            Self::Indoor => context.surface() == Surface::Indoor,
            Self::Care => false,
        }
    }

    fn prior_sd(self, priors: &ContextMultipliers) -> f64 {
        let of = |context| priors.get(context).ln_sd;
        match self {
            Self::Wet => of(Context::PavedWet),
            Self::Gravel => of(Context::GravelDry),
            Self::Mud => of(Context::MudDry),
            Self::Indoor => of(Context::Indoor),
            Self::Care => CARE_LN_SD,
        }
    }
}

/// Exposure since a chain's record began, by context, before contexts and care are counted.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct ContextExposure {
    base: [f64; Context::COUNT],
    neglected: [f64; Context::COUNT],
}

impl ContextExposure {
    /// Adds exposure before its context ([`crate::exposure::RideExposure::reference_km_before_context`]), with the share
    /// of neglect that [`CareModel::neglect`] gives.
    pub fn add(&mut self, context: Context, base: ReferenceKilometres, neglect: Probability) {
        self.base[context.index()] += base.get();
        self.neglected[context.index()] += base.get() * neglect.get();
    }

    /// Reference kilometres with these multipliers and this care.
    #[must_use]
    pub fn reference_km(&self, multipliers: &ContextMultipliers, care: &CareModel) -> f64 {
        Context::ALL
            .iter()
            .map(|&context| {
                let (base, neglected) = (self.base[context.index()], self.neglected[context.index()]);
                multipliers.get(context).median * (base + (care.neglected() - 1.0) * neglected)
            })
            .sum()
    }

    /// Share of one covariate in the exposure before contexts, 0 to 1.
    #[must_use]
    pub fn share(&self, covariate: Covariate) -> f64 {
        let all: f64 = self.base.iter().sum();
        let part: f64 = match covariate {
            Covariate::Care => self.neglected.iter().sum(),
            _ => Context::ALL
                .iter()
                .filter(|context| covariate.is_in(**context))
                .map(|context| self.base[context.index()])
                .sum(),
        };
        if all > 0.0 { part / all } else { 0.0 }
    }
}

/// A reading with the exposure up to it, by context.
#[derive(Debug, Clone, PartialEq)]
pub struct ExposedReading {
    /// Exposure since the chain's record began.
    pub exposure: ContextExposure,
    /// What was read.
    pub measurement: Measurement,
    /// How far the exposure since the reading before may be off, apart from what the multipliers say: see
    /// [`TimedReading::exposure_ln_sd`].
    pub exposure_ln_sd: LogSd,
}

/// One chain's evidence.
#[derive(Debug, Clone, PartialEq)]
pub struct ExposedChain<'a> {
    /// Its group.
    pub group: &'a str,
    /// How its record begins: with a new chain, or as found.
    pub start: Start,
    /// Its readings, in any order.
    pub readings: &'a [ExposedReading],
}

/// What was learned of one covariate.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LearnedCovariate {
    /// Which.
    pub covariate: Covariate,
    /// β, the change of the logarithm against the prior's median; 0 when not learned.
    pub ln_shift: f64,
    /// Standard deviation of β: what is left of the prior's, or all of it.
    pub ln_sd: f64,
    /// Chains that vary in it.
    pub chains: usize,
    /// Whether these were enough.
    pub learned: bool,
}

/// What a fleet says of contexts and care, and of its groups with these.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct MultiplierFit {
    /// Multipliers with what was learned; the others are the priors.
    pub multipliers: ContextMultipliers,
    /// Care with what was learned.
    pub care: CareModel,
    /// Each covariate, in the order of [`Covariate::ALL`].
    pub covariates: [LearnedCovariate; COVARIATES],
    /// The fleet, with exposures by the learned multipliers.
    pub fleet: FleetFit,
}

/// Learns multipliers and rates together. `base` holds what isn't learned of the wear process, `priors` and `care` what
/// is believed before.
#[must_use]
pub fn fit(
    chains: &[ExposedChain<'_>],
    base: &WearParameters,
    calibrations: &InstrumentCalibrations,
    priors: &ContextMultipliers,
    care: &CareModel,
) -> MultiplierFit {
    let varying = Covariate::ALL.iter().map(|&covariate| varying(chains, covariate));
    let mut covariates = [LearnedCovariate {
        covariate: Covariate::Wet,
        ln_shift: 0.0,
        ln_sd: 0.0,
        chains: 0,
        learned: false,
    }; COVARIATES];
    for ((slot, &covariate), chains) in covariates.iter_mut().zip(Covariate::ALL).zip(varying) {
        let learned = chains >= CHAINS_TO_LEARN;
        *slot =
            LearnedCovariate { covariate, ln_shift: 0.0, ln_sd: covariate.prior_sd(priors), chains, learned };
    }
    let model = Model { base, calibrations, priors, care };
    let mut fleet = model.pool(chains, &[0.0; COVARIATES]);
    if covariates.iter().any(|covariate| covariate.learned) {
        let (mut shift, mut sds) = ([0.0; COVARIATES], [0.0; COVARIATES]);
        for _ in 0..CLIMBS {
            (shift, sds) = model.climb(chains, &fleet, &covariates, shift);
            fleet = model.pool(chains, &shift);
        }
        for (k, covariate) in covariates.iter_mut().enumerate().filter(|(_, covariate)| covariate.learned) {
            covariate.ln_shift = shift[k];
            covariate.ln_sd = sds[k].min(covariate.ln_sd);
        }
    }
    let shift = covariates.map(|covariate| covariate.ln_shift);
    MultiplierFit { multipliers: model.spread(&covariates), care: model.shifted(&shift).1, covariates, fleet }
}

/// How many chains that were read vary in a covariate.
fn varying(chains: &[ExposedChain<'_>], covariate: Covariate) -> usize {
    let shares: Vec<f64> = chains
        .iter()
        .filter_map(|chain| {
            let km = |exposure: &ContextExposure| exposure.base.iter().sum::<f64>();
            let exposures = chain.readings.iter().map(|reading| &reading.exposure);
            exposures.max_by(|a, b| km(a).total_cmp(&km(b))).map(|last| last.share(covariate))
        })
        .collect();
    let mean = shares.iter().sum::<f64>() / shares.len().max(1) as f64;
    shares.iter().filter(|share| (*share - mean).abs() >= VARIES).count()
}

struct Model<'a> {
    base: &'a WearParameters,
    calibrations: &'a InstrumentCalibrations,
    priors: &'a ContextMultipliers,
    care: &'a CareModel,
}

/// A group's place among the means, and its chain.
type Placed<'a> = (usize, &'a ExposedChain<'a>);

impl Model<'_> {
    /// Multipliers and care with the covariates moved.
    fn shifted(&self, shift: &[f64; COVARIATES]) -> (ContextMultipliers, CareModel) {
        let mut multipliers = *self.priors;
        for &context in Context::ALL {
            let moved: f64 =
                Covariate::ALL.iter().zip(shift).filter(|(k, _)| k.is_in(context)).map(|(_, by)| by).sum();
            let Multiplier { median, ln_sd } = self.priors.get(context);
            let moved = Multiplier { median: (median * moved.exp()).clamp(0.05, 20.0), ln_sd };
            multipliers = multipliers.with(context, moved).unwrap_or(multipliers);
        }
        let added = (self.care.neglected() - 1.0) * shift[Covariate::Care as usize].exp();
        let care = self.care.with_neglected((1.0 + added).min(20.0)).unwrap_or(*self.care);
        (multipliers, care)
    }

    /// The learned multipliers with their spreads: a context's prior spread shrinks as those of its covariates did.
    fn spread(&self, covariates: &[LearnedCovariate; COVARIATES]) -> ContextMultipliers {
        let mut multipliers = self.shifted(&covariates.map(|covariate| covariate.ln_shift)).0;
        for &context in Context::ALL {
            let (mut before, mut after) = (0.0, 0.0);
            for known in covariates.iter().filter(|known| known.covariate.is_in(context)) {
                before += known.covariate.prior_sd(self.priors).powi(2);
                after += known.ln_sd.powi(2);
            }
            if before > 0.0 {
                let Multiplier { median, ln_sd } = multipliers.get(context);
                let spread = Multiplier { median, ln_sd: ln_sd * (after / before).sqrt() };
                multipliers = multipliers.with(context, spread).unwrap_or(multipliers);
            }
        }
        multipliers
    }

    fn timed(&self, readings: &[ExposedReading], shift: &[f64; COVARIATES]) -> Vec<TimedReading> {
        let (multipliers, care) = self.shifted(shift);
        readings
            .iter()
            .filter_map(|reading| {
                let at = ReferenceKilometres::new(reading.exposure.reference_km(&multipliers, &care)).ok()?;
                Some(TimedReading::new(at, reading.measurement).with_exposure_ln_sd(reading.exposure_ln_sd))
            })
            .collect()
    }

    fn pool(&self, chains: &[ExposedChain<'_>], shift: &[f64; COVARIATES]) -> FleetFit {
        let timed: Vec<Vec<TimedReading>> =
            chains.iter().map(|chain| self.timed(chain.readings, shift)).collect();
        let histories: Vec<ChainHistory<'_>> = chains
            .iter()
            .zip(&timed)
            .map(|(chain, readings)| ChainHistory::new(chain.group, readings).starting(chain.start))
            .collect();
        calibration::fit_groups(&histories, self.base, self.calibrations)
    }

    /// The most probable shifts from where they stand, and their standard deviations, given φ of the fleet.
    fn climb(
        &self,
        chains: &[ExposedChain<'_>],
        fleet: &FleetFit,
        covariates: &[LearnedCovariate; COVARIATES],
        mut shift: [f64; COVARIATES],
    ) -> ([f64; COVARIATES], [f64; COVARIATES]) {
        let names: Vec<&str> = fleet.groups.keys().map(String::as_str).collect();
        let read: Vec<Placed<'_>> = chains
            .iter()
            .filter(|chain| !chain.readings.is_empty())
            .filter_map(|chain| Some((names.binary_search(&chain.group).ok()?, chain)))
            .collect();
        let count = read.len().min(CHAINS_SEARCHED);
        let read: Vec<Placed<'_>> = (0..count).map(|i| read[i * read.len() / count.max(1)]).collect();
        let precision = covariates.map(|known| {
            if known.learned { known.covariate.prior_sd(self.priors).powi(-2) } else { f64::INFINITY }
        });
        let means = fleet.groups.values().map(|group| group.mean_log_rate).collect();
        let mut groups = Groups { means, tau: fleet.sd_within };
        let mut taken = self.sloped(&read, fleet.scale, &shift, &precision);
        let mut sds = covariates.map(|known| known.ln_sd);
        for _ in 0..STEPS {
            groups.settle_spread(&taken, fleet);
            let here = scores(&taken, &groups, fleet, shift, precision);
            let Some(step) = here.step() else { break };
            sds = step.sds;
            let largest = step.shift.iter().fold(TRUSTED, |most: f64, by| most.max(by.abs()));
            let mut share = TRUSTED / largest;
            let before = shift;
            loop {
                let mut to = before;
                for (to, by) in to.iter_mut().zip(step.shift) {
                    *to = (*to + share * by).clamp(-FURTHEST, FURTHEST);
                }
                let means =
                    groups.means.iter().zip(&step.means).map(|(mean, by)| mean + share * by).collect();
                let moved = Groups { means, tau: groups.tau };
                let there = self.sloped(&read, fleet.scale, &to, &precision);
                if scores(&there, &moved, fleet, to, precision).log_posterior >= here.log_posterior {
                    (shift, groups, taken) = (to, moved, there);
                    break;
                }
                share *= 0.5;
                if share < SMALLEST_SHARE {
                    break;
                }
            }
            let moved = shift.iter().zip(before).map(|(to, from)| (to - from).abs()).fold(0.0, f64::max);
            if moved < SETTLED {
                break;
            }
        }
        if let Some(step) = scores(&taken, &groups, fleet, shift, precision).step() {
            sds = step.sds;
        }
        (shift, sds)
    }

    /// Each chain's evidence at the shifts and a little ahead.
    fn sloped(
        &self,
        read: &[Placed<'_>],
        scale: f64,
        shift: &[f64; COVARIATES],
        precision: &[f64; COVARIATES],
    ) -> Vec<Sloped> {
        let wide = self
            .base
            .with_scale(scale)
            .and_then(|p| p.with_log_rate(self.base.mean_log_rate(), WIDE_SD))
            .unwrap_or(*self.base);
        let evidence = |chain: &ExposedChain<'_>, shift: &[f64; COVARIATES]| {
            let wide = wide.with_start(chain.start);
            RateLikelihood::of(&wide, self.calibrations, &self.timed(chain.readings, shift))
        };
        calibration::by_threads(read, |&(group, chain): &Placed<'_>| {
            let at = evidence(chain, shift)?;
            let ahead = std::array::from_fn(|k| {
                let touched = |reading: &ExposedReading| reading.exposure.share(Covariate::ALL[k]) > 0.0;
                if precision[k].is_infinite() || !chain.readings.iter().any(touched) {
                    return None;
                }
                let mut to = *shift;
                to[k] += AHEAD;
                evidence(chain, &to)
            });
            Some(Sloped { group, at, ahead })
        })
    }
}
