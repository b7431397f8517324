//! Why a bench plan treats a bike or a part as it does, and what it assumed.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use super::WaitsFor;

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
