//! Whether cassettes skipped under new chains as often as was told.

use super::censored::Share;
use crate::units::Probability;
use crate::vocabulary::vocabulary;

/// With fewer chain swaps nothing is said (A).
pub const FEWEST_SWAPS: u64 = 20;

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

/// Swaps of one third of the scale of probabilities.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct SkipThird {
    /// New chains.
    pub swaps: u64,
    /// Sum of the probabilities that had been told.
    pub told: f64,
    /// Those that skipped.
    pub skipped: u64,
}

/// Sums over chain swaps: they add up over groups and months.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct SkipTally {
    /// By what had been told: up to a third, up to two thirds, more.
    pub thirds: [SkipThird; 3],
    /// Sum of (probability − outcome)², the outcome 1 when it skipped.
    pub squares: f64,
}

impl SkipTally {
    /// One more new chain on a cassette, with the probability of skipping that had been told before, and whether it did.
    pub fn add(&mut self, told: Probability, skipped: bool) {
        let told = told.get();
        let outcome = u64::from(skipped);
        let third = &mut self.thirds[((3.0 * told) as usize).min(2)];
        third.swaps += 1;
        third.told += told;
        third.skipped += outcome;
        self.squares += (told - outcome as f64).powi(2);
    }

    /// How told probabilities did; none without a swap.
    #[must_use]
    pub fn record(&self) -> Option<SkipRecord> {
        let sum = |of: fn(&SkipThird) -> u64| self.thirds.iter().map(of).sum::<u64>();
        let (swaps, skipped) = (sum(|third| third.swaps), sum(|third| third.skipped));
        let n = swaps as f64;
        (swaps > 0).then(|| SkipRecord {
            swaps,
            skipped: Share::of(skipped as f64 / n, n),
            told: self.thirds.iter().map(|third| third.told).sum::<f64>() / n,
            brier: self.squares / n,
        })
    }
}

impl std::ops::AddAssign<&Self> for SkipTally {
    fn add_assign(&mut self, other: &Self) {
        for (third, other) in self.thirds.iter_mut().zip(&other.thirds) {
            third.swaps += other.swaps;
            third.told += other.told;
            third.skipped += other.skipped;
        }
        self.squares += other.squares;
    }
}

/// How told probabilities of skipping have done.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub struct SkipRecord {
    /// New chains that were tried.
    pub swaps: u64,
    /// The share that skipped.
    pub skipped: Share,
    /// Mean of what had been told.
    pub told: f64,
    /// Brier score (1950, Mon. Weather Rev. 78:1, M): 0 is perfect, 0.25 is saying one half each time.
    pub brier: f64,
}

impl SkipRecord {
    /// What it means for the next cassette.
    #[must_use]
    pub fn verdict(&self) -> SkipVerdict {
        if self.swaps < FEWEST_SWAPS {
            SkipVerdict::TooFew
        } else if self.skipped.is_above(self.told) {
            SkipVerdict::MoreSkip
        } else if self.skipped.is_below(self.told) {
            SkipVerdict::FewerSkip
        } else {
            SkipVerdict::Holds
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn tally(told: &[(f64, u32, u32)]) -> SkipTally {
        let mut tally = SkipTally::default();
        for (told, swaps, skipped) in told {
            for swap in 0..*swaps {
                tally.add(Probability::new(*told).expect("legal"), swap < *skipped);
            }
        }
        tally
    }

    #[test]
    fn right_and_wrong_probabilities_are_told_apart() {
        let right = tally(&[(0.1, 50, 5), (0.5, 20, 10), (1.0, 5, 5)]);
        let record = right.record().expect("swaps");
        assert_eq!((record.swaps, record.verdict()), (75, SkipVerdict::Holds));
        let expected = (5.0 * 0.81 + 45.0 * 0.01 + 20.0 * 0.25) / 75.0;
        assert!((record.brier - expected).abs() < 1e-12);
        assert_eq!(right.thirds.map(|third| third.swaps), [50, 20, 5]);
        // Seven chains held on one cassette: told, each would skip.
        let held = tally(&[(0.95, 25, 1)]);
        assert_eq!(held.record().map(|it| it.verdict()), Some(SkipVerdict::FewerSkip));
        assert_eq!(tally(&[(0.05, 40, 20)]).record().map(|it| it.verdict()), Some(SkipVerdict::MoreSkip));
        assert_eq!(tally(&[(0.05, 4, 4)]).record().map(|it| it.verdict()), Some(SkipVerdict::TooFew));
        assert_eq!(SkipTally::default().record(), None);
        let mut both = right;
        both += &held;
        assert_eq!(both.record().map(|it| it.swaps), Some(100));
    }
}
