//! Checkpoints hold all that matters, and a history with them gives what the whole history gives.

use proptest::prelude::*;
use wear_core::degradation::{
    CheckpointError, FastPhase, OpenExposure, Posterior, PosteriorHistory, TimedReading, WearParameters,
};
use wear_core::reading::{Calibration, Instrument, InstrumentCalibrations, Measurement};
use wear_core::units::{ElongationReading, GaugeMark, Limit, LogSd, ReferenceKilometres};

fn km(value: f64) -> ReferenceKilometres {
    ReferenceKilometres::new(value).unwrap()
}

fn limit() -> Limit {
    Limit::new(0.75).unwrap()
}

fn calibrations() -> InstrumentCalibrations {
    InstrumentCalibrations::default().with(Instrument::Rule, Calibration::parse(0.01, 0.05).unwrap())
}

fn any_reading() -> impl Strategy<Value = TimedReading> {
    let measurement = prop_oneof![
        prop::collection::vec(-0.05..0.9_f64, 1..=4).prop_map(|spots| {
            let spots: Vec<_> = spots.into_iter().map(|spot| ElongationReading::new(spot).unwrap()).collect();
            Measurement::spots(Instrument::Rule, &spots).unwrap()
        }),
        (0.2..1.0_f64, any::<bool>()).prop_map(|(mark, drops_in)| {
            Measurement::gauge(Instrument::DropIn, GaugeMark::new(mark).unwrap(), drops_in).unwrap()
        }),
    ];
    // Some at the same exposure.
    let at = prop_oneof![4 => 0.0..5_000.0_f64, 1 => (0..5_u32).prop_map(|n| 1_000.0 * f64::from(n))];
    (at, measurement, 0.0..0.3_f64).prop_map(|(at, measurement, ln_sd)| {
        TimedReading::new(km(at), measurement).with_exposure_ln_sd(LogSd::new(ln_sd).unwrap())
    })
}

/// A chain read every 250 reference km.
fn sensible(count: u32) -> Vec<TimedReading> {
    (1..=count)
        .map(|i| {
            let at = 250.0 * f64::from(i);
            let read = 0.07 + 0.000_12 * at + 0.02 * (f64::from(i * 7 % 5) - 2.0);
            let measurement =
                Measurement::percent(Instrument::Dial, ElongationReading::new(read).unwrap()).unwrap();
            TimedReading::new(km(at), measurement)
        })
        .collect()
}

fn same(one: &Posterior, other: &Posterior) -> bool {
    let at = km(one.last_reading_at() + 300.0);
    one.checkpoint() == other.checkpoint()
        && one.outlook(at, limit()) == other.outlook(at, limit())
        && one.log_evidence() == other.log_evidence()
        && one.contradictions() == other.contradictions()
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 32, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn there_and_back_loses_nothing(
        readings in prop::collection::vec(any_reading(), 0..6), next in any_reading(), fast in any::<bool>(),
    ) {
        let parameters = WearParameters::default().with_fast_phase(if fast { FastPhase::ASSUMED } else { FastPhase::NONE });
        let open = OpenExposure { ahead: LogSd::new(0.2).unwrap(), ..OpenExposure::EXACT };
        let mut whole =
            Posterior::of(&parameters, &calibrations(), &readings).with_open_exposure(open);
        let bytes = whole.checkpoint();
        let mut resumed = Posterior::from_checkpoint(&bytes).unwrap();
        prop_assert_eq!(&resumed.checkpoint(), &bytes);
        prop_assert!(same(&whole, &resumed));
        whole.update(next);
        resumed.update(next);
        prop_assert!(same(&whole, &resumed));
    }

    #[test]
    fn damaged_bytes_are_refused(place in any::<prop::sample::Index>(), flip in 1..=255_u8, cut in any::<prop::sample::Index>()) {
        let bytes = Posterior::of(&WearParameters::default(), &calibrations(), &sensible(2)).checkpoint();
        let mut damaged = bytes.clone();
        damaged[place.index(bytes.len())] ^= flip;
        prop_assert!(Posterior::from_checkpoint(&damaged).is_err());
        prop_assert!(Posterior::from_checkpoint(&bytes[..cut.index(bytes.len())]).is_err());
        damaged.clone_from(&bytes);
        damaged.push(0);
        prop_assert!(Posterior::from_checkpoint(&damaged).is_err());
    }

    #[test]
    fn readings_in_any_order_of_arrival_give_what_all_at_once_give(
        mut readings in prop::collection::vec(any_reading(), 1..7), out in any::<prop::sample::Index>(),
    ) {
        let parameters = WearParameters::default();
        let mut history = PosteriorHistory::new(&parameters, &calibrations());
        for reading in &readings {
            history.insert(*reading);
        }
        prop_assert!(same(history.posterior(), &Posterior::of(&parameters, &calibrations(), history.readings())));
        let gone = readings.remove(out.index(readings.len()));
        prop_assert!(history.remove(&gone).is_some());
        let left = Posterior::of(&parameters, &calibrations(), history.readings());
        prop_assert!(same(history.posterior(), &left));
        prop_assert_eq!(history.readings().len(), readings.len());
    }
}

#[test]
fn another_version_is_named_and_other_bytes_are_none() {
    let mut bytes = Posterior::new(&WearParameters::default(), &calibrations()).checkpoint();
    assert_eq!(bytes[4], 1, "a chain with everything on record is written as it always was");
    bytes[4] = 9;
    assert_eq!(Posterior::from_checkpoint(&bytes), Err(CheckpointError::Version { found: 9 }));
    assert_eq!(Posterior::from_checkpoint(b""), Err(CheckpointError::NotACheckpoint));
    assert_eq!(Posterior::from_checkpoint(b"<html>"), Err(CheckpointError::NotACheckpoint));
    assert_eq!(Posterior::from_checkpoint(b"WEAR"), Err(CheckpointError::NotACheckpoint));
}

#[test]
fn size_does_not_grow_with_the_history() {
    let size = |count| {
        let posterior = Posterior::of(&WearParameters::default(), &calibrations(), &sensible(count));
        assert!(!posterior.is_contradictory());
        posterior.checkpoint().len()
    };
    let sizes: Vec<(u32, usize)> = [0, 1, 2, 5, 10, 20, 40].map(|count| (count, size(count))).to_vec();
    println!("readings, bytes: {sizes:?}");
    assert!(sizes.iter().all(|(_, bytes)| *bytes < 48 * 1024));
    assert!(sizes[6].1 < 2 * sizes[3].1);
}

#[test]
fn a_late_event_costs_the_steps_back_to_it() {
    let readings = sensible(40);
    let mut history = PosteriorHistory::new(&WearParameters::default(), &calibrations());
    for reading in &readings {
        assert_eq!(history.insert(*reading), 1, "the newest reading is one step");
    }
    let extra = |back: usize| {
        let at = km(readings[40 - back].at.get() - 100.0);
        TimedReading::new(at, readings[40 - back].measurement)
    };
    for back in [1, 3, 8, 20, 40] {
        let steps = history.insert(extra(back));
        println!("a reading {back} readings back: {steps} steps");
        assert!(steps <= 3 * back + 3, "{steps}");
        history.remove(&extra(back)).unwrap();
        let all = Posterior::of(&WearParameters::default(), &calibrations(), &readings);
        assert!(same(history.posterior(), &all));
    }
    // A ride reported late moves the last three readings.
    let moved: Vec<_> = readings[37..]
        .iter()
        .map(|reading| TimedReading::new(km(reading.at.get() + 30.0), reading.measurement))
        .collect();
    assert!(history.replace_from(readings[37].at, &moved) <= 12);
    let expected: Vec<_> = readings[..37].iter().chain(&moved).copied().collect();
    assert!(same(
        history.posterior(),
        &Posterior::of(&WearParameters::default(), &calibrations(), &expected)
    ));
}
