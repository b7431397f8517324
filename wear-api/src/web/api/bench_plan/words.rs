//! What a bench plan's answer says in English.

use crate::domain::{BenchPlan, ConstraintKind, PlanAssumption, PlanReason, PlanWindow, ShortOf, WaitsFor};
use crate::web::speech;
use crate::words::Words;

/// Most labels that a sentence names.
const NAMED: usize = 12;

/// Why the plan treats a bike or a part as it does.
pub(super) fn reason(reason: PlanReason) -> String {
    if !speech::is_english()
        && let Some(said) = speech::words().planned(&reason)
    {
        return said;
    }
    match reason {
        PlanReason::Outlook { reason, rings_wait_for } => {
            let waits = rings_wait_for.iter().map(|waits_for| match waits_for {
                WaitsFor::Part => "; a worn ring waits for its part",
                WaitsFor::Day => "; a worn ring waits for a day that is long enough for both",
            });
            format!("{reason}{}", waits.collect::<String>())
        }
        PlanReason::WouldSkip { probability } => {
            let percent = (100.0 * probability).round();
            format!("A new chain would skip on it with a probability of {percent} %")
        }
        PlanReason::PromisedLater { date } => {
            format!("it is promised {date}, after the last day of this plan")
        }
        PlanReason::NoChain => "no chain is on record for it".to_owned(),
        PlanReason::BeingComputed => "its outlook is being computed anew; plan again in a moment".to_owned(),
        PlanReason::PromisedDayPassed => "the promised day has passed and its chain is still on".to_owned(),
        PlanReason::BenchClosed => "the bench no longer works on that day".to_owned(),
        PlanReason::BikeAway => "the bike is away on that day".to_owned(),
        PlanReason::DayTooShort { takes, has } => {
            format!("it takes {takes} minutes and the day has {has}")
        }
        PlanReason::DayOverfull { has } => {
            format!("the day's {has} minutes or parts no longer suffice for all that were promised it")
        }
        PlanReason::ChainCanStay { until } => {
            let until = until.map_or_else(|| "for now".to_owned(), |day| format!("until {day}"));
            format!("what is known since lets its chain stay {until}")
        }
        PlanReason::Said(sentence) => sentence,
    }
}

/// What the plan assumed.
pub(super) fn assumption(assumption: PlanAssumption) -> String {
    if !speech::is_english() {
        let words = speech::words();
        return match assumption {
            PlanAssumption::Failures => words.plan_assumes_failures(),
            PlanAssumption::UncountedParts => words.plan_assumes_uncounted_parts(),
            PlanAssumption::CassettePrice => words.plan_assumes_cassette_price(),
            PlanAssumption::ChainPrice => words.plan_assumes_chain_price(),
            PlanAssumption::Said(sentence) => sentence,
        };
    }
    match assumption {
        PlanAssumption::Failures => "failures per kilometre over the limit".to_owned(),
        PlanAssumption::UncountedParts => "parts that nobody keeps count of are there".to_owned(),
        PlanAssumption::CassettePrice => "price of cassettes whose model has none".to_owned(),
        PlanAssumption::ChainPrice => "price of chains whose model has none".to_owned(),
        PlanAssumption::Said(sentence) => sentence,
    }
}

/// What late and left-out bikes would have needed.
pub(super) fn shortage(short: &ShortOf, window: PlanWindow) -> String {
    let ShortOf { constraint, date, part_model_id: _, part_model, missing, bikes, message } = short;
    if let Some(said) = message {
        return said.clone();
    }
    let (bikes, date) = (named(bikes), date.unwrap_or(window.to));
    if !speech::is_english() {
        let words = speech::words();
        let (on, missing) = (words.medium_date(date), missing.ceil());
        let part = part_model.clone().unwrap_or_default();
        return match constraint {
            ConstraintKind::Minutes => words.bench_short_minutes(on, missing, bikes),
            ConstraintKind::Part => words.bench_short_parts(on, missing, part, bikes),
            ConstraintKind::Length => words.bench_short_length(bikes, on, missing),
            ConstraintKind::Away => words.bench_short_away(bikes),
            ConstraintKind::Days => words.bench_short_days(bikes),
        };
    }
    match constraint {
        ConstraintKind::Minutes => {
            format!("{date} would need {missing} more minutes for {bikes}, late or left out")
        }
        ConstraintKind::Part => {
            let name = part_model.as_deref().unwrap_or_default();
            format!("By {date} {missing} more of {name} are needed for {bikes}")
        }
        ConstraintKind::Length => format!(
            "{bikes} fits on no bench day: even {date}, the longest that it could be on, is {missing} minutes too short"
        ),
        ConstraintKind::Away => format!("{bikes} is away on every bench day of the plan"),
        ConstraintKind::Days => {
            format!("The bench works on no day from {} to {}; due are {bikes}", window.from, window.to)
        }
    }
}

/// The plan in sentences.
pub(super) fn summary(plan: &BenchPlan) -> Vec<String> {
    let BenchPlan { window, result, .. } = plan;
    if !result.summary.is_empty() {
        return result.summary.clone();
    }
    let visits = || result.days.iter().flat_map(|day| &day.visits);
    let planned = visits().count();
    let busy = result.days.iter().filter(|day| !day.visits.is_empty()).count();
    let used: u32 = result.days.iter().map(|day| day.minutes_used).sum();
    if !speech::is_english() {
        return summary_in(&speech::words(), plan);
    }
    let mut summary = vec![format!(
        "{planned} {} on {busy} of {} bench days from {} to {}, {used} of {} minutes",
        if planned == 1 { "bike" } else { "bikes" },
        result.days.len(),
        window.from,
        window.to,
        result.load.minutes_available
    )];
    if !result.left_out.is_empty() {
        let labels: Vec<String> = result.left_out.iter().map(|visit| visit.label.clone()).collect();
        summary.push(format!("Left out: {}", named(&labels)));
    }
    let kept: Vec<String> =
        visits().filter(|visit| !visit.waiting.is_empty()).map(|visit| visit.label.clone()).collect();
    if !kept.is_empty() {
        summary.push(format!(
            "A worn ring stays on for now, as its part or a day that is long enough is missing: {}",
            named(&kept)
        ));
    }
    if result.load.minutes_over > 0 {
        summary.push(format!(
            "All bikes that are due need {} minutes and the bench has {}: {} too few",
            result.load.minutes_needed, result.load.minutes_available, result.load.minutes_over
        ));
    }
    if !result.to_measure.is_empty() {
        let labels: Vec<String> = result.to_measure.iter().map(|bike| bike.label.clone()).collect();
        summary.push(format!("To be measured before they are given a day: {}", named(&labels)));
    }
    let released =
        result.moved.iter().filter(|moved| matches!(moved.reason, PlanReason::ChainCanStay { .. })).count();
    let promised = visits().chain(&result.left_out).filter(|visit| visit.pinned.is_some()).count() + released;
    if promised > 0 {
        let labels: Vec<String> = result.moved.iter().map(|moved| moved.label.clone()).collect();
        summary.push(if labels.is_empty() {
            format!("All {promised} promised days are kept")
        } else {
            format!("{} of {promised} promised days aren't kept: {}", labels.len(), named(&labels))
        });
    }
    summary.push(if result.is_optimal {
        "No plan that keeps the same promises costs less".to_owned()
    } else {
        let gap = (result.cost_minor - result.bound_minor) / result.cost_minor;
        format!("At most {:.1} % of its cost could be saved by any other plan", 100.0 * gap)
    });
    summary
}

/// The same in another language.
fn summary_in(words: &Words, plan: &BenchPlan) -> Vec<String> {
    let BenchPlan { window, result, .. } = plan;
    let visits = || result.days.iter().flat_map(|day| &day.visits);
    let busy = result.days.iter().filter(|day| !day.visits.is_empty()).count();
    let used: u32 = result.days.iter().map(|day| day.minutes_used).sum();
    let (from, to) = (words.medium_date(window.from), words.medium_date(window.to));
    let load = &result.load;
    let (planned, days) = (visits().count(), result.days.len());
    let minutes = words.plan_minutes_used(used, load.minutes_available);
    let mut summary = vec![words.plan_planned(planned, busy, days, from, to), minutes];
    let labels = |labels: Vec<String>| named(&labels);
    if !result.left_out.is_empty() {
        let left_out = result.left_out.iter().map(|visit| visit.label.clone()).collect();
        summary.push(words.plan_left_out(labels(left_out)));
    }
    let kept: Vec<String> =
        visits().filter(|visit| !visit.waiting.is_empty()).map(|visit| visit.label.clone()).collect();
    if !kept.is_empty() {
        summary.push(words.plan_rings_stay(labels(kept)));
    }
    if load.minutes_over > 0 {
        summary.push(words.plan_minutes_over(load.minutes_needed, load.minutes_available, load.minutes_over));
    }
    if !result.to_measure.is_empty() {
        let measured = result.to_measure.iter().map(|bike| bike.label.clone()).collect();
        summary.push(words.plan_to_measure(labels(measured)));
    }
    let released =
        result.moved.iter().filter(|moved| matches!(moved.reason, PlanReason::ChainCanStay { .. })).count();
    let promised = visits().chain(&result.left_out).filter(|visit| visit.pinned.is_some()).count() + released;
    if promised > 0 {
        let broken: Vec<String> = result.moved.iter().map(|moved| moved.label.clone()).collect();
        summary.push(if broken.is_empty() {
            words.plan_promises_kept(promised)
        } else {
            words.plan_promises_broken(broken.len(), promised, labels(broken))
        });
    }
    summary.push(if result.is_optimal {
        words.plan_cheapest()
    } else {
        let gap = (result.cost_minor - result.bound_minor) / result.cost_minor;
        words.plan_gap(words.percent(100.0 * gap, 1))
    });
    summary
}

/// `041, 042 and 3 more`.
fn named(labels: &[String]) -> String {
    let more = labels.len().saturating_sub(NAMED);
    let shown = labels[..labels.len() - more].join(", ");
    if more > 0 && !speech::is_english() {
        return speech::words().plan_and_more(shown, more);
    }
    if more > 0 { format!("{shown} and {more} more") } else { shown }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sentence_names_some_and_counts_the_rest() {
        let labels: Vec<String> = (0..15).map(|n| n.to_string()).collect();
        assert_eq!(named(&labels), "0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11 and 3 more");
        assert_eq!(named(&labels[..2]), "0, 1");
        assert_eq!(named(&[]), "");
    }

    #[test]
    fn a_plan_of_an_earlier_version_keeps_its_sentences() {
        let stored: PlanReason = serde_json::from_str(r#""the bike is away on that day""#).unwrap();
        assert_eq!(reason(stored), "the bike is away on that day");
        let typed = serde_json::to_string(&PlanReason::DayTooShort { takes: 30, has: 20 }).unwrap();
        assert_eq!(reason(serde_json::from_str(&typed).unwrap()), "it takes 30 minutes and the day has 20");
        let unit = serde_json::to_string(&PlanReason::BenchClosed).unwrap();
        assert_eq!(reason(serde_json::from_str(&unit).unwrap()), "the bench no longer works on that day");
        let stored: PlanAssumption =
            serde_json::from_str(r#""price of chains whose model has none""#).unwrap();
        assert_eq!(assumption(stored), "price of chains whose model has none");
    }
}
