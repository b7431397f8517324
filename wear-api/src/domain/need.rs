//! Which parts a bike's next swap will use, and when it comes.

use super::{Advice, BikeId, GroupName, Label, PartModelId, Place, Position};
use chrono::NaiveDate;
use wear_core::bike::SwapTiming;
use wear_core::fleet::coming_year::Renewals;

/// A part that a bike's next swap may use.
#[derive(Debug, Clone, PartialEq)]
pub struct NeededPart {
    /// Where it sits.
    pub place: Place,
    /// Which of several equal places.
    pub position: Position,
    /// The model of the part that is there, where known.
    pub model_id: Option<PartModelId>,
    /// Its shape in a few words, for parts whose model nobody entered: `8 sprockets`, `42 teeth`.
    pub shape: String,
    /// Probability that the swap uses it: 1 for the chain, and for cassette and rings the probability that they are
    /// used up by then.
    pub share: f64,
}

impl NeededPart {
    /// Whether the next swap may use it: with a share below this it is left out of counts.
    #[must_use]
    pub fn counts(&self) -> bool {
        self.share >= 1e-4
    }
}

/// When a bike's next chain swap comes, and what it uses.
#[derive(Debug, Clone, PartialEq)]
pub struct SwapNeeds {
    /// When it comes, in days after the outlook's own.
    pub timing: SwapTiming,
    /// What it uses.
    pub parts: Vec<NeededPart>,
    /// What the swaps after it rest on; none for a bike that isn't in use, and in outlooks from before it was kept.
    pub renewals: Option<Renewals>,
}

/// A bike with its needs.
#[derive(Debug, Clone, PartialEq)]
pub struct BikeNeeds {
    /// The bike.
    pub bike_id: BikeId,
    /// What people call it.
    pub label: Label,
    /// Its group.
    pub group: GroupName,
    /// What to do about it.
    pub advice: Advice,
    /// By when its chain is to be swapped.
    pub swap_by: Option<NaiveDate>,
    /// The date of its outlook where the workshop is.
    pub as_of: NaiveDate,
    /// What it needs; none when the outlook was computed before needs were kept.
    pub needs: Option<SwapNeeds>,
}
