//! Which parts a bike's next swap will use, and when it comes.

use super::{Advice, BikeId, GroupName, Label, PartModelId, Place, Position};
use chrono::NaiveDate;

/// The days after the outlook's own at which the probability of a swap is kept; in between it is linear.
pub const NEED_DAYS: [u32; 21] =
    [0, 1, 2, 3, 5, 7, 10, 14, 21, 28, 42, 56, 70, 91, 119, 147, 182, 273, 365, 548, 730];

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

/// When a bike's next chain swap comes, and what it uses.
#[derive(Debug, Clone, PartialEq)]
pub struct SwapNeeds {
    /// Days after the outlook's own from which on the swap is certain, as it is the advice.
    pub certain_in_days: Option<u32>,
    /// Probability that the chain has reached its limit by each of [`NEED_DAYS`].
    pub by_day: [f64; NEED_DAYS.len()],
    /// What it uses.
    pub parts: Vec<NeededPart>,
}

impl SwapNeeds {
    /// Probability that the swap has come by `days` after the outlook's own; the last one kept beyond the days that
    /// are kept.
    #[must_use]
    pub fn by(&self, days: f64) -> f64 {
        if self.certain_in_days.is_some_and(|certain| days >= f64::from(certain)) {
            return 1.0;
        }
        let after = NEED_DAYS.partition_point(|day| f64::from(*day) <= days);
        match (after.checked_sub(1), NEED_DAYS.get(after)) {
            (None, _) => self.by_day[0],
            (Some(before), None) => self.by_day[before],
            (Some(before), Some(next)) => {
                let (from, to) = (f64::from(NEED_DAYS[before]), f64::from(*next));
                let along = (days - from) / (to - from);
                self.by_day[before] + along * (self.by_day[after] - self.by_day[before])
            }
        }
    }
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn probabilities_are_linear_between_days_and_certain_when_advised() {
        let by_day = NEED_DAYS.map(|day| f64::from(day) / 1_000.0);
        let mut needs = SwapNeeds { certain_in_days: None, by_day, parts: Vec::new() };
        for days in [0.0, 0.5, 4.0, 33.3, 730.0] {
            assert!((needs.by(days) - days / 1_000.0).abs() < 1e-12, "{days}");
        }
        assert_eq!((needs.by(-3.0), needs.by(5_000.0)), (0.0, 0.73));
        needs.certain_in_days = Some(20);
        assert!((needs.by(19.9) - 0.0199).abs() < 1e-12);
        assert_eq!(needs.by(20.0), 1.0);
    }
}
