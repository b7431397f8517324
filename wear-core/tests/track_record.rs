//! The track record on fleets whose truth is known: right forecasts keep their promise, wrong ones are found out.

use rand::{RngExt as _, SeedableRng as _};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution as _, Gamma, LogNormal, Normal};
use wear_core::degradation::{Posterior, Quantiles, TimedReading, WearParameters};
use wear_core::fleet::track_record::{DRIFT_RISK, Forecast, NaiveAnswers, Score, Tally};
use wear_core::reading::{Instrument, InstrumentCalibrations, Measurement};
use wear_core::units::{ElongationReading, GaugeMark, ReferenceKilometres};

fn km(value: f64) -> ReferenceKilometres {
    ReferenceKilometres::new(value).expect("a legal distance")
}

fn dial(percent: f64) -> Measurement {
    Measurement::percent(Instrument::Dial, ElongationReading::new(percent).expect("legal")).expect("number")
}

/// Chains that wear `factor` times as fast as forecast, read five times each.
fn tally_of(factor: f64, chains: u32, seed: u64) -> Tally {
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    let p = WearParameters::default();
    let calibrations = InstrumentCalibrations::default();
    let scatter = Normal::new(0.0, Instrument::Dial.default_calibration().sd()).expect("sd");
    let mut tally = Tally::default();
    for _ in 0..chains {
        let rate =
            factor * LogNormal::new(p.mean_log_rate(), p.sd_log_rate()).expect("rate").sample(&mut random);
        let start = Normal::new(p.initial_mean(), p.initial_sd()).expect("start").sample(&mut random);
        let (mut s, mut worn) = (0.0, 0.0);
        let mut posterior = Posterior::new(&p, &calibrations);
        let mut before = Vec::new();
        for _ in 0..5 {
            let forecast = Forecast::of(&posterior, km(s));
            let step = random.random_range(150.0..700.0);
            worn += Gamma::new(rate * step / p.scale(), p.scale()).expect("jump").sample(&mut random);
            s += step;
            let run_in = p.running_in() * (1.0 - (-s / p.running_in_distance()).exp());
            let seen = start + run_in + worn + scatter.sample(&mut random);
            let measurement = dial(seen.clamp(-0.3, 3.0));
            let elongation = forecast.elongation(km(s)).expect("within the forecast");
            let naive = NaiveAnswers::at(km(s), &before);
            tally +=
                Tally::from(&Score::of(elongation, naive, &measurement, calibrations.of(Instrument::Dial)));
            before.push((km(s), seen));
            posterior.update(TimedReading::new(km(s), measurement));
        }
    }
    tally
}

#[test]
fn right_forecasts_keep_their_promise_and_beat_both_naive_answers() {
    let record = tally_of(1.0, 400, 1).record().expect("2,000 readings");
    println!("right: {record:?}");
    assert!(!record.has_drifted(), "{record:?}");
    assert!(record.bias.abs() < 0.005, "{record:?}");
    assert!(
        record.loss.forecast < 0.7 * record.loss.fixed_distance.min(record.loss.straight_line),
        "{record:?}"
    );
}

#[test]
fn a_fleet_that_wears_faster_than_forecast_is_found_out() {
    let record = tally_of(1.8, 200, 2).record().expect("1,000 readings");
    println!("80 % faster: {record:?}");
    assert!(record.has_drifted() && record.coverage < record.coverage_band.0, "{record:?}");
    assert!(record.bias > 0.02, "{record:?}");
}

#[test]
fn a_forecast_is_kept_as_it_was_made() {
    let posterior = Posterior::new(&WearParameters::default(), &InstrumentCalibrations::default());
    let made = Forecast::of(&posterior, km(250.0));
    let kept = Forecast::kept(km(250.0), made.quantiles().to_vec()).expect("in order");
    assert_eq!(made, kept);
    assert_eq!(made.elongation(km(249.0)), None);
    assert_eq!(made.elongation(km(250.0)), made.quantiles().first().copied());
    assert_eq!(made.elongation(km(250.0 + 6_401.0)), None);
    // Between two kept exposures a straight line is within 0.01 % of the posterior's own quantile.
    let between = made.elongation(km(250.0 + 1_200.0)).expect("kept");
    let own = posterior.elongation_range(km(250.0 + 1_200.0));
    assert!((between.p90 - own.p90).abs() < 0.01 && (between.p10 - own.p10).abs() < 0.01);
    let upside_down = Quantiles { p10: 0.3, p50: 0.2, p90: 0.1 };
    assert_eq!(Forecast::kept(km(0.0), vec![upside_down]), None);
    assert_eq!(Forecast::kept(km(0.0), Vec::new()), None);
}

#[test]
fn a_gauge_is_scored_by_its_probability() {
    let sharp = Quantiles { p10: 0.599, p50: 0.6, p90: 0.601 };
    let naive = NaiveAnswers::at(km(1_000.0), &[]);
    let gauge = |drops_in| {
        let mark = GaugeMark::new(0.6).expect("mark");
        let reading = Measurement::gauge(Instrument::DropInIsolating, mark, drops_in).expect("gauge");
        Tally::from(&Score::of(sharp, naive, &reading, Instrument::DropInIsolating.default_calibration()))
    };
    assert_eq!(gauge(true).record(), None);
    assert!((gauge(true).brier().expect("one answer") - 0.25).abs() < 1e-3);
    let mut both = gauge(true);
    both += gauge(false);
    assert_eq!(both.gauges, 2);
}

#[test]
fn the_band_is_the_binomials() {
    // 160 ± of 200 at 0.8: scipy.stats.binom.ppf([0.005, 0.995], 200, 0.8) = 145, 174 (C).
    let tally = Tally { readings: 200, covered: 160, ..Tally::default() };
    let band = tally.record().expect("readings").coverage_band;
    assert_eq!(band, (145.0 / 200.0, 174.0 / 200.0));
    assert_eq!(DRIFT_RISK, 0.01);
}
