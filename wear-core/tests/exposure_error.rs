//! Exposure that is itself uncertain widens what is said of a chain, and by as much as it should.

use proptest::prelude::*;
use rand::SeedableRng as _;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution as _, Gamma, LogNormal, Normal};
use wear_core::degradation::{
    FastPhase, OpenExposure, Outlook, Posterior, Quantiles, TimedReading, WearParameters,
};
use wear_core::reading::{Instrument, InstrumentCalibrations, Measurement};
use wear_core::units::{ElongationReading, Limit, LogSd, ReferenceKilometres};

const LIMIT: f64 = 0.75;

fn km(value: f64) -> ReferenceKilometres {
    ReferenceKilometres::new(value).unwrap()
}

fn sd(value: f64) -> LogSd {
    LogSd::new(value).unwrap()
}

fn dial(at: f64, read: f64, ln_sd: f64) -> TimedReading {
    let read = ElongationReading::new(read).unwrap();
    let measurement = Measurement::percent(Instrument::Dial, read).unwrap();
    TimedReading::new(km(at), measurement).with_exposure_ln_sd(sd(ln_sd))
}

fn outlook(parameters: &WearParameters, readings: &[TimedReading], open: OpenExposure, at: f64) -> Outlook {
    Posterior::of(parameters, &InstrumentCalibrations::default(), readings)
        .with_open_exposure(open)
        .outlook(km(at), Limit::new(LIMIT).unwrap())
}

/// How wide the interval is, as the logarithm of P90 over P10.
fn width(of: Quantiles) -> f64 {
    (of.p90 / of.p10).ln()
}

/// Readings every 500 reference km of a chain that wears at `rate` percent per 1,000, each way with its own error.
fn history(rate: f64, count: u32, ln_sd: f64) -> Vec<TimedReading> {
    (1..=count)
        .map(|i| {
            let at = 500.0 * f64::from(i);
            dial(at, 0.07 + rate * at / 1e3, ln_sd)
        })
        .collect()
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 48, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn error_of_the_exposure_never_narrows_the_remaining_life(
        rate in 0.08..0.2_f64, count in 0..4_u32, less in 0.0..0.3_f64, more in 0.05..0.4_f64,
    ) {
        let parameters = WearParameters::default();
        let at = 500.0 * f64::from(count);
        let open = |ln_sd: f64| OpenExposure { ahead: sd(ln_sd), ..OpenExposure::EXACT };
        // Of the way ahead.
        let way = |ln_sd: f64| outlook(&parameters, &history(rate, count, 0.0), open(ln_sd), at);
        let (narrow, wide) = (way(less).remaining, way(less + more).remaining);
        prop_assert!(narrow.p10 <= 0.0 || width(wide) > width(narrow), "ahead {narrow:?} {wide:?}");
        // Of the ways between readings.
        if count > 0 {
            // What they say of the rate; less trust also moves the rate towards what was expected.
            let spread = |ln_sd: f64| {
                let calibrations = InstrumentCalibrations::default();
                Posterior::of(&parameters, &calibrations, &history(rate, count, ln_sd)).log_rate().1
            };
            prop_assert!(spread(less + more) > spread(less), "between {} {}", spread(less), spread(less + more));
        }
        // Shared by all.
        let shared = |ln_sd: f64| {
            let parameters = parameters.with_shared_exposure_error(sd(ln_sd));
            outlook(&parameters, &history(rate, count, 0.0), OpenExposure::EXACT, at)
        };
        let (narrow, wide) = (shared(less).remaining, shared(less + more).remaining);
        prop_assert!(narrow.p10 <= 0.0 || width(wide) > width(narrow), "shared {narrow:?} {wide:?}");
    }

    #[test]
    fn kilometres_counted_wrong_by_one_factor_cancel(factor in 0.6..1.7_f64, rate in 0.1..0.16_f64) {
        // The same chain, its kilometres counted by another measure; the answer in that measure grows with it.
        let parameters = WearParameters::default().with_shared_exposure_error(sd(1.5));
        let counted = |factor: f64| {
            let readings: Vec<_> = (1..=4)
                .map(|i| dial(700.0 * f64::from(i) * factor, 0.07 + 0.7 * rate * f64::from(i), 0.0))
                .collect();
            outlook(&parameters, &readings, OpenExposure::EXACT, 2_800.0 * factor).remaining.p50 / factor
        };
        let (plain, scaled) = (counted(1.0), counted(factor));
        prop_assert!((scaled / plain).ln().abs() < 0.03, "{plain} {scaled}");
    }
}

#[test]
fn a_shared_error_is_learned_and_the_way_aheads_own_is_not() {
    let parameters = WearParameters::default();
    let readings = |count| history(0.125, count, 0.0);
    let exact = |count: u32| {
        width(outlook(&parameters, &readings(count), OpenExposure::EXACT, 500.0 * f64::from(count)).remaining)
    };
    let shared = |count: u32| {
        let wider = parameters.with_shared_exposure_error(sd(0.4));
        width(outlook(&wider, &readings(count), OpenExposure::EXACT, 500.0 * f64::from(count)).remaining)
    };
    let ahead = |count: u32| {
        let open = OpenExposure { ahead: sd(0.4), ..OpenExposure::EXACT };
        width(outlook(&parameters, &readings(count), open, 500.0 * f64::from(count)).remaining)
    };
    println!("readings   ln(P90/P10): exact, shared error 0.4, error 0.4 of the way ahead");
    for count in [0, 1, 2, 4, 7] {
        println!("{count:8}   {:.3}  {:.3}  {:.3}", exact(count), shared(count), ahead(count));
    }
    assert!(shared(0) > 1.3 * exact(0));
    assert!(shared(7) < 1.05 * exact(7), "{} {}", shared(7), exact(7));
    assert!(ahead(7) > 1.5 * exact(7));
}

/// Samples of the state now, weighted by the readings, and of the remaining life.
struct Cloud(Vec<([f64; 2], f64)>);

/// How an uncertain way is drawn.
#[derive(Clone, Copy, Debug)]
enum Law {
    /// As the filter has it.
    Gamma,
    /// As the multipliers are stated.
    LogNormal,
}

fn factor(law: Law, ln_sd: f64, random: &mut ChaCha8Rng) -> f64 {
    if ln_sd <= 0.0 {
        return 1.0;
    }
    match law {
        Law::LogNormal => LogNormal::new(0.0, ln_sd).unwrap().sample(random),
        Law::Gamma => {
            let a = ln_sd.powi(-2) + 0.5;
            Gamma::new(a, 1.0 / (a - 1.0 / 3.0)).unwrap().sample(random)
        }
    }
}

fn increment(p: &WearParameters, theta: f64, ds: f64, random: &mut ChaCha8Rng) -> f64 {
    let shape = theta * ds / p.scale();
    if shape <= 1e-9 { 0.0 } else { Gamma::new(shape, p.scale()).unwrap().sample(random) }
}

/// Importance sampling from the prior; `since` and `ahead` are reference km and ln sd.
fn sample(
    law: Law,
    p: &WearParameters,
    readings: &[(f64, f64, f64)],
    since: (f64, f64),
    ahead: (f64, f64),
    count: usize,
) -> Cloud {
    let mut random = ChaCha8Rng::seed_from_u64(5);
    let initial = Normal::new(p.initial_mean(), p.initial_sd()).unwrap();
    let log_rate = Normal::new(p.mean_log_rate(), p.sd_log_rate()).unwrap();
    let read_sd = Instrument::Dial.default_calibration().sd();
    let run_in = |s: f64| p.running_in() * (1.0 - (-s / p.running_in_distance()).exp());
    let mut samples = Vec::with_capacity(count);
    for _ in 0..count {
        let (mut x, theta) = (initial.sample(&mut random), log_rate.sample(&mut random).exp());
        let (mut s, mut log_weight) = (0.0, 0.0);
        for &(at, read, ln_sd) in readings {
            x += increment(p, theta, (at - s) * factor(law, ln_sd, &mut random), &mut random);
            s = at;
            log_weight -= 0.5 * ((read - x - run_in(s)) / read_sd).powi(2);
        }
        x += increment(p, theta, since.0 * factor(law, since.1, &mut random), &mut random);
        s += since.0;
        let now = x + run_in(s);
        x += increment(p, theta, ahead.0 * factor(law, ahead.1, &mut random), &mut random);
        samples.push(([now, x + run_in(s + ahead.0)], log_weight));
    }
    let largest = samples.iter().map(|(_, log)| *log).fold(f64::NEG_INFINITY, f64::max);
    samples.iter_mut().for_each(|(_, log)| *log = (*log - largest).exp());
    let sum: f64 = samples.iter().map(|(_, weight)| weight).sum();
    samples.iter_mut().for_each(|(_, weight)| *weight /= sum);
    Cloud(samples)
}

impl Cloud {
    /// Probability of being below, and its standard error.
    fn below(&self, which: usize, elongation: f64) -> (f64, f64) {
        let inside = |at: &[f64; 2]| f64::from(u8::from(at[which] < elongation));
        let mean: f64 = self.0.iter().map(|(at, weight)| weight * inside(at)).sum();
        let variance: f64 = self.0.iter().map(|(at, weight)| (weight * (inside(at) - mean)).powi(2)).sum();
        (mean, variance.sqrt())
    }
}

#[test]
fn uncertain_ways_agree_with_a_sampler() {
    let parameters = WearParameters::default().with_shared_exposure_error(sd(0.2));
    let readings = [(700.0, 0.18, 0.3), (1_600.0, 0.30, 0.15), (2_100.0, 0.34, 0.4)];
    let (since, ahead) = ((400.0, 0.25), (1_800.0, 0.35));
    let timed: Vec<_> = readings.iter().map(|&(at, read, ln_sd)| dial(at, read, ln_sd)).collect();
    let open = OpenExposure { since_last_reading: sd(since.1), ahead: sd(ahead.1) };
    let posterior =
        Posterior::of(&parameters, &InstrumentCalibrations::default(), &timed).with_open_exposure(open);
    let limit = Limit::new(LIMIT).unwrap();
    let now = km(2_500.0);
    let ours = posterior.outlook(now, limit);
    let over = posterior.probability_over(now, km(ahead.0), limit).get();
    for (law, tolerance) in [(Law::Gamma, 0.0), (Law::LogNormal, 0.01)] {
        let cloud = sample(law, &parameters, &readings, since, ahead, 400_000);
        let mut worst: f64 = 0.0;
        let mut check = |what: &str, ours: f64, (sampled, error): (f64, f64)| {
            worst = worst.max((ours - sampled).abs());
            assert!(
                (ours - sampled).abs() < tolerance + 4.5 * error,
                "{law:?} {what}: {ours} {sampled} ± {error}"
            );
        };
        for (p, e) in [(0.1, ours.elongation.p10), (0.5, ours.elongation.p50), (0.9, ours.elongation.p90)] {
            check("elongation", p, cloud.below(0, e));
        }
        check("over the limit then", 1.0 - over, cloud.below(1, LIMIT));
        println!("{law:?}: largest difference of a probability {worst:.4}");
    }
    assert!(over > 0.1 && over < 0.95, "{over}");
}

/// The fast phase as jumps that come more often, which is the other reading of "rate × (1 + 2(ε − 1)₊)".
fn fast_walk(p: &WearParameters, s: f64, random: &mut ChaCha8Rng) -> f64 {
    let theta = LogNormal::new(p.mean_log_rate(), p.sd_log_rate()).unwrap().sample(random);
    let start: f64 = Normal::new(p.initial_mean(), p.initial_sd()).unwrap().sample(random);
    let run_in = |s: f64| p.running_in() * (1.0 - (-s / p.running_in_distance()).exp());
    let (step, mut x) = (20.0, start);
    for i in 0..(s / step) as u32 {
        let faster = 1.0 + 2.0 * (x + run_in(f64::from(i) * step) - 1.0).max(0.0);
        let shape = theta * step * faster / p.scale();
        // Gamma(κ) = Gamma(κ + 1)·U^(1/κ), good for small κ.
        let u: f64 = rand::RngExt::random(random);
        x += Gamma::new(shape + 1.0, p.scale()).unwrap().sample(random) * u.powf(1.0 / shape);
    }
    x + run_in(s)
}

#[test]
fn the_fast_phase_agrees_with_jumps_that_come_more_often() {
    let slow = WearParameters::default();
    let fast = slow.with_fast_phase(FastPhase::ASSUMED);
    let calibrations = InstrumentCalibrations::default();
    let s = 8_000.0;
    let mut random = ChaCha8Rng::seed_from_u64(8);
    let walks: Vec<f64> = (0..16_000).map(|_| fast_walk(&fast, s, &mut random)).collect();
    let grid = [0.7, 0.9, 1.0, 1.2, 1.5, 2.0];
    let ours = Posterior::new(&fast, &calibrations).elongation_distribution(km(s), &grid);
    let without = Posterior::new(&slow, &calibrations).elongation_distribution(km(s), &grid);
    println!("at {s} reference km: P(ε < e) with the map, walked, without the phase");
    let mut worst: f64 = 0.0;
    for ((e, ours), without) in grid.iter().zip(&ours).zip(&without) {
        let walked = walks.iter().filter(|walk| **walk < *e).count() as f64 / walks.len() as f64;
        println!("  {e:.1} %  {ours:.4}  {walked:.4}  {without:.4}");
        worst = worst.max((ours - walked).abs());
    }
    // 16,000 walks tell a probability to ±0.004; what is beyond is the map's own error.
    assert!(worst < 0.015, "{worst}");
    assert!(without[4] - ours[4] > 0.05, "the phase has to show");

    // Below one percent nothing changes, above it life is shorter, and quantiles invert.
    let readings = [dial(3_000.0, 0.55, 0.0), dial(5_000.0, 0.98, 0.0), dial(5_600.0, 1.22, 0.0)];
    let of = |p: &WearParameters, readings: &[TimedReading]| Posterior::of(p, &calibrations, readings);
    let low = |p: &WearParameters| of(p, &readings[..1]).outlook(km(3_000.0), Limit::new(LIMIT).unwrap());
    assert_eq!(low(&slow).remaining, low(&fast).remaining);
    let high = |p: &WearParameters| of(p, &readings).outlook(km(5_600.0), Limit::new(2.0).unwrap());
    assert!(high(&fast).remaining.p50 < 0.85 * high(&slow).remaining.p50);
    let posterior = of(&fast, &readings);
    let quantiles = high(&fast).elongation;
    let back = posterior.elongation_distribution(km(5_600.0), &[quantiles.p10, quantiles.p50, quantiles.p90]);
    for (p, back) in [0.1, 0.5, 0.9].into_iter().zip(back) {
        assert!((p - back).abs() < 1e-5, "{p} {back}");
    }
}
