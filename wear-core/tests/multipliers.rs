//! What a fleet can learn of water, gravel, mud, the trainer and neglect, on fleets whose truth is known.

use std::time::Instant;

use rand::{RngExt as _, SeedableRng as _};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution as _, Gamma, LogNormal, Normal};
use wear_core::degradation::{Start, TimedReading, WearParameters};
use wear_core::exposure::care::{CareModel, CareState, Segment};
use wear_core::exposure::{Context, ContextMultipliers, Multiplier};
use wear_core::fleet::calibration::{self, ChainHistory};
use wear_core::fleet::multipliers::{
    CHAINS_TO_LEARN, ContextExposure, Covariate, ExposedChain, ExposedReading, MultiplierFit, fit,
};
use wear_core::reading::{Instrument, InstrumentCalibrations, Measurement};
use wear_core::units::{ElongationReading, GaugeMark, Limit, LogSd, Probability, ReferenceKilometres};

/// ln of truth over prior: a fleet in worse rain, on kinder gravel, in worse mud, on harder trainers, that neglect
/// hurts less.
const TRUTH: [f64; 5] = [0.45, -0.40, 0.50, 0.30, -0.45];

fn truth() -> (ContextMultipliers, CareModel) {
    let mut multipliers = ContextMultipliers::default();
    for &context in Context::ALL {
        let Multiplier { median, ln_sd } = multipliers.get(context);
        let shift: f64 =
            Covariate::ALL.iter().zip(TRUTH).filter(|(k, _)| k.is_in(context)).map(|(_, by)| by).sum();
        multipliers = multipliers.with(context, Multiplier { median: median * shift.exp(), ln_sd }).unwrap();
    }
    (multipliers, CareModel::default().with_neglected(1.0 + TRUTH[4].exp()).unwrap())
}

struct Scenario {
    chains: usize,
    /// How many of them leave dry pavement.
    varied: usize,
    instruments: &'static [Instrument],
    /// Whether they were on already when their records began: of any wear, past running-in, and rather the slow ones.
    as_found: bool,
    seed: u64,
}

/// Each chain mixes its own contexts and has its own care, both changing from reading to reading.
fn simulate(scenario: &Scenario) -> Vec<(String, Vec<ExposedReading>)> {
    let mut random = ChaCha8Rng::seed_from_u64(scenario.seed);
    let p = WearParameters::default();
    let (multipliers, care) = truth();
    (0..scenario.chains)
        .map(|i| {
            let group = ["town", "hire"][i % 2];
            let median = p.mean_log_rate() + [0.1, -0.2][i % 2];
            let (median, ran_in) =
                if scenario.as_found { (median - 0.3 * 0.3, p.running_in()) } else { (median, 0.0) };
            let rate = LogNormal::new(median, 0.3).unwrap().sample(&mut random);
            let mut elongation = Normal::new(p.initial_mean(), p.initial_sd()).unwrap().sample(&mut random);
            if scenario.as_found {
                elongation += random.random_range(0.07..0.75) - p.initial_mean();
            }
            let mut exposure = ContextExposure::default();
            let mut state = CareState::fresh();
            let taste: Vec<f64> = (0..7).map(|_| random.random_range(0.0..1.0_f64).powi(4)).collect();
            let every = random.random_range(150.0..1500.0);
            let mut since = 0.0;
            let (mut last, mut worn) = (0.0, 0.0);
            let mut readings = Vec::new();
            for _ in 0..4 {
                for _ in 0..20 {
                    let context = if i < scenario.varied {
                        let whole: f64 = taste.iter().sum();
                        let mut at = random.random_range(0.0..whole);
                        let place = taste.iter().position(|share| {
                            at -= share;
                            at <= 0.0
                        });
                        Context::ALL[place.unwrap_or(0)]
                    } else {
                        Context::PavedDry
                    };
                    let base = random.random_range(5.0..25.0);
                    let prior = ContextMultipliers::default().get(context).median;
                    let (dry, wet) = if context.is_wet() { (0.0, base * prior) } else { (base * prior, 0.0) };
                    let (neglect, after) = care.neglect(state, Segment { dry, wet });
                    state = after;
                    since += base;
                    if since > every {
                        (since, state) = (0.0, CareState::fresh());
                    }
                    let share = Probability::new(neglect.get()).unwrap();
                    exposure.add(context, ReferenceKilometres::new(base).unwrap(), share);
                }
                let s = exposure.reference_km(&multipliers, &care);
                let grown = Gamma::new(rate * (s - last) / p.scale(), p.scale()).unwrap();
                elongation += grown.sample(&mut random);
                last = s;
                let running_in = p.running_in() * (1.0 - (-s / p.running_in_distance()).exp());
                worn = elongation + running_in.max(ran_in) - ran_in;
                let instrument = scenario.instruments[random.random_range(0..scenario.instruments.len())];
                readings.push(ExposedReading {
                    exposure,
                    measurement: read(instrument, worn, &mut random),
                    exposure_ln_sd: LogSd::ZERO,
                });
                if worn > 1.4 {
                    break;
                }
            }
            assert!(worn.is_finite());
            (group.to_owned(), readings)
        })
        .collect()
}

fn read(instrument: Instrument, elongation: f64, random: &mut ChaCha8Rng) -> Measurement {
    let calibration = instrument.default_calibration();
    let seen = elongation + calibration.bias() + Normal::new(0.0, calibration.sd()).unwrap().sample(random);
    if instrument.is_gauge() {
        let mark = [0.25, 0.5, 0.75][random.random_range(0..3)];
        Measurement::gauge(instrument, GaugeMark::new(mark).unwrap(), seen > mark).unwrap()
    } else {
        Measurement::percent(instrument, ElongationReading::new(seen.clamp(-0.3, 3.0)).unwrap()).unwrap()
    }
}

fn learn(scenario: &Scenario) -> (MultiplierFit, f64) {
    let start = if scenario.as_found { Start::as_found(Limit::new(0.75).unwrap()) } else { Start::New };
    learn_starting(scenario, start)
}

fn learn_starting(scenario: &Scenario, start: Start) -> (MultiplierFit, f64) {
    let simulated = simulate(scenario);
    let chains: Vec<ExposedChain<'_>> =
        simulated.iter().map(|(group, readings)| ExposedChain { group, start, readings }).collect();
    let began = Instant::now();
    let fit = fit(
        &chains,
        &WearParameters::default(),
        &InstrumentCalibrations::default(),
        &ContextMultipliers::default(),
        &CareModel::default(),
    );
    (fit, began.elapsed().as_secs_f64())
}

/// Learns on one fleet, prints what came back, and the misses in standard deviations.
fn recovered(name: &str, instruments: &'static [Instrument], as_found: bool, seed: u64) -> MultiplierFit {
    let chains = 120;
    let (found, seconds) = learn(&Scenario { chains, varied: chains, instruments, as_found, seed });
    println!("{name}, {chains} chains, {seconds:.1} s");
    let mut misses = Vec::new();
    for (known, truth) in found.covariates.iter().zip(TRUTH) {
        let miss = (known.ln_shift - truth) / known.ln_sd;
        println!(
            "  {:6} shift {:+.3} (true {truth:+.3}), sd {:.3}, off by {miss:+.1} sd, {} chains vary",
            known.covariate.as_str(),
            known.ln_shift,
            known.ln_sd,
            known.chains
        );
        assert!(known.learned && miss.abs() < 3.0, "{name} {known:?}");
        misses.push(miss);
        // The stated error, where the fleet says enough to state one: a fifth, of the multiplier or of what neglect adds.
        assert!(known.ln_sd >= 0.1 || (known.ln_shift - truth).abs() < 0.2, "{name} {known:?}");
    }
    let (town, hire) = (&found.fleet.groups["town"], &found.fleet.groups["hire"]);
    println!(
        "  town − hire {:.3} (true 0.300), τ {:.3} (true 0.3)",
        town.mean_log_rate - hire.mean_log_rate,
        found.fleet.sd_within
    );
    let square = misses.iter().map(|miss| miss * miss).sum::<f64>() / misses.len() as f64;
    println!("  root mean square of the misses: {:.2} of their sd", square.sqrt());
    assert!((0.3..1.8).contains(&square.sqrt()), "{misses:?}");
    assert!(found.covariates.iter().filter(|known| known.ln_sd < 0.15).count() >= 2, "little was learned");
    found
}

#[test]
fn chains_as_found_teach_as_new_ones_do() {
    let scenario =
        Scenario { chains: 49, varied: 0, instruments: &[Instrument::Dial], as_found: true, seed: 6 };
    // Taken for new, their first readings are wear of no kilometres.
    let (told, taken_for_new) = (learn(&scenario).0, learn_starting(&scenario, Start::New).0);
    let off = |fit: &MultiplierFit| {
        ["town", "hire"].map(|group| {
            let truth = WearParameters::default().mean_log_rate() + if group == "town" { 0.1 } else { -0.2 };
            (fit.fleet.groups[group].mean_log_rate - truth).abs()
        })
    };
    println!("means of groups off by {:.3?}, taken for new {:.3?}", off(&told), off(&taken_for_new));
    assert!(off(&told).iter().sum::<f64>() < 0.4 * off(&taken_for_new).iter().sum::<f64>());
}

#[test]
#[ignore = "takes minutes: cargo test --release -p wear-core --test multipliers -- --ignored --nocapture"]
fn known_multipliers_come_back_from_chains_as_found() {
    for seed in [7, 8] {
        let _found = recovered("dial gauges, chains as found", &[Instrument::Dial], true, seed);
    }
}

#[test]
fn known_multipliers_come_back() {
    let _found = recovered("dial gauges", &[Instrument::Dial], false, 1);
}

#[test]
#[ignore = "takes minutes: cargo test --release -p wear-core --test multipliers -- --ignored --nocapture"]
fn known_multipliers_come_back_by_rule_and_by_drop_in_gauge() {
    let _found = recovered("rules and dials", &[Instrument::Rule, Instrument::Dial], false, 2);
    let gauges = &[Instrument::DropIn, Instrument::DropInIsolating];
    let _found = recovered("drop-in gauges", gauges, false, 3);
}

#[test]
fn learning_the_multipliers_explains_more_of_the_spread_between_chains() {
    let scenario =
        Scenario { chains: 80, varied: 80, instruments: &[Instrument::Dial], as_found: false, seed: 5 };
    let (found, _) = learn(&scenario);
    let simulated = simulate(&scenario);
    let (priors, care) = (ContextMultipliers::default(), CareModel::default());
    let timed: Vec<Vec<_>> = simulated
        .iter()
        .map(|(_, readings)| {
            let at = |reading: &ExposedReading| reading.exposure.reference_km(&priors, &care);
            readings
                .iter()
                .map(|reading| {
                    TimedReading::new(ReferenceKilometres::new(at(reading)).unwrap(), reading.measurement)
                })
                .collect()
        })
        .collect();
    let histories: Vec<ChainHistory<'_>> = simulated
        .iter()
        .zip(&timed)
        .map(|((group, _), readings)| ChainHistory::new(group, readings))
        .collect();
    let without =
        calibration::fit(&histories, &WearParameters::default(), &InstrumentCalibrations::default());
    println!("τ with the priors {:.3}, learned {:.3}, true 0.300", without.sd_within, found.fleet.sd_within);
    assert!(found.fleet.sd_within < without.sd_within);
}

#[test]
fn fewer_than_fifty_chains_leave_the_priors() {
    let scenario = Scenario {
        chains: CHAINS_TO_LEARN - 1,
        varied: CHAINS_TO_LEARN - 1,
        instruments: &[Instrument::Dial],
        as_found: false,
        seed: 9,
    };
    let (few, _) = learn(&scenario);
    assert_eq!(few.multipliers, ContextMultipliers::default());
    assert_eq!(few.care, CareModel::default());
    assert!(few.covariates.iter().all(|known| !known.learned && known.ln_shift == 0.0 && known.ln_sd > 0.0));

    // Many chains, all of them on dry pavement: neglect alone varies.
    let (dry, _) = learn(&Scenario {
        chains: 60,
        varied: 0,
        instruments: &[Instrument::Dial],
        as_found: false,
        seed: 10,
    });
    assert_eq!(dry.multipliers, ContextMultipliers::default());
    for known in dry.covariates {
        assert_eq!(known.learned, known.covariate == Covariate::Care, "{known:?}");
    }
}
