//! Fleets that break one assumption at a time: tools that read high or low, people who do, bikes that keep most of what
//! tells chains apart, chains that wear faster and faster; and a filter that is told the truth of them.

use std::collections::BTreeMap;

use rand::{RngExt as _, SeedableRng as _};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution as _, Gamma, Normal};
use wear_core::degradation::{FastPhase, Posterior, TimedReading, WearParameters};
use wear_core::fleet::ReadWith;
use wear_core::fleet::calibration::{ChainHistory, FleetFit, fit};
use wear_core::reading::{Calibration, Instrument, InstrumentCalibrations, Measurement};
use wear_core::units::{ElongationReading, GaugeMark, Limit, ReferenceKilometres};

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
    pub seed: u64,
}

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
    let p = WearParameters::default();
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
        for _ in 0..world.chains_a_bike {
            let of_chain = normal(0.0, (1.0 - world.kappa).sqrt() * world.tau, &mut random);
            let log_rate = mean_log_rate + of_bike + of_chain;
            let jump = Gamma::new(log_rate.exp() * STEP / world.phi, world.phi).expect("jump");
            let start = normal(p.initial_mean(), p.initial_sd(), &mut random);
            let run_in = |cell: usize| {
                p.running_in() * (1.0 - (-(cell as f64) * STEP / p.running_in_distance()).exp())
            };
            // At least as far as the chain was ridden, at least to its limit; jumps grow as the fast phase has it.
            let typical = (world.limit - 0.07) / mean_log_rate.exp();
            let now = random.random_range((0.15 * typical / STEP) as usize..(0.85 * typical / STEP) as usize);
            let mut slow = vec![start];
            let elongation = |cell: usize, x: f64| x + run_in(cell);
            let mut path = vec![elongation(0, start)];
            while path.len() <= now || path[path.len() - 1] < world.limit {
                let last = path[path.len() - 1];
                let faster = 1.0 + world.fast.gain() * (last - world.fast.onset()).max(0.0);
                slow.push(slow[slow.len() - 1] + faster * jump.sample(&mut random));
                path.push(elongation(path.len(), slow[slow.len() - 1]));
            }
            let count = random.random_range(1..2 * world.readings);
            let mut cells: Vec<usize> = (0..count).map(|_| random.random_range(1..=now)).collect();
            cells.sort_unstable();
            cells.dedup();
            let (mut readings, mut with, mut told) = (Vec::new(), Vec::new(), Vec::new());
            for cell in cells {
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
            });
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
    for (place, chain) in chains.iter().enumerate() {
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
    let histories: Vec<ChainHistory<'_>> = chains
        .iter()
        .map(|chain| {
            let history = ChainHistory::new(&chain.group, &chain.readings);
            if with { history.on_bike(&chain.bike).read_with(&chain.with) } else { history }
        })
        .collect();
    fit(&histories, &WearParameters::default(), &InstrumentCalibrations::default())
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
        predict(world, &fit.parameters_of_chain(place), &readings, chain.at)
    })
}

pub fn tried(world: &World, chains: &[Chain], fit: &FleetFit) -> Tried {
    let truth = oracle(world, chains);
    Tried {
        oracle: judged(chains, |place, chain| predict(world, &truth[place], &chain.told, chain.at)),
        learned: answered(world, chains, fit, true),
    }
}
