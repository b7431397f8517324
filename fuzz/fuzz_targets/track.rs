//! Whatever points a receiver recorded: a summary of finite numbers, or a typed error.
#![no_main]

mod bytes;

use bytes::Bytes;
use libfuzzer_sys::fuzz_target;
use wear_core::drivetrain::{Drivetrain, DrivetrainFacts};
use wear_core::exposure::track::{Position, Track, TrackPoint, TrackSettings};
use wear_core::exposure::{ExposureModel, RideExposure, Surface, Use};

fn point(input: &mut Bytes<'_>, seconds: f64) -> TrackPoint {
    let there = input.byte();
    let mut maybe = |bit: u8, low, high| {
        let value = input.number(low, high);
        (there >> bit & 1 == 1).then_some(value)
    };
    let latitude = maybe(0, 46.99, 47.01);
    let longitude = maybe(0, 7.99, 8.01);
    TrackPoint {
        seconds: (there >> 7 & 1 == 0).then_some(seconds),
        position: latitude.zip(longitude).map(|(latitude, longitude)| Position { latitude, longitude }),
        elevation_m: maybe(1, 300.0, 500.0),
        power_w: maybe(2, 0.0, 600.0),
        cadence_rpm: maybe(3, 0.0, 120.0),
        speed_m_s: maybe(4, 0.0, 20.0),
        distance_m: maybe(5, 0.0, 5_000.0),
        after_pause: there >> 6 & 1 == 1,
    }
}

fuzz_target!(|data: &[u8]| {
    let mut input = Bytes(data);
    let usage = Use::ALL[usize::from(input.byte()) % Use::ALL.len()];
    let surface = Surface::ALL[usize::from(input.byte()) % Surface::ALL.len()];
    let mut seconds = 0.0;
    let mut points = Vec::new();
    while !input.is_empty() && points.len() < 200 {
        seconds += input.number(-2.0, 30.0);
        points.push(point(&mut input, seconds));
    }
    let Ok(track) = Track::new(points) else { return };
    let settings = TrackSettings::new(usage, surface);
    let found = track.summary(&settings);
    assert!(found.distance_km.is_finite() && found.distance_km >= 0.0);
    assert!(found.moving_seconds <= found.elapsed_seconds.unwrap_or(0.0) + 1e-6);
    if let Some(climb) = found.climb {
        assert!(climb.low_m <= climb.likely_m && climb.likely_m <= climb.high_m && climb.high_m.is_finite(), "{climb:?}");
    }
    if let Some(energy) = found.energy {
        assert!(energy.kj.is_finite() && energy.kj >= 0.0);
    }
    let facts = DrivetrainFacts {
        rings: vec![50, 34],
        cogs: vec![11, 13, 15, 17, 20, 24, 28],
        links: 112,
        ..DrivetrainFacts::default()
    };
    let drivetrain = Drivetrain::new(&facts).unwrap();
    let _ = track.gear_share(&drivetrain);
    if let Ok(ride) = found.facts(&settings) {
        let exposure = RideExposure::of(&ride, &drivetrain, &ExposureModel::default());
        assert!(exposure.reference_km_before_care.is_finite() && exposure.reference_km_before_care >= 0.0);
    }
});
