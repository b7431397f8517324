//! Time of an estimate by number of readings and by method, and of learning from a fleet.
//!
//! `cargo bench -p wear-core`; `benches/against_numpy.py` sets the same computation in numpy beside it.

use std::hint::black_box;
use std::time::Duration;

use criterion::{BenchmarkId, Criterion, criterion_group, criterion_main};
use rand::{RngExt as _, SeedableRng as _};
use rand_chacha::ChaCha8Rng;
use wear_core::degradation::{OpenExposure, Posterior, TimedReading, WearParameters};
use wear_core::fleet::calibration::{ChainHistory, fit};
use wear_core::reading::{Instrument, InstrumentCalibrations, Measurement};
use wear_core::units::{ElongationReading, GaugeMark, Limit, LogSd, ReferenceKilometres};

fn km(value: f64) -> ReferenceKilometres {
    ReferenceKilometres::new(value).expect("a legal distance")
}

fn number(at: f64, instrument: Instrument, read: f64) -> TimedReading {
    let read = ElongationReading::new(read).expect("a legal percentage");
    TimedReading::new(km(at), Measurement::percent(instrument, read).expect("a number"))
}

fn gauge(at: f64, mark: f64, drops_in: bool) -> TimedReading {
    let mark = GaugeMark::new(mark).expect("a legal mark");
    TimedReading::new(km(at), Measurement::gauge(Instrument::DropIn, mark, drops_in).expect("a gauge"))
}

/// A chain read `count` times over 4,000 reference km.
fn history(method: &str, count: u32) -> Vec<TimedReading> {
    (1..=count)
        .map(|i| {
            let at = 4_000.0 * f64::from(i) / f64::from(count.max(1));
            let elongation = 0.07 + 0.000_12 * at;
            let scatter = 0.01 * (f64::from(i * 7 % 5) - 2.0);
            match method {
                "rule" => number(at, Instrument::Rule, elongation + 2.0 * scatter),
                "dial" => number(at, Instrument::Dial, elongation + scatter),
                "gauge" => gauge(at, 0.5, elongation + 0.12 > 0.5),
                "uncertain_exposure" => number(at, Instrument::Dial, elongation + scatter)
                    .with_exposure_ln_sd(LogSd::new(0.2).expect("a spread")),
                _ if i % 2 == 0 => gauge(at, 0.5, elongation + 0.12 > 0.5),
                _ => number(at, Instrument::Dial, elongation + scatter),
            }
        })
        .collect()
}

fn estimates(c: &mut Criterion) {
    let (parameters, calibrations) = (WearParameters::default(), InstrumentCalibrations::default());
    let limit = Limit::new(0.75).expect("a limit");
    let now = km(4_100.0);
    let mut group = c.benchmark_group("estimate");
    for method in ["rule", "dial", "gauge", "mixed", "uncertain_exposure"] {
        for count in [0, 1, 2, 5, 10, 20, 40] {
            let readings = history(method, count);
            group.bench_with_input(BenchmarkId::new(method, count), &readings, |b, readings| {
                b.iter(|| {
                    let open = if method == "uncertain_exposure" {
                        OpenExposure { ahead: LogSd::new(0.2).expect("a spread"), ..OpenExposure::EXACT }
                    } else {
                        OpenExposure::EXACT
                    };
                    Posterior::of(&parameters, &calibrations, black_box(readings))
                        .with_open_exposure(open)
                        .outlook(now, limit)
                });
            });
        }
    }
    group.finish();

    let mut group = c.benchmark_group("one_more_reading");
    for count in [1, 5, 20, 40] {
        let readings = history("dial", count);
        let (last, before) = readings.split_last().expect("a reading");
        let bytes = Posterior::of(&parameters, &calibrations, before).checkpoint();
        group.bench_with_input(BenchmarkId::new("from_checkpoint", count), &bytes, |b, bytes| {
            b.iter(|| {
                let mut posterior = Posterior::from_checkpoint(black_box(bytes)).expect("its own bytes");
                posterior.update(*last);
                (posterior.outlook(now, limit), posterior.checkpoint().len())
            });
        });
    }
    group.finish();
}

fn fleets(c: &mut Criterion) {
    let mut random = ChaCha8Rng::seed_from_u64(1);
    let chains: Vec<(String, Vec<TimedReading>)> = (0..1_000)
        .map(|chain| {
            let faster: f64 = random.random_range(-0.5..0.5);
            let count = random.random_range(1..=4_u32);
            let readings = (1..=count)
                .map(|i| {
                    let at = 700.0 * f64::from(i) + random.random_range(-200.0..200.0);
                    let read = 0.07 + 0.000_125 * at * faster.exp() + random.random_range(-0.04..0.04);
                    number(at, Instrument::Rule, read)
                })
                .collect();
            (format!("group {}", chain % 12), readings)
        })
        .collect();
    let histories: Vec<ChainHistory<'_>> =
        chains.iter().map(|(group, readings)| ChainHistory::new(group, readings)).collect();
    let mut group = c.benchmark_group("fleet");
    group.sample_size(10).measurement_time(Duration::from_secs(20));
    group.bench_function("fit_1000_chains", |b| {
        b.iter(|| fit(black_box(&histories), &WearParameters::default(), &InstrumentCalibrations::default()));
    });
    group.finish();
}

criterion_group! {
    name = benches;
    config = Criterion::default().sample_size(20).warm_up_time(Duration::from_millis(300)).measurement_time(Duration::from_secs(1));
    targets = estimates, fleets
}
criterion_main!(benches);
