//! How much damage a workshop's cassettes bear before a new chain skips on them, as far as they have told.

use std::fmt;

use wear_core::fleet::cassettes::{CassetteFit, FEWEST_CASSETTES, FEWEST_ENDS};
use wear_core::fleet::skip_record::SkipTally;
use wear_core::knock_on::SkipThreshold;

use super::Timestamp;

/// What was learned, each number with one standard deviation of what isn't known of it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LearnedCassettes {
    /// ln of the median threshold, in cassettes of damage.
    pub ln_median: (f64, f64),
    /// Standard deviation of ln threshold.
    pub sigma: (f64, f64),
    /// Share of its square that the sprockets of a cassette have in common.
    pub common_share: (f64, f64),
    /// Cassettes that said something.
    pub cassettes: i64,
    /// New chains that held on them.
    pub held: i64,
    /// Skips that were reported of them.
    pub skipped: i64,
    /// Cassettes that came off worn or skipping.
    pub used_up: i64,
    /// What was to be expected of each new chain, by what was known before it went on, against what came.
    pub told: SkipTally,
    /// When.
    pub learned_at: Timestamp,
}

impl LearnedCassettes {
    /// From a fit.
    #[must_use]
    pub fn of(fit: &CassetteFit, told: SkipTally, learned_at: Timestamp) -> Self {
        let count = |count: usize| i64::try_from(count).unwrap_or(i64::MAX);
        Self {
            ln_median: fit.ln_median,
            sigma: fit.sigma,
            common_share: fit.common_share,
            cassettes: count(fit.cassettes),
            held: count(fit.held),
            skipped: count(fit.skipped),
            used_up: count(fit.used_up),
            told,
            learned_at,
        }
    }

    /// Whether enough cassettes have told for outlooks to use it.
    #[must_use]
    pub fn is_enough(&self) -> bool {
        let ends = usize::try_from(self.skipped + self.used_up).unwrap_or(0);
        usize::try_from(self.cassettes).is_ok_and(|cassettes| cassettes >= FEWEST_CASSETTES)
            && ends >= FEWEST_ENDS
    }

    /// What outlooks use.
    #[must_use]
    pub fn threshold(&self) -> SkipThreshold {
        if !self.is_enough() {
            return SkipThreshold::ASSUMED;
        }
        let ((ln_median, sd), (sigma, _), (common, _)) = (self.ln_median, self.sigma, self.common_share);
        SkipThreshold::learned(ln_median, sd, sigma, common).unwrap_or(SkipThreshold::ASSUMED)
    }
}

/// What is known of a workshop's cassettes, in one sentence.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CassettesSaid(pub Option<LearnedCassettes>);

impl fmt::Display for CassettesSaid {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.0.filter(LearnedCassettes::is_enough) {
            Some(learned) => {
                let median = learned.ln_median.0.exp();
                let sd = median * learned.ln_median.1;
                write!(
                    f,
                    "Your cassettes bear {median:.1} times the usual wear before a new chain skips, give or take {sd:.1}: learned from {} new chains that held, {} reported skips and {} cassettes that came off worn or skipping",
                    learned.held, learned.skipped, learned.used_up
                )
            }
            None => write!(
                f,
                "Not learned yet: the usual values hold until {FEWEST_CASSETTES} cassettes have shown what they bear. Report skips, and say why a cassette comes off"
            ),
        }
    }
}
