//! What is kept of a bike's outlook.

use chrono::NaiveDate;
use wear_core::Reason;
use wear_core::degradation::Quantiles;
use wear_core::units::Probability;

use super::{Advice, BikeId, GroupName, Label, PartId, Place, Timestamp, Use};

/// What lists need of a bike's outlook.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OutlookSummary {
    /// The bike.
    pub bike_id: BikeId,
    /// The chain it speaks of; none when the bike has none.
    pub part_id: Option<PartId>,
    /// What to do.
    pub advice: Advice,
    /// The date on which someone has to see to the bike; none when nobody has to.
    pub attention_on: Option<NaiveDate>,
    /// By when the chain is to be swapped.
    pub swap_by: Option<NaiveDate>,
    /// By when a reading pays.
    pub measure_by: Option<NaiveDate>,
    /// The probability that the chain is over its limit now.
    pub probability_over: Option<Probability>,
    /// How far the chain has to go, km.
    pub remaining: Option<Quantiles>,
    /// The instant it was computed for.
    pub computed_at: Timestamp,
}

/// A bike's outlook: what lists need, and the whole as it is answered.
#[derive(Debug, Clone, PartialEq)]
pub struct OutlookRow {
    /// What lists need.
    pub summary: OutlookSummary,
    /// The whole outlook.
    pub payload: serde_json::Value,
}

/// An entry of the fleet's list.
#[derive(Debug, Clone, PartialEq)]
pub struct FleetEntry {
    /// What people call the bike.
    pub label: Label,
    /// Its group.
    pub group: GroupName,
    /// What it is used for.
    pub usage: Use,
    /// Its outlook.
    pub outlook: OutlookSummary,
    /// Why its advice is what it is; none until an outlook of an earlier version is computed anew.
    pub reason: Option<Reason>,
    /// What goes on together with the next chain.
    pub with_chain: Vec<Place>,
}

/// Which bikes the fleet's list holds.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct OutlookFilter {
    /// With this advice.
    pub advice: Option<Advice>,
    /// Of this group.
    pub group: Option<GroupName>,
    /// Part of the label or of the group, in any case.
    pub search: Option<String>,
    /// Needing someone before this date.
    pub due_before: Option<NaiveDate>,
}

wear_core::vocabulary! {
    /// In which order the fleet is shown.
    FleetSort, "sort" {
        /// By when each bike needs someone, the worst of a day first.
        Due = "due",
        /// By what people call the bikes.
        Label = "label",
        /// By group, and within one as by when.
        Group = "group",
        /// By how far the chain has to go, the shortest first.
        Left = "left",
    }
}
