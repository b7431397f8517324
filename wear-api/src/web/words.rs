//! What answers in JSON say in English of the library's reasons, warnings and assumptions.

use wear_core::bike::Warning;
use wear_core::reading::SPREAD_THAT_WARNS;

use crate::domain::{Drift, Timestamp};

/// A warning, with dates of the calendar for the library's moments.
pub fn warning(warning: &Warning) -> String {
    match warning {
        Warning::UnevenChain { read_at } => format!(
            "The spots read on {} differ by more than {SPREAD_THAT_WARNS} %: look for a stiff or damaged stretch",
            Timestamp::of(*read_at).utc_date()
        ),
        Warning::SkipReported { reported_at, teeth } => format!(
            "A skip under load was reported on {} on the {teeth}-tooth cog: the cassette's outlook counts it. It can throw the rider: find its cause before the bike goes out",
            Timestamp::of(*reported_at).utc_date()
        ),
        without_date => without_date.to_string(),
    }
}

/// A stable word for a drift of the track record.
pub fn drift_code(drift: &Drift) -> &'static str {
    if drift.is_too_narrow() { "intervals_too_narrow" } else { "intervals_too_wide" }
}

/// A drift of the track record.
pub fn drift(drift: &Drift) -> String {
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
