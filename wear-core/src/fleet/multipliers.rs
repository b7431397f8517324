//! What water, gravel, mud, the trainer and neglect do to wear, learned from a fleet.
//!
//! A chain's exposure is `s(β) = Σ_c m_c(β)·(b_c + (N(β) − 1)·n_c)` over contexts c: `b_c` reference kilometres before
//! the context, of which `n_c` count as neglected (0 up to 200 km since care, all beyond 800). Multipliers are
//! log-linear, `ln m_c = ln m̂_c + Σ_k β_k` over the covariates k that c has, and `ln(N − 1) = ln(N̂ − 1) + β_care`; hats
//! are the priors' medians, `β_k ~ N(0, σ_k²)` with the priors' spreads. A covariate is learned when at least 50 chains
//! vary in it; otherwise β_k is 0 and the prior stands.
//!
//! β is found together with the groups' means, as a fleet that rides much in rain has both a high mean and a wet
//! multiplier that could explain it, and with what tools and people err by: see [`super::LearnedTools`].

use super::calibration::{self, ChainHistory, FleetFit};
use super::drift::Days;
use super::joint::{self, Exposed, Shift};
use super::read_with::ReadWith;
use super::terms::{LearnedTerms, LubricantShare};
use crate::bounds;
use crate::degradation::{Start, TimedReading, WearParameters};
use crate::exposure::care::CareModel;
use crate::exposure::{Conditions, Context, ContextMultipliers, Multiplier, Surface};
use crate::reading::{InstrumentCalibrations, Measurement};
use crate::units::{LogSd, Probability, ReferenceKilometres};
use crate::vocabulary::vocabulary;

/// Chains that have to vary in a covariate before it is learned (A).
pub const CHAINS_TO_LEARN: usize = 50;

/// A chain varies when its share of a covariate is this far from the fleet's mean share (A).
const VARIES: f64 = 0.05;

/// Number of covariates.
pub const COVARIATES: usize = Covariate::ALL.len();

/// Spread of the logarithm of what neglect adds (A).
const CARE_LN_SD: f64 = 0.4;

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
    /// Of a chain of which only the sum is known: taken to be of dry pavement, looked after.
    #[must_use]
    pub fn unknown(at: ReferenceKilometres) -> Self {
        let mut exposure = Self::default();
        exposure.base[Context::PavedDry.index()] = at.get();
        exposure
    }

    /// As it was written down: each context with reference kilometres before it, and those of them that count as neglected.
    /// Numbers below 0 count as 0.
    #[must_use]
    pub fn kept(contexts: impl IntoIterator<Item = (Context, f64, f64)>) -> Self {
        let mut exposure = Self::default();
        for (context, base, neglected) in contexts {
            exposure.base[context.index()] = base.max(0.0);
            exposure.neglected[context.index()] = neglected.max(0.0);
        }
        exposure
    }

    /// What there is to be written down, for [`ContextExposure::kept`].
    pub fn contexts(&self) -> impl Iterator<Item = (Context, f64, f64)> + '_ {
        let each = Context::ALL
            .iter()
            .map(|&context| (context, self.base[context.index()], self.neglected[context.index()]));
        each.filter(|(_, base, _)| *base > 0.0)
    }

    pub(crate) fn add_km(&mut self, context: Context, base: f64, neglect: Probability) {
        self.base[context.index()] += base;
        self.neglected[context.index()] += base * neglect.get();
    }

    /// Adds exposure before its context ([`crate::exposure::RideExposure::reference_km_before_context`]), with the share
    /// of neglect that [`CareModel::neglect`] gives.
    pub fn add(&mut self, context: Context, base: ReferenceKilometres, neglect: Probability) {
        self.add_km(context, base.get(), neglect);
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

/// A chain's exposure at a reading.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ReadExposure {
    /// As it counts, contexts and care included.
    pub at: ReferenceKilometres,
    /// By context, before contexts and care are counted.
    pub by_context: ContextExposure,
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
    /// Its bike; `None` when nobody said.
    pub bike: Option<&'a str>,
    /// Its readings, in any order.
    pub readings: &'a [ExposedReading],
    /// What each reading was taken with and by whom: see [`ChainHistory::read_with`].
    pub read_with: &'a [ReadWith],
    /// The days of its readings: see [`ChainHistory::days`].
    pub days: Days<'a>,
    /// Its model; `None` when nobody said.
    pub model: Option<&'a str>,
    /// What it was lubricated with: see [`ChainHistory::lubricants`].
    pub lubricants: &'a [LubricantShare],
}

impl<'a> ExposedChain<'a> {
    /// A chain that was new when its record began, of a bike that nobody named, read with tools that nobody named.
    #[must_use]
    pub const fn new(group: &'a str, readings: &'a [ExposedReading]) -> Self {
        let days = Days { begun: None, read: &[] };
        Self {
            group,
            start: Start::New,
            bike: None,
            readings,
            read_with: &[],
            days,
            model: None,
            lubricants: &[],
        }
    }

    /// The same with a record that begins so.
    #[must_use]
    pub const fn starting(self, start: Start) -> Self {
        Self { start, ..self }
    }
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

impl LearnedCovariate {
    /// What is believed of surface, water, a trainer and neglect with these, one of each covariate.
    #[must_use]
    pub fn conditions(covariates: &[Self; COVARIATES]) -> Conditions {
        let believed = Conditions::default();
        let prior = MultiplierPrior { multipliers: believed.multipliers(), care: believed.care() };
        let (_, care) = prior.shifted(&covariates.map(|covariate| covariate.ln_shift));
        Conditions::new(prior.spread(covariates), care)
    }
}

/// Learns multipliers, tools, people, the fast phase and rates together. `base` holds what isn't learned of the wear
/// process, `priors` and `care` what is believed before.
#[must_use]
pub fn fit(
    chains: &[ExposedChain<'_>],
    base: &WearParameters,
    calibrations: &InstrumentCalibrations,
    priors: &ContextMultipliers,
    care: &CareModel,
) -> MultiplierFit {
    let prior = MultiplierPrior { multipliers: priors, care };
    let chains_varying: [usize; COVARIATES] = std::array::from_fn(|k| varying(chains, Covariate::ALL[k]));
    let learned = chains_varying.map(|chains| chains >= CHAINS_TO_LEARN);
    let believed = histories(chains, &timed(chains, priors, care), |histories| {
        let readings: Vec<&[ExposedReading]> = chains.iter().map(|chain| chain.readings).collect();
        let exposed = Exposed { readings: &readings, prior, learned };
        let exposed = Some(exposed).filter(|_| learned.contains(&true));
        joint::fit(histories, exposed, base, calibrations)
    });
    let covariates = std::array::from_fn(|k| {
        let before = Shift { mean: 0.0, sd: prior.sd(Covariate::ALL[k]) };
        let found = believed.as_ref().filter(|_| learned[k]).map_or(before, |found| found.covariates[k]);
        LearnedCovariate {
            covariate: Covariate::ALL[k],
            ln_shift: found.mean,
            ln_sd: found.sd,
            chains: chains_varying[k],
            learned: learned[k],
        }
    });
    let (shifted, care) = prior.shifted(&covariates.map(|covariate| covariate.ln_shift));
    let fleet = histories(chains, &timed(chains, &shifted, &care), |histories| match &believed {
        Some(found) => calibration::fit_found(histories, found, base, calibrations),
        None => calibration::fit_groups(histories, &LearnedTerms::default(), base, calibrations),
    });
    MultiplierFit { multipliers: prior.spread(&covariates), care, covariates, fleet }
}

/// Each chain's readings by these multipliers.
fn timed(
    chains: &[ExposedChain<'_>],
    multipliers: &ContextMultipliers,
    care: &CareModel,
) -> Vec<Vec<TimedReading>> {
    let at = |exposure: &ContextExposure| {
        let longest = bounds::REFERENCE_KM.maximum;
        ReferenceKilometres::new(exposure.reference_km(multipliers, care).min(longest))
            .unwrap_or(ReferenceKilometres::ZERO)
    };
    let one = |reading: &ExposedReading| {
        TimedReading::new(at(&reading.exposure), reading.measurement)
            .with_exposure_ln_sd(reading.exposure_ln_sd)
    };
    chains.iter().map(|chain| chain.readings.iter().map(one).collect()).collect()
}

/// What `then` makes of the chains with readings timed so.
fn histories<R>(
    chains: &[ExposedChain<'_>],
    timed: &[Vec<TimedReading>],
    then: impl FnOnce(&[ChainHistory<'_>]) -> R,
) -> R {
    let all: Vec<ChainHistory<'_>> = chains
        .iter()
        .zip(timed)
        .map(|(chain, readings)| ChainHistory {
            bike: chain.bike,
            model: chain.model,
            ..ChainHistory::new(chain.group, readings)
                .starting(chain.start)
                .read_with(chain.read_with)
                .on_days(chain.days)
                .lubricated(chain.lubricants)
        })
        .collect();
    then(&all)
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

/// What is believed of contexts and care before a fleet has told.
#[derive(Debug, Clone, Copy)]
pub(super) struct MultiplierPrior<'a> {
    multipliers: &'a ContextMultipliers,
    care: &'a CareModel,
}

impl MultiplierPrior<'_> {
    /// Spread of a covariate's logarithm.
    pub(super) fn sd(&self, covariate: Covariate) -> f64 {
        covariate.prior_sd(self.multipliers)
    }

    /// Multipliers and care with the covariates moved.
    pub(super) fn shifted(&self, shift: &[f64; COVARIATES]) -> (ContextMultipliers, CareModel) {
        let mut multipliers = *self.multipliers;
        for &context in Context::ALL {
            let moved: f64 =
                Covariate::ALL.iter().zip(shift).filter(|(k, _)| k.is_in(context)).map(|(_, by)| by).sum();
            let Multiplier { median, ln_sd } = self.multipliers.get(context);
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
                before += known.covariate.prior_sd(self.multipliers).powi(2);
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
}
