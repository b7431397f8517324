//! Why a ride file isn't taken, and where in it.

use std::fmt;

use thiserror::Error;
use wear_core::bounds::OutOfRange;

use super::{MOST_POINTS, MOST_UNPACKED};
use crate::domain::Timestamp;

wear_core::sentences! {
    /// What is wrong, as a sentence whose subject is a place in the file.
    #[derive(Eq)]
    RideFault {
        Format = "format", "is neither GPX nor FIT";
        ZipArchive = "zip_archive", "is a zip archive";
        Gzip { cause: String } = "gzip", "can't be unpacked: {cause}";
        TooLarge { bytes: u32 } = "too_large", "is larger than {bytes} bytes once unpacked";
        TooManyPoints { most: u32 } = "too_many_points", "has more than {most} points";
        NotUtf8 { byte: u32 } = "not_utf8", "is not UTF-8 at byte {byte}";
        Xml { cause: String } = "xml", "is not well-formed XML: {cause}";
        DocumentType = "document_type", "has a document type declaration";
        Entity { name: String } = "entity", "has the entity {name}";
        TooDeep { most: u32 } = "too_deep", "has elements more than {most} deep";
        NotGpx { name: String } = "not_gpx", "has the root element {name}";
        Version { name: String } = "version", "has the version {name}";
        NoTrack = "no_track", "has no track";
        TooFewPoints { count: u32 } = "too_few_points", "has {count} points";
        Missing = "missing", "is missing";
        Value { given: String } = "value", "is {given}";
        ClockNotSet { given: String } = "clock_not_set", "is {given}, from a clock that wasn't set";
        InFuture { given: String } = "in_future", "is {given}, in the future";
        TooLong { given: String, started_at: String } = "too_long", "is {given}, the first point's is {started_at}";
        Fit { cause: String } = "fit", "can't be decoded: {cause}";
        NothingRidden { cause: String } = "nothing_ridden", "has nothing that was ridden: {cause}";
        TooMuch { cause: String } = "too_much", "is more than one ride can be: {cause}";
    }
}

wear_core::sentences! {
    /// What would be right.
    #[derive(Eq)]
    RideForm {
        GpxOrFit = "gpx_or_fit", "GPX 1.1 or a FIT activity";
        FileInside = "file_inside", "the GPX or FIT file in it, plain or gzipped";
        WholeGzip = "whole_gzip", "one whole gzip member";
        Bytes { most: u32 } = "bytes", "up to {most} bytes";
        MostPoints { most: u32 } = "most_points", "up to {most} points";
        Utf8 = "utf8", "text in UTF-8";
        Xml = "xml", "well-formed XML";
        NoDocumentType = "no_document_type", "XML without a document type declaration";
        Entities = "entities", "amp, lt, gt, quot, apos and character references";
        Depth { most: u32 } = "depth", "up to {most} elements deep";
        Versions = "versions", "1.1 or 1.0";
        Track = "track", "at least one trk with points";
        TwoPoints = "two_points", "at least 2 points";
        Value = "value", "a value";
        These { form: String } = "these", "{form}";
        SetClock = "set_clock", "from 2000-01-01T00:00:00Z";
        UpTo { now: String } = "up_to", "up to {now}";
        OneRide = "one_ride", "times within 31 days: one ride a file";
        WholeFit = "whole_fit", "a whole FIT file";
        Activity = "activity", "4, an activity";
        Cycling = "cycling", "cycling (2), e-biking (21) or generic (0)";
        Moves = "moves", "a track that moves, or a trainer's work";
    }
}

/// What is wrong.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum Fault {
    /// Neither of the formats.
    Format,
    /// A zip archive.
    ZipArchive,
    /// gzip that can't be unpacked.
    Gzip(String),
    /// Too large once unpacked.
    TooLarge,
    /// Too many points.
    TooManyPoints,
    /// Not UTF-8.
    NotUtf8(usize),
    /// Not XML.
    Xml(String),
    /// A document type declaration: the door for entities.
    DocumentType,
    /// An entity that XML itself doesn't know.
    Entity(String),
    /// Elements in elements in elements.
    TooDeep(usize),
    /// XML of another kind.
    NotGpx(String),
    /// Another version.
    Version(String),
    /// Routes or way points alone.
    NoTrack,
    /// One point, or none.
    TooFewPoints {
        /// Points found.
        count: usize,
    },
    /// It has to be there.
    Missing,
    /// Text of the wrong form.
    Unparsed {
        /// What was given, shortened.
        given: String,
        /// The form it should have.
        allowed: &'static str,
    },
    /// A number that can't be.
    OutOfRange(OutOfRange),
    /// A time before there were such files.
    ClockNotSet {
        /// What was given.
        given: Timestamp,
    },
    /// A time after the present.
    InFuture {
        /// What was given.
        given: Timestamp,
        /// The present.
        now: Timestamp,
    },
    /// Points more than a month apart.
    TooLong {
        /// Time of the first point.
        started_at: Timestamp,
        /// Time of this one.
        given: Timestamp,
    },
    /// FIT that can't be decoded.
    Fit(String),
    /// FIT of another kind.
    NotAnActivity(u64),
    /// Another sport.
    NotCycling(String),
    /// Points that say that nobody rode.
    NothingRidden(String),
    /// More than one ride can be.
    TooMuch(OutOfRange),
}

impl Fault {
    /// What is wrong, as a sentence.
    #[must_use]
    pub fn said(&self) -> RideFault {
        let number = |count: usize| u32::try_from(count).unwrap_or(u32::MAX);
        let value = |given: &dyn fmt::Display| RideFault::Value { given: given.to_string() };
        match self {
            Self::Format => RideFault::Format,
            Self::ZipArchive => RideFault::ZipArchive,
            Self::Gzip(cause) => RideFault::Gzip { cause: cause.clone() },
            Self::TooLarge => RideFault::TooLarge { bytes: number(MOST_UNPACKED) },
            Self::TooManyPoints => RideFault::TooManyPoints { most: number(MOST_POINTS) },
            Self::NotUtf8(at) => RideFault::NotUtf8 { byte: number(*at) },
            Self::Xml(cause) => RideFault::Xml { cause: cause.clone() },
            Self::DocumentType => RideFault::DocumentType,
            Self::Entity(name) => RideFault::Entity { name: format!("{name:?}") },
            Self::TooDeep(most) => RideFault::TooDeep { most: number(*most) },
            Self::NotGpx(name) => RideFault::NotGpx { name: format!("{name:?}") },
            Self::Version(name) => RideFault::Version { name: format!("{name:?}") },
            Self::NoTrack => RideFault::NoTrack,
            Self::TooFewPoints { count } => RideFault::TooFewPoints { count: number(*count) },
            Self::Missing => RideFault::Missing,
            Self::Unparsed { given, .. } => value(&format_args!("{given:?}")),
            Self::OutOfRange(error) => value(&error.value),
            Self::ClockNotSet { given } => RideFault::ClockNotSet { given: given.to_string() },
            Self::InFuture { given, .. } => RideFault::InFuture { given: given.to_string() },
            Self::TooLong { started_at, given } => {
                RideFault::TooLong { given: given.to_string(), started_at: started_at.to_string() }
            }
            Self::Fit(cause) => RideFault::Fit { cause: cause.clone() },
            Self::NotAnActivity(kind) => value(kind),
            Self::NotCycling(sport) => value(sport),
            Self::NothingRidden(cause) => RideFault::NothingRidden { cause: cause.clone() },
            Self::TooMuch(error) => RideFault::TooMuch { cause: error.to_string() },
        }
    }

    /// What would be right, as a sentence.
    #[must_use]
    pub fn form(&self) -> RideForm {
        let number = |count: usize| u32::try_from(count).unwrap_or(u32::MAX);
        let these = |form: &str| RideForm::These { form: form.to_owned() };
        match self {
            Self::Format => RideForm::GpxOrFit,
            Self::ZipArchive => RideForm::FileInside,
            Self::Gzip(_) => RideForm::WholeGzip,
            Self::TooLarge => RideForm::Bytes { most: number(MOST_UNPACKED) },
            Self::TooManyPoints => RideForm::MostPoints { most: number(MOST_POINTS) },
            Self::NotUtf8(_) => RideForm::Utf8,
            Self::Xml(_) => RideForm::Xml,
            Self::DocumentType => RideForm::NoDocumentType,
            Self::Entity(_) => RideForm::Entities,
            Self::TooDeep(most) => RideForm::Depth { most: number(*most) },
            Self::NotGpx(_) => these("gpx"),
            Self::Version(_) => RideForm::Versions,
            Self::NoTrack => RideForm::Track,
            Self::TooFewPoints { .. } => RideForm::TwoPoints,
            Self::Missing => RideForm::Value,
            Self::Unparsed { allowed, .. } => these(allowed),
            Self::OutOfRange(error) | Self::TooMuch(error) => these(&error.bound.allowed()),
            Self::ClockNotSet { .. } => RideForm::SetClock,
            Self::InFuture { now, .. } => RideForm::UpTo { now: now.to_string() },
            Self::TooLong { .. } => RideForm::OneRide,
            Self::Fit(_) => RideForm::WholeFit,
            Self::NotAnActivity(_) => RideForm::Activity,
            Self::NotCycling(_) => RideForm::Cycling,
            Self::NothingRidden(_) => RideForm::Moves,
        }
    }

    /// This fault at a place in the file.
    pub(super) fn at(self, pointer: impl Into<String>) -> RideFileError {
        RideFileError { pointer: pointer.into(), line: None, fault: self }
    }
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.said().fmt(f)
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
