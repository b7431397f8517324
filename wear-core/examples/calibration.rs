//! How far to trust what is learned: simulated fleets whose truth is known, and a sampler beside the posterior.
//!
//! `cargo run --release -p wear-core --example calibration` prints the tables of `CALIBRATION.md`. A number of fleets a
//! scenario may follow (8 when left out). Same seeds, same tables.

use rand::{RngExt as _, SeedableRng as _};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution as _, Gamma, LogNormal, Normal};
use statrs::function::erf::erfc;
use statrs::function::gamma::gamma_lr;
use wear_core::degradation::{OpenExposure, Posterior, TimedReading, WearParameters};
use wear_core::fleet::calibration::{ChainHistory, fit};
use wear_core::reading::{Content, Instrument, InstrumentCalibrations, Measurement};
use wear_core::units::{ElongationReading, GaugeMark, Limit, LogSd, ReferenceKilometres};

const LIMIT: f64 = 0.75;

/// True τ and φ; the defaults are 0.35 and 0.01.
const TAU: f64 = 0.28;
const PHI: f64 = 0.015;

/// Chains in each group, and its true mean in ln θ against the default.
const GROUPS: [(usize, f64); 11] = [
    (300, 0.40),
    (30, 0.55),
    (30, 0.15),
    (3, 0.60),
    (3, 0.50),
    (3, 0.45),
    (3, 0.35),
    (3, 0.30),
    (3, 0.25),
    (3, 0.20),
    (3, 0.10),
];

/// Spreads of the logarithm in a scenario whose exposure is uncertain: of each way by itself, and of a chain's whole life.
const WAY_SD: f64 = 0.3;
const LIFE_SD: f64 = 0.2;

#[derive(Clone, Copy, PartialEq)]
enum Scenario {
    /// As the model has it.
    Model,
    /// As the model has it, exposure counted with an error.
    Uncertain,
    /// Noise that goes both ways, of the same mean and variance.
    Wiener,
    /// Above 0.5 %, rate times 1 + 2 for each percent more; the model doesn't know.
    Late,
}

struct Chain {
    group: usize,
    readings: Vec<TimedReading>,
    now: f64,
    since: f64,
    remaining: f64,
}

fn km(value: f64) -> ReferenceKilometres {
    ReferenceKilometres::new(value).expect("a legal distance")
}

fn name(group: usize) -> String {
    format!("group {group:02}")
}

fn normal(mean: f64, sd: f64, random: &mut ChaCha8Rng) -> f64 {
    Normal::new(mean, sd).expect("a legal spread").sample(random)
}

fn gamma(shape: f64, scale: f64, random: &mut ChaCha8Rng) -> f64 {
    if shape < 1e-9 { 0.0 } else { Gamma::new(shape, scale).expect("a legal shape").sample(random) }
}

fn running_in(p: &WearParameters, s: f64) -> f64 {
    p.running_in() * (1.0 - (-s / p.running_in_distance()).exp())
}

fn simulate(scenario: Scenario, seed: u64) -> Vec<Chain> {
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    let mut chains = Vec::new();
    for (group, (count, shift)) in GROUPS.into_iter().enumerate() {
        for _ in 0..count {
            chains.push(one(scenario, group, shift, &mut random));
        }
    }
    chains
}

/// A chain with three readings somewhere in the first nine tenths of a typical life, and its true end.
fn one(scenario: Scenario, group: usize, shift: f64, random: &mut ChaCha8Rng) -> Chain {
    let p = WearParameters::default();
    let mean = p.mean_log_rate() + shift;
    let typical = (LIMIT - 0.07) / mean.exp();
    let step = typical / 300.0;
    let life = if scenario == Scenario::Uncertain { normal(0.0, LIFE_SD, random).exp() } else { 1.0 };
    let rate = life * LogNormal::new(mean, TAU).expect("a legal rate").sample(random);
    let start = normal(p.initial_mean(), p.initial_sd(), random);
    let now = random.random_range(60..270_usize);
    let mut cells: Vec<usize> = (0..3).map(|_| random.random_range(10..=now)).collect();
    cells.sort_unstable();
    cells.dedup();
    let mut factor = || if scenario == Scenario::Uncertain { normal(0.0, WAY_SD, random).exp() } else { 1.0 };
    // Before each reading, from the last one to now, from now on.
    let ways: Vec<f64> = (0..cells.len() + 2).map(|_| factor()).collect();
    let mut path = vec![start];
    let mut grown = start;
    while path.len() <= now || path.iter().all(|e| *e < LIMIT) {
        let cell = path.len();
        let way = if cell > now { cells.len() + 1 } else { cells.iter().filter(|at| **at < cell).count() };
        let faster =
            if scenario == Scenario::Late { 1.0 + 2.0 * (path[cell - 1] - 0.5).max(0.0) } else { 1.0 };
        let expected = rate * step * ways[way] * faster;
        grown += if scenario == Scenario::Wiener {
            normal(expected, (PHI * expected).sqrt(), random)
        } else {
            gamma(expected / PHI, PHI, random)
        };
        path.push(grown + running_in(&p, cell as f64 * step));
    }
    let end = path.iter().position(|e| *e >= LIMIT).expect("walked to the limit") as f64 * step;
    let readings = cells
        .iter()
        .map(|&cell| {
            let instrument = [Instrument::Rule, Instrument::Dial][random.random_range(0..2)];
            let calibration = instrument.default_calibration();
            let seen = normal(path[cell] + calibration.bias(), calibration.sd(), random);
            let read = ElongationReading::new(seen.clamp(-0.3, 3.0)).expect("clamped");
            let measurement = Measurement::percent(instrument, read).expect("a number");
            TimedReading::new(km(cell as f64 * step), measurement)
        })
        .collect();
    let now = now as f64 * step;
    let last = cells.last().map_or(0.0, |cell| *cell as f64 * step);
    Chain { group, readings, now, since: now - last, remaining: (end - now).max(0.0) }
}

/// How often the 80 % interval held, ended before or began after, of chains that are surely below their limit.
#[derive(Default, Clone, Copy)]
struct Coverage {
    told: usize,
    held: usize,
    longer: usize,
    shorter: usize,
}

#[derive(Default, Clone, Copy)]
struct Recovery {
    count: f64,
    bias: f64,
    square: f64,
    in_sd: f64,
}

fn size_of(group: usize) -> usize {
    match GROUPS[group].0 {
        3 => 0,
        30 => 1,
        _ => 2,
    }
}

/// One scenario: recovered parameters and coverage. `told`: whether the model is told of the exposure's error.
fn scenario(label: &str, scenario: Scenario, told: bool, fleets: u64) {
    let defaults = WearParameters::default();
    let calibrations = InstrumentCalibrations::default();
    let sd = |value: f64| LogSd::new(value).expect("a legal spread");
    let mut coverage = [Coverage::default(); 3];
    let mut recovery = [Recovery::default(); 3];
    let (mut taus, mut scales) = (Vec::new(), Vec::new());
    for fleet in 0..fleets {
        let mut chains = simulate(scenario, 1_000 + fleet);
        if told {
            for reading in chains.iter_mut().flat_map(|chain| &mut chain.readings) {
                *reading = reading.with_exposure_ln_sd(sd(WAY_SD));
            }
        }
        let names: Vec<String> = (0..GROUPS.len()).map(name).collect();
        let histories: Vec<ChainHistory<'_>> =
            chains.iter().map(|chain| ChainHistory::new(&names[chain.group], &chain.readings)).collect();
        let learned = fit(&histories, &defaults, &calibrations);
        taus.push(learned.sd_within);
        scales.push(learned.scale);
        for (group, (_, shift)) in GROUPS.into_iter().enumerate() {
            let found = &learned.groups[&names[group]];
            let miss = found.mean_log_rate - defaults.mean_log_rate() - shift;
            let of = &mut recovery[size_of(group)];
            of.count += 1.0;
            of.bias += miss;
            of.square += miss * miss;
            of.in_sd += (miss / found.mean_log_rate_sd).powi(2);
        }
        for chain in &chains {
            let open = if told {
                let since = if chain.since > 0.0 { sd(WAY_SD) } else { LogSd::ZERO };
                OpenExposure { since_last_reading: since, ahead: sd(WAY_SD) }
            } else {
                OpenExposure::EXACT
            };
            let remaining =
                Posterior::of(learned.parameters(&names[chain.group]), &calibrations, &chain.readings)
                    .with_open_exposure(open)
                    .outlook(km(chain.now), Limit::new(LIMIT).expect("a legal limit"))
                    .remaining;
            if remaining.p10 <= 0.0 {
                continue;
            }
            let of = &mut coverage[size_of(chain.group)];
            of.told += 1;
            of.longer += usize::from(chain.remaining > remaining.p90);
            of.shorter += usize::from(chain.remaining < remaining.p10);
            of.held += usize::from((remaining.p10..=remaining.p90).contains(&chain.remaining));
        }
    }
    let mean = |values: &[f64]| values.iter().sum::<f64>() / values.len() as f64;
    println!("\n### {label}\n");
    println!(
        "τ recovered {:.3} (true {TAU}), φ recovered {:.4} (true {PHI}); means of {fleets} fleets\n",
        mean(&taus),
        mean(&scales)
    );
    println!(
        "| group of | µ_g off by (mean) | (root mean square) | in its stated sd | chains told | 80 % interval holds | ± | shorter than P10 | longer than P90 |"
    );
    println!("|---|---|---|---|---|---|---|---|---|");
    for (size, (of, found)) in [3, 30, 300].into_iter().zip(coverage.into_iter().zip(recovery)) {
        let percent = |count: usize| 100.0 * count as f64 / of.told as f64;
        println!(
            "| {size} | {:+.3} | {:.3} | {:.2} | {} | {:.1} % | {:.1} | {:.1} % | {:.1} % |",
            found.bias / found.count,
            (found.square / found.count).sqrt(),
            (found.in_sd / found.count).sqrt(),
            of.told,
            percent(of.held),
            40.0 / (of.told as f64).sqrt(),
            percent(of.shorter),
            percent(of.longer)
        );
    }
}

fn phi(z: f64) -> f64 {
    0.5 * erfc(-z * std::f64::consts::FRAC_1_SQRT_2)
}

fn log_likelihood(measurement: &Measurement, elongation: f64) -> f64 {
    let calibration = measurement.instrument().default_calibration();
    match measurement.content() {
        Content::Elongation(spots) => {
            let sd = calibration.sd() / f64::from(spots.count()).sqrt();
            -0.5 * ((spots.mean() - calibration.bias() - elongation) / sd).powi(2)
        }
        Content::Gauge { mark, drops_in } => {
            let inside = phi((elongation + calibration.bias() - mark.get()) / calibration.sd());
            (if drops_in { inside } else { 1.0 - inside }).ln()
        }
        other => unreachable!("{other:?} is not among the cases"),
    }
}

/// One history by the filter and by a million paths drawn from the prior and weighed by the readings.
fn against_sampler(label: &str, p: &WearParameters, readings: &[TimedReading], now: f64) {
    const PATHS: usize = 1_000_000;
    let mut random = ChaCha8Rng::seed_from_u64(77);
    let mut paths = Vec::with_capacity(PATHS);
    for _ in 0..PATHS {
        let mut x = normal(p.initial_mean(), p.initial_sd(), &mut random);
        let theta = normal(p.mean_log_rate(), p.sd_log_rate(), &mut random).exp();
        let (mut s, mut log) = (0.0, 0.0);
        for reading in readings {
            x += gamma(theta * (reading.at.get() - s) / p.scale(), p.scale(), &mut random);
            s = reading.at.get();
            log += log_likelihood(&reading.measurement, x + running_in(p, s));
        }
        x += gamma(theta * (now - s) / p.scale(), p.scale(), &mut random);
        paths.push((x + running_in(p, now), theta, log));
    }
    let largest = paths.iter().map(|path| path.2).fold(f64::NEG_INFINITY, f64::max);
    paths.iter_mut().for_each(|path| path.2 = (path.2 - largest).exp());
    let sum: f64 = paths.iter().map(|path| path.2).sum();
    paths.iter_mut().for_each(|path| path.2 /= sum);
    let effective = 1.0 / paths.iter().map(|path| path.2 * path.2).sum::<f64>();
    paths.sort_by(|a, b| a.0.total_cmp(&b.0));
    let quantile = |level: f64| {
        let mut below = 0.0;
        paths
            .iter()
            .find(|path| {
                below += path.2;
                below >= level
            })
            .map_or(f64::NAN, |path| path.0)
    };
    let ours = Posterior::of(p, &InstrumentCalibrations::default(), readings)
        .outlook(km(now), Limit::new(LIMIT).expect("a legal limit"));
    // A path that weighs less than this changes no digit that is printed.
    let heavy: Vec<_> = paths.iter().filter(|path| path.2 > 1e-12).collect();
    // P(R ≤ s) of the sampled states; then one step of Newton from our quantile to theirs.
    let over = |s: f64| -> f64 {
        heavy
            .iter()
            .map(|(elongation, theta, weight)| {
                let room = LIMIT - elongation - running_in(p, now + s) + running_in(p, now);
                if room <= 0.0 {
                    *weight
                } else {
                    weight * (1.0 - gamma_lr(theta * s / p.scale(), room / p.scale()))
                }
            })
            .sum()
    };
    let (e, r) = (ours.elongation, ours.remaining);
    let (mut worst, mut worst_life) = (0.0_f64, 0.0_f64);
    for (level, e, r) in [(0.1, e.p10, r.p10), (0.5, e.p50, r.p50), (0.9, e.p90, r.p90)] {
        worst = worst.max((e - quantile(level)).abs());
        if r > 0.0 {
            let slope = (over(1.01 * r) - over(0.99 * r)) / 0.02;
            worst_life = worst_life.max(((level - over(r)) / slope).abs());
        }
    }
    let likely: f64 = heavy.iter().filter(|path| path.0 >= LIMIT).map(|path| path.2).sum();
    println!(
        "| {label} | {effective:.0} | {worst:.5} | {:.2} % | {:.5} |",
        100.0 * worst_life,
        (likely - ours.probability_over_limit).abs()
    );
}

fn sampler() {
    use Instrument::{Caliper, Dial, DropIn, DropInIsolating, Rule};
    let number = |at: f64, instrument: Instrument, read: f64| {
        let read = ElongationReading::new(read).expect("a legal reading");
        TimedReading::new(km(at), Measurement::percent(instrument, read).expect("a number"))
    };
    let gauge = |at: f64, instrument: Instrument, mark: f64, drops_in: bool| {
        let mark = GaugeMark::new(mark).expect("a legal mark");
        TimedReading::new(km(at), Measurement::gauge(instrument, mark, drops_in).expect("a gauge"))
    };
    let p = WearParameters::default();
    println!("\n## The posterior beside a sampler\n");
    println!(
        "A million paths from the prior, weighed by the readings; largest difference over P10, P50 and P90.\n"
    );
    println!(
        "| history | effective paths | elongation, percent | remaining life | probability over the limit |"
    );
    println!("|---|---|---|---|---|");
    against_sampler("no reading, 3,000 km", &p, &[], 3_000.0);
    let numbers = [number(600.0, Rule, 0.14), number(1_400.0, Rule, 0.20), number(2_200.0, Caliper, 0.36)];
    against_sampler("rule, rule, caliper", &p, &numbers, 2_500.0);
    let gauges = [
        gauge(1_200.0, DropIn, 0.5, false),
        gauge(2_400.0, DropIn, 0.5, true),
        gauge(2_400.0, DropInIsolating, 0.5, false),
        gauge(3_000.0, DropIn, 0.75, false),
    ];
    against_sampler("drop-in gauges", &p, &gauges, 3_100.0);
    let wide = p.with_log_rate(-8.5, 0.6).and_then(|p| p.with_scale(0.03)).expect("legal parameters");
    let few = [number(500.0, Dial, 0.22), gauge(900.0, DropInIsolating, 0.5, false)];
    against_sampler("a fast chain, wide prior, φ 0.03", &wide, &few, 1_000.0);
    let late = [number(2_000.0, Dial, 0.40), number(4_000.0, Rule, 0.70)];
    against_sampler("close to the limit", &p, &late, 4_300.0);
}

fn main() {
    let fleets = std::env::args().nth(1).and_then(|given| given.parse().ok()).unwrap_or(8);
    println!("## Fleets whose truth is known");
    scenario("The world is as the model has it", Scenario::Model, false, fleets);
    scenario("Exposure is uncertain, and the model is told", Scenario::Uncertain, true, fleets);
    scenario("Exposure is uncertain, and the model isn't told", Scenario::Uncertain, false, fleets);
    scenario("Noise goes both ways (Wiener)", Scenario::Wiener, false, fleets);
    scenario("Wear speeds up from 0.5 %", Scenario::Late, false, fleets);
    sampler();
}
