//! Whatever is sent as a ride file, GPX or FIT or neither: a ride within its bounds, or a fault with its place.
#![no_main]
#![allow(dead_code)]

/// The service's own source, without the service: only what reads is built.
#[path = "."]
mod domain {
    #[path = "../../wear-api/src/domain/field.rs"]
    mod field;
    #[path = "../../wear-api/src/domain/invalid.rs"]
    mod invalid;
    #[path = "../../wear-api/src/domain/timestamp.rs"]
    mod timestamp;

    pub use field::{Field, Form};
    pub use invalid::Invalid;
    pub use timestamp::Timestamp;
}
#[path = "../../wear-api/src/ride_file/mod.rs"]
mod ride_file;

use std::sync::LazyLock;

use domain::Timestamp;
use libfuzzer_sys::fuzz_target;
use ride_file::{MOST_POINTS, read, unpack};
use wear_core::exposure::track::TrackSettings;
use wear_core::exposure::{Surface, Use};

static NOW: LazyLock<Timestamp> = LazyLock::new(|| "2026-11-25T12:00:00Z".parse().unwrap());

/// CRC-16 of a FIT file: polynomial 0x8005, reflected.
fn crc(bytes: &[u8]) -> u16 {
    bytes.iter().fold(0, |crc: u16, byte| {
        (0..8).fold(crc ^ u16::from(*byte), |crc, _| if crc & 1 == 1 { crc >> 1 ^ 0xa001 } else { crc >> 1 })
    })
}

/// A FIT file whose head and checks fit its body.
fn fit(body: &[u8]) -> Vec<u8> {
    let mut file = vec![14, 0x20, 0x54, 0x08];
    file.extend((body.len() as u32).to_le_bytes());
    file.extend(b".FIT");
    file.extend(crc(&file).to_le_bytes());
    file.extend(body);
    file.extend(crc(&file).to_le_bytes());
    file
}

fn judge(bytes: &[u8]) {
    let Ok(bytes) = unpack(bytes) else { return };
    match read(&bytes, *NOW) {
        Ok(ride) => {
            assert!((1..=MOST_POINTS).contains(&ride.track.points().len()));
            assert!(ride.started_at.is_none_or(|at| at <= *NOW));
            let found = ride.track.summary(&TrackSettings::new(Use::Town, Surface::Paved));
            assert!(found.distance_km.is_finite() && found.distance_km >= 0.0);
        }
        Err(fault) => assert!(!fault.to_string().is_empty()),
    }
}

fuzz_target!(|data: &[u8]| match data.split_first() {
    Some((b'F', body)) => judge(&fit(body)),
    _ => judge(data),
});
