//! What explains readings that the record speaks against: histories with a known answer, and simulated ones.

use rand::{RngExt as _, SeedableRng as _};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution as _, Exp, Gamma, LogNormal, Normal};
use wear_core::degradation::{ExplanationKind, Explanations, Posterior, Start, TimedReading, WearParameters};
use wear_core::reading::{Instrument, InstrumentCalibrations, Measurement};
use wear_core::units::{ElongationReading, GaugeMark, Limit, ReferenceKilometres};

const EACH: usize = 200;

fn km(value: f64) -> ReferenceKilometres {
    ReferenceKilometres::new(value).expect("a legal distance")
}

fn number(at: f64, instrument: Instrument, read: f64) -> TimedReading {
    let read = ElongationReading::new(read).expect("a legal percentage");
    TimedReading::new(km(at), Measurement::percent(instrument, read).expect("a number"))
}

fn rule(at: f64, read: f64) -> TimedReading {
    number(at, Instrument::Rule, read)
}

fn explain(readings: &[TimedReading]) -> Option<Explanations> {
    Posterior::explain(&WearParameters::default(), &InstrumentCalibrations::default(), readings)
}

fn limit() -> Limit {
    Limit::new(0.75).expect("a legal limit")
}

#[test]
fn a_chain_that_reads_shorter_six_weeks_later_was_changed() {
    let readings = [rule(3_000.0, 0.45), rule(3_600.0, 0.12)];
    let found = explain(&readings).expect("a doubt");
    let likeliest = found.first().likeliest();
    println!("unrecorded swap: {:.3}", likeliest.probability);
    assert_eq!(likeliest.kind, ExplanationKind::UnrecordedSwap);
    assert!(likeliest.probability > 0.8, "{}", likeliest.probability);
    let place = likeliest.place.expect("a place");
    assert_eq!((place.after, place.index), (km(3_000.0), 1));
    let sum: f64 = found.first().explanations().iter().map(|one| one.probability).sum();
    assert!((sum - 1.0).abs() < 1e-12);

    // Each has its own numbers: a new chain has most of its life left, a wrong second number leaves the old one's.
    let left = |kind| {
        let one = found.first().explanations().iter().find(|one| one.kind == kind).expect("of each kind one");
        one.outlook(km(3_600.0), limit()).remaining.p50
    };
    assert!(left(ExplanationKind::UnrecordedSwap) > 3_500.0);
    assert!(left(ExplanationKind::WrongReading) < 3_000.0);
    let mixed = found.outlook(km(3_600.0), limit());
    assert!(mixed.remaining.p10 < left(ExplanationKind::UnrecordedSwap));
    assert!(mixed.elongation.p50 < 0.2, "{:?}", mixed.elongation);
}

#[test]
fn later_readings_tell_a_swap_from_a_slip_of_the_pen() {
    let kind = |readings: &[TimedReading]| explain(readings).expect("a doubt").first().likeliest().kind;
    let mut readings = vec![rule(1_000.0, 0.20), rule(2_000.0, 0.32), rule(3_000.0, 0.44)];
    readings.push(rule(3_300.0, 0.05));
    assert_eq!(kind(&readings), ExplanationKind::UnrecordedSwap);
    let mut slip = readings.clone();
    slip.extend([rule(3_600.0, 0.50), rule(4_000.0, 0.56)]);
    assert_eq!(kind(&slip), ExplanationKind::WrongReading);
    readings.extend([rule(3_600.0, 0.10), rule(4_200.0, 0.19)]);
    assert_eq!(kind(&readings), ExplanationKind::UnrecordedSwap);
    assert_eq!(explain(&readings).expect("a doubt").first().likeliest().place.expect("a place").index, 3);
}

#[test]
fn rides_that_nobody_entered_show_and_are_counted() {
    let dial = |at, read| number(at, Instrument::Dial, read);
    // 0.125 percent per 1,000 km, then 1,800 km worth of wear in 100, then as before.
    let readings = [
        dial(500.0, 0.13),
        dial(1_000.0, 0.19),
        dial(1_500.0, 0.26),
        dial(1_600.0, 0.49),
        dial(2_200.0, 0.56),
        dial(2_800.0, 0.64),
    ];
    let found = explain(&readings).expect("a doubt");
    let likeliest = found.first().likeliest();
    assert_eq!(likeliest.kind, ExplanationKind::MissingRiding, "{likeliest:?}");
    let missing = likeliest.missing.expect("an amount");
    println!("missing: {missing:?}");
    assert!(missing.p10 > 500.0 && missing.p90 > 1_700.0 && missing.p90 < 3_000.0, "{missing:?}");
}

#[test]
fn several_odd_readings_are_explained_one_by_one() {
    let mut readings: Vec<TimedReading> =
        (1..=9).map(|i| f64::from(i) * 500.0).map(|s| rule(s, 0.07 + 0.000_125 * s)).collect();
    readings[2] = rule(1_500.0, 2.4);
    readings[6] = rule(3_500.0, 1.9);
    let found = explain(&readings).expect("a doubt");
    let mut wrong: Vec<usize> = found.changes().map(|one| one.place.expect("a place").index).collect();
    wrong.sort_unstable();
    assert_eq!(wrong, [2, 6]);
    assert!(found.changes().all(|one| one.kind == ExplanationKind::WrongReading));
    let left: Vec<TimedReading> =
        readings.iter().enumerate().filter(|(i, _)| ![2, 6].contains(i)).map(|(_, r)| *r).collect();
    let plain = Posterior::of(&WearParameters::default(), &InstrumentCalibrations::default(), &left);
    let (ours, plain) = (found.outlook(km(4_600.0), limit()), plain.outlook(km(4_600.0), limit()));
    let apart = (ours.remaining.p50 / plain.remaining.p50 - 1.0).abs();
    assert!(apart < 0.05, "{:?} {:?}", ours.remaining, plain.remaining);
}

#[test]
fn a_new_reading_of_a_chain_as_found_is_no_contradiction() {
    let parameters = WearParameters::default().with_start(Start::as_found(limit()));
    for read in [0.05, 0.2, 0.4, 0.7, 0.8] {
        let readings = [rule(0.0, read)];
        let posterior = Posterior::of(&parameters, &InstrumentCalibrations::default(), &readings);
        assert!(!posterior.is_doubted() && posterior.contradictions().is_empty(), "{read}");
        let middle = posterior.outlook(km(0.0), limit()).elongation.p50;
        assert!((middle - read).abs() < 0.06, "{read}: {middle}");
        let resumed = Posterior::from_checkpoint(&posterior.checkpoint()).expect("a checkpoint");
        assert_eq!(resumed.outlook(km(100.0), limit()), posterior.outlook(km(100.0), limit()));
        assert_eq!(resumed.parameters(), posterior.parameters());
    }
}

#[test]
fn a_gauge_that_stays_out_where_it_dropped_in_asks_for_a_swap() {
    let gauge = |at, mark, drops_in| {
        let mark = GaugeMark::new(mark).expect("a mark");
        let measured = Measurement::gauge(Instrument::DropInIsolating, mark, drops_in).expect("a gauge");
        TimedReading::new(km(at), measured)
    };
    let found = explain(&[gauge(3_000.0, 0.5, true), gauge(3_500.0, 0.5, true), gauge(4_000.0, 0.5, false)]);
    let found = found.expect("a doubt");
    assert_ne!(found.first().likeliest().kind, ExplanationKind::AsRecorded, "{:?}", found.first());
}

/// What nobody wrote down.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Truth {
    Sound,
    Swap,
    Missing,
    Typing,
}

/// A history of three to eight readings with one thing wrong before or at one of them, the first apart.
fn history(truth: Truth, random: &mut ChaCha8Rng) -> Vec<TimedReading> {
    const STEP: f64 = 10.0;
    let p = WearParameters::default();
    let rate = LogNormal::new(p.mean_log_rate(), p.sd_log_rate()).expect("a rate");
    let normal =
        |mean: f64, sd: f64, random: &mut ChaCha8Rng| Normal::new(mean, sd).expect("sd").sample(random);
    let instrument = [Instrument::Rule, Instrument::Dial][random.random_range(0..2)];
    let count = random.random_range(3..=8);
    let place = random.random_range(1..count);
    let (mut theta, mut start) = (rate.sample(random), normal(p.initial_mean(), p.initial_sd(), random));
    let (mut worn, mut ridden, mut recorded) = (0.0, 0.0, 0.0);
    let mut readings = Vec::new();
    for index in 0..count {
        let way = random.random_range(20..=80);
        let swapped = if truth == Truth::Swap && index == place { random.random_range(0..way) } else { way };
        let mut ride = |steps: f64, theta: f64, ridden: &mut f64, random: &mut ChaCha8Rng| {
            let shape = theta * steps * STEP / p.scale();
            worn +=
                if shape > 0.0 { Gamma::new(shape, p.scale()).expect("wear").sample(random) } else { 0.0 };
            *ridden += steps * STEP;
            worn
        };
        if truth == Truth::Missing && index == place {
            let extra: f64 = Exp::new(1.0 / 600.0).expect("a mean").sample(random);
            ride(extra / STEP, theta, &mut ridden, random);
        }
        let mut total = ride(f64::from(swapped), theta, &mut ridden, random);
        if swapped < way {
            theta = rate.sample(random);
            start = normal(p.initial_mean(), p.initial_sd(), random) - total;
            ridden = 0.0;
            total = ride(f64::from(way - swapped), theta, &mut ridden, random);
        }
        recorded += f64::from(way) * STEP;
        let run_in = p.running_in() * (1.0 - (-ridden / p.running_in_distance()).exp());
        let calibration = instrument.default_calibration();
        let mut read = normal(start + total + run_in + calibration.bias(), calibration.sd(), random);
        if truth == Truth::Typing && index == place {
            read = random.random_range(-0.3..3.0);
        }
        readings.push(number(recorded, instrument, read.clamp(-0.3, 3.0)));
    }
    readings
}

#[test]
fn simulated_histories_are_explained_and_sound_ones_not_blamed() {
    let mut random = ChaCha8Rng::seed_from_u64(18);
    println!(
        "{:10} named first: as recorded  swap  missing  wrong | of those more likely than not: right",
        ""
    );
    let mut rights = Vec::new();
    for (truth, right, count) in [
        (Truth::Sound, ExplanationKind::AsRecorded, 4 * EACH),
        (Truth::Swap, ExplanationKind::UnrecordedSwap, EACH),
        (Truth::Missing, ExplanationKind::MissingRiding, EACH),
        (Truth::Typing, ExplanationKind::WrongReading, EACH),
    ] {
        let (mut first, mut asked, mut blamed, mut blamed_rightly) = ([0_usize; 4], 0, 0, 0);
        for _ in 0..count {
            let found = explain(&history(truth, &mut random));
            asked += usize::from(found.is_some());
            let named =
                found.as_ref().map_or(ExplanationKind::AsRecorded, |found| found.first().likeliest().kind);
            first[named as usize] += 1;
            if found.is_some_and(|found| !found.is_as_recorded()) {
                blamed += 1;
                blamed_rightly += usize::from(named == right);
            }
        }
        let percent = |part: usize, of: usize| 100.0 * part as f64 / of.max(1) as f64;
        let named = first.map(|part| percent(part, count));
        println!(
            "{truth:10?} {:28.1} {:5.1} {:8.1} {:6.1} | {:5.1} % blamed, {:5.1} % of them rightly; asked {:.1} %",
            named[0],
            named[1],
            named[2],
            named[3],
            percent(blamed, count),
            percent(blamed_rightly, blamed),
            percent(asked, count)
        );
        rights.push((percent(blamed, count), percent(blamed_rightly, blamed)));
    }
    let [(sound, _), (_, swap), _, (typing, wrong)] = rights[..] else { unreachable!("four kinds") };
    assert!(sound < 3.0, "{sound} % of sound histories blamed");
    assert!(swap > 80.0, "{swap} % of swaps named");
    assert!(typing > 60.0 && wrong > 80.0, "{typing} % of slips seen, {wrong} % of them named");
}
