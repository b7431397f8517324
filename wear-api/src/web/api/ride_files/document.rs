use serde::Serialize;
use utoipa::ToSchema;
use wear_core::exposure::track::{ClimbBand, TrackEnergy, TrackSummary, TrackWarning};

use crate::ride_file::Note;
use crate::service::ride_files::FileReport;
use crate::web::api::rides::RideDocument;

/// What a file was made into, and what was read in it.
#[derive(Serialize, ToSchema)]
pub(super) struct RideFileAnswer {
    /// The ride.
    pub(super) ride: RideDocument,
    /// What was read.
    pub(super) file: FileDocument,
}

/// What was read in a ride file.
#[derive(Serialize, ToSchema)]
#[schema(as = RideFile)]
pub(super) struct FileDocument {
    /// What it was: `gpx` or `fit`, whatever the content type said.
    #[schema(example = "gpx")]
    format: &'static str,
    /// Points in it.
    #[schema(example = 1801, minimum = 0)]
    points: usize,
    /// Points that counted.
    #[schema(example = 1800, minimum = 0)]
    points_used: usize,
    /// How far.
    #[schema(example = 18.4)]
    distance_km: f64,
    /// Where the distance comes from: `counted` by the device, `positions` or `speed`.
    #[schema(example = "positions")]
    distance_source: &'static str,
    /// From the first point to the last.
    #[schema(example = 3900.0)]
    elapsed_seconds: f64,
    /// Time in motion.
    #[schema(example = 3540.0)]
    moving_seconds: f64,
    /// How far uphill; null where heights are unknown, and indoors.
    climb_m: Option<ClimbDocument>,
    /// Work at the pedals; null where neither power nor the road tells it.
    energy: Option<EnergyDocument>,
    /// Share of the distance that was pedalled; null without a cadence.
    pedalling_share: Option<f64>,
    /// What looked odd, and what was made of it.
    warnings: Vec<FileWarning>,
}

/// How far uphill, as a band: heights are noisy, and what counts as a rise is a choice.
#[derive(Serialize, ToSchema)]
#[schema(as = ClimbBand)]
struct ClimbDocument {
    /// Rises of 10 m and more.
    #[schema(example = 95.0)]
    low: f64,
    /// Rises of 5 m and more: what the ride is counted with.
    #[schema(example = 120.0)]
    likely: f64,
    /// Rises of 2 m and more.
    #[schema(example = 160.0)]
    high: f64,
}

/// Work at the pedals, and how sure it is.
#[derive(Serialize, ToSchema)]
#[schema(as = TrackEnergy)]
struct EnergyDocument {
    /// Work.
    #[schema(example = 350.0)]
    kj: f64,
    /// `measured` by a power meter, or `road_power`: worked out from the road. Only what was measured becomes the
    /// ride's `energy_kj`; otherwise the ride counts with its distance and climb.
    #[schema(example = "measured")]
    source: &'static str,
    /// One chance in ten that it is less.
    #[schema(example = 337.0)]
    low_kj: f64,
    /// One chance in ten that it is more.
    #[schema(example = 363.0)]
    high_kj: f64,
    /// Share of the moving time that was measured.
    #[schema(example = 0.998, minimum = 0, maximum = 1)]
    measured_share: f64,
}

/// What looked odd.
#[derive(Serialize, ToSchema)]
struct FileWarning {
    /// One word for its kind.
    #[schema(example = "recording_gaps")]
    code: &'static str,
    /// In words.
    #[schema(example = "2 gaps of 9 minutes in all were counted straight")]
    message: String,
}

/// Quantile of the normal at 0.9.
const NINE_IN_TEN: f64 = 1.281_551_565_5;

impl From<FileReport> for FileDocument {
    fn from(FileReport { format, summary, notes }: FileReport) -> Self {
        let TrackSummary {
            points,
            points_used,
            elapsed_seconds,
            moving_seconds,
            distance_km,
            distance_source,
            climb,
            energy,
            pedalling_share,
            warnings,
            ..
        } = summary;
        Self {
            format: format.as_str(),
            points,
            points_used,
            distance_km,
            distance_source: distance_source.as_str(),
            elapsed_seconds,
            moving_seconds,
            climb_m: climb.map(ClimbDocument::from),
            energy: energy.map(EnergyDocument::from),
            pedalling_share,
            warnings: notes
                .into_iter()
                .map(FileWarning::from)
                .chain(warnings.into_iter().map(FileWarning::from))
                .collect(),
        }
    }
}

impl From<ClimbBand> for ClimbDocument {
    fn from(ClimbBand { low_m, likely_m, high_m }: ClimbBand) -> Self {
        Self { low: low_m, likely: likely_m, high: high_m }
    }
}

impl From<TrackEnergy> for EnergyDocument {
    fn from(TrackEnergy { kj, source, own_ln_sd, shared_ln_sd, measured_share, .. }: TrackEnergy) -> Self {
        let factor = (NINE_IN_TEN * f64::hypot(own_ln_sd, shared_ln_sd)).exp();
        Self { kj, source: source.as_str(), low_kj: kj / factor, high_kj: kj * factor, measured_share }
    }
}

impl From<Note> for FileWarning {
    fn from(note: Note) -> Self {
        Self { code: note.code(), message: note.to_string() }
    }
}

impl From<TrackWarning> for FileWarning {
    fn from(warning: TrackWarning) -> Self {
        Self { code: warning.code(), message: warning.to_string() }
    }
}
