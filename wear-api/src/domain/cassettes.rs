//! How much damage a workshop's cassettes bear before a new chain skips on them, as far as they have told.

use wear_core::fleet::cassettes::{CassetteFit, FEWEST_CASSETTES};
use wear_core::fleet::skip_record::SkipTally;
use wear_core::sentences::Decimal;

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

wear_core::sentences! {
    /// What is known of a workshop's cassettes.
    CassettesSaid {
        Learned { median: Decimal, give_or_take: Decimal, held: u32, skipped: u32, used_up: u32 } = "learned",
            "Your cassettes bear {median} times the usual wear before a new chain skips, give or take {give_or_take}: learned from {held} new chains that held, {skipped} reported skips and {used_up} cassettes that came off worn or skipping";
        NotYet { fewest: u32 } = "not_yet",
            "Not learned yet: the usual values hold until {fewest} cassettes have shown what they bear. Report skips, and say why a cassette comes off";
    }
}

impl CassettesSaid {
    /// Of what was learned last.
    #[must_use]
    pub fn of(known: Option<LearnedCassettes>) -> Self {
        let count = |count: usize| u32::try_from(count).unwrap_or(u32::MAX);
        match known.map(|learned| learned.fit).filter(CassetteFit::is_enough) {
            Some(fit) => {
                let median = fit.ln_median.0.exp();
                Self::Learned {
                    median: Decimal::new(median, 1),
                    give_or_take: Decimal::new(median * fit.ln_median.1, 1),
                    held: count(fit.held),
                    skipped: count(fit.skipped),
                    used_up: count(fit.used_up),
                }
            }
            None => Self::NotYet { fewest: count(FEWEST_CASSETTES) },
        }
    }
}
