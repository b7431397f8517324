//! Whether cassettes skipped under new chains as often as was told: reliability by thirds of the scale, and a verdict.

use super::censored::Share;
use super::skip_record::SkipTally;
use crate::knock_on::ToldSkip;
use crate::vocabulary::vocabulary;

/// With fewer new chains nothing is said (A).
pub const FEWEST_CHAINS: u64 = 20;

vocabulary! {
    /// What it means for the next cassette.
    SkipVerdict, "verdict" {
        /// Too few new chains have been tried on a cassette that had been told of.
        TooFew = "too_few",
        /// As many skipped as was told.
        Holds = "holds",
        /// More skipped than was told.
        MoreSkip = "more_skip",
        /// Fewer skipped than was told.
        FewerSkip = "fewer_skip",
    }
}

/// Sums over new chains by what had been told: they add up over groups and months.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct SkipReliability {
    /// Told up to a third, up to two thirds, more.
    pub thirds: [SkipTally; 3],
}

impl SkipReliability {
    /// One more new chain on a cassette, with what had been told before and whether it skipped.
    pub fn add(&mut self, told: &ToldSkip) {
        self.thirds[((3.0 * told.probability) as usize).min(2)] += told.into();
    }

    /// All of them.
    #[must_use]
    pub fn all(&self) -> SkipTally {
        let mut all = SkipTally::default();
        self.thirds.iter().for_each(|third| all += *third);
        all
    }

    /// The share that skipped, with how far chance may have moved it; none without a chain.
    #[must_use]
    pub fn skipped(&self) -> Option<Share> {
        let all = self.all();
        all.record().map(|record| Share::of(record.skipped, all.chains as f64))
    }

    /// What it means for the next cassette.
    #[must_use]
    pub fn verdict(&self) -> SkipVerdict {
        let all = self.all();
        match all.record().zip(self.skipped()) {
            Some((record, skipped)) if all.chains >= FEWEST_CHAINS => {
                if skipped.is_above(record.told) {
                    SkipVerdict::MoreSkip
                } else if skipped.is_below(record.told) {
                    SkipVerdict::FewerSkip
                } else {
                    SkipVerdict::Holds
                }
            }
            _ => SkipVerdict::TooFew,
        }
    }
}

impl std::ops::AddAssign<&Self> for SkipReliability {
    fn add_assign(&mut self, other: &Self) {
        self.thirds.iter_mut().zip(other.thirds).for_each(|(third, other)| *third += other);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn told(told: &[(f64, u32, u32)]) -> SkipReliability {
        let mut all = SkipReliability::default();
        for &(probability, chains, skipped) in told {
            (0..chains).for_each(|chain| all.add(&ToldSkip { probability, skipped: chain < skipped }));
        }
        all
    }

    #[test]
    fn right_and_wrong_probabilities_are_told_apart() {
        let mut right = told(&[(0.1, 50, 5), (0.5, 20, 10), (1.0, 5, 5)]);
        assert_eq!((right.all().chains, right.verdict()), (75, SkipVerdict::Holds));
        assert_eq!(right.thirds.map(|third| third.chains), [50, 20, 5]);
        let brier = right.all().record().expect("chains").brier;
        assert!((brier - (5.0 * 0.81 + 45.0 * 0.01 + 20.0 * 0.25) / 75.0).abs() < 1e-12);
        // Seven chains held on one cassette: told, each would skip.
        let held = told(&[(0.95, 25, 1)]);
        assert_eq!(held.verdict(), SkipVerdict::FewerSkip);
        assert_eq!(told(&[(0.05, 40, 20)]).verdict(), SkipVerdict::MoreSkip);
        assert_eq!(told(&[(0.05, 4, 4)]).verdict(), SkipVerdict::TooFew);
        assert_eq!((told(&[]).verdict(), told(&[]).skipped()), (SkipVerdict::TooFew, None));
        right += &held;
        assert_eq!(right.all().chains, 100);
    }
}
