//! How much damage a workshop's cassettes bear before a new chain skips on them, as far as they have told.

use std::fmt;

use wear_core::fleet::cassettes::{CassetteFit, FEWEST_CASSETTES};
use wear_core::fleet::skip_record::SkipTally;

use super::Timestamp;

/// What was learned.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LearnedCassettes {
    /// How much cassettes bear.
    pub fit: CassetteFit,
    /// What was to be expected of each new chain, by what was known before it went on, against what came.
    pub told: SkipTally,
    /// When.
    pub learned_at: Timestamp,
}

/// What is known of a workshop's cassettes, in one sentence.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CassettesSaid(pub Option<LearnedCassettes>);

impl fmt::Display for CassettesSaid {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.0.map(|learned| learned.fit).filter(CassetteFit::is_enough) {
            Some(fit) => {
                let median = fit.ln_median.0.exp();
                let sd = median * fit.ln_median.1;
                write!(
                    f,
                    "Your cassettes bear {median:.1} times the usual wear before a new chain skips, give or take {sd:.1}: learned from {} new chains that held, {} reported skips and {} cassettes that came off worn or skipping",
                    fit.held, fit.skipped, fit.used_up
                )
            }
            None => write!(
                f,
                "Not learned yet: the usual values hold until {FEWEST_CASSETTES} cassettes have shown what they bear. Report skips, and say why a cassette comes off"
            ),
        }
    }
}
