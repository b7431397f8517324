//! Why a ride file isn't taken, and where in it.

use thiserror::Error;
use wear_core::bounds::OutOfRange;

use super::{MOST_POINTS, MOST_UNPACKED};
use crate::domain::Timestamp;

/// What is wrong.
#[derive(Debug, Clone, PartialEq, Error)]
#[non_exhaustive]
pub enum Fault {
    /// Neither of the formats.
    #[error("is neither GPX nor FIT")]
    Format,
    /// A zip archive.
    #[error("is a zip archive")]
    ZipArchive,
    /// gzip that can't be unpacked.
    #[error("can't be unpacked: {0}")]
    Gzip(String),
    /// Too large once unpacked.
    #[error("is larger than {MOST_UNPACKED} bytes once unpacked")]
    TooLarge,
    /// Too many points.
    #[error("has more than {MOST_POINTS} points")]
    TooManyPoints,
    /// Not UTF-8.
    #[error("is not UTF-8 at byte {0}")]
    NotUtf8(usize),
    /// Not XML.
    #[error("is not well-formed XML: {0}")]
    Xml(String),
    /// A document type declaration: the door for entities.
    #[error("has a document type declaration")]
    DocumentType,
    /// An entity that XML itself doesn't know.
    #[error("has the entity {0:?}")]
    Entity(String),
    /// Elements in elements in elements.
    #[error("has elements more than {0} deep")]
    TooDeep(usize),
    /// XML of another kind.
    #[error("has the root element {0:?}")]
    NotGpx(String),
    /// Another version.
    #[error("has the version {0:?}")]
    Version(String),
    /// Routes or way points alone.
    #[error("has no track")]
    NoTrack,
    /// One point, or none.
    #[error("has {count} points")]
    TooFewPoints {
        /// Points found.
        count: usize,
    },
    /// It has to be there.
    #[error("is missing")]
    Missing,
    /// Text of the wrong form.
    #[error("is {given:?}")]
    Unparsed {
        /// What was given, shortened.
        given: String,
        /// The form it should have.
        allowed: &'static str,
    },
    /// A number that can't be.
    #[error("is {}", .0.value)]
    OutOfRange(OutOfRange),
    /// A time before there were such files.
    #[error("is {given}, from a clock that wasn't set")]
    ClockNotSet {
        /// What was given.
        given: Timestamp,
    },
    /// A time after the present.
    #[error("is {given}, in the future")]
    InFuture {
        /// What was given.
        given: Timestamp,
        /// The present.
        now: Timestamp,
    },
    /// Points more than a month apart.
    #[error("is {given}, the first point's is {started_at}")]
    TooLong {
        /// Time of the first point.
        started_at: Timestamp,
        /// Time of this one.
        given: Timestamp,
    },
    /// FIT that can't be decoded.
    #[error("can't be decoded: {0}")]
    Fit(String),
    /// FIT of another kind.
    #[error("is {0}")]
    NotAnActivity(u64),
    /// Another sport.
    #[error("is {0}")]
    NotCycling(String),
    /// Points that say that nobody rode.
    #[error("has nothing that was ridden: {0}")]
    NothingRidden(String),
    /// More than one ride can be.
    #[error("is more than one ride can be: {0}")]
    TooMuch(OutOfRange),
}

impl Fault {
    /// What would be right, in words.
    #[must_use]
    pub fn allowed(&self) -> String {
        match self {
            Self::Format => "GPX 1.1 or a FIT activity".into(),
            Self::ZipArchive => "the GPX or FIT file in it, plain or gzipped".into(),
            Self::Gzip(_) => "one whole gzip member".into(),
            Self::TooLarge => format!("up to {MOST_UNPACKED} bytes"),
            Self::TooManyPoints => format!("up to {MOST_POINTS} points"),
            Self::NotUtf8(_) => "text in UTF-8".into(),
            Self::Xml(_) => "well-formed XML".into(),
            Self::DocumentType => "XML without a document type declaration".into(),
            Self::Entity(_) => "amp, lt, gt, quot, apos and character references".into(),
            Self::TooDeep(most) => format!("up to {most} elements deep"),
            Self::NotGpx(_) => "gpx".into(),
            Self::Version(_) => "1.1 or 1.0".into(),
            Self::NoTrack => "at least one trk with points".into(),
            Self::TooFewPoints { .. } => "at least 2 points".into(),
            Self::Missing => "a value".into(),
            Self::Unparsed { allowed, .. } => (*allowed).into(),
            Self::OutOfRange(error) | Self::TooMuch(error) => error.bound.allowed(),
            Self::ClockNotSet { .. } => "from 2000-01-01T00:00:00Z".into(),
            Self::InFuture { now, .. } => format!("up to {now}"),
            Self::TooLong { .. } => "times within 31 days: one ride a file".into(),
            Self::Fit(_) => "a whole FIT file".into(),
            Self::NotAnActivity(_) => "4, an activity".into(),
            Self::NotCycling(_) => "cycling (2), e-biking (21) or generic (0)".into(),
            Self::NothingRidden(_) => "a track that moves, or a trainer's work".into(),
        }
    }

    /// This fault at a place in the file.
    pub(super) fn at(self, pointer: impl Into<String>) -> RideFileError {
        RideFileError { pointer: pointer.into(), line: None, fault: self }
    }
}

/// What is wrong with a ride file, and where.
#[derive(Debug, Clone, PartialEq, Error)]
#[error("{}{}: {fault}", if .pointer.is_empty() { "the file" } else { .pointer }, line_of(.line.as_ref()))]
pub struct RideFileError {
    /// Names and places of the elements or messages down to the wrong one: `/gpx/trk/0/trkseg/0/trkpt/17/time`,
    /// `/record/17/position_lat`; empty for the whole file.
    pub pointer: String,
    /// Line of a text file, from 1.
    pub line: Option<usize>,
    /// What is wrong.
    pub fault: Fault,
}

fn line_of(line: Option<&usize>) -> String {
    line.map(|line| format!(" (line {line})")).unwrap_or_default()
}

impl RideFileError {
    /// A fault of the whole file.
    #[must_use]
    pub fn whole(fault: Fault) -> Self {
        fault.at("")
    }

    /// What is wrong, with the line where there are lines.
    #[must_use]
    pub fn message(&self) -> String {
        format!("{}{}", self.fault, line_of(self.line.as_ref()))
    }

    pub(super) fn on_line(mut self, line: usize) -> Self {
        self.line = Some(line);
        self
    }
}
