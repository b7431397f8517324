//! What a reading was taken with, and by whom.

use crate::reading::Instrument;

/// The tool and the person of one reading, by names of the caller's choice.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct ReadWith {
    /// The tool, where it was named. All tools of a kind that nobody named count as one.
    pub tool: Option<String>,
    /// Who read it, where that is known.
    pub person: Option<String>,
}

/// One tool: a rule named "workbench" isn't a dial of that name.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Tool {
    /// What it is.
    pub instrument: Instrument,
    /// Its name; none for all of its kind that nobody named.
    pub name: Option<String>,
}
