//! Plans what was gathered and puts it into words.

use std::collections::{BTreeMap, BTreeSet};

use chrono::{Datelike, NaiveDate};
use wear_core::bench::{self, Arrival, BenchDay, Day, Job, Plan, PlanStatus, Problem, Shortage};

use super::super::ServiceError;
use super::gather::{DueBike, Gathered};
use super::rings;
use super::visits::visit;
use crate::domain::{
    BenchLoad, ConstraintKind, MovedVisit, NotPlanned, PartModelId, PlanResult, PlannedDay, ShortOf, Visit,
    VisitTask,
};

/// Most labels that a sentence names.
const NAMED: usize = 12;

fn day_of(date: NaiveDate) -> Day {
    Day(date.num_days_from_ce())
}

/// Every [`Day`] here comes from a date, so it is one again.
fn date_of(day: Day) -> NaiveDate {
    NaiveDate::from_num_days_from_ce_opt(day.0).unwrap_or_default()
}

/// Plans what was gathered.
///
/// # Errors
/// [`ServiceError::Unplanned`] when the core refuses the problem, which would be a fault of ours.
pub(super) fn plan(gathered: &Gathered) -> Result<PlanResult, ServiceError> {
    let window = gathered.window;
    let mut assumed = BTreeSet::new();
    let mut not_planned: Vec<NotPlanned> = gathered
        .to_look_at
        .iter()
        .map(|(bike_id, label, reason)| NotPlanned {
            bike_id: *bike_id,
            label: label.to_string(),
            reason: reason.clone(),
        })
        .collect();
    let missing = rings::not_to_be_had(gathered);
    let mut visits = Vec::new();
    let mut bikes = Vec::new();
    for bike in &gathered.bikes {
        let skip =
            |reason: String| NotPlanned { bike_id: bike.bike_id, label: bike.label.to_string(), reason };
        if let Some(date) = bike.pinned.filter(|date| *date > window.to) {
            not_planned.push(skip(format!("it is promised {date}, after the last day of this plan")));
            continue;
        }
        match visit(gathered, bike, &missing, &mut assumed) {
            Some(visit) => {
                visits.push(visit);
                bikes.push(bike);
            }
            None => not_planned.push(skip("no chain is on record for it".to_owned())),
        }
    }
    let (problem, plan) = planned(gathered, &bikes, &mut visits, &missing, &mut assumed)?;
    let counted =
        |task: &VisitTask| task.part_model_id.is_some_and(|model| gathered.supply.contains_key(&model));
    if visits.iter().flat_map(|visit| &visit.tasks).any(|task| !counted(task)) {
        assumed.insert("parts that nobody keeps count of are there");
    }
    for placement in &plan.placements {
        let cost = problem.jobs()[placement.job].cost_on(placement.day);
        let visit = &mut visits[placement.job];
        visit.date = Some(date_of(placement.day));
        visit.cost_minor = cost;
    }
    for &job in &plan.left_out {
        visits[job].cost_minor = visits[job].cost_left_out_minor;
    }
    let load = load(gathered, &visits);
    let short_of = short_of(gathered, &visits, &plan.short_of);
    let moved = plan.moved.iter().filter_map(|&job| moved(gathered, &visits[job], &bikes[job].away));
    let moved: Vec<MovedVisit> = moved.chain(gathered.released.iter().cloned()).collect();
    let promised = visits.iter().filter(|visit| visit.pinned.is_some()).count() + gathered.released.len();
    let gap = (plan.cost - plan.bound) / plan.cost;
    let is_optimal = plan.status == PlanStatus::Optimal;
    let mut result = PlanResult {
        is_optimal,
        currency: gathered.workshop.settings.currency.to_string(),
        cost_minor: plan.cost,
        bound_minor: plan.bound,
        days: days(gathered, &visits),
        left_out: visits.iter().filter(|visit| visit.date.is_none()).cloned().collect(),
        short_of,
        moved,
        not_planned,
        to_measure: gathered.to_measure.clone(),
        load,
        summary: Vec::new(),
        assumed: assumed.into_iter().map(str::to_owned).collect(),
    };
    result.summary = summary(gathered, &result, promised);
    result.summary.push(if is_optimal {
        "No plan that keeps the same promises costs less".to_owned()
    } else {
        format!("At most {:.1} % of its cost could be saved by any other plan", 100.0 * gap)
    });
    Ok(result)
}

/// The plan of the visits; those that rings of which there are too few would hold back go without them.
fn planned(
    gathered: &Gathered,
    bikes: &[&DueBike],
    visits: &mut [Visit],
    missing: &BTreeSet<PartModelId>,
    assumed: &mut BTreeSet<&'static str>,
) -> Result<(Problem, Plan), ServiceError> {
    let problem = problem_of(gathered, visits, bikes)?;
    let plan = bench::plan(&problem);
    let too_few = rings::too_few(&problem, &plan, visits);
    if too_few.is_empty() {
        return Ok((problem, plan));
    }
    for (job, models) in too_few {
        let missing = missing.union(&models).copied().collect();
        if let Some(without) = visit(gathered, bikes[job], &missing, assumed) {
            visits[job] = without;
        }
    }
    let problem = problem_of(gathered, visits, bikes)?;
    let plan = bench::plan(&problem);
    Ok((problem, plan))
}

fn problem_of(gathered: &Gathered, visits: &[Visit], bikes: &[&DueBike]) -> Result<Problem, ServiceError> {
    let days = gathered
        .days
        .iter()
        .map(|(date, minutes)| BenchDay { day: day_of(*date), minutes: f64::from(minutes.get()) })
        .collect();
    let jobs = visits
        .iter()
        .zip(bikes)
        .map(|(visit, bike)| Job {
            id: visit.bike_id.to_string(),
            minutes: f64::from(visit.minutes),
            bike: None,
            parts: parts(gathered, visit),
            earliest: None,
            away: bike.away.iter().map(|&(first, last)| (day_of(first), day_of(last))).collect(),
            due: day_of(visit.due),
            cost_early_per_day: visit.cost_early_per_day_minor,
            cost_late_per_day: visit.cost_late_per_day_minor,
            cost_left_out: visit.cost_left_out_minor,
            pinned: visit.pinned.map(day_of),
        })
        .collect();
    let arrivals = gathered
        .supply
        .iter()
        .flat_map(|(model, arrivals)| {
            let arrival = |&(date, count)| Arrival { part: model.to_string(), day: day_of(date), count };
            arrivals.iter().map(arrival)
        })
        .collect();
    Problem::new(days, arrivals, jobs).map_err(|error| ServiceError::Unplanned { cause: error.to_string() })
}

/// Parts that the visit takes off the shelf, of models that someone keeps count of.
fn parts(gathered: &Gathered, visit: &Visit) -> BTreeMap<String, u32> {
    let mut parts = BTreeMap::new();
    for model in visit.tasks.iter().filter_map(|task| task.part_model_id) {
        if gathered.supply.contains_key(&model) {
            *parts.entry(model.to_string()).or_insert(0) += 1;
        }
    }
    parts
}

fn days(gathered: &Gathered, visits: &[Visit]) -> Vec<PlannedDay> {
    gathered
        .days
        .iter()
        .map(|(date, minutes)| {
            let on: Vec<Visit> = visits.iter().filter(|visit| visit.date == Some(*date)).cloned().collect();
            PlannedDay {
                date: *date,
                minutes: minutes.get(),
                minutes_used: on.iter().map(|visit| visit.minutes).sum(),
                visits: on,
            }
        })
        .collect()
}

fn load(gathered: &Gathered, visits: &[Visit]) -> BenchLoad {
    let minutes_needed: u32 = visits.iter().map(|visit| visit.minutes).sum();
    let minutes_available =
        gathered.days.iter().fold(0_u32, |sum, (_, minutes)| sum.saturating_add(minutes.get()));
    let minutes_over = minutes_needed.saturating_sub(minutes_available);
    BenchLoad { minutes_needed, minutes_available, minutes_over }
}

/// `041, 042 and 3 more`.
fn named(labels: &[String]) -> String {
    let more = labels.len().saturating_sub(NAMED);
    let shown = labels[..labels.len() - more].join(", ");
    if more > 0 { format!("{shown} and {more} more") } else { shown }
}

fn short_of(gathered: &Gathered, visits: &[Visit], shortages: &[Shortage]) -> Vec<ShortOf> {
    let labels = |jobs: &[usize]| jobs.iter().map(|&job| visits[job].label.clone()).collect::<Vec<_>>();
    let mut short: Vec<ShortOf> = shortages
        .iter()
        .map(|shortage| match shortage {
            Shortage::Minutes { day, minutes, jobs } => {
                let (date, bikes) = (date_of(*day), labels(jobs));
                let minutes = minutes.ceil();
                ShortOf {
                    constraint: ConstraintKind::Minutes,
                    date: Some(date),
                    part_model_id: None,
                    missing: minutes,
                    message: format!(
                        "{date} would need {minutes} more minutes for {}, late or left out",
                        named(&bikes)
                    ),
                    bikes,
                }
            }
            Shortage::Part { part, day, count, jobs } => {
                let (date, bikes) = (date_of(*day), labels(jobs));
                let tasks = visits.iter().flat_map(|visit| &visit.tasks);
                let task = tasks
                    .into_iter()
                    .find(|task| task.part_model_id.is_some_and(|model| model.to_string() == *part));
                let name = task.and_then(|task| task.part_model.clone()).unwrap_or_else(|| part.clone());
                ShortOf {
                    constraint: ConstraintKind::Part,
                    date: Some(date),
                    part_model_id: task.and_then(|task| task.part_model_id),
                    missing: *count as f64,
                    message: format!("By {date} {count} more of {name} are needed for {}", named(&bikes)),
                    bikes,
                }
            }
            Shortage::Length { job, day, minutes } => {
                let (date, bikes) = (date_of(*day), labels(&[*job]));
                let minutes = minutes.ceil();
                ShortOf {
                    constraint: ConstraintKind::Length,
                    date: Some(date),
                    part_model_id: None,
                    missing: minutes,
                    message: format!(
                        "{} fits on no bench day: even {date}, the longest that it could be on, is {minutes} minutes too short",
                        named(&bikes)
                    ),
                    bikes,
                }
            }
            Shortage::Earliest { job, .. } | Shortage::Away { job } => {
                let bikes = labels(&[*job]);
                ShortOf {
                    constraint: ConstraintKind::Away,
                    date: None,
                    part_model_id: None,
                    missing: 1.0,
                    message: format!("{} is away on every bench day of the plan", named(&bikes)),
                    bikes,
                }
            }
        })
        .collect();
    if gathered.days.is_empty() && !visits.is_empty() {
        let bikes: Vec<String> = visits.iter().map(|visit| visit.label.clone()).collect();
        short.push(ShortOf {
            constraint: ConstraintKind::Days,
            date: None,
            part_model_id: None,
            missing: 1.0,
            message: format!(
                "The bench works on no day from {} to {}; due are {}",
                gathered.window.from,
                gathered.window.to,
                named(&bikes)
            ),
            bikes,
        });
    }
    short
}

fn moved(gathered: &Gathered, visit: &Visit, away: &[(NaiveDate, NaiveDate)]) -> Option<MovedVisit> {
    let from = visit.pinned?;
    let day = gathered.days.iter().find(|(date, _)| *date == from);
    let reason = match day {
        _ if from < gathered.window.from => {
            "the promised day has passed and its chain is still on".to_owned()
        }
        None => "the bench no longer works on that day".to_owned(),
        Some(_) if away.iter().any(|&(first, last)| first <= from && from <= last) => {
            "the bike is away on that day".to_owned()
        }
        Some((_, minutes)) if minutes.get() < visit.minutes => {
            format!("it takes {} minutes and the day has {}", visit.minutes, minutes.get())
        }
        Some((_, minutes)) => {
            format!(
                "the day's {} minutes or parts no longer suffice for all that were promised it",
                minutes.get()
            )
        }
    };
    Some(MovedVisit { bike_id: visit.bike_id, label: visit.label.clone(), from, to: visit.date, reason })
}

fn summary(gathered: &Gathered, result: &PlanResult, promised: usize) -> Vec<String> {
    let window = gathered.window;
    let planned: usize = result.days.iter().map(|day| day.visits.len()).sum();
    let busy = result.days.iter().filter(|day| !day.visits.is_empty()).count();
    let used: u32 = result.days.iter().map(|day| day.minutes_used).sum();
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
    let planned_visits = result.days.iter().flat_map(|day| &day.visits);
    let kept: Vec<String> =
        planned_visits.filter(|visit| !visit.waiting.is_empty()).map(|visit| visit.label.clone()).collect();
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
    if promised > 0 {
        let labels: Vec<String> = result.moved.iter().map(|moved| moved.label.clone()).collect();
        summary.push(if labels.is_empty() {
            format!("All {promised} promised days are kept")
        } else {
            format!("{} of {promised} promised days aren't kept: {}", labels.len(), named(&labels))
        });
    }
    summary
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
}
