//! A bench plan in words, as the bench's page and its list to print show it.

use std::collections::BTreeMap;

use super::frame::Frame;
use super::plot;
use crate::domain::{
    BenchPlan, ConstraintKind, PlanResult, PlannedDay, ShortOf, Visit, VisitTask, WaitingPart, WaitsFor,
};

/// A plan as the page and the printed list show it.
pub(super) struct PlanShown {
    pub(super) id: String,
    pub(super) state: String,
    pub(super) is_proposal: bool,
    pub(super) other: Option<(&'static str, String)>,
    pub(super) cost: String,
    pub(super) load: String,
    pub(super) days: Vec<DayShown>,
    pub(super) picks: Vec<String>,
    pub(super) left_out: Vec<VisitShown>,
    pub(super) short: Vec<String>,
    pub(super) moved: Vec<String>,
    pub(super) measure: Vec<(String, String)>,
    pub(super) look: Vec<(String, String)>,
}

pub(super) struct DayShown {
    /// Empty for days in a row, which are one sentence.
    pub(super) date: String,
    pub(super) used: String,
    pub(super) bar: String,
    pub(super) visits: Vec<VisitShown>,
}

pub(super) struct VisitShown {
    pub(super) bike_id: String,
    pub(super) label: String,
    pub(super) work: String,
    /// What is worn and stays on.
    pub(super) stays: Vec<String>,
    pub(super) minutes: u32,
    pub(super) due: String,
    pub(super) promised: bool,
}

pub(super) fn plan_shown(
    f: &Frame,
    plan: &BenchPlan,
    is_proposal: bool,
    other: Option<(&'static str, String)>,
) -> PlanShown {
    let result = &plan.result;
    let money = |minor: f64| f.money(minor.round() as i64);
    let computed = f.date(f.day_of(plan.computed_at));
    let labels = |short: &ShortOf| short.bikes.join(", ");
    PlanShown {
        id: plan.id.to_string(),
        state: match plan.accepted_at {
            Some(at) => f.bench_accepted(f.date(f.day_of(at))),
            None => f.bench_proposal(computed),
        },
        is_proposal,
        other,
        cost: if result.left_out.is_empty() && result.days.iter().all(|day| day.visits.is_empty()) {
            match result.to_measure.len() {
                0 => f.bench_nothing_due(),
                bikes => f.bench_nothing_known(bikes),
            }
        } else if result.is_optimal {
            f.bench_optimal(money(result.cost_minor))
        } else {
            f.bench_gap(money(result.cost_minor), money(result.bound_minor))
        },
        load: f.bench_load(result.load.minutes_needed, result.load.minutes_available),
        days: days_shown(f, &result.days),
        picks: picks(f, plan),
        left_out: result.left_out.iter().map(|visit| visit_shown(f, visit)).collect(),
        short: result
            .short_of
            .iter()
            .map(|short| match short.constraint {
                ConstraintKind::Minutes => f.bench_short_minutes(
                    short.date.map(|day| f.medium_date(day)).unwrap_or_default(),
                    short.missing.ceil(),
                    labels(short),
                ),
                ConstraintKind::Length => f.bench_short_length(
                    labels(short),
                    short.date.map(|day| f.medium_date(day)).unwrap_or_default(),
                    short.missing.ceil(),
                ),
                ConstraintKind::Part => f.bench_short_parts(
                    short.date.map(|day| f.medium_date(day)).unwrap_or_default(),
                    short.missing.ceil(),
                    part_name(f, result, short),
                    labels(short),
                ),
                ConstraintKind::Away => f.bench_short_away(labels(short)),
                ConstraintKind::Days => f.bench_short_days(labels(short)),
            })
            .collect(),
        moved: result
            .moved
            .iter()
            .map(|moved| {
                let from = f.medium_date(moved.from);
                match moved.to {
                    Some(to) => f.bench_moved_to(&moved.label, from, f.medium_date(to)),
                    None if result.left_out.iter().any(|visit| visit.bike_id == moved.bike_id) => {
                        f.bench_moved_out(&moved.label, from)
                    }
                    None => f.bench_moved_stays(&moved.label, from),
                }
            })
            .collect(),
        measure: result
            .to_measure
            .iter()
            .map(|it| (it.bike_id.to_string(), f.bench_measure_by(&it.label, f.medium_date(it.by))))
            .collect(),
        look: result.not_planned.iter().map(|it| (it.bike_id.to_string(), it.label.clone())).collect(),
    }
}

/// The days in order; those in a row on which nobody is planned are one.
fn days_shown(f: &Frame, days: &[PlannedDay]) -> Vec<DayShown> {
    let alike = |a: &PlannedDay, b: &PlannedDay| a.visits.is_empty() && b.visits.is_empty();
    let mut index = 0;
    let mut shown = Vec::new();
    for run in days.chunk_by(alike) {
        match run {
            [day] => shown.push(day_shown(f, index, day)),
            [first, .., last] => shown.push(DayShown {
                date: String::new(),
                used: f.bench_free_days(weekday_and_date(f, first), weekday_and_date(f, last), run.len()),
                bar: String::new(),
                visits: Vec::new(),
            }),
            [] => {}
        }
        index += run.len();
    }
    shown
}

fn weekday_and_date(f: &Frame, day: &PlannedDay) -> String {
    format!("{}, {}", f.weekday(day.date), f.medium_date(day.date))
}

fn day_shown(f: &Frame, index: usize, day: &PlannedDay) -> DayShown {
    let date = weekday_and_date(f, day);
    DayShown {
        used: f.bench_minutes_used(day.minutes_used, day.minutes),
        bar: plot::used(f.words(), index, &date, day.minutes_used, day.minutes),
        visits: day.visits.iter().map(|visit| visit_shown(f, visit)).collect(),
        date,
    }
}

fn visit_shown(f: &Frame, visit: &Visit) -> VisitShown {
    let work: Vec<String> = visit.tasks.iter().map(|task| work_of(f, task)).collect();
    VisitShown {
        bike_id: visit.bike_id.to_string(),
        label: visit.label.clone(),
        work: work.join(", "),
        stays: visit.waiting.iter().map(|waiting| stays(f, waiting)).collect(),
        minutes: visit.minutes,
        due: f.medium_date(visit.due),
        promised: visit.pinned.is_some() && visit.pinned == visit.date,
    }
}

/// What is swapped for what, where that is known.
fn work_of(f: &Frame, task: &VisitTask) -> String {
    let place = task.place.parse().map_or_else(|_| task.place.clone(), |place| f.place(place));
    match &task.part_model {
        Some(model) => format!("{place}: {model}"),
        None => place,
    }
}

fn stays(f: &Frame, waiting: &WaitingPart) -> String {
    let part = work_of(f, &waiting.task);
    let stays = match waiting.waits_for {
        WaitsFor::Part => f.bench_stays_for_part(part),
        WaitsFor::Day => f.bench_stays_for_day(part),
    };
    format!("{stays} {}: {}", f.caution(), f.bike_skip_caution())
}

/// What people call a part that is short.
fn part_name(f: &Frame, result: &PlanResult, short: &ShortOf) -> String {
    let visits = result.left_out.iter().chain(result.days.iter().flat_map(|day| &day.visits));
    let mut tasks = visits.flat_map(|visit| &visit.tasks);
    match tasks.find(|task| task.part_model_id == short.part_model_id) {
        Some(task) => part_of(f, task),
        None => String::new(),
    }
}

/// The part to lay out.
fn part_of(f: &Frame, task: &VisitTask) -> String {
    let work = work_of(f, task);
    if task.part_model.is_some() { work } else { f.bench_unknown_model(work) }
}

/// Parts of all planned visits, by model.
fn picks(f: &Frame, plan: &BenchPlan) -> Vec<String> {
    let mut counts: BTreeMap<String, u32> = BTreeMap::new();
    for task in plan.result.days.iter().flat_map(|day| &day.visits).flat_map(|visit| &visit.tasks) {
        *counts.entry(part_of(f, task)).or_default() += 1;
    }
    counts.into_iter().map(|(name, count)| format!("{count} × {name}")).collect()
}
