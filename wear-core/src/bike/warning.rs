//! What a person should know of a bike's record.

use std::fmt;

use super::Moment;
use crate::degradation::{ExplanationKind, TimedReading};
use crate::reading::{Content, Instrument, SPREAD_THAT_WARNS};

/// Something a person should know; [`fmt::Display`] says it in English.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(tag = "code", rename_all = "snake_case")
)]
#[non_exhaustive]
pub enum Warning {
    /// No chain is on record.
    NoChain,
    /// The spots of a reading differ by more than [`SPREAD_THAT_WARNS`].
    UnevenChain {
        /// When they were read.
        read_at: Moment,
    },
    /// A reading that what is known before it speaks against.
    ContradictoryReadings {
        /// The earlier one of the pair; none when the rides alone speak against it.
        earlier: Option<ReadingSaid>,
        /// The later one.
        later: ReadingSaid,
        /// By how many standard deviations.
        deviations: f64,
    },
    /// Readings and record don't agree, and something else than chance explains it with more than one half.
    RecordInDoubt {
        /// The likeliest explanation.
        explanation: ExplanationKind,
        /// Its probability.
        probability: f64,
        /// After the earlier moment and by the later one.
        between: (Moment, Moment),
    },
    /// The chain was never measured.
    NoReading,
    /// An odometer showed less than before: a new counter. The distance between the two statements isn't known.
    NewCounter {
        /// When the old counter was last read, and when the new one was.
        between: (Moment, Moment),
        /// What the old one showed, km.
        before_km: f64,
        /// What the new one showed, km.
        after_km: f64,
    },
    /// Rides add up to more than the odometer between two statements; the rides stand.
    RidesExceedCounter {
        /// When the odometer was read.
        between: (Moment, Moment),
        /// What it counted, km.
        counter_km: f64,
        /// What the rides add up to, km.
        rides_km: f64,
    },
    /// Care counts as recorded, and none was entered for long.
    CareSilent {
        /// Distance since the last entry, or since the chain was fitted, km.
        since_km: f64,
    },
    /// A skip under load was reported, which counts for the cassette.
    SkipReported {
        /// When it was reported.
        reported_at: Moment,
        /// Teeth of the cog.
        teeth: u16,
    },
}

impl Warning {
    /// A stable word for programs.
    #[must_use]
    pub const fn code(&self) -> &'static str {
        match self {
            Self::NoChain => "no_chain",
            Self::UnevenChain { .. } => "uneven_chain",
            Self::ContradictoryReadings { .. } => "contradictory_readings",
            Self::RecordInDoubt { .. } => "record_in_doubt",
            Self::NoReading => "no_reading",
            Self::NewCounter { .. } => "new_counter",
            Self::RidesExceedCounter { .. } => "rides_exceed_counter",
            Self::CareSilent { .. } => "care_silent",
            Self::SkipReported { .. } => "skip_reported",
        }
    }
}

impl fmt::Display for Warning {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NoChain => f.write_str("No chain is on record for this bike"),
            Self::UnevenChain { read_at } => write!(
                f,
                "The spots read on {read_at} differ by more than {SPREAD_THAT_WARNS} %: look for a stiff or damaged stretch"
            ),
            Self::ContradictoryReadings { earlier: Some(earlier), later, deviations } => write!(
                f,
                "{earlier} and {later} contradict each other by {deviations:.1} standard deviations. Either another chain was measured, or this chain was changed and nobody wrote it down: void the wrong reading, or enter the swap"
            ),
            Self::ContradictoryReadings { earlier: None, later, deviations } => write!(
                f,
                "{later} is {deviations:.1} standard deviations from what the rides explain: check the reading and the rides"
            ),
            Self::RecordInDoubt { explanation, probability, between: (after, by) } => {
                let (likely, mend) = match explanation {
                    ExplanationKind::UnrecordedSwap => ("a new chain was put on", "enter the swap"),
                    ExplanationKind::MissingRiding => ("rides are missing", "enter them"),
                    ExplanationKind::WrongReading => ("the reading is wrong", "void it"),
                    ExplanationKind::AsRecorded => ("it is chance", "measure again"),
                };
                let percent = (probability * 100.0).round();
                write!(
                    f,
                    "Readings and record don't agree: most likely {likely} between {after} and {by} ({percent} %); {mend}"
                )
            }
            Self::NoReading => {
                f.write_str("This chain was never measured; the outlook rests on its rides alone")
            }
            Self::NewCounter { between: (before, after), before_km, after_km } => write!(
                f,
                "The odometer showed {before_km:.0} km on {before} and {after_km:.0} km on {after}: counted as a new odometer. How far the bike went in between isn't known; if a number is wrong, void it"
            ),
            Self::RidesExceedCounter { between: (before, after), counter_km, rides_km } => write!(
                f,
                "From {before} to {after} the rides add up to {rides_km:.0} km and the odometer counted {counter_km:.0} km: the rides count. Check for rides entered twice, and the odometer's wheel size"
            ),
            Self::CareSilent { since_km } => write!(
                f,
                "No care was entered for {since_km:.0} km, which counts as neglect. If the chain was looked after, enter it, or set the bike's care to routine or unrecorded"
            ),
            Self::SkipReported { reported_at, teeth } => write!(
                f,
                "A skip under load was reported on {reported_at} on the {teeth}-tooth cog: the cassette's outlook counts it. It can throw the rider: find its cause before the bike goes out"
            ),
        }
    }
}

/// A reading as a warning names it: `the rule reading of 0.41 % at 1200 reference km`.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct ReadingSaid {
    /// What it was taken with.
    pub instrument: Instrument,
    /// What it said.
    pub said: Said,
    /// Exposure of the chain by then, reference km.
    pub reference_km: f64,
}

/// What an instrument said, in short.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize), serde(rename_all = "snake_case"))]
pub enum Said {
    /// Mean of the spots, percent.
    Percent(f64),
    /// A gauge dropped in at its mark, percent.
    DroppedIn(f64),
    /// A gauge did not drop in at its mark, percent.
    DidNotDropIn(f64),
}

impl ReadingSaid {
    pub(super) fn of(reading: &TimedReading) -> Self {
        let said = match reading.measurement.content() {
            Content::Elongation(spots) => Said::Percent(spots.mean()),
            Content::Gauge { mark, drops_in: true } => Said::DroppedIn(mark.get()),
            Content::Gauge { mark, drops_in: false } => Said::DidNotDropIn(mark.get()),
        };
        Self { instrument: reading.measurement.instrument(), said, reference_km: reading.at.get() }
    }
}

impl fmt::Display for ReadingSaid {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let instrument = self.instrument.as_str().replace('_', "-");
        write!(f, "the {instrument} reading ")?;
        match self.said {
            Said::Percent(mean) => write!(f, "of {mean:.2} %")?,
            Said::DroppedIn(mark) => write!(f, "that dropped in at {mark} %")?,
            Said::DidNotDropIn(mark) => write!(f, "that did not drop in at {mark} %")?,
        }
        write!(f, " at {:.0} reference km", self.reference_km)
    }
}
