//! How good forecasts of skips have been.
//!
//! At each swap of the chain the outlook says how likely the new one is to skip on the cassette. [`SkipTally`] holds that
//! against what came: ridden 100 km without a report, or a skip reported within them.

use crate::knock_on::ToldSkip;

/// Sums over forecasts of skips: they add up over bikes, groups and months.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct SkipTally {
    /// New chains on cassettes with some wear, of which it is known what they did.
    pub chains: u64,
    /// Those that skipped.
    pub skipped: u64,
    /// Sum of the probabilities told.
    pub told: f64,
    /// Sum of (probability − answer)², the answer 1 when it skipped.
    pub brier: f64,
}

impl From<&ToldSkip> for SkipTally {
    fn from(told: &ToldSkip) -> Self {
        let ToldSkip { probability, skipped } = *told;
        let answer = f64::from(u8::from(skipped));
        Self {
            chains: 1,
            skipped: u64::from(skipped),
            told: probability,
            brier: (probability - answer).powi(2),
        }
    }
}

impl std::ops::AddAssign for SkipTally {
    fn add_assign(&mut self, other: Self) {
        self.chains += other.chains;
        self.skipped += other.skipped;
        self.told += other.told;
        self.brier += other.brier;
    }
}

impl<'a> std::iter::FromIterator<&'a ToldSkip> for SkipTally {
    fn from_iter<I: IntoIterator<Item = &'a ToldSkip>>(told: I) -> Self {
        let mut tally = Self::default();
        told.into_iter().for_each(|told| tally += told.into());
        tally
    }
}

/// How good forecasts of skips have been.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub struct SkipRecord {
    /// Mean Brier score (Brier 1950, Mon. Wea. Rev. 78:1, M): 0 is perfect.
    pub brier: f64,
    /// The score of telling each time the share that skipped in the end, which nobody knew before.
    pub brier_of_share: f64,
    /// Mean of the probabilities told.
    pub told: f64,
    /// Share of chains that skipped.
    pub skipped: f64,
}

impl SkipTally {
    /// How good they were; none when there were none.
    #[must_use]
    pub fn record(&self) -> Option<SkipRecord> {
        let chains = self.chains as f64;
        let skipped = self.skipped as f64 / chains;
        (self.chains > 0).then(|| SkipRecord {
            brier: self.brier / chains,
            brier_of_share: skipped * (1.0 - skipped),
            told: self.told / chains,
            skipped,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn scores_add_up() {
        let told = [(0.1, false), (0.3, false), (0.8, true), (0.5, false)];
        let told = told.map(|(probability, skipped)| ToldSkip { probability, skipped });
        let record = told.iter().collect::<SkipTally>().record().expect("four");
        assert!((record.brier - (0.01 + 0.09 + 0.04 + 0.25) / 4.0).abs() < 1e-12);
        assert!((record.told - 0.425).abs() < 1e-12 && (record.skipped - 0.25).abs() < 1e-12);
        assert!((record.brier_of_share - 0.1875).abs() < 1e-12);
        assert_eq!(SkipTally::default().record(), None);
    }
}
