//! Whatever readings under whatever legal parameters: an outlook of finite numbers in order, a checkpoint that goes
//! there and back.
#![no_main]

mod bytes;

use bytes::Bytes;
use libfuzzer_sys::fuzz_target;
use wear_core::degradation::{OpenExposure, Posterior, TimedReading, WearParameters};
use wear_core::reading::{Instrument, InstrumentCalibrations, Measurement};
use wear_core::units::{ElongationReading, GaugeMark, Limit, LogSd, ReferenceKilometres};

fn ln_sd(value: f64) -> LogSd {
    LogSd::new(value).unwrap_or(LogSd::ZERO)
}

fuzz_target!(|data: &[u8]| {
    let mut input = Bytes(data);
    let default = WearParameters::default();
    let parameters = default
        .with_log_rate(input.number(-10.0, -7.0), input.number(0.05, 1.0))
        .and_then(|p| p.with_scale(input.number(0.001, 0.1)))
        .and_then(|p| p.with_initial(input.number(-0.1, 0.2), input.number(0.01, 0.1)))
        .and_then(|p| p.with_running_in(input.number(0.0, 0.1), input.number(10.0, 500.0)))
        .unwrap_or(default)
        .with_fast_phase(input.byte() & 1 == 1);
    let Ok(limit) = Limit::new(input.number(0.2, 2.0)) else { return };
    let Ok(ahead) = ReferenceKilometres::new(input.number(0.0, 5_000.0)) else { return };
    let open = OpenExposure { since_last_reading: ln_sd(input.number(0.0, 0.5)), ahead: ln_sd(input.number(0.0, 0.5)) };
    let mut readings = Vec::new();
    while !input.is_empty() && readings.len() < 8 {
        let Ok(at) = ReferenceKilometres::new(input.number(0.0, 6_000.0)) else { continue };
        let instrument = Instrument::ALL[usize::from(input.byte()) % Instrument::ALL.len()];
        let measurement = if instrument.is_gauge() {
            let Ok(mark) = GaugeMark::new(input.number(0.2, 2.0)) else { continue };
            Measurement::gauge(instrument, mark, input.byte() & 1 == 1)
        } else {
            let Ok(read) = ElongationReading::new(input.number(-0.3, 1.2)) else { continue };
            Measurement::percent(instrument, read)
        };
        let Ok(measurement) = measurement else { continue };
        readings.push(TimedReading::new(at, measurement).with_exposure_ln_sd(ln_sd(input.number(0.0, 0.5))));
    }
    let posterior =
        Posterior::of(&parameters, &InstrumentCalibrations::default(), &readings).with_open_exposure(open);
    let at = ReferenceKilometres::new((posterior.last_reading_at() + ahead.get()).min(1e7)).unwrap();
    let outlook = posterior.outlook(at, limit);
    assert!((0.0..=1.0).contains(&outlook.probability_over_limit));
    for of in [outlook.remaining, outlook.elongation] {
        assert!(of.p10.is_finite() && of.p90.is_finite() && of.p10 <= of.p50 && of.p50 <= of.p90, "{outlook:?}");
    }
    assert!(posterior.log_evidence().is_finite());
    let resumed = Posterior::from_checkpoint(&posterior.checkpoint()).expect("its own checkpoint");
    // Each outlook takes longer than all else together: the second only now and then.
    if data.len().is_multiple_of(8) {
        assert_eq!(resumed.outlook(at, limit), outlook);
    }
});
