//! Ride files.

use sha2::{Digest as _, Sha256};
use wear_core::exposure::track::{RoadSettings, TrackSettings, TrackSummary};
use wear_core::exposure::{EnergySource, Surface};
use wear_core::units::{RideClimb, RideDistance, RideEnergy};

use super::rides::{self, RideReport};
use super::{ServiceError, Services, UnitOfWork};
use crate::domain::{
    BikeId, Invalid, RideFacts, RideIdentity, RideOutcome, Source, SourceId, Timestamp, Use,
};
use crate::ride_file::{self, Fault, Format, Note, RecordedRide, RideFileError};

/// Source of rides that came as a file.
const SOURCE: &str = "file";

/// A file for a bike, and what the file doesn't know.
#[derive(Debug, Clone)]
pub struct RideFile {
    /// The bike.
    pub bike_id: BikeId,
    /// The file, plain or gzipped.
    pub bytes: Vec<u8>,
    /// What the ride was on; `indoor` where the file says so and `paved` otherwise, when `None`.
    pub surface: Option<Surface>,
    /// Whether it was wet.
    pub wet: bool,
    /// For the road-power model.
    pub road: RoadSettings,
}

/// What was read in a file.
#[derive(Debug, Clone, PartialEq)]
pub struct FileReport {
    /// What the file was.
    pub format: Format,
    /// What its track says.
    pub summary: TrackSummary,
    /// What was left out while reading.
    pub notes: Vec<Note>,
}

/// Reads a file and stores its ride. Its identity is the file's content, so the same file twice is one ride, gzipped
/// or not.
///
/// # Errors
/// [`ServiceError::NotFound`] for another workshop's bike, [`ServiceError::RideFile`] for a file that makes no ride.
pub async fn post(
    services: &Services,
    work: &mut UnitOfWork,
    file: RideFile,
) -> Result<(RideOutcome, FileReport), ServiceError> {
    let now = services.now();
    let bike_id = file.bike_id;
    let mut tx = services.store.begin_read(work.actor().workshop_id).await?;
    let bike = tx.bike(bike_id).await.map_err(ServiceError::or_not_found("bike"))?;
    drop(tx);
    let usage = bike.facts.usage;
    let digested = tokio::task::spawn_blocking(move || digest(&file, usage, now));
    let (report, read) = digested.await.map_err(|_| ServiceError::BrokenOff)??;
    Ok((rides::post(services, work, report).await?, read))
}

fn digest(file: &RideFile, usage: Use, now: Timestamp) -> Result<(RideReport, FileReport), ServiceError> {
    let bytes = ride_file::unpack(&file.bytes)?;
    let RecordedRide { format, started_at, track, indoors, notes } = ride_file::read(&bytes, now)?;
    let surface = file.surface.unwrap_or(if indoors { Surface::Indoor } else { Surface::Paved });
    let settings = TrackSettings { road: file.road, ..TrackSettings::new(usage, surface) };
    let summary = track.summary(&settings);
    let facts = facts(&summary, surface, file.wet)?;
    let hash: String = Sha256::digest(&bytes).iter().map(|byte| format!("{byte:02x}")).collect();
    let named = |invalid: Invalid| ServiceError::field("/source_id", invalid);
    let identity = RideIdentity {
        source: Source::new(SOURCE).map_err(named)?,
        source_id: SourceId::new(&hash).map_err(named)?,
    };
    let report = RideReport { bike_id: file.bike_id, identity, started_at, facts };
    Ok((report, FileReport { format, summary, notes }))
}

fn facts(summary: &TrackSummary, surface: Surface, wet: bool) -> Result<RideFacts, RideFileError> {
    let too_much = |error| RideFileError::whole(Fault::TooMuch(error));
    let distance = RideDistance::new(summary.distance_km).map_err(too_much)?;
    let climb = summary.climb.map(|climb| RideClimb::new(climb.likely_m)).transpose().map_err(too_much)?;
    let measured = summary.energy.filter(|energy| energy.source == EnergySource::Measured);
    let energy = measured.map(|energy| RideEnergy::new(energy.kj)).transpose().map_err(too_much)?;
    if summary.distance_km <= 0.0 && energy.is_none_or(|energy| energy.get() <= 0.0) {
        let odd: Vec<String> = summary.warnings.iter().map(ToString::to_string).collect();
        return Err(RideFileError::whole(Fault::NothingRidden(odd.join("; "))));
    }
    Ok(RideFacts::new(distance, climb, energy, surface, wet))
}
