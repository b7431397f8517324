//! Whatever numbers are entered: a measurement with a likelihood that holds its promises, or a typed error.
#![no_main]

mod bytes;

use bytes::Bytes;
use libfuzzer_sys::fuzz_target;
use wear_core::reading::{Calibration, Instrument, InstrumentCalibrations, Measurement};
use wear_core::units::{ElongationReading, GaugeMark};

fuzz_target!(|data: &[u8]| {
    let mut input = Bytes(data);
    let instrument = Instrument::ALL[usize::from(input.byte()) % Instrument::ALL.len()];
    let measurement = match input.byte() % 3 {
        0 => {
            let count = usize::from(input.byte() % 40);
            let spots: Vec<ElongationReading> =
                (0..count).filter_map(|_| ElongationReading::new(input.number(-0.4, 3.2)).ok()).collect();
            Measurement::spots(instrument, &spots).ok()
        }
        1 => Measurement::length(
            instrument,
            u32::from_le_bytes([input.byte(), input.byte(), input.byte() & 1, 0]),
            input.number(0.0, 1_600.0),
        )
        .ok(),
        _ => GaugeMark::new(input.number(0.0, 2.5))
            .ok()
            .and_then(|mark| Measurement::gauge(instrument, mark, input.byte() & 1 == 1).ok()),
    };
    let Some(measurement) = measurement else { return };
    let mut calibrations = InstrumentCalibrations::default();
    if let Ok(own) = Calibration::parse(input.number(-0.6, 0.6), input.number(0.0, 0.6)) {
        calibrations = calibrations.with(instrument, own);
    }
    let likelihood = measurement.likelihood(&calibrations);
    assert!(likelihood.log_peak().is_finite() && likelihood.sd() > 0.0);
    let elongation = input.number(-1.0, 7.0);
    if elongation.is_finite() {
        let relative = likelihood.relative(elongation);
        assert!((1e-10 * (1.0 - 1e-9)..=1.0).contains(&relative), "{relative}");
        assert!(!measurement.log_likelihood(elongation).is_nan());
    }
});
