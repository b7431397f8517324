//! Makes the plan of a problem.

use std::collections::BTreeMap;

use super::merge;
use super::problem::{Day, Problem};
use super::shortage::{Shortage, shortages};
use super::unit::{Placed, Unit, solve_units};

/// How good a plan is known to be.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PlanStatus {
    /// No plan costs less, up to rounding.
    Optimal,
    /// No plan costs less than the bound.
    WithinGap,
}

/// A job's day.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[non_exhaustive]
pub struct Placement {
    /// Index into [`Problem::jobs`].
    pub job: usize,
    /// The day, one of [`Problem::days`].
    pub day: Day,
}

/// Who is on the bench when.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Plan {
    /// Optimal, or within the gap between bound and cost.
    pub status: PlanStatus,
    /// Total cost of the plan, in the unit of the jobs' costs.
    pub cost: f64,
    /// Proven lower bound on the cost of every plan that keeps on their pinned days the jobs that this one keeps
    /// there; of every plan when no job is pinned.
    pub bound: f64,
    /// Jobs that are on a day, by day and then in the order of the problem.
    pub placements: Vec<Placement>,
    /// Jobs that are left out, as indices in order.
    pub left_out: Vec<usize>,
    /// What jobs that are late or left out would have needed.
    pub short_of: Vec<Shortage>,
    /// Pinned jobs that are not on their pinned day, as indices in order.
    pub moved: Vec<usize>,
}

/// Relative difference that counts as rounding when cost and bound are compared.
const ROUNDING: f64 = 1e-7;

/// Makes a plan of least total cost, or as near to it as a fixed amount of work allows.
///
/// The same problem always gets the same plan. First as few pinned jobs as possible are moved (being left
/// out is being moved), then cost is minimised among the plans that keep the same ones. The number of moves is
/// least whenever [`Plan::moved`] is empty, and otherwise as small as the same search finds.
#[must_use]
pub fn plan(problem: &Problem) -> Plan {
    let none_pinned = problem.jobs().iter().all(|job| job.pinned.is_none());
    let kept = if none_pinned { vec![None; problem.jobs().len()] } else { staying(problem) };
    let placed = if problem.companions().is_empty() {
        let units: Vec<Unit> =
            kept.iter().enumerate().map(|(job, day)| Unit::of(problem, vec![job], *day)).collect();
        solve_units(problem, &units)
    } else {
        merge::solve_merged(problem, &kept)
    };
    plan_of(problem, &placed)
}

/// For each job the index of the pinned day that it stays on, as many as possible. Jobs of one bike that are pinned
/// to one day stay or move together.
fn staying(problem: &Problem) -> Vec<Option<usize>> {
    let jobs = problem.jobs();
    let mut together: BTreeMap<(usize, usize), Vec<usize>> = BTreeMap::new();
    let mut units = Vec::new();
    for (index, job) in jobs.iter().enumerate() {
        let day = problem.days().iter().position(|day| Some(day.day) == job.pinned);
        let Some(day) = day.filter(|_| job.pinned.is_some_and(|pinned| job.may_be_on(pinned))) else {
            continue;
        };
        match problem.bike_of(index) {
            Some(bike) => together.entry((bike, day)).or_default().push(index),
            None => units.push((vec![index], day)),
        }
    }
    units.extend(together.into_iter().map(|((_, day), jobs)| (jobs, day)));
    // Staying costs nothing, moving 1 for each job; jobs without a pin are not there.
    let units: Vec<Unit> = units
        .into_iter()
        .map(|(jobs, day)| {
            let mut unit = Unit::of(problem, jobs, None);
            unit.costs = (0..problem.days().len()).map(|at| (at == day).then_some(0.0)).collect();
            unit.out = unit.jobs.len() as f64;
            unit
        })
        .collect();
    solve_units(problem, &units).days
}

fn plan_of(problem: &Problem, placed: &Placed) -> Plan {
    let jobs = problem.jobs();
    let Placed { days, cost, bound } = placed;
    let mut placements: Vec<Placement> = days
        .iter()
        .enumerate()
        .filter_map(|(job, day)| Some(Placement { job, day: problem.days()[(*day)?].day }))
        .collect();
    placements.sort_by_key(|placement| placement.day);
    let left_out: Vec<usize> = (0..jobs.len()).filter(|&job| days[job].is_none()).collect();
    let moved = (0..jobs.len())
        .filter(|&job| {
            jobs[job].pinned.is_some() && jobs[job].pinned != days[job].map(|day| problem.days()[day].day)
        })
        .collect();
    // An empty sum is −0.
    let cost = cost + 0.0;
    let bound = bound.clamp(0.0, cost);
    let status = if cost - bound <= ROUNDING * cost { PlanStatus::Optimal } else { PlanStatus::WithinGap };
    Plan { status, cost, bound, placements, left_out, short_of: shortages(problem, days), moved }
}
