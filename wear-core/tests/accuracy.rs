//! The posterior against grids that are ten times finer.

use wear_core::degradation::{Posterior, Quantiles, Resolution, TimedReading, WearParameters};
use wear_core::reading::{Instrument, InstrumentCalibrations, Measurement};
use wear_core::units::{ElongationReading, GaugeMark, Limit, ReferenceKilometres};

fn km(value: f64) -> ReferenceKilometres {
    ReferenceKilometres::new(value).unwrap()
}

fn limit(value: f64) -> Limit {
    Limit::new(value).unwrap()
}

fn percent(at: f64, instrument: Instrument, value: f64) -> TimedReading {
    let measurement = Measurement::percent(instrument, ElongationReading::new(value).unwrap()).unwrap();
    TimedReading::new(km(at), measurement)
}

fn gauge(at: f64, instrument: Instrument, mark: f64, drops_in: bool) -> TimedReading {
    let measurement = Measurement::gauge(instrument, GaugeMark::new(mark).unwrap(), drops_in).unwrap();
    TimedReading::new(km(at), measurement)
}

struct History {
    name: &'static str,
    parameters: WearParameters,
    readings: Vec<TimedReading>,
    now: f64,
    limit: f64,
}

fn histories() -> Vec<History> {
    use Instrument::{Caliper, Dial, DropIn, DropInIsolating, Rule};
    let default = WearParameters::default();
    let case = |name, readings: &[TimedReading], now, limit| History {
        name,
        parameters: default,
        readings: readings.to_vec(),
        now,
        limit,
    };
    let dial_every = |step: f64, count: usize, rate: f64| -> Vec<TimedReading> {
        (1..=count)
            .map(|i| {
                let s = step * i as f64;
                percent(s, Dial, 0.065 + rate * s + 0.012 * ((i * 7 % 5) as f64 - 2.0))
            })
            .collect()
    };
    let early = [(1.0, 0.05), (2.0, 0.03), (5.0, 0.06), (10.0, 0.04), (50.0, 0.07)];
    // Readings from 0.05 to 0.4 percent within ten km, by a walk of two irrational steps.
    let scattered = |count: usize| -> Vec<TimedReading> {
        (1..=count)
            .map(|i| {
                let at = 10.0 * (i as f64 * std::f64::consts::SQRT_2).fract();
                percent(at, Rule, 0.05 + 0.35 * (i as f64 * std::f64::consts::E).fract())
            })
            .collect()
    };
    let vary = |name, parameters: Result<WearParameters, _>| History {
        name,
        parameters: parameters.unwrap(),
        readings: vec![percent(900.0, Dial, 0.17), percent(1700.0, Dial, 0.29), percent(2600.0, Rule, 0.37)],
        now: 2700.0,
        limit: 0.75,
    };
    vec![
        case("no reading, new", &[], 0.0, 0.75),
        case("no reading, half worn", &[], 2500.0, 0.5),
        case("no reading, long past", &[], 40_000.0, 0.75),
        case("one rule", &[percent(812.0, Rule, 0.21)], 1700.0, 0.75),
        case("one dial, soon after", &[percent(3.0, Dial, 0.05)], 3.0, 0.5),
        case("dial at 1, 2, 5, 10, 50 km", &early.map(|(at, value)| percent(at, Dial, value)), 60.0, 0.5),
        case("forty dials, every 20 km", &dial_every(20.0, 40, 0.000_13), 800.0, 0.75),
        case("sixty dials, every 100 km", &dial_every(100.0, 60, 0.000_11), 6000.0, 1.0),
        case(
            "dial near the limit",
            &[percent(1500.0, Dial, 0.30), percent(3300.0, Dial, 0.485)],
            3350.0,
            0.5,
        ),
        case("over the limit", &[percent(3000.0, Caliper, 0.62)], 3100.0, 0.5),
        case(
            "gauges only",
            &[
                gauge(1500.0, DropIn, 0.5, false),
                gauge(2600.0, DropIn, 0.5, true),
                gauge(2600.0, DropIn, 0.75, false),
                gauge(3300.0, DropIn, 0.75, false),
            ],
            3400.0,
            0.75,
        ),
        case("one gauge that dropped in", &[gauge(3000.0, DropInIsolating, 0.75, true)], 3000.0, 1.0),
        case("gauge that dropped in early", &[gauge(400.0, DropInIsolating, 0.75, true)], 400.0, 1.0),
        case(
            "rule, caliper, gauge mixed",
            &[
                percent(600.0, Rule, 0.14),
                gauge(1500.0, DropInIsolating, 0.25, true),
                percent(1800.0, Caliper, 0.31),
                gauge(2400.0, DropIn, 0.5, false),
                percent(2400.0, Rule, 0.30),
            ],
            2500.0,
            0.5,
        ),
        case(
            "fast wear",
            &[percent(300.0, Dial, 0.25), percent(500.0, Dial, 0.38), percent(700.0, Dial, 0.52)],
            750.0,
            0.75,
        ),
        case("slow, far ahead", &[percent(5000.0, Dial, 0.20), percent(9000.0, Dial, 0.31)], 30_000.0, 1.0),
        case("a dozen rules that scatter, 10 km", &scattered(12), 12.0, 0.75),
        case("thirty rules that scatter, 10 km", &scattered(30), 12.0, 0.75),
        case("thrice at the same time", &[percent(2000.0, Dial, 0.33); 3], 2000.0, 0.5),
        vary("tiny scale", default.with_scale(1e-5)),
        vary("small scale", default.with_scale(1e-3)),
        vary("large scale", default.with_scale(0.1)),
        vary("huge scale", default.with_scale(1.0)),
        vary("narrow group", default.with_log_rate(-9.0, 0.01)),
        vary("wide group", default.with_log_rate(-9.0, 1.5)),
        vary("known new chain", default.with_initial(0.02, 0.002).and_then(|p| p.with_running_in(0.0, 1.0))),
    ]
}

fn all(quantiles: Quantiles) -> [f64; 3] {
    [quantiles.p10, quantiles.p50, quantiles.p90]
}

/// Stated accuracy: elongation within 0.003 percent, remaining life within 1 percent. Held to a fifth of it here. A
/// reading that contradicts the process is set aside on both grids.
#[test]
fn ten_times_finer_grids_give_the_same() {
    println!("{:30} {:>11} {:>11} {:>11}", "history", "Δε percent", "ΔR share", "Δ P(over)");
    let calibrations = InstrumentCalibrations::default();
    let mut contradictory = Vec::new();
    for history in histories() {
        let posterior = |resolution| {
            Posterior::with_resolution(&history.parameters, &calibrations, resolution)
                .after(&history.readings)
        };
        let (ours, finer) = (posterior(Resolution::STANDARD), posterior(Resolution::TENFOLD));
        assert_eq!(ours.is_contradictory(), finer.is_contradictory(), "{}", history.name);
        if ours.is_contradictory() {
            contradictory.push(history.name);
        }
        let outlook = |posterior: &Posterior| posterior.outlook(km(history.now), limit(history.limit));
        let (ours, finer) = (outlook(&ours), outlook(&finer));
        let pairs = |a: Quantiles, b: Quantiles| all(a).into_iter().zip(all(b));
        let elongation =
            pairs(ours.elongation, finer.elongation).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max);
        let remaining = pairs(ours.remaining, finer.remaining)
            .map(|(a, b)| if a == b { 0.0 } else { (a / b - 1.0).abs() })
            .fold(0.0, f64::max);
        let over = (ours.probability_over_limit - finer.probability_over_limit).abs();
        println!(
            "{:30} {elongation:11.2e} {remaining:11.2e} {over:11.2e}   {:8.1?} {:.4?}",
            history.name,
            all(ours.remaining),
            all(ours.elongation)
        );
        assert!(elongation < 0.000_6, "{}: {:?} {:?}", history.name, ours.elongation, finer.elongation);
        assert!(remaining < 0.002, "{}: {:?} {:?}", history.name, ours.remaining, finer.remaining);
        assert!(over < 1e-4, "{}: {over:e}", history.name);
    }
    assert_eq!(contradictory, ["gauge that dropped in early"]);
}

#[test]
fn a_blunder_is_named_and_leaves_the_outlook_as_it_was() {
    let (parameters, calibrations) = (WearParameters::default(), InstrumentCalibrations::default());
    let sound = [percent(900.0, Instrument::Rule, 0.15), percent(1_700.0, Instrument::Dial, 0.27)];
    let without = Posterior::of(&parameters, &calibrations, &sound);
    assert!(!without.is_contradictory() && without.contradictions().is_empty());
    let expected = without.outlook(km(1_900.0), limit(0.75));
    for blunder in [percent(1_800.0, Instrument::Dial, 1.9), percent(1_800.0, Instrument::Dial, -0.1)] {
        let with = Posterior::of(&parameters, &calibrations, &[sound[0], sound[1], blunder]);
        assert!(with.is_contradictory());
        let found = with.contradictions()[0];
        assert_eq!((found.earlier, found.later), (Some(sound[1]), blunder));
        let outlook = with.outlook(km(1_900.0), limit(0.75));
        for (one, other) in all(outlook.remaining).into_iter().zip(all(expected.remaining)) {
            assert!((one / other - 1.0).abs() < 1e-4, "{one} {other}");
        }
    }
}

#[test]
fn a_new_chain_is_expected_where_the_moments_of_the_process_put_it() {
    let parameters = WearParameters::default();
    let read = percent(2_500.0, Instrument::Dial, 0.15);
    let posterior = Posterior::of(&parameters, &InstrumentCalibrations::default(), &[read]);
    let expected = posterior.predictives()[0];
    let tau2 = parameters.sd_log_rate().powi(2);
    let wear = 2_500.0 * (parameters.mean_log_rate() + 0.5 * tau2).exp();
    let mean =
        parameters.initial_mean() + parameters.running_in() * (1.0 - (-2_500.0_f64 / 150.0).exp()) + wear;
    let variance =
        parameters.initial_sd().powi(2) + wear * parameters.scale() + wear * wear * (tau2.exp() - 1.0);
    assert!((expected.mean - mean).abs() < 1e-6, "{} {mean}", expected.mean);
    assert!((expected.sd - variance.sqrt()).abs() < 1e-6, "{} {}", expected.sd, variance.sqrt());
}
