//! Fleets that break one assumption at a time: tools that read high or low, people who do, bikes that keep most of what
//! tells chains apart, chains that wear faster and faster; and a filter that is told the truth of them.

use std::collections::BTreeMap;

use rand::{RngExt as _, SeedableRng as _};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution as _, Gamma, Normal};
use wear_core::degradation::{FastPhase, Posterior, TimedReading, WearParameters};
use wear_core::fleet::calibration::{ChainHistory, FleetFit, fit};
use wear_core::fleet::{Counted, Days, Drift, LubricantShare, ReadWith};
use wear_core::reading::{Calibration, Instrument, InstrumentCalibrations, Measurement};
use wear_core::units::{ElongationReading, GaugeMark, Limit, Probability, ReferenceKilometres};

const STEP: f64 = 10.0;

/// A tool of the yard: what it is entered as, its name, and how it truly reads.
#[derive(Debug, Clone, Copy)]
pub struct TrueTool {
    pub entered_as: Instrument,
    pub name: Option<&'static str>,
    pub bias: f64,
    pub sd: f64,
}

pub const fn tool(entered_as: Instrument, name: Option<&'static str>, bias: f64, sd: f64) -> TrueTool {
    TrueTool { entered_as, name, bias, sd }
}

pub const GOOD_RULE: TrueTool = tool(Instrument::Rule, Some("rule"), 0.0, 0.06);
pub const GOOD_DIAL: TrueTool = tool(Instrument::Dial, Some("dial"), 0.0, 0.025);

#[derive(Debug, Clone)]
pub struct World {
    pub name: &'static str,
    pub wear: f64,
    pub tau: f64,
    pub phi: f64,
    pub limit: f64,
    pub tools: Vec<TrueTool>,
    /// Name, bias, spread over the tool's.
    pub persons: Vec<(&'static str, f64, f64)>,
    /// Share of τ² that is the bikes'.
    pub kappa: f64,
    pub bikes: usize,
    pub chains_a_bike: usize,
    /// Readings of each chain, about.
    pub readings: usize,
    pub fast: FastPhase,
    /// Factor on the wear of each group, and the group's share of the bikes.
    pub groups: Vec<(f64, f64)>,
    /// Factor on the wear of each model of chain, and of each lubricant; a chain has one of either.
    pub models: Vec<(&'static str, f64)>,
    pub lubricants: Vec<(&'static str, f64)>,
    /// Where days are known: a bike's chains follow one another, and the last is on today.
    pub calendar: Option<TrueCalendar>,
    pub seed: u64,
}

/// How wear drifts, and how far a bike is ridden.
#[derive(Debug, Clone, Copy)]
pub struct TrueCalendar {
    /// Change of ln θ in a year.
    pub per_year: f64,
    pub km_a_day: f64,
    /// Whether wear goes on drifting after today, or stays.
    pub goes_on: bool,
}

impl TrueCalendar {
    /// What ln θ is over today's after so many days.
    fn ln_rate(&self, days: f64) -> f64 {
        self.per_year * (if self.goes_on { days } else { days.min(0.0) }) / 365.25
    }
}

/// Today, as days since 1970-01-01.
pub const TODAY: i32 = 20_000;

pub fn plain() -> World {
    World {
        name: "plain",
        wear: 1.25,
        tau: 0.3,
        phi: 0.015,
        limit: 0.75,
        tools: vec![GOOD_RULE, GOOD_DIAL],
        persons: vec![],
        kappa: 0.0,
        bikes: 120,
        chains_a_bike: 1,
        readings: 4,
        fast: FastPhase::NONE,
        groups: vec![(1.0, 1.0)],
        models: vec![],
        lubricants: vec![],
        calendar: None,
        seed: 1,
    }
}

pub struct Chain {
    pub group: String,
    pub bike: String,
    pub readings: Vec<TimedReading>,
    pub with: Vec<ReadWith>,
    /// The same readings with what is true of their tools and people.
    pub told: Vec<TimedReading>,
    pub at: f64,
    pub truth: f64,
    pub mean_log_rate: f64,
    pub model: Option<&'static str>,
    pub lubricants: Vec<LubricantShare>,
    /// The day on which it was put on, and that of each reading.
    pub begun: Option<i32>,
    pub days: Vec<i32>,
    /// Whether it is on today: only such chains are judged.
    pub on: bool,
}

impl Chain {
    pub fn history(&self, with: bool) -> ChainHistory<'_> {
        let mut history = ChainHistory::new(&self.group, &self.readings);
        if with {
            history = history.on_bike(&self.bike).read_with(&self.with).lubricated(&self.lubricants);
            if let Some(model) = self.model {
                history = history.of_model(model);
            }
            if let Some(begun) = self.begun {
                history = history.on_days(Days::of_readings(&self.days).begun(begun));
            }
        }
        history
    }
}

fn km(value: f64) -> ReferenceKilometres {
    ReferenceKilometres::new(value).expect("a legal distance")
}

fn normal(mean: f64, sd: f64, random: &mut ChaCha8Rng) -> f64 {
    Normal::new(mean, sd).expect("a legal spread").sample(random)
}

fn measured(tool: TrueTool, bias: f64, sd: f64, elongation: f64, random: &mut ChaCha8Rng) -> Measurement {
    let seen = normal(elongation + bias, sd, random);
    if tool.entered_as.is_gauge() {
        let mark = [0.5, 0.75][random.random_range(0..2)];
        Measurement::gauge(tool.entered_as, GaugeMark::new(mark).expect("mark"), seen > mark).expect("gauge")
    } else {
        let percent = ElongationReading::new(seen.clamp(-0.3, 3.0)).expect("clamped");
        Measurement::percent(tool.entered_as, percent).expect("number")
    }
}

pub fn simulate(world: &World) -> Vec<Chain> {
    let mut random = ChaCha8Rng::seed_from_u64(world.seed);
    // A stream of its own, so that worlds without models and lubricants stay as they were.
    let mut of_terms = ChaCha8Rng::seed_from_u64(world.seed ^ 0x7e12);
    let one_of = |all: &[(&'static str, f64)], random: &mut ChaCha8Rng| {
        (!all.is_empty()).then(|| all[random.random_range(0..all.len())])
    };
    let p = WearParameters::default();
    let whole = Probability::new(1.0).expect("a share");
    let mut chains = Vec::new();
    for bike in 0..world.bikes {
        let share = (bike as f64 + 0.5) / world.bikes as f64;
        let mut before = 0.0;
        let group = world
            .groups
            .iter()
            .position(|(_, part)| {
                before += part;
                share < before
            })
            .unwrap_or(0);
        let mean_log_rate = p.mean_log_rate() + (world.wear * world.groups[group].0).ln();
        let of_bike = normal(0.0, world.kappa.sqrt() * world.tau, &mut random);
        // Chains of a bike whose days are known follow one another, the last first.
        let mut day = 0.0;
        for turn in 0..world.chains_a_bike {
            let of_chain = normal(0.0, (1.0 - world.kappa).sqrt() * world.tau, &mut random);
            let model = one_of(&world.models, &mut of_terms);
            let lubricant = one_of(&world.lubricants, &mut of_terms);
            let factor =
                model.map_or(1.0, |(_, factor)| factor) * lubricant.map_or(1.0, |(_, factor)| factor);
            let mean_log_rate = mean_log_rate + factor.ln();
            let log_rate = mean_log_rate + of_bike + of_chain;
            let jump = |ln_drift: f64| {
                Gamma::new((log_rate + ln_drift).exp() * STEP / world.phi, world.phi).expect("jump")
            };
            let steady = jump(0.0);
            let start = normal(p.initial_mean(), p.initial_sd(), &mut random);
            let run_in = |cell: usize| {
                p.running_in() * (1.0 - (-(cell as f64) * STEP / p.running_in_distance()).exp())
            };
            // At least as far as the chain was ridden, at least to its limit; jumps grow as the fast phase has it.
            let typical = (world.limit - 0.07) / mean_log_rate.exp();
            let now = random.random_range((0.15 * typical / STEP) as usize..(0.85 * typical / STEP) as usize);
            let days_of =
                |cell: f64| world.calendar.map_or(0.0, |of| day + (cell - now as f64) * STEP / of.km_a_day);
            let mut slow = vec![start];
            let elongation = |cell: usize, x: f64| x + run_in(cell);
            let mut path = vec![elongation(0, start)];
            while path.len() <= now || path[path.len() - 1] < world.limit {
                let last = path[path.len() - 1];
                let faster = 1.0 + world.fast.gain() * (last - world.fast.onset()).max(0.0);
                let wear = match world.calendar {
                    None => steady.sample(&mut random),
                    Some(of) => jump(of.ln_rate(days_of(path.len() as f64 - 0.5))).sample(&mut random),
                };
                slow.push(slow[slow.len() - 1] + faster * wear);
                path.push(elongation(path.len(), slow[slow.len() - 1]));
            }
            let count = random.random_range(1..2 * world.readings);
            let mut cells: Vec<usize> = (0..count).map(|_| random.random_range(1..=now)).collect();
            cells.sort_unstable();
            cells.dedup();
            let (mut readings, mut with, mut told) = (Vec::new(), Vec::new(), Vec::new());
            let mut days = Vec::new();
            let day_of = |cell: f64| TODAY + days_of(cell).floor() as i32;
            for cell in cells {
                days.push(day_of(cell as f64));
                let tool = world.tools[random.random_range(0..world.tools.len())];
                let person = (!world.persons.is_empty())
                    .then(|| world.persons[random.random_range(0..world.persons.len())]);
                let (of_person, wider) = person.map_or((0.0, 1.0), |(_, bias, wider)| (bias, wider));
                let (bias, sd) = (tool.bias + of_person, tool.sd * wider);
                let measurement = measured(tool, bias, sd, path[cell], &mut random);
                let reading = TimedReading::new(km(cell as f64 * STEP), measurement);
                readings.push(reading);
                with.push(ReadWith {
                    tool: tool.name.map(str::to_owned),
                    person: person.map(|(name, ..)| name.to_owned()),
                });
                told.push(reading.with_calibration(Calibration::parse(bias, sd).expect("calibration")));
            }
            let end = path.iter().position(|e| *e >= world.limit).expect("walked to the limit");
            chains.push(Chain {
                group: format!("group {group}"),
                bike: format!("bike {bike}"),
                readings,
                with,
                told,
                at: now as f64 * STEP,
                truth: (end as f64 - now as f64).max(0.0) * STEP,
                mean_log_rate,
                model: model.map(|(name, _)| name),
                lubricants: lubricant
                    .map(|(name, _)| LubricantShare { lubricant: name.to_owned(), share: whole })
                    .into_iter()
                    .collect(),
                begun: world.calendar.map(|_| day_of(0.0)),
                days: if world.calendar.is_some() { days } else { vec![] },
                on: world.calendar.is_none() || turn == 0,
            });
            day = days_of(0.0);
        }
    }
    chains
}

pub fn predict(world: &World, parameters: &WearParameters, readings: &[TimedReading], at: f64) -> [f64; 3] {
    let posterior = Posterior::of(parameters, &InstrumentCalibrations::default(), readings);
    let remaining = posterior.outlook(km(at), Limit::new(world.limit).expect("limit")).remaining;
    [remaining.p10, remaining.p50, remaining.p90]
}

#[derive(Debug, Clone, Copy, Default)]
pub struct Judged {
    pub loss: f64,
    pub before: f64,
    pub beyond: f64,
}

pub fn judged(chains: &[Chain], answer: impl Fn(usize, &Chain) -> [f64; 3]) -> Judged {
    let mut all = Judged::default();
    let mut told = 0.0;
    for (place, chain) in chains.iter().enumerate().filter(|(_, chain)| chain.on) {
        let quantiles = answer(place, chain);
        for (level, q) in [0.1, 0.5, 0.9].into_iter().zip(quantiles) {
            let off = chain.truth - q;
            all.loss += (if off > 0.0 { level * off } else { (level - 1.0) * off }) / 3.0;
        }
        if quantiles[0] > 0.0 {
            told += 1.0;
            all.before += f64::from(u8::from(chain.truth < quantiles[0]));
            all.beyond += f64::from(u8::from(chain.truth > quantiles[2]));
        }
    }
    Judged { loss: all.loss, before: 100.0 * all.before / told, beyond: 100.0 * all.beyond / told }
}

/// What the truth is told of a chain: all parameters, and what the readings of its bike's other chains say with these.
pub fn oracle(world: &World, chains: &[Chain]) -> Vec<WearParameters> {
    let true_rate = |mean: f64, sd: f64| {
        WearParameters::default()
            .with_scale(world.phi)
            .and_then(|p| p.with_log_rate(mean, sd))
            .expect("legal parameters")
            .with_fast_phase(world.fast)
    };
    let mut by_bike: BTreeMap<&str, Vec<usize>> = BTreeMap::new();
    for (place, chain) in chains.iter().enumerate() {
        by_bike.entry(&chain.bike).or_default().push(place);
    }
    let tau2 = world.tau.powi(2);
    let (of_bike, of_chain) = (world.kappa * tau2, (1.0 - world.kappa) * tau2);
    // Mean over the group's and variance of what each chain says of its ln θ by itself.
    let says: Vec<Option<(f64, f64)>> = chains
        .iter()
        .map(|chain| {
            let prior = true_rate(chain.mean_log_rate, world.tau);
            let (mean, sd) =
                Posterior::of(&prior, &InstrumentCalibrations::default(), &chain.told).log_rate();
            let precision = sd.powi(-2) - 1.0 / tau2;
            (precision > 0.01)
                .then(|| ((mean - chain.mean_log_rate) / sd.powi(2) / precision, 1.0 / precision))
        })
        .collect();
    chains
        .iter()
        .enumerate()
        .map(|(place, chain)| {
            let (mut s0, mut s1) = (1.0, 0.0);
            for other in by_bike[chain.bike.as_str()].iter().filter(|other| **other != place) {
                if let Some((away, variance)) = says[*other] {
                    let weight = of_bike / (of_chain + variance);
                    (s0, s1) = (s0 + weight, s1 + weight * away);
                }
            }
            true_rate(chain.mean_log_rate + s1 / s0, (of_chain + of_bike / s0).sqrt())
        })
        .collect()
}

pub fn learned(chains: &[Chain], with: bool) -> FleetFit {
    let histories: Vec<ChainHistory<'_>> = chains.iter().map(|chain| chain.history(with)).collect();
    fit(&histories, &WearParameters::default(), &InstrumentCalibrations::default())
}

/// What one who knows the truth says: of a drift as well, and of whether it goes on.
fn foretold(world: &World, parameters: &WearParameters, chain: &Chain) -> [f64; 3] {
    let Some(of) = world.calendar else { return predict(world, parameters, &chain.told, chain.at) };
    let begun = chain.begun.unwrap_or(TODAY);
    let drift = Drift::kept(of.per_year, 0.0, TODAY, None);
    let days = Days::of_readings(&chain.days).begun(begun);
    let Counted { readings, now, ln_rate, .. } = drift.counted(&chain.told, days, (TODAY, km(chain.at)));
    let parameters = parameters.with_faster(ln_rate);
    let a_km = of.per_year / 365.25 / of.km_a_day;
    predict(world, &parameters, &readings, now.get()).map(|counted| {
        // By today's clock; exposure ahead is then (e^{a s} − 1)/a.
        let counted = counted * ln_rate.exp();
        if of.goes_on && a_km != 0.0 { (a_km * counted).ln_1p() / a_km } else { counted }
    })
}

/// How an oracle does, and how what was learned does, with tools, people and bikes named or not.
#[derive(Debug, Clone, Copy, Default)]
pub struct Tried {
    pub oracle: Judged,
    pub learned: Judged,
}

pub fn answered(world: &World, chains: &[Chain], fit: &FleetFit, with: bool) -> Judged {
    judged(chains, |place, chain| {
        let named = if with { &chain.with[..] } else { &[] };
        let readings = fit.tools.calibrated(&chain.readings, named);
        let parameters = fit.parameters_of_chain(place);
        match fit.drift.filter(|_| with).zip(chain.begun) {
            None => predict(world, &parameters, &readings, chain.at),
            Some((drift, begun)) => {
                let days = Days::of_readings(&chain.days).begun(begun);
                let counted = drift.counted(&readings, days, (TODAY, km(chain.at)));
                let Counted { readings, now, ln_rate, .. } = counted;
                let ahead = parameters.with_faster(ln_rate);
                predict(world, &ahead, &readings, now.get())
            }
        }
    })
}

pub fn tried(world: &World, chains: &[Chain], fit: &FleetFit) -> Tried {
    let truth = oracle(world, chains);
    Tried {
        oracle: judged(chains, |place, chain| foretold(world, &truth[place], chain)),
        learned: answered(world, chains, fit, true),
    }
}
