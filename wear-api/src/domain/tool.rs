//! A workshop's tools, and what a reading was taken with.

use wear_core::fleet;

use super::{BikeId, Instrument, Label, PartId, Timestamp, ToolId};

/// A tool that a workshop measures with.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Tool {
    /// Its id.
    pub id: ToolId,
    /// What people call it; one tool in use of a workshop has the name, in any case.
    pub name: Label,
    /// What it is.
    pub instrument: Instrument,
    /// When it was entered.
    pub created_at: Timestamp,
    /// Since when it is out of use.
    pub retired_at: Option<Timestamp>,
    /// Counts its changes, from 1.
    pub revision: i64,
}

/// The tool and the person of a reading, where they are known.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct ReadWith {
    /// The tool.
    pub tool_id: Option<ToolId>,
    /// Who read it.
    pub read_by: Option<Label>,
}

impl ReadWith {
    /// As the library takes it: tools by their ids, so that a new name changes nothing.
    #[must_use]
    pub fn known(&self) -> fleet::ReadWith {
        fleet::ReadWith {
            tool: self.tool_id.map(|id| id.to_string()),
            person: self.read_by.as_ref().map(|name| name.as_str().to_owned()),
        }
    }
}

/// What one chain says of its bike, as it was learned.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ChainLevel {
    /// The chain.
    pub part_id: PartId,
    /// The bike that it was on.
    pub bike_id: BikeId,
    /// What it says.
    pub level: fleet::ChainLevel,
}
