//! One word of advice, with its reason.

use std::fmt;

use crate::degradation::ExplanationKind;
use crate::vocabulary::vocabulary;

vocabulary! {
    /// What to do with a chain.
    Advice, "advice" {
        /// Nothing needs doing within the planning horizon.
        RideOn = "ride_on",
        /// A reading by the given day is worth more than it costs.
        MeasureBy = "measure_by",
        /// The chain should come off by the given day.
        SwapBy = "swap_by",
        /// The chain should come off before the next ride.
        SwapNow = "swap_now",
        /// The data contradict each other or are missing: a person has to look.
        Hold = "hold",
    }
}

/// Why the advice is what it is; [`fmt::Display`] gives it in words and numbers.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(tag = "code", rename_all = "snake_case")
)]
#[non_exhaustive]
pub enum Reason {
    /// No chain is on record.
    NoChain,
    /// Readings contradict each other beyond what the model can explain.
    Contradiction,
    /// Readings and record don't agree, and what to do depends on what explains it.
    RecordInDoubt {
        /// The likeliest explanation.
        explanation: ExplanationKind,
        /// Its probability.
        probability: f64,
    },
    /// More likely over the limit than not.
    LikelyOver {
        /// Probability of being over the limit now.
        probability: f64,
    },
    /// The accepted risk is passed already and a new reading would add little.
    RiskPassed {
        /// Probability of being over the limit now.
        probability: f64,
        /// The risk that the workshop accepts.
        risk: f64,
    },
    /// The accepted risk is passed already, but the chain's state is so uncertain that a reading comes first.
    RiskPassedUnmeasured {
        /// Probability of being over the limit now.
        probability: f64,
        /// The risk that the workshop accepts.
        risk: f64,
    },
    /// The accepted risk is reached on a day within the planning horizon.
    RiskReached {
        /// Days from today.
        days: u32,
        /// The risk that the workshop accepts.
        risk: f64,
    },
    /// The state is uncertain, and the risk becomes noticeable within the planning horizon.
    ReadingPays {
        /// Days from today.
        days: u32,
        /// Standard deviation of the elongation today, percent.
        elongation_sd: f64,
    },
    /// Nothing comes due within the planning horizon.
    NothingDue {
        /// Days from today until the accepted risk is reached; `None` beyond the horizon of dates.
        days: Option<u32>,
    },
    /// The chain was on the bike when its record began, and nobody has measured it.
    AgeUnknown,
    /// Nothing is known of the chain's riding since it was fitted or last measured.
    RidingUnknown {
        /// Days since then.
        days: u32,
    },
    /// The last reading is at or over the limit, though the chain most likely isn't.
    ReadAtLimit {
        /// What was read, percent: the mean of the spots, or the gauge's mark that dropped in.
        read_percent: f64,
        /// Where the chain most likely is, percent.
        likely_percent: f64,
    },
    /// The chain is new, and on this cassette a new chain likely skips; nobody has ridden it far enough to tell.
    CassetteUntried {
        /// Probability that it skips.
        probability: f64,
    },
    /// The new chain was reported to skip, and the cassette is the likely cause.
    CassetteSkips {
        /// Probability that a new chain skips on this cassette.
        probability: f64,
    },
    /// The bike is not being ridden, so no date can be given.
    NoUse {
        /// Probability of being over the limit now.
        probability: f64,
    },
}

impl fmt::Display for Reason {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let percent = |p: f64| (p * 100.0).round();
        let days = |n: u32| if n == 1 { "1 day".to_owned() } else { format!("{n} days") };
        match *self {
            Self::NoChain => f.write_str(
                "No chain is on record for this bike; fit one, or enter the swap that took it off",
            ),
            Self::Contradiction => {
                f.write_str("The readings contradict each other; a person has to look at this chain")
            }
            Self::RecordInDoubt { explanation, probability } => {
                let likely = match explanation {
                    ExplanationKind::UnrecordedSwap => "a new chain was put on and nobody wrote it down",
                    ExplanationKind::MissingRiding => "rides are missing",
                    ExplanationKind::WrongReading => "a reading is wrong",
                    ExplanationKind::AsRecorded => "it is chance",
                };
                write!(
                    f,
                    "Readings and record don't agree; most likely {likely} ({} %), and what to do depends on it",
                    percent(probability)
                )
            }
            Self::LikelyOver { probability } => {
                write!(f, "The chain is over its limit with a probability of {} %", percent(probability))
            }
            Self::RiskPassed { probability, risk } => write!(
                f,
                "The probability of being over the limit is {} %, above the accepted {} %, and a new reading would change little",
                percent(probability),
                percent(risk)
            ),
            Self::RiskPassedUnmeasured { probability, risk } => write!(
                f,
                "The probability of being over the limit is {} %, above the accepted {} %; a reading will tell whether the chain has to come off",
                percent(probability),
                percent(risk)
            ),
            Self::RiskReached { days: 0, risk } => write!(
                f,
                "The probability of being over the limit reaches the accepted {} % today",
                percent(risk)
            ),
            Self::RiskReached { days: n, risk } => write!(
                f,
                "The probability of being over the limit reaches the accepted {} % in {}",
                percent(risk),
                days(n)
            ),
            Self::ReadingPays { days: 0, elongation_sd } => write!(
                f,
                "The chain's elongation is known to ±{elongation_sd:.2} % only; a reading today decides whether it can stay"
            ),
            Self::ReadingPays { days: n, elongation_sd } => write!(
                f,
                "The chain's elongation is known to ±{elongation_sd:.2} % only; a reading within {} decides whether it can stay",
                days(n)
            ),
            Self::NothingDue { days: Some(n) } => {
                write!(f, "The accepted risk is not reached for another {}", days(n))
            }
            Self::NothingDue { days: None } => {
                f.write_str("The accepted risk is not reached within ten years of use")
            }
            Self::AgeUnknown => f.write_str(
                "Nobody knows how worn this chain is: it was on the bike already and was never measured",
            ),
            Self::RidingUnknown { days: n } => write!(
                f,
                "No riding is on record for the {} since this chain was fitted or last measured, so nobody knows how worn it is",
                days(n)
            ),
            Self::ReadAtLimit { read_percent, likely_percent } => write!(
                f,
                "{read_percent:.2} % was read, which is at the limit; the chain is most likely at {likely_percent:.2} %. Measure again to be sure"
            ),
            Self::CassetteUntried { probability } => write!(
                f,
                "The chain is new, and on this worn cassette it is likely to skip ({} %). Test it for skipping under load, off traffic, before the bike goes out: a skip can throw the rider. If it skips, replace the cassette",
                percent(probability)
            ),
            Self::CassetteSkips { probability } => write!(
                f,
                "The new chain was reported to skip, most likely on a worn cassette ({} %). Don't ride it under load: check for a stiff link and the adjustment of the gears, then replace the cassette",
                percent(probability)
            ),
            Self::NoUse { probability } => write!(
                f,
                "No recent rides, so there is no date; the probability of being over the limit is {} %",
                percent(probability)
            ),
        }
    }
}

/// What the advice rests on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AdviceInput {
    /// Probability of being over the limit now, 0 to 1.
    pub probability_over_limit: f64,
    /// The risk that the workshop accepts, 0 to 1.
    pub risk: f64,
    /// Standard deviation of the elongation today, percent.
    pub elongation_sd: f64,
    /// Days until the accepted risk is reached; `None` beyond the horizon of dates or without use.
    pub swap_in_days: Option<u32>,
    /// Days until a reading pays; `None` likewise.
    pub measure_in_days: Option<u32>,
    /// Whether the bike is being ridden.
    pub in_use: bool,
    /// Whether the readings contradict each other beyond repair.
    pub contradictory: bool,
}

/// How far ahead advice other than `ride_on` is given, days (A).
pub const PLANNING_DAYS: u32 = 28;

/// Elongation known better than this is as good as freshly read with a rule, percent (A: the rule's own
/// standard deviation).
pub const WELL_KNOWN_SD: f64 = 0.06;

/// Above this probability the chain comes off unmeasured (A).
pub(crate) const MORE_LIKELY_THAN_NOT: f64 = 0.5;

/// Chooses the word.
#[must_use]
pub fn advise(input: &AdviceInput) -> (Advice, Reason) {
    let AdviceInput { probability_over_limit: probability, risk, elongation_sd, .. } = *input;
    let well_known = elongation_sd <= WELL_KNOWN_SD;
    if input.contradictory {
        return (Advice::Hold, Reason::Contradiction);
    }
    if probability >= MORE_LIKELY_THAN_NOT.max(risk) {
        return (Advice::SwapNow, Reason::LikelyOver { probability });
    }
    if probability >= risk {
        return if well_known {
            (Advice::SwapNow, Reason::RiskPassed { probability, risk })
        } else {
            (Advice::MeasureBy, Reason::RiskPassedUnmeasured { probability, risk })
        };
    }
    if !input.in_use {
        return (Advice::RideOn, Reason::NoUse { probability });
    }
    let within = |days: Option<u32>| days.filter(|&n| n <= PLANNING_DAYS);
    match (within(input.swap_in_days), within(input.measure_in_days)) {
        (Some(days), _) if well_known => (Advice::SwapBy, Reason::RiskReached { days, risk }),
        (_, Some(days)) if !well_known => (Advice::MeasureBy, Reason::ReadingPays { days, elongation_sd }),
        (Some(days), _) => (Advice::SwapBy, Reason::RiskReached { days, risk }),
        _ => (Advice::RideOn, Reason::NothingDue { days: input.swap_in_days }),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const CALM: AdviceInput = AdviceInput {
        probability_over_limit: 0.01,
        risk: 0.2,
        elongation_sd: 0.04,
        swap_in_days: Some(200),
        measure_in_days: Some(120),
        in_use: true,
        contradictory: false,
    };

    #[test]
    fn each_word_has_its_case() {
        let cases = [
            (CALM, Advice::RideOn),
            (
                AdviceInput { in_use: false, swap_in_days: None, measure_in_days: None, ..CALM },
                Advice::RideOn,
            ),
            (AdviceInput { contradictory: true, probability_over_limit: 0.9, ..CALM }, Advice::Hold),
            (AdviceInput { probability_over_limit: 0.7, elongation_sd: 0.2, ..CALM }, Advice::SwapNow),
            (AdviceInput { probability_over_limit: 0.3, ..CALM }, Advice::SwapNow),
            (AdviceInput { probability_over_limit: 0.3, elongation_sd: 0.1, ..CALM }, Advice::MeasureBy),
            (AdviceInput { swap_in_days: Some(20), measure_in_days: Some(5), ..CALM }, Advice::SwapBy),
            (
                AdviceInput { swap_in_days: Some(60), measure_in_days: Some(20), elongation_sd: 0.1, ..CALM },
                Advice::MeasureBy,
            ),
            (AdviceInput { swap_in_days: Some(60), measure_in_days: Some(20), ..CALM }, Advice::RideOn),
        ];
        for (input, expected) in cases {
            assert_eq!(advise(&input).0, expected, "{input:?}");
        }
    }

    #[test]
    fn reasons_carry_their_numbers() {
        let (_, reason) = advise(&AdviceInput { probability_over_limit: 0.734, ..CALM });
        assert_eq!(reason.to_string(), "The chain is over its limit with a probability of 73 %");
        let (_, reason) = advise(&AdviceInput { swap_in_days: Some(1), ..CALM });
        assert!(reason.to_string().ends_with("20 % in 1 day"), "{reason}");
    }
}
