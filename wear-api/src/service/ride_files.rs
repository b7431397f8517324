//! Ride files.

use std::fmt;

use chrono::NaiveDate;
use sha2::{Digest as _, Sha256};
use wear_core::exposure::track::{RoadSettings, TrackSettings, TrackSummary};
use wear_core::exposure::{EnergySource, Surface};
use wear_core::units::{RideAscent, RideDistance, RideEnergy};

use super::rides::{self, RideIds, RideSaid};
use super::{ServiceError, Services, UnitOfWork};
use crate::domain::{
    BikeId, Field, Form, Invalid, RideFacts, RideIdentity, RideOutcome, Source, SourceId, Timestamp, Use,
    Workshop,
};
use crate::ride_file::{self, Fault, Format, Note, RecordedRide, RideFileError};

/// Source of rides that came as a file.
const SOURCE: &str = "file";

/// What the points of a file and what is worked out of each take at most, bytes: measured of 300,000 (A).
const MOST_OF_POINTS: usize = 64 << 20;

/// A file for a bike, and what the file doesn't know.
#[derive(Debug, Clone)]
pub struct RideFile {
    /// The bike.
    pub bike_id: BikeId,
    /// The file, plain or gzipped.
    pub bytes: Vec<u8>,
    /// The day on which it was ridden, where the workshop is: needed when the file has no times.
    pub ridden_on: Option<NaiveDate>,
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
    /// What the file doesn't tell.
    pub unknown: Vec<Unknown>,
}

/// What a file doesn't tell, and what stands in for it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Unknown {
    /// The time of day, and how long it took: the ride begins with the day that was named.
    Time,
    /// Heights, and so the climb.
    Elevation,
    /// Power, and so the work: it is worked out.
    Power,
}

impl Unknown {
    /// One word for it.
    #[must_use]
    pub const fn code(self) -> &'static str {
        match self {
            Self::Time => "time",
            Self::Elevation => "elevation",
            Self::Power => "power",
        }
    }

    fn of(recorded: &RecordedRide, summary: &TrackSummary) -> Vec<Self> {
        let points = recorded.track.points();
        let mut unknown = Vec::new();
        if recorded.started_at.is_none() {
            unknown.push(Self::Time);
        }
        if summary.climb.is_none() && points.iter().all(|point| point.elevation_m.is_none()) {
            unknown.push(Self::Elevation);
        }
        if points.iter().all(|point| point.power_w.is_none()) {
            unknown.push(Self::Power);
        }
        unknown
    }
}

impl fmt::Display for Unknown {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Time => {
                "no point has a time: the ride counts on the day that was named, without a duration"
            }
            Self::Elevation => "no point has a height: the climb is unknown",
            Self::Power => "no point has a power: the work is estimated",
        })
    }
}

/// Reads a file and stores its ride. Its identity is the file's content, so the same file twice is one ride, gzipped
/// or not.
///
/// # Errors
/// [`ServiceError::NotFound`] for another workshop's bike, [`ServiceError::RideFile`] for a file that makes no ride,
/// [`ServiceError::Invalid`] where neither the file nor the caller says when it was ridden, or both say otherwise.
pub async fn post(
    services: &Services,
    work: &mut UnitOfWork,
    file: RideFile,
) -> Result<(RideOutcome, FileReport), ServiceError> {
    let now = services.now();
    let bike_id = file.bike_id;
    let mut tx = services.store.begin_read(work.actor()).await?;
    let bike = tx.bike(bike_id).await.map_err(ServiceError::or_not_found("bike"))?;
    let workshop = tx.workshop().await?;
    drop(tx);
    let usage = bike.facts.usage;
    // On threads that give way: a file takes as long as thousands of other requests.
    let heavy = &services.heavy;
    let (file, size) = heavy
        .compute(workshop.id, move || {
            let size = ride_file::unpacked_size(&file.bytes);
            (file, size)
        })
        .await?;
    // Its text and its points, each at most so large.
    let weight = size + (size * 3).min(MOST_OF_POINTS);
    let admitted = services.memory.admit(workshop.id, weight).await?;
    let (said, read) = heavy.compute(workshop.id, move || digest(&file, &workshop, usage, now)).await??;
    drop(admitted);
    Ok((rides::post(services, work, bike_id, said).await?, read))
}

fn digest(
    file: &RideFile,
    workshop: &Workshop,
    usage: Use,
    now: Timestamp,
) -> Result<(RideSaid, FileReport), ServiceError> {
    let bytes = ride_file::unpack(&file.bytes)?;
    let recorded = ride_file::read(&bytes, now)?;
    let started_at = started_at(file.ridden_on, recorded.started_at, workshop, now)?;
    let surface = file.surface.unwrap_or(if recorded.indoors { Surface::Indoor } else { Surface::Paved });
    let settings = TrackSettings { road: file.road, ..TrackSettings::new(usage, surface) };
    let summary = recorded.track.summary(&settings);
    let unknown = Unknown::of(&recorded, &summary);
    let RecordedRide { format, notes, .. } = recorded;
    let facts = facts(&summary, surface, file.wet)?;
    let hash: String = Sha256::digest(&bytes).iter().map(|byte| format!("{byte:02x}")).collect();
    let named = |invalid: Invalid| ServiceError::field("/source_id", invalid);
    let identity = RideIdentity {
        source: Source::new(SOURCE).map_err(named)?,
        source_id: SourceId::new(&hash).map_err(named)?,
    };
    let said = RideSaid { identity, ids: RideIds::OfBike, started_at, facts };
    Ok((said, FileReport { format, summary, notes, unknown }))
}

/// When the ride began: by the file, or with the day that was named.
fn started_at(
    ridden_on: Option<NaiveDate>,
    by_file: Option<Timestamp>,
    workshop: &Workshop,
    now: Timestamp,
) -> Result<Timestamp, ServiceError> {
    let zone = workshop.settings.time_zone;
    let wrong = |cause: Invalid| ServiceError::field("/ridden_on", cause);
    match (by_file, ridden_on) {
        (Some(at), Some(day)) if at.date_in(zone) != day => {
            Err(wrong(Invalid::Together { what: Field::RiddenOnAndTimes, allowed: Form::DayOfOwnTimes }))
        }
        (Some(at), _) => Ok(at),
        (None, Some(day)) => {
            super::bikes::start_of(workshop, day).and_then(|at| at.not_after(now)).map_err(wrong)
        }
        (None, None) => {
            Err(wrong(Invalid::Missing { what: Field::RiddenOnWithoutTimes, allowed: Form::DayOfRide }))
        }
    }
}

fn facts(summary: &TrackSummary, surface: Surface, wet: bool) -> Result<RideFacts, RideFileError> {
    let too_much = |error| RideFileError::whole(Fault::TooMuch(error));
    let distance = RideDistance::new(summary.distance_km).map_err(too_much)?;
    let climb = summary.climb.map(|climb| RideAscent::new(climb.likely_m)).transpose().map_err(too_much)?;
    let measured = summary.energy.filter(|energy| energy.source == EnergySource::Measured);
    let energy = measured.map(|energy| RideEnergy::new(energy.kj)).transpose().map_err(too_much)?;
    if summary.distance_km <= 0.0 && energy.is_none_or(|energy| energy.get() <= 0.0) {
        let odd: Vec<String> = summary.warnings.iter().map(ToString::to_string).collect();
        return Err(RideFileError::whole(Fault::NothingRidden(odd.join("; "))));
    }
    Ok(RideFacts::new(distance, climb, energy, surface, wet))
}
