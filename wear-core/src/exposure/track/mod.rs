//! A recorded track: what a ride's file says of distance, time, climb and work.
//!
//! Nothing here knows a file format. Points come in the order they were recorded; each carries what its device knew.
//! [`Track::new`] refuses what cannot be (NaN, a latitude of 91°); [`Track::summary`] judges what can be and looks odd:
//! rest, gaps, pauses, jumps. Every threshold is an assumption (A) unless it says otherwise.
//!
//! A point may lack its time. Between two times up to a minute apart it gets one, in proportion to the way; otherwise
//! its stretch has no speed: the distance and the climb count, the work comes from these two, and time in motion and
//! measured power leave it out.

mod ascent;
mod gear_use;
mod geodesic;
mod legs;
mod summary;
mod work;

use thiserror::Error;

pub use ascent::{AscentBand, ascent_by_hysteresis};
pub use geodesic::{Position, geodesic_m, path_m};
pub use summary::{DistanceSource, TrackSettings, TrackSummary, TrackWarning};
pub use work::{RoadSettings, TrackEnergy, Wind};

use crate::bounds::{self, OutOfRange};

/// One recorded point. What the device didn't know is `None`.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct TrackPoint {
    /// Seconds since any origin.
    pub seconds: Option<f64>,
    /// Where it was.
    pub position: Option<Position>,
    /// Height above the sea or any other level, m.
    pub elevation_m: Option<f64>,
    /// Power at the pedals, W.
    pub power_w: Option<f64>,
    /// Turns of the crank, per minute.
    pub cadence_rpm: Option<f64>,
    /// Speed that the device showed, m/s.
    pub speed_m_s: Option<f64>,
    /// Distance that the device had counted up to here, m.
    pub distance_m: Option<f64>,
    /// Whether recording was paused or broken off just before this point.
    pub after_pause: bool,
}

/// Why points make no track.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
#[non_exhaustive]
pub enum TrackError {
    /// A number that cannot be.
    #[error("point {index}: {source}")]
    OutOfRange {
        /// Place of the point, from 0.
        index: usize,
        /// What was wrong.
        source: OutOfRange,
    },
    /// Fewer than two points.
    #[error("{count} points make no track, at least 2 do")]
    TooFew {
        /// Points given.
        count: usize,
    },
}

/// Points whose every number is inside its range, in the order they were recorded.
#[derive(Debug, Clone, PartialEq)]
pub struct Track {
    points: Vec<TrackPoint>,
}

impl Track {
    /// Checks every number of every point.
    ///
    /// # Errors
    /// [`TrackError`]: the first number that is NaN, infinite or outside its range, or fewer than two points.
    pub fn new(points: Vec<TrackPoint>) -> Result<Self, TrackError> {
        for (index, point) in points.iter().enumerate() {
            check(point).map_err(|source| TrackError::OutOfRange { index, source })?;
        }
        if points.len() < 2 {
            return Err(TrackError::TooFew { count: points.len() });
        }
        Ok(Self { points })
    }

    /// The points.
    #[must_use]
    pub fn points(&self) -> &[TrackPoint] {
        &self.points
    }
}

fn check(point: &TrackPoint) -> Result<(), OutOfRange> {
    let TrackPoint {
        seconds,
        position,
        elevation_m,
        power_w,
        cadence_rpm,
        speed_m_s,
        distance_m,
        after_pause: _,
    } = *point;
    if let Some(seconds) = seconds {
        bounds::TRACK_SECONDS.check(seconds)?;
    }
    if let Some(Position { latitude, longitude }) = position {
        bounds::LATITUDE.check(latitude)?;
        bounds::LONGITUDE.check(longitude)?;
    }
    for (value, bound) in [
        (elevation_m, &bounds::ELEVATION),
        (power_w, &bounds::POWER),
        (cadence_rpm, &bounds::CADENCE),
        (speed_m_s, &bounds::SPEED),
        (distance_m, &bounds::TRACK_METRES),
    ] {
        if let Some(value) = value {
            bound.check(value)?;
        }
    }
    Ok(())
}
