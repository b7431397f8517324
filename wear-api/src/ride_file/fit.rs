//! FIT activities, message by message through a library that knows the protocol; fields and scales as its public
//! profile has them.

use rustyfit::profile::mesgdef;
use rustyfit::profile::typedef::{MesgNum, Sport, SubSport};
use rustyfit::proto::{Message, Value};
use rustyfit::{DecoderBuilder, DecoderEvent, StreamingIterator as _};
use wear_core::bounds;
use wear_core::exposure::track::{Position, TrackPoint};

use super::{Fault, Format, Points, RecordedRide, RideFileError};
use crate::domain::Timestamp;

/// 1989-12-31T00:00:00Z, where FIT counts its seconds from.
const EPOCH_SECONDS: i64 = 631_065_600;

/// A file's kind: an activity.
const ACTIVITY: u64 = 4;

/// The timer's event, and its types that mean that recording stands: stop, stop all, stop and disable, and so on.
const TIMER: f64 = 0.0;
const STOPS: [f64; 4] = [1.0, 4.0, 8.0, 9.0];

/// Reads one FIT file, or several in a row.
pub(super) fn read(bytes: &[u8], now: Timestamp) -> Result<RecordedRide, RideFileError> {
    let mut decoder = DecoderBuilder::new().expand_components(false).build();
    let mut stream = decoder.stream(bytes);
    let mut activity = Activity { points: Points::new(now), records: 0, paused: false, sports: Vec::new() };
    while let Some(event) = stream.next() {
        let event = event
            .map_err(|error| Fault::Fit(error.to_string()).at(format!("/record/{}", activity.records)))?;
        if let DecoderEvent::Message(message) = event {
            activity.meet(message)?;
        }
    }
    activity.finish()
}

struct Activity {
    points: Points,
    records: usize,
    paused: bool,
    sports: Vec<(Sport, SubSport)>,
}

impl Activity {
    fn meet(&mut self, message: &Message) -> Result<(), RideFileError> {
        match message.num {
            MesgNum::FILE_ID => match number(message, mesgdef::FileId::TYPE) {
                Some(kind) if kind as u64 != ACTIVITY => {
                    Err(Fault::NotAnActivity(kind as u64).at("/file_id/type"))
                }
                _ => Ok(()),
            },
            MesgNum::RECORD => self.record(message),
            MesgNum::EVENT => {
                let kind = number(message, mesgdef::Event::EVENT_TYPE);
                if number(message, mesgdef::Event::EVENT) == Some(TIMER) {
                    self.paused |= kind.is_some_and(|kind| STOPS.contains(&kind));
                }
                Ok(())
            }
            MesgNum::SESSION => {
                let word = |field| number(message, field).map(|word| word as u8);
                let sport = word(mesgdef::Session::SPORT).map_or(Sport::GENERIC, Sport);
                let sub_sport = word(mesgdef::Session::SUB_SPORT).map_or(SubSport(0), SubSport);
                self.sports.push((sport, sub_sport));
                Ok(())
            }
            _ => Ok(()),
        }
    }

    fn record(&mut self, message: &Message) -> Result<(), RideFileError> {
        type Record = mesgdef::Record;
        let at = |index: usize, field: &str| format!("/record/{index}/{field}");
        let index = self.records;
        self.records += 1;
        let instant = |seconds: f64| {
            Timestamp::from_micros((seconds as i64 + EPOCH_SECONDS) * 1_000_000).map_err(|_| {
                let given = format!("{seconds}");
                Fault::Unparsed { given, allowed: "seconds since 1989-12-31T00:00:00Z" }
                    .at(at(index, "timestamp"))
            })
        };
        let time = number(message, Record::TIMESTAMP).map(instant).transpose()?;
        // Degrees are semicircles · 180/2³¹.
        let degrees =
            |field| number(message, field).map(|semicircles| semicircles * (180.0 / 2_147_483_648.0));
        let position = match (degrees(Record::POSITION_LAT), degrees(Record::POSITION_LONG)) {
            (Some(latitude), Some(longitude)) => {
                bounds::LATITUDE
                    .check(latitude)
                    .map_err(|error| Fault::OutOfRange(error).at(at(index, "position_lat")))?;
                bounds::LONGITUDE
                    .check(longitude)
                    .map_err(|error| Fault::OutOfRange(error).at(at(index, "position_long")))?;
                Some(Position { latitude, longitude })
            }
            _ => None,
        };
        let either = |first, second| number(message, first).or_else(|| number(message, second));
        let scaled = |value: Option<f64>, scale: f64, offset: f64| value.map(|value| value / scale - offset);
        let elevation = scaled(either(Record::ENHANCED_ALTITUDE, Record::ALTITUDE), 5.0, 500.0);
        let speed = scaled(either(Record::ENHANCED_SPEED, Record::SPEED), 1_000.0, 0.0);
        let distance = scaled(number(message, Record::DISTANCE), 100.0, 0.0);
        let turns = number(message, Record::CADENCE)
            .map(|turns| turns + number(message, Record::FRACTIONAL_CADENCE).unwrap_or(0.0) / 128.0);
        let mut keep = |value: Option<f64>, bound| value.and_then(|value| self.points.sample(value, bound));
        let point = TrackPoint {
            seconds: None,
            position,
            elevation_m: keep(elevation, &bounds::ELEVATION),
            power_w: keep(number(message, Record::POWER), &bounds::POWER),
            cadence_rpm: keep(turns, &bounds::CADENCE),
            speed_m_s: keep(speed, &bounds::SPEED),
            distance_m: keep(distance, &bounds::TRACK_METRES),
            after_pause: std::mem::take(&mut self.paused),
        };
        self.points.push(time, point).map_err(|fault| match fault {
            Fault::TooManyPoints => fault.at(""),
            _ => fault.at(at(index, "timestamp")),
        })
    }

    fn finish(self) -> Result<RecordedRide, RideFileError> {
        let cycles = |sport: Sport| [Sport::GENERIC, Sport::CYCLING, Sport::E_BIKING].contains(&sport);
        let other = self.sports.iter().position(|(sport, _)| !cycles(*sport));
        if let Some(place) = other {
            let sport = self.sports[place].0;
            return Err(
                Fault::NotCycling(format!("{sport} ({})", sport.0)).at(format!("/session/{place}/sport"))
            );
        }
        let trainer = [SubSport::SPIN, SubSport::INDOOR_CYCLING, SubSport::VIRTUAL_ACTIVITY];
        let indoors = !self.sports.is_empty() && self.sports.iter().all(|(_, sub)| trainer.contains(sub));
        self.points.finish(Format::Fit, indoors, Vec::new())
    }
}

/// The first field of that number as it stands, unscaled; `None` where it isn't there, isn't one number, or holds its
/// type's mark for nothing.
fn number(message: &Message, field: u8) -> Option<f64> {
    let found = message.fields.iter().find(|candidate| candidate.num == field)?;
    let (value, nothing) = match found.value {
        Value::Int8(value) => (f64::from(value), value == i8::MAX),
        Value::Uint8(value) => (f64::from(value), value == u8::MAX),
        Value::Int16(value) => (f64::from(value), value == i16::MAX),
        Value::Uint16(value) => (f64::from(value), value == u16::MAX),
        Value::Int32(value) => (f64::from(value), value == i32::MAX),
        Value::Uint32(value) => (f64::from(value), value == u32::MAX),
        Value::Float32(value) => (f64::from(value), !value.is_finite()),
        Value::Float64(value) => (value, !value.is_finite()),
        _ => return None,
    };
    (!nothing).then_some(value)
}
