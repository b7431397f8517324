//! What answers in JSON say, in English unless asked otherwise, of the library's reasons, warnings and assumptions.

use chrono::NaiveDate;
use wear_core::Moment;
use wear_core::bike::{ExplanationReport, Warning};
use wear_core::degradation::{ExplanationKind, Quantiles};
use wear_core::reading::SPREAD_THAT_WARNS;

use crate::domain::{Drift, Timestamp};
use crate::web::speech;

/// A warning, with dates of the calendar for the library's moments.
pub fn warning(warning: &Warning) -> String {
    if !speech::is_plain() {
        return speech::words().warning(warning);
    }
    match warning {
        Warning::UnevenChain { read_at } => format!(
            "The spots read on {} differ by more than {SPREAD_THAT_WARNS} %: look for a stiff or damaged stretch",
            date(*read_at)
        ),
        Warning::SkipReported { reported_at, teeth } => format!(
            "A skip under load was reported on {} on the {teeth}-tooth cog: the cassette's outlook counts it. It can throw the rider: find its cause before the bike goes out",
            date(*reported_at)
        ),
        Warning::RecordInDoubt { explanation, probability, between } => {
            let percent = (100.0 * probability).round();
            format!(
                "Readings and record don't agree. Most likely ({percent} %) {}: {}",
                likely(*explanation, *between),
                mend(*explanation, *between, None)
            )
        }
        Warning::NewCounter { between: (before, after), before_km, after_km } => format!(
            "The odometer showed {before_km:.0} km on {} and {after_km:.0} km on {}: counted as a new odometer. How far the bike went in between isn't known; if a number is wrong, void it",
            date(*before),
            date(*after)
        ),
        Warning::RidesExceedCounter { between: (before, after), counter_km, rides_km } => format!(
            "From {} to {} the rides add up to {rides_km:.0} km and the odometer counted {counter_km:.0} km: the rides count. Check for rides entered twice, and the odometer's wheel size",
            date(*before),
            date(*after)
        ),
        without_date => without_date.to_string(),
    }
}

fn date(moment: Moment) -> NaiveDate {
    Timestamp::day_of(moment)
}

fn likely(explanation: ExplanationKind, (after, by): (Moment, Moment)) -> String {
    let (after, by) = (date(after), date(by));
    match explanation {
        ExplanationKind::UnrecordedSwap => {
            format!("a new chain was put on between {after} and {by} and nobody wrote it down")
        }
        ExplanationKind::MissingRiding => format!("rides between {after} and {by} are missing"),
        ExplanationKind::WrongReading => {
            format!("the reading of {by} is wrong, or was taken from another chain")
        }
        ExplanationKind::AsRecorded => "it is chance".to_owned(),
    }
}

fn mend(
    explanation: ExplanationKind,
    (after, by): (Moment, Moment),
    missing_km: Option<Quantiles>,
) -> String {
    let (after, by) = (date(after), date(by));
    match (explanation, missing_km) {
        (ExplanationKind::UnrecordedSwap, _) => {
            format!("enter a swap of the chain between {after} and {by}")
        }
        (ExplanationKind::MissingRiding, Some(km)) => {
            format!("enter rides of about {:.0} km between {after} and {by}", km.p50)
        }
        (ExplanationKind::MissingRiding, None) => format!("enter the rides between {after} and {by}"),
        (ExplanationKind::WrongReading, _) => format!("void the reading of {by}, or measure again"),
        (ExplanationKind::AsRecorded, _) => "measure again".to_owned(),
    }
}

/// What would mend the record if an explanation is true; none where there is nothing to mend.
pub fn mended_by(found: &ExplanationReport) -> Option<String> {
    if !speech::is_plain() {
        return speech::words().mended_by(found);
    }
    found.between.map(|between| mend(found.kind, between, found.missing_km))
}

/// A drift of the track record.
pub fn drift(drift: &Drift) -> String {
    if !speech::is_english() {
        let said = speech::said(&drift.said());
        return drift.group.as_ref().map_or(said.clone(), |group| format!("{group}: {said}"));
    }
    let whose = match &drift.group {
        Some(group) => format!("Group {group}"),
        None => "All groups together".to_owned(),
    };
    let so = if drift.is_too_narrow() {
        "the forecasts were surer than they should have been: plan with more margin, and let the fleet learn anew"
    } else {
        "the forecasts were less sure than they could have been"
    };
    format!(
        "{whose}: {:.0} % of {} readings lay between P10 and P90, and chance explains {:.0} to {:.0} %; {so}",
        100.0 * drift.record.coverage,
        drift.readings,
        100.0 * drift.record.coverage_band.0,
        100.0 * drift.record.coverage_band.1,
    )
}
