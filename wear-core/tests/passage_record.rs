//! Records of passages on chains whose truth is known: right forecasts are spread evenly, wrong ones are found out.

use rand::{RngExt as _, SeedableRng as _};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution as _, Gamma, LogNormal, Normal};
use wear_core::degradation::{Posterior, TimedReading, WearParameters};
use wear_core::fleet::passage::{Passage, PassageForecast};
use wear_core::fleet::passage_record::{PassageRecord, PassageTally, PassageVerdict};
use wear_core::fleet::swap_by_record::{SwapByRecord, SwapByTally, SwapByVerdict};
use wear_core::reading::{Instrument, InstrumentCalibrations, Measurement};
use wear_core::units::{ElongationReading, Limit, Probability, ReferenceKilometres};

const RISK: f64 = 0.2;

fn km(value: f64) -> ReferenceKilometres {
    ReferenceKilometres::new(value).expect("a legal distance")
}

fn limit() -> Limit {
    Limit::new(0.75).expect("legal")
}

/// What is known of a chain at `at`, as a forecast; a kilometre is a reference kilometre here.
fn forecast(posterior: &Posterior, at: f64) -> PassageForecast {
    let ahead: Vec<ReferenceKilometres> =
        (0..=28).map(|i| km(9_000.0 * (f64::from(i) / 28.0).powf(1.5))).collect();
    let over = posterior.probabilities_over(km(at), &ahead, limit());
    let mut points: Vec<(f64, f64)> = ahead.iter().zip(over).map(|(s, p)| (s.get(), p.get())).collect();
    let risk = Probability::new(RISK).expect("legal");
    points.push((posterior.remaining_quantile(km(at), limit(), risk), RISK));
    PassageForecast::new(points).expect("legal")
}

struct Fleet {
    /// Chains wear so many times as fast as forecast.
    factor: f64,
    instrument: Instrument,
    /// Whether a chain comes off at its first reading over the limit; else it is ridden to `swap_by` and then some.
    swapped_when_read: bool,
}

impl Fleet {
    /// Chains forecast at each of their readings, which come every 300 to 900 km.
    fn records(&self, chains: u32, seed: u64) -> (PassageRecord, SwapByRecord) {
        let mut random = ChaCha8Rng::seed_from_u64(seed);
        let p = WearParameters::default();
        let calibrations = InstrumentCalibrations::default();
        let calibration = self.instrument.default_calibration();
        let scatter = Normal::new(calibration.bias(), calibration.sd()).expect("sd");
        let rates = LogNormal::new(p.mean_log_rate(), p.sd_log_rate()).expect("rate");
        let starts = Normal::new(p.initial_mean(), p.initial_sd()).expect("start");
        let (mut passages, mut swaps) = (PassageTally::default(), SwapByTally::default());
        for _ in 0..chains {
            let (rate, start) = (self.factor * rates.sample(&mut random), starts.sample(&mut random));
            let (mut s, mut worn) = (0.0, 0.0);
            let mut posterior = Posterior::new(&p, &calibrations);
            let mut forecasts = vec![(0.0, forecast(&posterior, 0.0))];
            let mut read = Vec::new();
            let gives_up = random.random_range(3_000.0..12_000.0);
            while s < gives_up {
                let step = random.random_range(300.0..900.0);
                worn += Gamma::new(rate * step / p.scale(), p.scale()).expect("jump").sample(&mut random);
                s += step;
                let run_in = p.running_in() * (1.0 - (-s / p.running_in_distance()).exp());
                let seen = (start + run_in + worn + scatter.sample(&mut random)).clamp(-0.3, 3.0);
                let percent = ElongationReading::new(seen).expect("legal");
                let measurement = Measurement::percent(self.instrument, percent).expect("a number");
                posterior.update(TimedReading::new(km(s), measurement));
                let over = posterior.probability_over(km(s), ReferenceKilometres::ZERO, limit()).get();
                read.push((s, over));
                if self.swapped_when_read && over > 0.5 {
                    for level in [0.05, 0.15, 0.25, 0.35, 0.45, 0.55, 0.65, 0.75, 0.85, 0.95] {
                        let p = Probability::new(level).expect("legal");
                        if level > over {
                            read.push((s + posterior.remaining_quantile(km(s), limit(), p), level));
                        }
                    }
                    break;
                }
                forecasts.push((s, forecast(&posterior, s)));
            }
            let seen_after = |at: f64| {
                Passage::seen(read.iter().filter(|(s, _)| *s > at).map(|(s, over)| (s - at, *over)))
            };
            let telling: Vec<_> = forecasts
                .iter()
                .filter_map(|(at, told)| Some((told, seen_after(*at)?)))
                .filter(|(told, passage)| PassageTally::tells(told, passage))
                .collect();
            for (told, passage) in &telling {
                passages.add(told, passage, 1.0 / telling.len() as f64);
            }
            // The first day named that came before another forecast was made.
            let came = forecasts.iter().enumerate().find_map(|(place, (at, told))| {
                let ahead = told.quantile(RISK).filter(|ahead| *ahead > 0.0)?;
                let until = forecasts.get(place + 1).map_or(s, |(next, _)| *next);
                (at + ahead <= until).then_some((told, ahead, seen_after(*at)))
            });
            if let Some((told, ahead, passage)) = came {
                swaps.add_ridden(told, ahead, passage.as_ref());
            }
        }
        (passages.record().expect("passages"), swaps.record().expect("swaps"))
    }
}

#[test]
fn right_forecasts_are_spread_evenly_however_chains_come_off() {
    for (instrument, swapped_when_read, seed) in [
        (Instrument::Dial, false, 1),
        (Instrument::Dial, true, 2),
        (Instrument::Rule, false, 3),
        (Instrument::Rule, true, 4),
    ] {
        let fleet = Fleet { factor: 1.0, instrument, swapped_when_read };
        let (record, swaps) = fleet.records(400, seed);
        println!("{instrument} {swapped_when_read}: {record:?}\n  {swaps:?}");
        assert_eq!(record.verdict(), PassageVerdict::Holds, "{record:?}");
        assert!((record.covered.share - 0.8).abs() < 0.07, "{record:?}");
        assert!((record.before_p10.share - 0.1).abs() < 0.06, "{record:?}");
        assert!(record.known > 0.3 * record.chains && record.known <= record.chains, "{record:?}");
        assert!(record.shift.is_some_and(|shift| shift.abs() < 200.0), "{record:?}");
        assert!(matches!(swaps.verdict(), SwapByVerdict::Kept | SwapByVerdict::TooFew), "{swaps:?}");
    }
}

#[test]
fn chains_that_wear_faster_or_slower_than_forecast_are_found_out() {
    let told = |factor| Fleet { factor, instrument: Instrument::Dial, swapped_when_read: false };
    let (fast, swaps) = told(1.5).records(200, 5);
    println!("fast: {fast:?}\n  {swaps:?}");
    assert_eq!(fast.verdict(), PassageVerdict::TooLate);
    assert!(fast.shift.is_some_and(|shift| shift < -150.0), "{fast:?}");
    assert!(fast.before_p10.share > 0.17, "{fast:?}");
    let (slow, swaps) = told(0.67).records(200, 6);
    println!("slow: {slow:?}\n  {swaps:?}");
    assert_eq!(slow.verdict(), PassageVerdict::TooEarly);
    assert!(slow.shift.is_some_and(|shift| shift > 150.0), "{slow:?}");
    let (few, _) = told(1.0).records(5, 7);
    assert_eq!(few.verdict(), PassageVerdict::TooFew);
}
