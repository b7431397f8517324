//! Bytes that aren't checkpoints are refused; bytes that pass for one, checksum and all, give a posterior that answers.
#![no_main]

use std::sync::LazyLock;

use libfuzzer_sys::fuzz_target;
use wear_core::degradation::{Posterior, TimedReading, WearParameters};
use wear_core::reading::{Instrument, InstrumentCalibrations, Measurement};
use wear_core::units::{ElongationReading, GaugeMark, Limit, ReferenceKilometres};

static SOUND: LazyLock<[Vec<u8>; 2]> = LazyLock::new(|| {
    let at = |km| ReferenceKilometres::new(km).unwrap();
    let spots = [0.2, 0.23].map(|read| ElongationReading::new(read).unwrap());
    let readings = [
        TimedReading::new(at(900.0), Measurement::spots(Instrument::Rule, &spots).unwrap()),
        TimedReading::new(
            at(2_000.0),
            Measurement::gauge(Instrument::DropIn, GaugeMark::new(0.5).unwrap(), false).unwrap(),
        ),
        TimedReading::new(
            at(2_100.0),
            Measurement::percent(Instrument::Dial, ElongationReading::new(1.9).unwrap()).unwrap(),
        ),
    ];
    [0, 3].map(|count| {
        Posterior::of(&WearParameters::default(), &InstrumentCalibrations::default(), &readings[..count])
            .checkpoint()
    })
});

fuzz_target!(|data: &[u8]| {
    let _ = Posterior::from_checkpoint(data);
    let Some((which, edits)) = data.split_first() else { return };
    let mut bytes = match which % 3 {
        0 => edits.to_vec(),
        which => {
            // A sound one with some bytes changed, most of them near the head.
            let mut bytes = SOUND[usize::from(which) - 1].clone();
            let body = bytes.len() - 4;
            bytes.truncate(body);
            for edit in edits.chunks_exact(3) {
                let place = usize::from(u16::from_le_bytes([edit[0], edit[1]])) % body;
                bytes[place] = edit[2];
            }
            bytes
        }
    };
    let sum = crc32fast::hash(&bytes);
    bytes.extend(sum.to_le_bytes());
    if let Ok(mut posterior) = Posterior::from_checkpoint(&bytes) {
        let limit = Limit::new(0.75).unwrap();
        let at = ReferenceKilometres::new((posterior.last_reading_at() + 500.0).min(1e7)).unwrap();
        let outlook = posterior.outlook(at, limit);
        assert!((0.0..=1.0).contains(&outlook.probability_over_limit), "{outlook:?}");
        let read = Measurement::percent(Instrument::Rule, ElongationReading::new(0.4).unwrap()).unwrap();
        posterior.update(TimedReading::new(at, read));
        // Each outlook takes longer than all else together: one more now and then.
        if sum.is_multiple_of(8) {
            let _ = posterior.outlook(at, limit);
        }
        let _ = Posterior::from_checkpoint(&posterior.checkpoint());
    }
});
