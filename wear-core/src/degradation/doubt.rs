//! When a reading makes one ask whether the record is right.

use super::WearParameters;
use crate::numeric::normal;
use crate::reading::Likelihood;
use crate::vocabulary::vocabulary;

vocabulary! {
    /// Why a reading and the record before it don't agree.
    ExplanationKind, "explanation" {
        /// They do: it is chance.
        AsRecorded = "as_recorded",
        /// A new chain was put on and nobody wrote it down.
        UnrecordedSwap = "unrecorded_swap",
        /// Riding is missing from the record.
        MissingRiding = "missing_riding",
        /// The number is wrong, or it was read from another chain.
        WrongReading = "wrong_reading",
    }
}

impl ExplanationKind {
    /// Probability of this before a reading is seen: 0.96, 0.02, 0.01 and 0.01 (A).
    #[must_use]
    pub const fn prior(self) -> f64 {
        match self {
            Self::AsRecorded => 0.96,
            Self::UnrecordedSwap => 0.02,
            Self::MissingRiding | Self::WrongReading => 0.01,
        }
    }
}

/// Percent over which a wrong number is spread evenly, the range of [`crate::bounds::ELONGATION_READING`].
const WRONG_NUMBERS: f64 = 3.3;

/// Odds of another explanation, seen as favourably as they can be, from which on all are weighed: below even ones this
/// reading alone makes none the likelier.
const WORTH: f64 = 1.0;

/// `ln p(reading)` when it says nothing of the chain: even over all numbers, or the toss of a coin.
pub(super) fn log_density_of_wrong(likelihood: &Likelihood) -> f64 {
    if likelihood.is_of_number() { -WRONG_NUMBERS.ln() } else { 0.5_f64.ln() }
}

/// Whether at such odds explanations are worth their while.
pub(super) fn is_worth_explaining(odds: f64) -> bool {
    odds > WORTH
}

/// Odds of anything but the record as it is, from one reading: no more than these, as other explanations are given the best
/// they could make of it, against what the record gives, `ln p(reading | earlier ones)`.
pub(super) fn odds_at_most(
    likelihood: &Likelihood,
    log_evidence: f64,
    expected: f64,
    parameters: &WearParameters,
) -> f64 {
    // A new chain reads at most as dense as its ε0 and the instrument let it; other explanations at most as the instrument.
    let swap = if likelihood.is_of_number() {
        normal::density(0.0) / likelihood.sd().hypot(parameters.initial_sd())
    } else {
        1.0
    };
    let missing = likelihood.log_peak().exp();
    let low = likelihood.at_most().is_some_and(|at_most| at_most < expected);
    let high = likelihood.at_least().is_some_and(|at_least| at_least > expected);
    let wrong = ExplanationKind::WrongReading.prior() * log_density_of_wrong(likelihood).exp();
    let change = match (low, high) {
        (true, _) => ExplanationKind::UnrecordedSwap.prior() * swap,
        (_, true) => ExplanationKind::MissingRiding.prior() * missing,
        // A gauge that stays out below what was expected of the chain, or drops in above it, is no surprise.
        (false, false) => 0.0,
    };
    (wrong + change) / (ExplanationKind::AsRecorded.prior() * log_evidence.exp())
}
