//! Why a bench plan treats a bike or a part as it does, and what it assumed.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use super::{WaitsFor, by_code};

/// Why a part is swapped, or a bike is moved, measured first or not planned.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum PlanReason {
    /// What the bike's outlook says, and for what worn rings wait meanwhile.
    Outlook {
        /// Why the outlook advises what it does.
        reason: wear_core::Reason,
        /// For what each worn ring that stays on waits.
        #[serde(default)]
        rings_wait_for: Vec<WaitsFor>,
    },
    /// A new chain would skip on it.
    WouldSkip {
        /// Probability of that.
        probability: f64,
    },
    /// It is promised a day after the last one of the plan.
    PromisedLater {
        /// That day.
        date: NaiveDate,
    },
    /// No chain is on record.
    NoChain,
    /// Its outlook is being computed anew.
    BeingComputed,
    /// The promised day has passed.
    PromisedDayPassed,
    /// The bench no longer works on the promised day.
    BenchClosed,
    /// The bike is away on the promised day.
    BikeAway,
    /// The visit takes longer than the promised day.
    DayTooShort {
        /// Minutes that it takes.
        takes: u32,
        /// Minutes that the day has.
        has: u32,
    },
    /// Minutes or parts of the promised day no longer suffice.
    DayOverfull {
        /// Minutes that the day has.
        has: u32,
    },
    /// What is known since lets the chain stay.
    ChainCanStay {
        /// Until when; for now where no day is known.
        until: Option<NaiveDate>,
    },
    /// A sentence, as plans of an earlier version were stored with.
    #[serde(untagged)]
    Said(String),
}

impl PlanReason {
    /// A stable word, with its numbers by name; `said` for a sentence of an earlier version.
    #[must_use]
    pub fn by_code(&self) -> (String, serde_json::Map<String, serde_json::Value>) {
        match self {
            Self::Outlook { reason, rings_wait_for } => {
                let (code, mut parameters) = by_code(*reason);
                if !rings_wait_for.is_empty() {
                    parameters.insert("rings_wait_for".to_owned(), serde_json::json!(rings_wait_for));
                }
                (code, parameters)
            }
            Self::Said(_) => ("said".to_owned(), serde_json::Map::new()),
            other => match serde_json::to_value(other) {
                Ok(serde_json::Value::String(code)) => (code, serde_json::Map::new()),
                Ok(serde_json::Value::Object(tagged)) => match tagged.into_iter().next() {
                    Some((code, serde_json::Value::Object(parameters))) => (code, parameters),
                    _ => Default::default(),
                },
                _ => Default::default(),
            },
        }
    }
}

impl From<wear_core::Reason> for PlanReason {
    fn from(reason: wear_core::Reason) -> Self {
        Self::Outlook { reason, rings_wait_for: Vec::new() }
    }
}

/// What a bench plan assumed for want of data.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum PlanAssumption {
    /// Failures per kilometre over the limit.
    Failures,
    /// Parts that nobody keeps count of are there.
    UncountedParts,
    /// Price of cassettes whose model has none.
    CassettePrice,
    /// Price of chains whose model has none.
    ChainPrice,
    /// Something that a plan of an earlier version was stored with.
    #[serde(untagged)]
    Said(String),
}
