//! Plans what was gathered.

use std::collections::{BTreeMap, BTreeSet};

use chrono::{Datelike, NaiveDate};
use wear_core::bench::{self, Arrival, BenchDay, Day, Job, Plan, PlanStatus, Problem, Shortage};

use super::super::ServiceError;
use super::gather::{DueBike, Gathered};
use super::rings;
use super::visits::visit;
use crate::domain::{
    BenchLoad, ConstraintKind, MovedVisit, NotPlanned, PartModelId, PlanAssumption, PlanReason, PlanResult,
    PlannedDay, ShortOf, Visit, VisitTask,
};

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
            |reason: PlanReason| NotPlanned { bike_id: bike.bike_id, label: bike.label.to_string(), reason };
        if let Some(date) = bike.pinned.filter(|date| *date > window.to) {
            not_planned.push(skip(PlanReason::PromisedLater { date }));
            continue;
        }
        match visit(gathered, bike, &missing, &mut assumed) {
            Some(visit) => {
                visits.push(visit);
                bikes.push(bike);
            }
            None => not_planned.push(skip(PlanReason::NoChain)),
        }
    }
    let (problem, plan) = planned(gathered, &bikes, &mut visits, &missing, &mut assumed)?;
    let counted =
        |task: &VisitTask| task.part_model_id.is_some_and(|model| gathered.supply.contains_key(&model));
    if visits.iter().flat_map(|visit| &visit.tasks).any(|task| !counted(task)) {
        assumed.insert(PlanAssumption::UncountedParts);
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
    let is_optimal = plan.status == PlanStatus::Optimal;
    Ok(PlanResult {
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
        assumed: assumed.into_iter().collect(),
    })
}

/// The plan of the visits; those that rings of which there are too few would hold back go without them.
fn planned(
    gathered: &Gathered,
    bikes: &[&DueBike],
    visits: &mut [Visit],
    missing: &BTreeSet<PartModelId>,
    assumed: &mut BTreeSet<PlanAssumption>,
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
                    part_model: None,
                    message: None,
                    missing: minutes,
                    bikes,
                }
            }
            Shortage::Part { part, day, count, jobs } => {
                let (date, bikes) = (date_of(*day), labels(jobs));
                let tasks = visits.iter().flat_map(|visit| &visit.tasks);
                let task = tasks
                    .into_iter()
                    .find(|task| task.part_model_id.is_some_and(|model| model.to_string() == *part));
                ShortOf {
                    constraint: ConstraintKind::Part,
                    date: Some(date),
                    part_model_id: task.and_then(|task| task.part_model_id),
                    part_model: task.and_then(|task| task.part_model.clone()).or_else(|| Some(part.clone())),
                    message: None,
                    missing: *count as f64,
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
                    part_model: None,
                    message: None,
                    missing: minutes,
                    bikes,
                }
            }
            Shortage::Earliest { job, .. } | Shortage::Away { job } => {
                let bikes = labels(&[*job]);
                ShortOf {
                    constraint: ConstraintKind::Away,
                    date: None,
                    part_model_id: None,
                    part_model: None,
                    message: None,
                    missing: 1.0,
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
            part_model: None,
            message: None,
            missing: 1.0,
            bikes,
        });
    }
    short
}

fn moved(gathered: &Gathered, visit: &Visit, away: &[(NaiveDate, NaiveDate)]) -> Option<MovedVisit> {
    let from = visit.pinned?;
    let day = gathered.days.iter().find(|(date, _)| *date == from);
    let reason = match day {
        _ if from < gathered.window.from => PlanReason::PromisedDayPassed,
        None => PlanReason::BenchClosed,
        Some(_) if away.iter().any(|&(first, last)| first <= from && from <= last) => PlanReason::BikeAway,
        Some((_, minutes)) if minutes.get() < visit.minutes => {
            PlanReason::DayTooShort { takes: visit.minutes, has: minutes.get() }
        }
        Some((_, minutes)) => PlanReason::DayOverfull { has: minutes.get() },
    };
    Some(MovedVisit { bike_id: visit.bike_id, label: visit.label.clone(), from, to: visit.date, reason })
}
