//! Ride files: GPX 1.1 and FIT, as ride computers and phones write them, into the core's recorded track.
//!
//! What comes in is untrusted. Everything is bounded: bytes as sent, bytes unpacked, points, depth. What can't be read
//! is refused with the place in the file and what would be right; what a sensor got wrong is left out and counted.

mod error;
mod fit;
mod gpx;
mod unpack;

use std::fmt;

use chrono::Duration;
use wear_core::bounds::Bound;
use wear_core::exposure::track::{Track, TrackError, TrackPoint};

pub use error::{Fault, RideFault, RideFileError, RideForm};
pub use unpack::{MOST_UNPACKED, unpack, unpacked_size};

use crate::domain::Timestamp;

/// Most points of a file: more than three days at a point a second.
pub const MOST_POINTS: usize = 300_000;

/// Longest ride of one file.
const LONGEST: Duration = Duration::days(31);

/// No receiver wrote files before 2000-01-01T00:00:00Z; clocks that nobody set say so. Microseconds since 1970.
const EARLIEST_MICROS: i64 = 946_684_800_000_000;

/// What a file was.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Format {
    /// GPS Exchange Format, 1.0 or 1.1.
    Gpx,
    /// Flexible and Interoperable Data Transfer, an activity.
    Fit,
}

impl Format {
    /// Every word.
    pub const WORDS: &[&str] = &["gpx", "fit"];

    /// One word.
    #[must_use]
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Gpx => "gpx",
            Self::Fit => "fit",
        }
    }
}

/// What was left out while reading.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Note {
    /// A GPX document that doesn't say which version it is.
    VersionMissing,
    /// Heights, powers, cadences, speeds and distances that can't be.
    SamplesOutOfRange(usize),
    /// The file has several tracks; they were taken for one ride with breaks.
    SeveralTracks(usize),
}

impl Note {
    /// One word for its kind.
    #[must_use]
    pub const fn code(self) -> &'static str {
        match self {
            Self::VersionMissing => "version_missing",
            Self::SamplesOutOfRange(_) => "samples_out_of_range",
            Self::SeveralTracks(_) => "several_tracks",
        }
    }
}

impl fmt::Display for Note {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::VersionMissing => f.write_str("the file names no version and was read as GPX 1.1"),
            Self::SamplesOutOfRange(count) => {
                write!(f, "{count} sensor values can't be and were left out")
            }
            Self::SeveralTracks(count) => {
                write!(f, "{count} tracks were taken for one ride with breaks")
            }
        }
    }
}

/// A ride as its file has it.
#[derive(Debug, Clone, PartialEq)]
pub struct RecordedRide {
    /// What the file was.
    pub format: Format,
    /// The first time that is known; `None` where the file has none.
    pub started_at: Option<Timestamp>,
    /// The points.
    pub track: Track,
    /// Whether the file says that it was ridden on a trainer.
    pub indoors: bool,
    /// What was left out.
    pub notes: Vec<Note>,
}

/// Reads an unpacked file; `now` bounds its times.
///
/// # Errors
/// [`RideFileError`] with the first thing that is wrong.
pub fn read(bytes: &[u8], now: Timestamp) -> Result<RecordedRide, RideFileError> {
    if bytes.get(8..12) == Some(b".FIT") {
        return fit::read(bytes, now);
    }
    if bytes.starts_with(b"PK\x03\x04") {
        return Err(Fault::ZipArchive.at(""));
    }
    let text = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    if text.iter().find(|byte| !byte.is_ascii_whitespace()) == Some(&b'<') {
        return gpx::read(text, now);
    }
    Err(Fault::Format.at(""))
}

/// Points as they are read, each time checked against the first and the present.
struct Points {
    now: Timestamp,
    started_at: Option<Timestamp>,
    points: Vec<TrackPoint>,
    out_of_range: usize,
}

impl Points {
    fn new(now: Timestamp) -> Self {
        Self { now, started_at: None, points: Vec::new(), out_of_range: 0 }
    }

    /// Adds a point, at its time where it has one.
    fn push(&mut self, at: Option<Timestamp>, point: TrackPoint) -> Result<(), Fault> {
        if self.points.len() == MOST_POINTS {
            return Err(Fault::TooManyPoints);
        }
        let seconds = at.map(|at| self.seconds(at)).transpose()?;
        self.points.push(TrackPoint { seconds, ..point });
        Ok(())
    }

    /// Seconds since the first time.
    fn seconds(&mut self, at: Timestamp) -> Result<f64, Fault> {
        if at.micros() < EARLIEST_MICROS {
            return Err(Fault::ClockNotSet { given: at });
        }
        let at = at.not_after(self.now).map_err(|_| Fault::InFuture { given: at, now: self.now })?;
        let start = *self.started_at.get_or_insert(at);
        let seconds = (at.micros() - start.micros()) as f64 / 1e6;
        if seconds.abs() > LONGEST.as_seconds_f64() {
            return Err(Fault::TooLong { started_at: start, given: at });
        }
        Ok(seconds)
    }

    /// A sensor's value, when it can be.
    fn sample(&mut self, value: f64, bound: &'static Bound) -> Option<f64> {
        let checked = bound.check(value).ok();
        self.out_of_range += usize::from(checked.is_none());
        checked
    }

    fn finish(
        self,
        format: Format,
        indoors: bool,
        mut notes: Vec<Note>,
    ) -> Result<RecordedRide, RideFileError> {
        if self.out_of_range > 0 {
            notes.push(Note::SamplesOutOfRange(self.out_of_range));
        }
        let count = self.points.len();
        let track = Track::new(self.points).map_err(|error| match error {
            TrackError::OutOfRange { index, source } => {
                Fault::OutOfRange(source).at(format!("/point/{index}"))
            }
            _ => Fault::TooFewPoints { count }.at(""),
        })?;
        Ok(RecordedRide { format, started_at: self.started_at, track, indoors, notes })
    }
}
