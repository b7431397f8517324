//! GPX 1.1 (and 1.0, whose tracks are the same, and files that name no version), read event by event: nothing of the document is kept but its points.
//!
//! Power and cadence stand in extensions, which GPX leaves to whoever writes them; the local names `power`, `watts`,
//! `PowerInWatts`, `cad` and `cadence` are understood in any name space, `speed` in m/s.

use chrono::{DateTime, NaiveDateTime, Utc};
use quick_xml::Reader;
use quick_xml::events::{BytesStart, Event};
use wear_core::bounds;
use wear_core::exposure::track::{Position, TrackPoint};

use super::{Fault, Format, Note, Points, RecordedRide, RideFileError};
use crate::domain::Timestamp;

/// Elements may lie so deep; GPX itself needs six and a few for extensions.
const DEEPEST: usize = 32;

/// Attributes of an element are looked through so far; a root with every name space known has a dozen.
const MOST_ATTRIBUTES: usize = 64;

/// Text of a value is cut after this.
const LONGEST_VALUE: usize = 64;

const TIME_FORM: &str = "an RFC 3339 time";
const NUMBER_FORM: &str = "a decimal number";

#[derive(Clone, Copy, PartialEq, Eq)]
enum Field {
    Elevation,
    Time,
    Power,
    Cadence,
    Speed,
}

impl Field {
    const fn name(self) -> &'static str {
        match self {
            Self::Elevation => "ele",
            Self::Time => "time",
            Self::Power => "power",
            Self::Cadence => "cadence",
            Self::Speed => "speed",
        }
    }
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Element {
    Root,
    Track,
    Segment,
    Point,
    Extension,
    Value(Field),
    Other,
}

/// Reads a GPX document.
pub(super) fn read(bytes: &[u8], now: Timestamp) -> Result<RecordedRide, RideFileError> {
    // UTF-16 looks like UTF-8 with every other byte nought.
    if let Some(place) = bytes.iter().position(|&byte| byte == 0) {
        return Err(Fault::NotUtf8(place).at(""));
    }
    let text = std::str::from_utf8(bytes).map_err(|error| Fault::NotUtf8(error.valid_up_to()).at(""))?;
    let mut reader = Reader::from_str(text);
    let mut document = Document::new(now);
    loop {
        let began = usize::try_from(reader.buffer_position()).unwrap_or(usize::MAX);
        let on_line = |error: RideFileError| {
            let before = text.as_bytes().get(..began).unwrap_or(text.as_bytes());
            error.on_line(1 + before.iter().filter(|&&byte| byte == b'\n').count())
        };
        let event = reader.read_event().map_err(|error| on_line(Fault::Xml(error.to_string()).at("")))?;
        if matches!(event, Event::Eof) {
            document.end().map_err(on_line)?;
            return document.finish();
        }
        document.meet(&event).map_err(on_line)?;
    }
}

struct Document {
    points: Points,
    stack: Vec<Element>,
    point: TrackPoint,
    time: Option<Timestamp>,
    value: String,
    tracks: usize,
    segments: usize,
    in_segment: usize,
    after_pause: bool,
    version_missing: bool,
    rooted: bool,
}

impl Document {
    fn new(now: Timestamp) -> Self {
        Self {
            points: Points::new(now),
            stack: Vec::new(),
            point: TrackPoint::default(),
            time: None,
            value: String::new(),
            tracks: 0,
            segments: 0,
            in_segment: 0,
            after_pause: false,
            version_missing: false,
            rooted: false,
        }
    }

    fn meet(&mut self, event: &Event<'_>) -> Result<(), RideFileError> {
        match event {
            Event::Start(start) => self.open(start),
            Event::Empty(start) => {
                self.open(start)?;
                self.close()
            }
            Event::End(_) => self.close(),
            Event::Text(text) => {
                self.text(text);
                Ok(())
            }
            Event::CData(text) => {
                self.text(text);
                Ok(())
            }
            Event::GeneralRef(reference) => match reference.resolve_char_ref() {
                Ok(Some(char)) => {
                    self.text(char.encode_utf8(&mut [0; 4]));
                    Ok(())
                }
                Ok(None) if ["amp", "lt", "gt", "quot", "apos"].contains(&&**reference) => {
                    self.text("&");
                    Ok(())
                }
                _ => Err(Fault::Entity(shortened(reference)).at(self.pointer())),
            },
            Event::DocType(_) => Err(Fault::DocumentType.at("")),
            _ => Ok(()),
        }
    }

    fn open(&mut self, start: &BytesStart<'_>) -> Result<(), RideFileError> {
        if self.stack.len() == DEEPEST {
            return Err(Fault::TooDeep(DEEPEST).at(self.pointer()));
        }
        let local = start.local_name();
        let name: &str = local.as_ref();
        let element = match (self.stack.last(), name) {
            (None, "gpx") if !self.rooted => Element::Root,
            (None, _) => return Err(Fault::NotGpx(shortened(name)).at("")),
            (Some(Element::Root), "trk") => Element::Track,
            (Some(Element::Track), "trkseg") => Element::Segment,
            (Some(Element::Segment), "trkpt") => Element::Point,
            (Some(Element::Point), "ele") => Element::Value(Field::Elevation),
            (Some(Element::Point), "time") => Element::Value(Field::Time),
            (Some(Element::Point), "speed") => Element::Value(Field::Speed),
            (Some(Element::Point), "extensions") => Element::Extension,
            (Some(Element::Extension), "power" | "watts" | "PowerInWatts") => Element::Value(Field::Power),
            (Some(Element::Extension), "cad" | "cadence") => Element::Value(Field::Cadence),
            (Some(Element::Extension), "speed") => Element::Value(Field::Speed),
            (Some(Element::Extension), _) => Element::Extension,
            _ => Element::Other,
        };
        self.stack.push(element);
        match element {
            Element::Root => {
                self.rooted = true;
                let version = attribute(start, "version").map_err(|fault| fault.at("/gpx/version"))?;
                match version.as_deref() {
                    Some("1.0" | "1.1") => Ok(()),
                    Some(other) => Err(Fault::Version(shortened(other)).at("/gpx/version")),
                    None => {
                        self.version_missing = true;
                        Ok(())
                    }
                }
            }
            Element::Track => {
                self.tracks += 1;
                self.segments = 0;
                Ok(())
            }
            Element::Segment => {
                self.segments += 1;
                self.in_segment = 0;
                self.after_pause = !self.points.points.is_empty();
                Ok(())
            }
            Element::Point => {
                self.in_segment += 1;
                self.time = None;
                self.point = TrackPoint::default();
                let latitude = self.degrees(start, "lat", &bounds::LATITUDE)?;
                let longitude = self.degrees(start, "lon", &bounds::LONGITUDE)?;
                self.point.position = Some(Position { latitude, longitude });
                Ok(())
            }
            Element::Value(_) => {
                self.value.clear();
                Ok(())
            }
            Element::Extension | Element::Other => Ok(()),
        }
    }

    fn degrees(
        &self,
        start: &BytesStart<'_>,
        name: &str,
        bound: &'static bounds::Bound,
    ) -> Result<f64, RideFileError> {
        let at = |fault: Fault| fault.at(format!("{}/{name}", self.pointer()));
        let given = attribute(start, name).map_err(at)?.ok_or_else(|| at(Fault::Missing))?;
        let degrees = given
            .trim()
            .parse::<f64>()
            .map_err(|_| at(Fault::Unparsed { given: shortened(&given), allowed: NUMBER_FORM }))?;
        bound.check(degrees).map_err(|error| at(Fault::OutOfRange(error)))
    }

    fn text(&mut self, text: &str) {
        if matches!(self.stack.last(), Some(Element::Value(_))) {
            let room = LONGEST_VALUE.saturating_sub(self.value.len());
            self.value.extend(text.chars().take(room));
        }
    }

    fn close(&mut self) -> Result<(), RideFileError> {
        let Some(element) = self.stack.last().copied() else { return Ok(()) };
        match element {
            Element::Value(field) => self.take(field)?,
            Element::Point => self.point_ends()?,
            _ => {}
        }
        self.stack.pop();
        Ok(())
    }

    fn take(&mut self, field: Field) -> Result<(), RideFileError> {
        let given = self.value.trim();
        let at = |fault: Fault| fault.at(format!("{}/{}", self.pointer(), field.name()));
        if field == Field::Time {
            if !given.is_empty() {
                let time = time(given)
                    .ok_or_else(|| at(Fault::Unparsed { given: shortened(given), allowed: TIME_FORM }))?;
                self.time = Some(time);
            }
            return Ok(());
        }
        // An empty element is a sensor that had nothing to say.
        if given.is_empty() {
            return Ok(());
        }
        let number = given
            .parse::<f64>()
            .map_err(|_| at(Fault::Unparsed { given: shortened(given), allowed: NUMBER_FORM }))?;
        let (place, bound) = match field {
            Field::Elevation => (&mut self.point.elevation_m, &bounds::ELEVATION),
            Field::Power => (&mut self.point.power_w, &bounds::POWER),
            Field::Cadence => (&mut self.point.cadence_rpm, &bounds::CADENCE),
            Field::Speed | Field::Time => (&mut self.point.speed_m_s, &bounds::SPEED),
        };
        *place = self.points.sample(number, bound);
        Ok(())
    }

    fn point_ends(&mut self) -> Result<(), RideFileError> {
        let point = TrackPoint { after_pause: self.after_pause, ..self.point };
        self.after_pause = false;
        self.points.push(self.time, point).map_err(|fault| match fault {
            Fault::TooManyPoints => fault.at(""),
            _ => fault.at(format!("{}/time", self.pointer())),
        })
    }

    /// Where the reader stands: places count from 0.
    fn pointer(&self) -> String {
        let mut pointer = String::new();
        for element in &self.stack {
            match element {
                Element::Root => pointer.push_str("/gpx"),
                Element::Track => pointer.push_str(&format!("/trk/{}", self.tracks.saturating_sub(1))),
                Element::Segment => {
                    pointer.push_str(&format!("/trkseg/{}", self.segments.saturating_sub(1)));
                }
                Element::Point => {
                    pointer.push_str(&format!("/trkpt/{}", self.in_segment.saturating_sub(1)));
                }
                Element::Extension | Element::Value(_) | Element::Other => {}
            }
        }
        pointer
    }

    fn end(&self) -> Result<(), RideFileError> {
        if self.stack.is_empty() {
            Ok(())
        } else {
            Err(Fault::Xml("it ends before its elements do".into()).at(self.pointer()))
        }
    }

    fn finish(self) -> Result<RecordedRide, RideFileError> {
        let mut notes = Vec::new();
        if !self.rooted {
            return Err(Fault::Format.at(""));
        }
        if self.tracks == 0 {
            return Err(Fault::NoTrack.at("/gpx"));
        }
        if self.version_missing {
            notes.push(Note::VersionMissing);
        }
        if self.tracks > 1 {
            notes.push(Note::SeveralTracks(self.tracks));
        }
        self.points.finish(Format::Gpx, false, notes)
    }
}

/// GPX times are UTC where they have no offset.
fn time(given: &str) -> Option<Timestamp> {
    let instant = DateTime::parse_from_rfc3339(given)
        .map(|time| time.with_timezone(&Utc))
        .or_else(|_| NaiveDateTime::parse_from_str(given, "%Y-%m-%dT%H:%M:%S%.f").map(|time| time.and_utc()));
    Timestamp::new(instant.ok()?).ok()
}

fn attribute(start: &BytesStart<'_>, name: &str) -> Result<Option<String>, Fault> {
    // Unchecked and cut short: looking for doubles among a million attributes would take hours.
    for attribute in start.attributes().with_checks(false).take(MOST_ATTRIBUTES) {
        let attribute = attribute.map_err(|error| Fault::Xml(error.to_string()))?;
        if attribute.key.local_name().as_ref() == name {
            return Ok(Some(attribute.value.to_string()));
        }
    }
    Ok(None)
}

fn shortened(given: &str) -> String {
    given.chars().take(LONGEST_VALUE).collect()
}
