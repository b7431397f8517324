//! Whatever a line of cases says: an answer that is JSON with its quantiles in order, or errors that name a field.
#![no_main]
#![allow(dead_code, unused_imports)]

/// The service's own source, without the service: only what reads is built.
#[path = "."]
mod domain {
    #[path = "../../wear-api/src/domain/field.rs"]
    mod field;
    #[path = "../../wear-api/src/domain/invalid.rs"]
    mod invalid;
    #[path = "../../wear-api/src/domain/measured.rs"]
    mod measured;
    #[path = "../../wear-api/src/domain/timestamp.rs"]
    mod timestamp;

    pub use field::{Field, Form};
    pub use invalid::{FieldErrors, Invalid};
    pub use measured::{Entry, Measured};
    pub use timestamp::Timestamp;
    pub use wear_core::reading::{Instrument, Measurement};
}
#[path = "../../wear-api/src/estimate/mod.rs"]
mod estimate;
#[path = "."]
mod input {
    #[path = "../../wear-api/src/input/measurement.rs"]
    mod measurement;
    #[path = "../../wear-api/src/input/parse.rs"]
    pub mod parse;

    pub use measurement::RawMeasurement;
}

use std::sync::LazyLock;

use estimate::{Learned, RawCase, answer};
use libfuzzer_sys::fuzz_target;
use wear_core::degradation::WearParameters;

static PARAMETERS: LazyLock<WearParameters> = LazyLock::new(WearParameters::default);

fuzz_target!(|data: &[u8]| {
    let Ok(raw) = serde_json::from_slice::<RawCase>(data) else { return };
    // A case may have a thousand readings; a dozen say as much here.
    if raw.readings.len() > 12 {
        return;
    }
    match raw.parse() {
        Ok(case) => {
            let found = answer(&case, Learned { parameters: &PARAMETERS, learned: false });
            let json = serde_json::to_value(&found).unwrap();
            let life = |level: &str| json["remaining_reference_km"][level].as_f64().unwrap();
            assert!(life("p10") <= life("p50") && life("p50") <= life("p90"), "{json}");
            let over = json["probability_over_limit"].as_f64().unwrap();
            assert!((0.0..=1.0).contains(&over), "{json}");
        }
        Err(errors) => assert!(errors.as_slice().iter().all(|error| !error.message().is_empty())),
    }
});
