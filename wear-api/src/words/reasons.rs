//! The library's reasons and what mends a record, as answers, hooks and e-mails say them.

use chrono::NaiveDate;
use fluent_bundle::FluentValue;
use wear_core::bike::ExplanationReport;
use wear_core::degradation::ExplanationKind;
use wear_core::{Moment, Reason};

use super::Words;
use super::texts::Sentence;
use crate::domain::{Language, PlanReason, RideWarning, Timestamp, WaitsFor};

impl Sentence for Reason {
    fn group(&self) -> &'static str {
        "reason"
    }

    fn code(&self) -> &'static str {
        match self {
            Self::NoChain => "no_chain",
            Self::Contradiction => "contradiction",
            Self::RecordInDoubt { explanation, .. } => match explanation {
                ExplanationKind::UnrecordedSwap => "doubt_unrecorded_swap",
                ExplanationKind::MissingRiding => "doubt_missing_riding",
                ExplanationKind::WrongReading => "doubt_wrong_reading",
                ExplanationKind::AsRecorded => "doubt_as_recorded",
            },
            Self::LikelyOver { .. } => "likely_over",
            Self::RiskPassed { .. } => "risk_passed",
            Self::RiskPassedUnmeasured { .. } => "risk_passed_unmeasured",
            Self::RiskReached { .. } => "risk_reached",
            Self::ReadingPays { .. } => "reading_pays",
            Self::NothingDue { days: Some(_) } => "nothing_due",
            Self::NothingDue { days: None } => "nothing_due_ever",
            Self::AgeUnknown => "age_unknown",
            Self::RidingUnknown { .. } => "riding_unknown",
            Self::ReadAtLimit { .. } => "read_at_limit",
            Self::CassetteUntried { .. } => "cassette_untried",
            Self::CassetteSkips { .. } => "cassette_skips",
            Self::NoUse { .. } => "no_use",
            _ => "",
        }
    }

    fn values(&self, words: &Words) -> Vec<(&'static str, FluentValue<'static>)> {
        let percent = |p: f64| words.percent(100.0 * p, 0).into();
        let days = |days: u32| f64::from(days).into();
        match *self {
            Self::RecordInDoubt { probability, .. }
            | Self::LikelyOver { probability }
            | Self::CassetteUntried { probability }
            | Self::CassetteSkips { probability }
            | Self::NoUse { probability } => vec![("probability", percent(probability))],
            Self::RiskPassed { probability, risk } | Self::RiskPassedUnmeasured { probability, risk } => {
                vec![("probability", percent(probability)), ("risk", percent(risk))]
            }
            Self::RiskReached { days: n, risk } => vec![("days", days(n)), ("risk", percent(risk))],
            Self::ReadingPays { days: n, elongation_sd } => {
                vec![("days", days(n)), ("sd", words.percent(elongation_sd, 2).into())]
            }
            Self::NothingDue { days: Some(n) } | Self::RidingUnknown { days: n } => vec![("days", days(n))],
            Self::ReadAtLimit { read_percent, likely_percent } => vec![
                ("read", words.percent(read_percent, 2).into()),
                ("likely", words.percent(likely_percent, 2).into()),
            ],
            _ => Vec::new(),
        }
    }
}

impl Sentence for RideWarning {
    fn group(&self) -> &'static str {
        "ride-warning"
    }

    fn code(&self) -> &'static str {
        (*self).code()
    }

    fn values(&self, words: &Words) -> Vec<(&'static str, FluentValue<'static>)> {
        match *self {
            Self::BeforeFitting { fitted_at: at }
            | Self::AfterRetirement { retired_at: at }
            | Self::Deleted { deleted_at: at } => vec![("at", words.instant(at).into())],
            Self::Overlaps { others } => vec![("others", (others as f64).into())],
            Self::CountedWith { ride } | Self::CountsFor { ride } => vec![("ride", ride.to_string().into())],
            _ => Vec::new(),
        }
    }
}

/// The same of what is odd about rides.
#[cfg(test)]
pub(super) const RIDE_WARNINGS: &[&str] = &[
    "energy_not_measured",
    "rides_overlap",
    "counted_with",
    "counts_for",
    "before_fitting",
    "no_chain",
    "after_retirement",
    "deleted",
];

/// The codes of reasons as the texts have them.
#[cfg(test)]
pub(super) const REASONS: &[&str] = &[
    "no_chain",
    "contradiction",
    "doubt_unrecorded_swap",
    "doubt_missing_riding",
    "doubt_wrong_reading",
    "doubt_as_recorded",
    "likely_over",
    "risk_passed",
    "risk_passed_unmeasured",
    "risk_reached",
    "reading_pays",
    "nothing_due",
    "nothing_due_ever",
    "age_unknown",
    "riding_unknown",
    "read_at_limit",
    "cassette_untried",
    "cassette_skips",
    "no_use",
];

impl Words {
    /// A sentence that answers carry: in English as the library or the service declares it.
    pub(crate) fn answered(&self, sentence: &impl Sentence) -> String {
        if self.language == Language::En { sentence.to_string() } else { self.said(sentence) }
    }

    /// What would mend the record if an explanation is true; none where there is nothing to mend.
    pub(crate) fn mended_by(&self, found: &ExplanationReport) -> Option<String> {
        let (after, by) = found.between.map(|(after, by)| (self.date(day(after)), self.date(day(by))))?;
        Some(match (found.kind, found.missing_km) {
            (ExplanationKind::UnrecordedSwap, _) => self.mend_unrecorded_swap(after, by),
            (ExplanationKind::MissingRiding, Some(km)) => {
                self.mend_missing_distance(self.about(km.p50), after, by)
            }
            (ExplanationKind::MissingRiding, None) => self.mend_missing_riding(after, by),
            (ExplanationKind::WrongReading, _) => self.mend_wrong_reading(by),
            (ExplanationKind::AsRecorded, _) => self.mend_as_recorded(),
        })
    }
}

impl Words {
    /// Why a plan treats a bike or a part as it does; none for a sentence that was stored as one.
    pub(crate) fn planned(&self, reason: &PlanReason) -> Option<String> {
        Some(match reason {
            PlanReason::Outlook { reason, rings_wait_for } => {
                let waits = rings_wait_for.iter().map(|waits_for| match waits_for {
                    WaitsFor::Part => self.plan_ring_waits_for_part(),
                    WaitsFor::Day => self.plan_ring_waits_for_day(),
                });
                std::iter::once(self.answered(reason)).chain(waits).collect::<Vec<_>>().join("; ")
            }
            PlanReason::WouldSkip { probability } => {
                self.plan_would_skip(self.percent(100.0 * probability, 0))
            }
            PlanReason::PromisedLater { date } => self.plan_promised_later(self.date(*date)),
            PlanReason::NoChain => self.plan_no_chain(),
            PlanReason::BeingComputed => self.plan_being_computed(),
            PlanReason::PromisedDayPassed => self.plan_promised_day_passed(),
            PlanReason::BenchClosed => self.plan_bench_closed(),
            PlanReason::BikeAway => self.plan_bike_away(),
            PlanReason::DayTooShort { takes, has } => self.plan_day_too_short(takes, has),
            PlanReason::DayOverfull { has } => self.plan_day_overfull(has),
            PlanReason::ChainCanStay { until: Some(day) } => self.plan_chain_can_stay_until(self.date(*day)),
            PlanReason::ChainCanStay { until: None } => self.plan_chain_can_stay(),
            PlanReason::Said(_) => return None,
        })
    }
}

fn day(moment: Moment) -> NaiveDate {
    Timestamp::day_of(moment)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_reason_is_said_in_both_languages_with_its_numbers() {
        let explanations = [
            ExplanationKind::UnrecordedSwap,
            ExplanationKind::MissingRiding,
            ExplanationKind::WrongReading,
            ExplanationKind::AsRecorded,
        ];
        let doubts = explanations.map(|explanation| Reason::RecordInDoubt { explanation, probability: 0.73 });
        let others = [
            Reason::NoChain,
            Reason::Contradiction,
            Reason::LikelyOver { probability: 0.73 },
            Reason::RiskPassed { probability: 0.73, risk: 0.2 },
            Reason::RiskPassedUnmeasured { probability: 0.73, risk: 0.2 },
            Reason::RiskReached { days: 73, risk: 0.2 },
            Reason::RiskReached { days: 0, risk: 0.73 },
            Reason::ReadingPays { days: 73, elongation_sd: 0.1 },
            Reason::NothingDue { days: Some(73) },
            Reason::NothingDue { days: None },
            Reason::AgeUnknown,
            Reason::RidingUnknown { days: 73 },
            Reason::ReadAtLimit { read_percent: 0.73, likely_percent: 0.7 },
            Reason::CassetteUntried { probability: 0.73 },
            Reason::CassetteSkips { probability: 0.73 },
            Reason::NoUse { probability: 0.73 },
        ];
        let (en, de) = (Words::of(Language::En), Words::of(Language::De));
        for reason in doubts.into_iter().chain(others) {
            let (english, german) = (en.answered(&reason), de.answered(&reason));
            assert_eq!(english, reason.to_string());
            assert!(!german.is_empty() && german != english && !german.contains('{'), "{german}");
            assert_eq!(english.contains("73"), german.contains("73"), "{english} / {german}");
            assert!(REASONS.contains(&reason.code()), "{}", reason.code());
        }
        let days = |days| de.answered(&Reason::RiskReached { days, risk: 0.2 });
        assert!(days(0).contains(" heute ") && days(1).contains("in 1 Tag "), "{} {}", days(0), days(1));
    }
}
