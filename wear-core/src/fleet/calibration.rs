//! Partial pooling: what the chains of a fleet say of their groups.
//!
//! `ln θ_i ~ N(µ_g, τ²)` within group g, `µ_g ~ N(m, ω²)` among the groups, `m ~ N(default, 0.5²)`. Each chain's
//! readings are integrated over its elongation and its rate, so gauges (interval data), unequal schedules and chains
//! that came off early all count for what they say. τ, ω and φ have weak priors. A group of three chains stays near
//! the fleet, and its prediction is wider by what is unknown of its mean; a group of three hundred speaks for itself.

use std::collections::BTreeMap;
use std::num::NonZero;

use super::bikes::{self, BikeShare, ChainLevel};
use super::drift::{Days, Drift};
use super::joint::{self, JointFit};
use super::rate_likelihood::{RateLikelihood, RateMoments};
use super::read_with::{ReadWith, Tool};
use super::terms::{self, Design, LearnedTerms, Level, LubricantShare, Term};
use super::tools::LearnedTools;
use crate::degradation::{FastPhase, Start, TimedReading, WearParameters};
use crate::reading::InstrumentCalibrations;
use crate::units::LogSd;

/// Spread of a fleet's mean round the default (A).
pub(super) const FLEET_SD: f64 = 0.5;

/// Prior guesses of τ and ω, and how many chains or groups each guess is worth (A).
pub(super) const TAU_PRIOR: (f64, f64) = (0.35, 3.0);
pub(super) const OMEGA_PRIOR: (f64, f64) = (0.2, 2.0);

/// Spread of ln φ round the default (A).
const LOG_SCALE_SD: f64 = 1.0;

/// φ is learned from more than this many chains.
const CHAINS_FOR_SCALE: usize = 30;

/// φ is searched on at most this many chains, taken evenly.
const CHAINS_SEARCHED: usize = 200;

/// φ lies between these, percent.
const SCALES: (f64, f64) = (0.000_5, 0.2);

/// Prior that reaches every rate that matters.
const WIDE_SD: f64 = 0.7;

/// τ and ω lie between these.
const SMALLEST_SPREAD: f64 = 0.1;
const LARGEST_SPREAD: f64 = 1.5;

/// Steps of each search, and the change of a mean or of ln τ at which it stops.
const MOST_STEPS: usize = 40;
const SETTLED: f64 = 2e-4;

/// One chain's evidence.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct ChainHistory<'a> {
    /// Its group.
    pub group: &'a str,
    /// Its readings, in any order; none says nothing.
    pub readings: &'a [TimedReading],
    /// How its record begins.
    pub start: Start,
    /// Its bike; `None` when nobody said: then it shares nothing with other chains but the group.
    pub bike: Option<&'a str>,
    /// What each reading was taken with and by whom, in the order of `readings`. Readings beyond its end were taken with a
    /// tool and by a person whom nobody named.
    pub read_with: &'a [ReadWith],
    /// The days of its readings; without any it says nothing of how wear drifts.
    pub days: Days<'a>,
    /// Its model; `None` when nobody said.
    pub model: Option<&'a str>,
    /// What it was lubricated with, by shares of its exposure that sum to 1 at most.
    pub lubricants: &'a [LubricantShare],
}

impl<'a> ChainHistory<'a> {
    /// A chain that was new when its record began.
    #[must_use]
    pub const fn new(group: &'a str, readings: &'a [TimedReading]) -> Self {
        Self {
            group,
            readings,
            start: Start::New,
            bike: None,
            read_with: &[],
            days: Days { begun: None, read: &[] },
            model: None,
            lubricants: &[],
        }
    }

    /// The same with a record that begins so. A chain as found is one of those that last: it tells the group's rate
    /// through `ln θ ~ N(µ − τ², τ²)`, so that µ is that of all chains, new ones among them.
    #[must_use]
    pub const fn starting(self, start: Start) -> Self {
        Self { start, ..self }
    }

    /// The same on a bike of this name.
    #[must_use]
    pub const fn on_bike(self, bike: &'a str) -> Self {
        Self { bike: Some(bike), ..self }
    }

    /// The same read so: see [`ChainHistory::read_with`].
    #[must_use]
    pub const fn read_with(self, read_with: &'a [ReadWith]) -> Self {
        Self { read_with, ..self }
    }

    /// The same read on these days.
    #[must_use]
    pub const fn on_days(self, days: Days<'a>) -> Self {
        Self { days, ..self }
    }

    /// The same of this model.
    #[must_use]
    pub const fn of_model(self, model: &'a str) -> Self {
        Self { model: Some(model), ..self }
    }

    /// The same ridden under these lubricants.
    #[must_use]
    pub const fn lubricated(self, lubricants: &'a [LubricantShare]) -> Self {
        Self { lubricants, ..self }
    }

    /// Whether the day of each reading is known.
    pub(super) const fn has_days(&self) -> bool {
        self.days.read.len() >= self.readings.len()
    }

    /// Each reading with its tool and its person.
    pub(super) fn readings_with_tools(
        &self,
    ) -> impl Iterator<Item = (TimedReading, Tool, Option<&'a str>)> + use<'a> {
        let nobody = std::iter::repeat((None, None));
        let named = self.read_with.iter().map(|with| (with.tool.as_deref(), with.person.as_deref()));
        self.readings.iter().zip(named.chain(nobody)).map(|(timed, (tool, person))| {
            let instrument = timed.measurement.instrument();
            (*timed, Tool { instrument, name: tool.map(str::to_owned) }, person)
        })
    }
}

/// What was learned of one group.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct GroupFit {
    /// Parameters for its chains; the spread includes what is unknown of the group's mean.
    pub parameters: WearParameters,
    /// µ_g, of its usual mix of models and lubricants and, where wear drifts, of the latest day.
    pub mean_log_rate: f64,
    /// Standard deviation of what is known of µ_g.
    pub mean_log_rate_sd: f64,
    /// Chains in it.
    pub chains: usize,
    /// Chains in it that have been read.
    pub chains_read: usize,
    level: Level,
}

/// What was learned of a fleet.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct FleetFit {
    /// Each group by name.
    pub groups: BTreeMap<String, GroupFit>,
    /// Parameters for a chain of no known group.
    pub fleet: WearParameters,
    /// τ, the spread of ln θ within groups.
    pub sd_within: f64,
    /// ω, the spread of µ_g among groups.
    pub sd_among: f64,
    /// φ, percent.
    pub scale: f64,
    /// Whether φ was learned.
    pub scale_learned: bool,
    /// How tools and people err.
    pub tools: LearnedTools,
    /// The fast phase; none where no chain speaks for one.
    pub fast_phase: FastPhase,
    /// Whether enough chains have been read far enough for a fast phase to show.
    pub fast_phase_sought: bool,
    /// κ, the share of τ² that is the bikes'; 0 when too few bikes have had two chains read.
    pub bike_share: f64,
    /// What models and lubricants are worth.
    pub terms: LearnedTerms,
    /// How wear drifts over the calendar; `None` where fewer than ten chains have dates.
    pub drift: Option<Drift>,
    /// What a chain that was read says of the mean of ln θ, on average: one over a variance.
    pub information_per_chain: f64,
    level: Level,
    chains: Vec<OnBike>,
    bikes: BTreeMap<String, Vec<usize>>,
}

/// A chain's place among the others of its bike.
#[derive(Debug, Clone, PartialEq)]
struct OnBike {
    group: String,
    bike: Option<String>,
    shares: Option<Vec<f64>>,
    message: Option<ChainLevel>,
}

impl FleetFit {
    /// Parameters for a chain of `group`.
    #[must_use]
    pub fn parameters(&self, group: &str) -> &WearParameters {
        self.groups.get(group).map_or(&self.fleet, |fit| &fit.parameters)
    }

    /// Parameters for a chain of this model in `group`, ridden under these lubricants. One of which neither is known is of the
    /// group's usual ones.
    #[must_use]
    pub fn parameters_of(
        &self,
        group: &str,
        model: Option<&str>,
        lubricants: &[LubricantShare],
    ) -> WearParameters {
        self.parameters_at(group, self.shares(model, lubricants).as_deref())
    }

    fn shares(&self, model: Option<&str>, lubricants: &[LubricantShare]) -> Option<Vec<f64>> {
        let design = terms::design(self.terms.terms(), model, lubricants);
        (!design.is_empty()).then(|| self.terms.dense(&design))
    }

    fn parameters_at(&self, group: &str, shares: Option<&[f64]>) -> WearParameters {
        if shares.is_none() {
            return *self.parameters(group);
        }
        let level = self.groups.get(group).map_or(&self.level, |fit| &fit.level);
        spread_round(&self.fleet, self.sd_within, level.of_chains(&self.terms, shares))
    }

    /// The usual mix of models and lubricants of a group's chains, or of the fleet's where there is no such group: shares by
    /// term.
    #[must_use]
    pub fn usual(&self, group: &str) -> Vec<(Term, f64)> {
        let level = self.groups.get(group).map_or(&self.level, |fit| &fit.level);
        self.terms.terms().iter().cloned().zip(level.usual().iter().copied()).collect()
    }

    /// Parameters for the next chain of a bike in `group`, of which the bike's chains have told.
    #[must_use]
    pub fn parameters_on_bike(&self, group: &str, bike: &str) -> WearParameters {
        let chains = self.bikes.get(bike).map_or(&[][..], Vec::as_slice);
        self.on_bike(self.parameters(group), chains.iter().copied())
    }

    /// Parameters for the chain at this place of those that were learned from, of which the other chains of its bike have
    /// told: its own readings have their say in its outlook. The fleet's where there is no such chain.
    #[must_use]
    pub fn parameters_of_chain(&self, place: usize) -> WearParameters {
        let Some(OnBike { group, bike, shares, .. }) = self.chains.get(place) else { return self.fleet };
        let of_group = self.parameters_at(group, shares.as_deref());
        match bike.as_ref().and_then(|bike| self.bikes.get(bike)) {
            Some(chains) => self.on_bike(&of_group, chains.iter().copied().filter(|other| *other != place)),
            None => of_group,
        }
    }

    /// The same with what each bike's chains say of it.
    fn with_bikes(mut self, chains: &[ChainHistory<'_>], likelihoods: &[Likely], pooled: &Pooled) -> Self {
        let one = |chain: &ChainHistory<'_>| OnBike {
            group: chain.group.to_owned(),
            bike: chain.bike.map(str::to_owned),
            shares: self.shares(chain.model, chain.lubricants),
            message: None,
        };
        self.chains = chains.iter().map(one).collect();
        for (place, chain) in chains.iter().enumerate() {
            if let Some(bike) = chain.bike {
                self.bikes.entry(bike.to_owned()).or_default().push(place);
            }
        }
        for likely @ Likely { place, of, .. } in likelihoods {
            let (mu, tau) = (likely.mean(pooled), pooled.tau);
            let RateMoments { mean, variance, .. } = of.moments(mu, tau);
            self.chains[*place].message = ChainLevel::between((mean, variance), mu, tau, of.is_of_found());
        }
        let of_bikes: Vec<Vec<ChainLevel>> = self
            .bikes
            .values()
            .map(|places| places.iter().filter_map(|place| self.chains[*place].message).collect())
            .collect();
        self.bike_share = bikes::share(of_bikes.iter().map(Vec::as_slice), pooled.tau);
        self
    }

    fn on_bike(&self, of_group: &WearParameters, chains: impl Iterator<Item = usize>) -> WearParameters {
        let told = chains.filter_map(|chain| self.chains[chain].message);
        self.of_bikes().parameters(of_group, told)
    }

    /// How much of the difference among chains is their bikes'.
    #[must_use]
    pub const fn of_bikes(&self) -> BikeShare {
        BikeShare { share: self.bike_share, sd_within: self.sd_within }
    }

    /// What the chain at this place of those that were learned from says of its bike; `None` when it says next to nothing.
    #[must_use]
    pub fn level_of_chain(&self, place: usize) -> Option<ChainLevel> {
        self.chains.get(place)?.message
    }
}

/// Fits a fleet: tools, people and the fast phase first, then its groups and bikes with readings as these tell them. `base`
/// holds what is not learned, and the defaults that the priors are centred on.
#[must_use]
pub fn fit(
    chains: &[ChainHistory<'_>],
    base: &WearParameters,
    calibrations: &InstrumentCalibrations,
) -> FleetFit {
    match joint::fit(chains, None, base, calibrations) {
        Some(found) => fit_found(chains, &found, base, calibrations),
        None => fit_groups(chains, &LearnedTerms::default(), base, calibrations),
    }
}

/// Fits groups and bikes to readings as their tools and people were found to err, at exposures by the clock of the latest
/// day.
pub(super) fn fit_found(
    chains: &[ChainHistory<'_>],
    found: &JointFit,
    base: &WearParameters,
    calibrations: &InstrumentCalibrations,
) -> FleetFit {
    let tools = LearnedTools::new(found, calibrations);
    let told: Vec<Vec<TimedReading>> =
        chains.iter().map(|chain| tools.calibrated(chain.readings, chain.read_with)).collect();
    let told: Vec<Vec<TimedReading>> = match found.drift {
        Some(drift) => {
            let counted = |(chain, readings): (&ChainHistory<'_>, &Vec<TimedReading>)| {
                drift.of_readings(&ChainHistory { readings, ..chain.clone() })
            };
            chains.iter().zip(&told).map(counted).collect()
        }
        None => told,
    };
    let told: Vec<ChainHistory<'_>> = chains
        .iter()
        .zip(&told)
        .map(|(chain, readings)| ChainHistory { readings, ..chain.clone() })
        .collect();
    let base = if found.fast_sought { base.with_fast_phase(found.fast) } else { *base };
    FleetFit {
        tools,
        fast_phase: base.fast_phase(),
        fast_phase_sought: found.fast_sought,
        drift: found.drift,
        ..fit_groups(&told, &found.terms, &base, calibrations)
    }
}

/// Fits groups and bikes to readings as they are, models and lubricants being worth what was found of them.
pub(super) fn fit_groups(
    chains: &[ChainHistory<'_>],
    terms: &LearnedTerms,
    base: &WearParameters,
    calibrations: &InstrumentCalibrations,
) -> FleetFit {
    let mut names: Vec<&str> = chains.iter().map(|chain| chain.group).collect();
    names.sort_unstable();
    names.dedup();
    let read: Vec<Chain<'_>> = chains
        .iter()
        .enumerate()
        .filter(|(_, chain)| !chain.readings.is_empty())
        .filter_map(|(place, chain)| {
            let group = names.binary_search(&chain.group).ok()?;
            let design = terms::design(terms.terms(), chain.model, chain.lubricants);
            let lift = terms.mean(&terms.dense(&design));
            Some(Chain { place, group, readings: chain.readings, start: chain.start, design, lift })
        })
        .collect();
    let problem = Problem { groups: names.len(), base, calibrations };
    let scale_learned = read.len() > CHAINS_FOR_SCALE;
    let scale = if scale_learned { problem.best_scale(&read) } else { base.scale() };
    let likelihoods = problem.likelihoods(&read, scale);
    let pooled = problem.pool(&likelihoods);
    let of_scale = base.with_scale(scale).unwrap_or(*base);
    let parameters = |level: (f64, f64)| spread_round(&of_scale, pooled.tau, level);
    let design_of = |likely: &Likely| &read[likely.read].design;
    let all: Vec<(f64, &Design)> =
        likelihoods.iter().map(|likely| (likely.information(&pooled), design_of(likely))).collect();
    let fleet = (pooled.fleet_mean, pooled.omega * pooled.omega + pooled.fleet_variance);
    let level = Level::new(fleet, terms.terms().len(), &all, 0.0);
    let groups = names
        .iter()
        .enumerate()
        .map(|(g, name)| {
            let own: Vec<(f64, &Design)> = likelihoods
                .iter()
                .zip(&all)
                .filter(|(likely, _)| likely.group == g)
                .map(|(_, told)| *told)
                .collect();
            let among = pooled.omega * pooled.omega + pooled.fleet_variance;
            let level =
                Level::new((pooled.means[g], pooled.variances[g]), terms.terms().len(), &own, 1.0 / among);
            let (mean, variance) = level.of_chains(terms, None);
            let fit = GroupFit {
                parameters: parameters((mean, variance)),
                mean_log_rate: mean,
                mean_log_rate_sd: variance.sqrt(),
                chains: chains.iter().filter(|chain| chain.group == *name).count(),
                chains_read: read.iter().filter(|chain| chain.group == g).count(),
                level,
            };
            ((*name).to_owned(), fit)
        })
        .collect();
    FleetFit {
        groups,
        fleet: parameters(level.of_chains(terms, None)),
        sd_within: pooled.tau,
        sd_among: pooled.omega,
        scale,
        scale_learned,
        tools: LearnedTools::default(),
        fast_phase: base.fast_phase(),
        fast_phase_sought: false,
        bike_share: 0.0,
        terms: terms.clone(),
        drift: None,
        information_per_chain: all.iter().map(|(information, _)| information).sum::<f64>()
            / all.len().max(1) as f64,
        level,
        chains: Vec::new(),
        bikes: BTreeMap::new(),
    }
    .with_bikes(chains, &likelihoods, &pooled)
}

/// What `one` makes of each, on as many threads as there are; in order.
pub(super) fn by_threads<T: Sync, R: Send>(all: &[T], one: impl Fn(&T) -> Option<R> + Sync) -> Vec<R> {
    let threads = std::thread::available_parallelism().map_or(1, NonZero::get);
    let share = all.len().div_ceil(threads).max(1);
    let one = &one;
    std::thread::scope(|scope| {
        let workers: Vec<_> = all
            .chunks(share)
            .map(|chunk| scope.spawn(move || chunk.iter().filter_map(one).collect::<Vec<_>>()))
            .collect();
        workers.into_iter().flat_map(|worker| worker.join().unwrap_or_default()).collect()
    })
}

#[derive(Clone)]
struct Chain<'a> {
    place: usize,
    group: usize,
    readings: &'a [TimedReading],
    start: Start,
    design: Design,
    lift: f64,
}

/// What a chain says of its rate.
struct Likely {
    /// Its place among all chains, and among those that were read.
    place: usize,
    read: usize,
    group: usize,
    /// What its ln θ is over the group's for its model and its lubricants.
    lift: f64,
    of: RateLikelihood,
}

impl Likely {
    /// The mean of ln θ among chains like it.
    fn mean(&self, at: &Pooled) -> f64 {
        at.means[self.group] + self.lift
    }

    /// Louis: what the data say of µ_g is what complete data would, less what is missing.
    fn information(&self, at: &Pooled) -> f64 {
        let tau2 = at.tau * at.tau;
        ((1.0 - self.of.moments(self.mean(at), at.tau).variance / tau2) / tau2).max(0.0)
    }
}

/// Parameters of chains that spread by τ round a mean, of which this is the mean and the variance of what isn't known.
fn spread_round(of_scale: &WearParameters, tau: f64, (mean, variance): (f64, f64)) -> WearParameters {
    of_scale
        .with_log_rate(mean, (tau * tau + variance).sqrt())
        .and_then(|p| Ok(p.with_common_spread(LogSd::new(variance.sqrt())?)))
        .unwrap_or(*of_scale)
}

struct Problem<'a> {
    groups: usize,
    base: &'a WearParameters,
    calibrations: &'a InstrumentCalibrations,
}

/// The state of the search, and its end.
struct Pooled {
    means: Vec<f64>,
    variances: Vec<f64>,
    fleet_mean: f64,
    fleet_variance: f64,
    tau: f64,
    omega: f64,
    log_posterior: f64,
}

impl Problem<'_> {
    fn likelihoods(&self, chains: &[Chain<'_>], scale: f64) -> Vec<Likely> {
        let wide = self
            .base
            .with_scale(scale)
            .and_then(|p| p.with_log_rate(self.base.mean_log_rate(), WIDE_SD))
            .unwrap_or(*self.base);
        let one = |(read, chain): &(usize, &Chain<'_>)| {
            let Chain { place, group, lift, .. } = **chain;
            RateLikelihood::of(&wide.with_start(chain.start), self.calibrations, chain.readings)
                .map(|of| Likely { place, read: *read, group, lift, of })
        };
        by_threads(&chains.iter().enumerate().collect::<Vec<_>>(), one)
    }

    /// The φ of highest posterior density: a coarse scan, then golden sections round the best.
    fn best_scale(&self, chains: &[Chain<'_>]) -> f64 {
        let count = chains.len().min(CHAINS_SEARCHED);
        let some: Vec<Chain<'_>> = (0..count).map(|i| chains[i * chains.len() / count].clone()).collect();
        let default = self.base.scale().ln();
        let density = |log_scale: f64| {
            let away = (log_scale - default) / LOG_SCALE_SD;
            self.pool(&self.likelihoods(&some, log_scale.exp())).log_posterior - 0.5 * away * away
        };
        let (low, high) = (SCALES.0.ln(), SCALES.1.ln());
        let scan: Vec<(f64, f64)> = (0..5)
            .map(|i| low + (high - low) * f64::from(i) / 4.0)
            .map(|log_scale| (log_scale, density(log_scale)))
            .collect();
        let best =
            scan.iter().copied().fold((default, f64::NEG_INFINITY), |a, b| if b.1 > a.1 { b } else { a });
        let step = (high - low) / 4.0;
        maximum(best.0 - step, best.0 + step, 6, density).exp()
    }

    /// Spreads and means of highest posterior density.
    fn pool(&self, likelihoods: &[Likely]) -> Pooled {
        let default = self.base.mean_log_rate();
        let mut at = Pooled {
            means: vec![default; self.groups],
            variances: vec![FLEET_SD * FLEET_SD; self.groups],
            fleet_mean: default,
            fleet_variance: FLEET_SD * FLEET_SD,
            tau: TAU_PRIOR.0,
            omega: OMEGA_PRIOR.0,
            log_posterior: f64::NEG_INFINITY,
        };
        // False position, with the stale end's slope halved, on the slope over ln τ.
        let (mut low, mut high) = (SMALLEST_SPREAD.ln(), LARGEST_SPREAD.ln());
        let mut slope_low = self.settle(&mut at, low.exp(), likelihoods);
        if slope_low > 0.0 {
            let mut slope_high = self.settle(&mut at, high.exp(), likelihoods);
            let mut last_side = 0;
            for _ in 0..MOST_STEPS {
                let next = if slope_high < 0.0 {
                    (low * slope_high - high * slope_low) / (slope_high - slope_low)
                } else {
                    high
                };
                let slope = self.settle(&mut at, next.exp(), likelihoods);
                let side = if slope > 0.0 { 1 } else { -1 };
                let moved = if side > 0 { next - low } else { high - next };
                if side > 0 {
                    (low, slope_low) = (next, slope);
                    slope_high *= if last_side == side { 0.5 } else { 1.0 };
                } else {
                    (high, slope_high) = (next, slope);
                    slope_low *= if last_side == side { 0.5 } else { 1.0 };
                }
                last_side = side;
                if high - low < SETTLED || moved.abs() < 0.1 * SETTLED || slope.abs() < 1e-6 {
                    break;
                }
            }
        }
        at.log_posterior = self.log_posterior(&at, likelihoods);
        at
    }

    /// Moves the means and ω to their best for τ; the slope of the log posterior over ln τ there.
    fn settle(&self, at: &mut Pooled, tau: f64, likelihoods: &[Likely]) -> f64 {
        at.tau = tau;
        let tau2 = tau * tau;
        let mut slope = 0.0;
        for _ in 0..MOST_STEPS {
            let moments: Vec<RateMoments> =
                likelihoods.iter().map(|one| one.of.moments(one.mean(at), tau)).collect();
            let mut gradient = vec![0.0; self.groups];
            let mut information = vec![0.0; self.groups];
            for (likely @ Likely { group, of, .. }, m) in likelihoods.iter().zip(&moments) {
                gradient[*group] += (m.mean - of.centre(likely.mean(at), tau)) / tau2;
                // Louis: what the data say of µ_g is what complete data would, less what is missing.
                information[*group] += ((1.0 - m.variance / tau2) / tau2).max(0.0);
            }
            // ∂/∂ ln τ of E ln p(ln θ, µ) = Σ (E(ln θ − µ)²/τ² − 1); of chains as found, whose mean is µ − τ², less
            // 2 E(ln θ − µ + τ²).
            slope = likelihoods
                .iter()
                .zip(&moments)
                .map(|(likely, m)| {
                    let away = m.mean - likely.of.centre(likely.mean(at), tau);
                    let moving = if likely.of.is_of_found() { 2.0 * away } else { 0.0 };
                    (m.variance + away.powi(2)) / tau2 - 1.0 - moving
                })
                .sum::<f64>()
                + TAU_PRIOR.1 * (TAU_PRIOR.0 * TAU_PRIOR.0 / tau2 - 1.0);
            let moved = self.move_means(at, &gradient, &information);
            if moved < SETTLED {
                break;
            }
        }
        slope
    }

    /// A Newton step of the group means, then the fleet's mean and ω given them; how far the means moved.
    fn move_means(&self, at: &mut Pooled, gradient: &[f64], information: &[f64]) -> f64 {
        let omega2 = at.omega * at.omega;
        let mut moved = 0.0_f64;
        for g in 0..self.groups {
            let pull = (at.fleet_mean - at.means[g]) / omega2;
            let step = ((gradient[g] + pull) / (information[g] + 1.0 / omega2)).clamp(-0.5, 0.5);
            at.means[g] += step;
            moved = moved.max(step.abs());
        }
        // m is judged by what the groups' data say, each with its own error and ω.
        let weights = information.iter().map(|i| i / (1.0 + i * omega2)).sum::<f64>();
        at.fleet_variance = 1.0 / (weights + FLEET_SD.powi(-2));
        at.fleet_mean = (at.means.iter().sum::<f64>() / omega2
            + self.base.mean_log_rate() / FLEET_SD.powi(2))
            / (self.groups as f64 / omega2 + FLEET_SD.powi(-2));
        at.variances = information.iter().map(|i| 1.0 / (i + 1.0 / (omega2 + at.fleet_variance))).collect();
        let among: f64 = (0..self.groups)
            .map(|g| (at.means[g] - at.fleet_mean).powi(2) + 1.0 / (information[g] + 1.0 / omega2))
            .sum();
        let (guess, worth) = OMEGA_PRIOR;
        let omega = ((among + worth * guess * guess) / (self.groups as f64 + worth)).sqrt();
        moved = moved.max((omega - at.omega).abs());
        at.omega = omega.max(SMALLEST_SPREAD);
        moved
    }

    fn log_posterior(&self, at: &Pooled, likelihoods: &[Likely]) -> f64 {
        let bell = |away: f64, sd: f64| -0.5 * (away / sd).powi(2) - sd.ln();
        let data: f64 = likelihoods.iter().map(|one| one.of.moments(one.mean(at), at.tau).log_evidence).sum();
        let groups: f64 = at.means.iter().map(|mean| bell(mean - at.fleet_mean, at.omega)).sum();
        let spread =
            |sd: f64, (guess, worth): (f64, f64)| -worth * sd.ln() - 0.5 * worth * (guess / sd).powi(2);
        data + groups
            + bell(at.fleet_mean - self.base.mean_log_rate(), FLEET_SD)
            + spread(at.tau, TAU_PRIOR)
            + spread(at.omega, OMEGA_PRIOR)
    }
}

/// Where `f` is largest between `low` and `high`: golden sections.
fn maximum(mut low: f64, mut high: f64, steps: usize, f: impl Fn(f64) -> f64) -> f64 {
    const GOLDEN: f64 = 0.618_033_988_749_894_9;
    let (mut a, mut b) = (high - GOLDEN * (high - low), low + GOLDEN * (high - low));
    let (mut at_a, mut at_b) = (f(a), f(b));
    for _ in 0..steps {
        if at_a > at_b {
            (high, b, at_b) = (b, a, at_a);
            a = high - GOLDEN * (high - low);
            at_a = f(a);
        } else {
            (low, a, at_a) = (a, b, at_b);
            b = low + GOLDEN * (high - low);
            at_b = f(b);
        }
    }
    0.5 * (low + high)
}
