//! A bench plan in words, as the bench's page and its list to print show it.

use std::collections::BTreeMap;

use chrono::NaiveDate;
use wear_core::Reason;

use super::frame::Frame;
use super::plot;
use crate::domain::{
    Advice, BenchPlan, ConstraintKind, PartModelId, PlanReason, PlanResult, PlannedDay, ShortOf, Visit,
    VisitTask, WaitingPart, WaitsFor,
};
use crate::service::bench_plan::standing::{JobState, Standing, Trouble};

/// A plan as the page and the printed list show it.
pub(super) struct PlanShown {
    pub(super) id: String,
    pub(super) state: String,
    pub(super) is_proposal: bool,
    pub(super) other: Option<(&'static str, String)>,
    pub(super) cost: String,
    pub(super) load: String,
    /// How many jobs are done, and what is left of today.
    pub(super) progress: Option<String>,
    pub(super) left_today: Option<String>,
    /// Jobs that no longer fit, each with why.
    pub(super) troubled: Vec<VisitShown>,
    /// Bikes that came due since.
    pub(super) newly_due: Vec<(String, String)>,
    pub(super) days: Vec<DayShown>,
    pub(super) picks: Vec<String>,
    pub(super) left_out: Vec<VisitShown>,
    pub(super) short: Vec<String>,
    pub(super) moved: Vec<String>,
    pub(super) measure: Vec<Reasoned>,
    pub(super) look: Vec<Reasoned>,
}

/// A bike with why it has no day.
pub(super) struct Reasoned {
    pub(super) bike_id: String,
    pub(super) label: String,
    pub(super) when: Option<String>,
    pub(super) why: String,
}

pub(super) struct DayShown {
    /// Empty for days in a row, which are one sentence.
    pub(super) date: String,
    pub(super) used: String,
    /// Whether its jobs take longer than the day has now.
    pub(super) over: bool,
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
    /// Whether somebody chose its day.
    pub(super) by_hand: bool,
    /// When it was done.
    pub(super) done: Option<String>,
    /// Why it no longer fits.
    pub(super) troubles: Vec<String>,
    /// Whether it may not be ridden until it is done.
    pub(super) stays_in: bool,
    /// Why it has no day.
    pub(super) why: Vec<String>,
}

pub(super) fn plan_shown(
    f: &Frame,
    plan: &BenchPlan,
    is_proposal: bool,
    other: Option<(&'static str, String)>,
    standing: &Standing,
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
        } else if result.is_optimal || money(result.cost_minor) == money(result.bound_minor) {
            f.bench_optimal(money(result.cost_minor))
        } else {
            f.bench_gap(money(result.cost_minor), money(result.bound_minor))
        },
        load: f.bench_load(result.load.minutes_needed, result.load.minutes_available),
        progress: (standing.done() > 0).then(|| f.bench_progress(standing.done(), standing.jobs.len())),
        left_today: standing
            .minutes
            .get(&standing.today)
            .filter(|_| plan.window.from <= standing.today && standing.today <= plan.window.to)
            .map(|minutes| f.bench_left_today(minutes, standing.closes_at)),
        troubled: visits_of(result)
            .map(|visit| visit_shown(f, visit, standing))
            .filter(|visit| !visit.troubles.is_empty())
            .collect(),
        newly_due: standing
            .newly_due
            .iter()
            .map(|it| (it.bike_id.to_string(), f.bench_newly_due(&it.label, f.medium_date(it.due))))
            .collect(),
        days: days_shown(f, &result.days, standing),
        picks: picks(f, result, standing),
        left_out: result
            .left_out
            .iter()
            .map(|visit| VisitShown {
                why: why_left_out(f, result, visit),
                ..visit_shown(f, visit, standing)
            })
            .collect(),
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
                ConstraintKind::Part => {
                    let said = f.bench_short_parts(
                        short.date.map(|day| f.medium_date(day)).unwrap_or_default(),
                        short.missing.ceil(),
                        part_name(f, result, short),
                        labels(short),
                    );
                    match served(f, result, short) {
                        Some(who) => format!("{said} {who}"),
                        None => said,
                    }
                }
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
            .map(|it| Reasoned {
                bike_id: it.bike_id.to_string(),
                label: it.label.clone(),
                when: Some(f.bench_measure_by(f.medium_date(it.by))),
                why: why(f, Advice::MeasureBy, &it.reason),
            })
            .collect(),
        look: result
            .not_planned
            .iter()
            .map(|it| Reasoned {
                bike_id: it.bike_id.to_string(),
                label: it.label.clone(),
                when: None,
                why: why(f, Advice::Hold, &it.reason),
            })
            .collect(),
    }
}

fn visits_of(result: &PlanResult) -> impl Iterator<Item = &Visit> {
    result.days.iter().flat_map(|day| &day.visits)
}

/// Why a bike has no day, or a job another one, as a sentence.
fn why(f: &Frame, advice: Advice, reason: &PlanReason) -> String {
    let said = match reason {
        PlanReason::Outlook { reason, .. } => f.why(advice, Some(*reason), None, None),
        _ => String::new(),
    };
    match (said.is_empty(), reason) {
        (false, _) => said,
        (true, PlanReason::Said(sentence)) => sentence.clone(),
        (true, reason) => sentence(&f.planned(reason).unwrap_or_default()),
    }
}

/// With a capital and a full stop.
fn sentence(text: &str) -> String {
    let mut characters = text.chars();
    let first: String = characters.next().into_iter().flat_map(char::to_uppercase).collect();
    let stop = if text.is_empty() || text.ends_with(['.', '!', '?']) { "" } else { "." };
    format!("{first}{}{stop}", characters.as_str())
}

/// Why a due bike has no day: what it would have needed, and who has it instead.
fn why_left_out(f: &Frame, result: &PlanResult, visit: &Visit) -> Vec<String> {
    let named = result.short_of.iter().filter(|short| short.bikes.contains(&visit.label));
    let mut said: Vec<String> = named
        .map(|short| match short.constraint {
            ConstraintKind::Minutes => f.bench_no_day_minutes(short.missing.ceil()),
            ConstraintKind::Length => f.bench_no_day_length(visit.minutes),
            ConstraintKind::Part => f.bench_no_day_part(part_name(f, result, short)),
            ConstraintKind::Away => f.bench_no_day_away(),
            ConstraintKind::Days => f.bench_no_day_closed(),
        })
        .collect();
    if said.is_empty() {
        said.push(f.bench_no_day_others());
    }
    said
}

/// Who is served with parts of which there are too few, and why.
fn served(f: &Frame, result: &PlanResult, short: &ShortOf) -> Option<String> {
    let model: PartModelId = short.part_model_id?;
    let needs = |visit: &&Visit| visit.tasks.iter().any(|task| task.part_model_id == Some(model));
    let waiting: Vec<&Visit> = visits_of(result)
        .chain(&result.left_out)
        .filter(needs)
        .filter(|it| short.bikes.contains(&it.label))
        .collect();
    let has: Vec<&Visit> = visits_of(result)
        .filter(needs)
        .filter(|it| {
            !short.bikes.contains(&it.label) && it.date.is_some_and(|on| short.date.is_none_or(|by| on <= by))
        })
        .collect();
    if has.is_empty() {
        return None;
    }
    let costliest = waiting.iter().map(|it| it.cost_late_per_day_minor).fold(0.0, f64::max);
    let least = has.iter().map(|it| it.cost_late_per_day_minor).fold(f64::INFINITY, f64::min);
    let labels = has.iter().map(|it| it.label.as_str()).collect::<Vec<_>>().join(", ");
    let a_day = |minor: f64| f.money(minor.round() as i64);
    Some(if least >= costliest {
        f.bench_served_by_risk(labels, a_day(least), a_day(costliest))
    } else if has.iter().any(|it| it.by_hand) {
        f.bench_served_by_hand(labels)
    } else if has.iter().any(|it| it.pinned.is_some()) {
        f.bench_served_by_promise(labels)
    } else {
        f.bench_served_by_fit(labels)
    })
}

/// The days in order; those in a row on which nobody is planned are one.
fn days_shown(f: &Frame, days: &[PlannedDay], standing: &Standing) -> Vec<DayShown> {
    let alike = |a: &PlannedDay, b: &PlannedDay| a.visits.is_empty() && b.visits.is_empty();
    let mut index = 0;
    let mut shown = Vec::new();
    for run in days.chunk_by(alike) {
        match run {
            [day] => shown.push(day_shown(f, index, day, standing)),
            [first, .., last] => shown.push(DayShown {
                date: String::new(),
                used: f.bench_free_days(weekday_and_date(f, first), weekday_and_date(f, last), run.len()),
                over: false,
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
    on_weekday(f, day.date)
}

/// A date with its weekday.
pub(super) fn on_weekday(f: &Frame, date: NaiveDate) -> String {
    format!("{}, {}", f.weekday(date), f.medium_date(date))
}

fn day_shown(f: &Frame, index: usize, day: &PlannedDay, standing: &Standing) -> DayShown {
    let date = weekday_and_date(f, day);
    // Today and from then on the bench has what it has now.
    let has = match day.date < standing.today {
        true => day.minutes,
        false if day.date == standing.today => day.minutes,
        false => standing.minutes.get(&day.date).copied().unwrap_or(0),
    };
    DayShown {
        used: f.bench_minutes_used(day.minutes_used, has),
        over: day.minutes_used > has,
        bar: plot::used(f.words(), index, &date, day.minutes_used, has),
        visits: day.visits.iter().map(|visit| visit_shown(f, visit, standing)).collect(),
        date,
    }
}

/// Why a job no longer fits.
fn trouble(f: &Frame, trouble: &Trouble) -> String {
    match trouble {
        Trouble::DayPassed => f.trouble_day_passed(),
        Trouble::BenchClosed => f.trouble_bench_closed(),
        Trouble::TodayIsOver => f.trouble_today_is_over(),
        Trouble::DayOverfull { has, takes } => f.trouble_day_overfull(takes, has),
        Trouble::BikeAway => f.trouble_bike_away(),
        Trouble::PartMissing { task } => f.trouble_part_missing(work_of(f, task)),
        Trouble::StillOn { task } => f.trouble_still_on(work_of(f, task)),
        Trouble::LeftFleet => f.trouble_left_fleet(),
        Trouble::ChainCanStay { until: Some(day) } => f.trouble_can_stay_until(f.medium_date(*day)),
        Trouble::ChainCanStay { until: None } => f.trouble_can_stay(),
        Trouble::MeasureFirst => f.trouble_measure_first(),
        Trouble::NeedsChecking => f.trouble_needs_checking(),
        Trouble::DueEarlier { due } => f.trouble_due_earlier(f.medium_date(*due)),
        Trouble::AlsoWorn { task } => f.trouble_also_worn(work_of(f, task)),
    }
}

/// Whether its chain is likely over the limit: it isn't ridden before it is swapped.
fn is_over(visit: &Visit) -> bool {
    let reason = visit.tasks.first().map(|task| &task.reason);
    matches!(
        reason,
        Some(PlanReason::Outlook { reason: Reason::LikelyOver { .. } | Reason::RiskPassed { .. }, .. })
    )
}

fn visit_shown(f: &Frame, visit: &Visit, standing: &Standing) -> VisitShown {
    let work: Vec<String> = visit.tasks.iter().map(|task| work_of(f, task)).collect();
    let (done, troubles) = match standing.jobs.get(&visit.bike_id).filter(|_| visit.date.is_some()) {
        Some(JobState::Done { at }) => (Some(f.bench_done_on(f.instant(*at))), Vec::new()),
        Some(JobState::Troubled(found)) => (None, found.iter().map(|it| trouble(f, it)).collect()),
        Some(JobState::Open) | None => (None, Vec::new()),
    };
    VisitShown {
        bike_id: visit.bike_id.to_string(),
        label: visit.label.clone(),
        work: work.join(", "),
        stays: visit.waiting.iter().map(|waiting| stays(f, waiting)).collect(),
        minutes: visit.minutes,
        due: f.medium_date(visit.due),
        promised: visit.pinned.is_some() && visit.pinned == visit.date,
        by_hand: visit.by_hand,
        // Done, it may go out again once it is checked.
        stays_in: done.is_none() && is_over(visit),
        done,
        troubles,
        why: Vec::new(),
    }
}

/// What is swapped for what, where that is known.
pub(super) fn work_of(f: &Frame, task: &VisitTask) -> String {
    let place = task.place.parse().map_or_else(|_| task.place.clone(), |place| f.place(place));
    match &task.part_model {
        Some(model) => format!("{place}: {model}"),
        None => place,
    }
}

pub(super) fn stays(f: &Frame, waiting: &WaitingPart) -> String {
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

/// Parts of all planned visits that aren't done, by model.
fn picks(f: &Frame, result: &PlanResult, standing: &Standing) -> Vec<String> {
    let mut counts: BTreeMap<String, u32> = BTreeMap::new();
    let is_done = |visit: &&Visit| matches!(standing.jobs.get(&visit.bike_id), Some(JobState::Done { .. }));
    for task in visits_of(result).filter(|visit| !is_done(visit)).flat_map(|visit| &visit.tasks) {
        *counts.entry(part_of(f, task)).or_default() += 1;
    }
    counts.into_iter().map(|(name, count)| format!("{count} × {name}")).collect()
}
