//! Makes the plan of a problem.

use std::collections::HashMap;

use super::model::{Choice, FIT_TOLERANCE, Model, ModelJob, PartLimit};
use super::problem::{Day, Problem};
use super::shortage::{Shortage, shortages};
use super::solve::{Solved, solve};

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
pub struct Placement {
    /// Index into [`Problem::jobs`].
    pub job: usize,
    /// The day, one of [`Problem::days`].
    pub day: Day,
}

/// Who is on the bench when.
#[derive(Debug, Clone, PartialEq)]
pub struct Plan {
    /// Optimal, or within the gap between bound and cost.
    pub status: PlanStatus,
    /// Total cost of the plan, in the unit of the jobs' costs.
    pub cost: f64,
    /// Proven lower bound on the cost of every plan that moves no more pinned jobs than this one.
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
/// out is being moved), then cost is minimised among such plans. The number of moves is least whenever
/// [`Plan::moved`] is empty, and otherwise as small as the same search finds.
#[must_use]
pub fn plan(problem: &Problem) -> Plan {
    let none_pinned = problem.jobs().iter().all(|job| job.pinned.is_none());
    let fixed = if none_pinned { vec![None; problem.jobs().len()] } else { staying(problem) };
    let built = Built::new(problem, &fixed, |_, _, cost| Some(cost));
    let solved = solve(&built.model);
    built.plan_of(problem, &solved)
}

/// For each job the index of the pinned day that it stays on, as many as possible.
fn staying(problem: &Problem) -> Vec<Option<usize>> {
    let jobs = problem.jobs();
    let nobody = vec![None; jobs.len()];
    // Staying costs nothing, moving 1; jobs without a pin stay out of the way at no cost.
    let built = Built::new(problem, &nobody, |job, day, _| match (jobs[job].pinned, day) {
        (pinned, None) => Some(f64::from(u8::from(pinned.is_some()))),
        (Some(pinned), Some(day)) if pinned == day => Some(0.0),
        _ => None,
    });
    let kept = solve(&built.model);
    (0..jobs.len()).map(|job| built.day_index(job, kept.chosen[job])).collect()
}

/// Longest day that is tightened, in minutes.
const LONGEST_TIGHTENED: usize = 100_000;

/// Lowers each day's minutes to the largest sum of whole minutes that its jobs can make. No plan is lost,
/// and the relaxation gets nearer to the plans.
fn tighten(capacity: &mut [f64], jobs: &[ModelJob], unit: f64) {
    for (day, capacity) in capacity.iter_mut().enumerate() {
        let lengths: Vec<f64> = jobs
            .iter()
            .filter(|job| job.choices.iter().any(|choice| choice.day == day))
            .map(|job| job.minutes * unit)
            .collect();
        let limit = (*capacity * unit + FIT_TOLERANCE).floor();
        if lengths.iter().any(|length| length.fract() != 0.0)
            || limit > LONGEST_TIGHTENED as f64
            || lengths.iter().sum::<f64>() <= limit
        {
            continue;
        }
        let limit = limit as usize;
        let mut sums = vec![false; limit + 1];
        sums[0] = true;
        let mut of_length = std::collections::BTreeMap::new();
        for length in lengths {
            *of_length.entry(length as usize).or_insert(0_usize) += 1;
        }
        for (length, count) in of_length {
            if length == 0 {
                continue;
            }
            // By remainder: how many of this length were used to reach a sum, least first.
            let mut used = vec![0_usize; limit + 1];
            for sum in length..=limit {
                if !sums[sum] && sums[sum - length] && used[sum - length] < count {
                    sums[sum] = true;
                    used[sum] = used[sum - length] + 1;
                }
            }
        }
        *capacity = sums.iter().rposition(|&reached| reached).unwrap_or(0) as f64 / unit;
    }
}

/// A model with what is needed to read its answer.
struct Built {
    model: Model,
    /// Jobs that keep their day. In the model they are out, and what they use is not there.
    fixed: Vec<Option<usize>>,
}

impl Built {
    /// `cost` may change or forbid a day; for the day `None` it is asked what being left out costs.
    fn new(
        problem: &Problem,
        fixed: &[Option<usize>],
        cost: impl Fn(usize, Option<Day>, f64) -> Option<f64>,
    ) -> Self {
        let days = problem.days();
        let jobs = problem.jobs();
        let parts = problem.parts_used();
        let index: HashMap<&str, usize> =
            parts.iter().enumerate().map(|(index, &part)| (part, index)).collect();
        // By part and day: what has arrived by then.
        let mut stock = vec![vec![0.0; days.len()]; parts.len()];
        for arrival in problem.arrivals() {
            if let Some(&part) = index.get(arrival.part.as_str()) {
                for (stock, day) in stock[part].iter_mut().zip(days) {
                    if day.day >= arrival.day {
                        *stock += f64::from(arrival.count);
                    }
                }
            }
        }
        // A power of two, so that dividing by it is exact.
        let mean = jobs.iter().map(|job| job.minutes).sum::<f64>() / jobs.len().max(1) as f64;
        let unit = if mean > 0.0 { mean.log2().round().exp2() } else { 1.0 };
        let mut capacity: Vec<f64> = days.iter().map(|day| day.minutes / unit).collect();
        for (job, day) in jobs.iter().zip(fixed) {
            let Some(day) = *day else { continue };
            capacity[day] = (capacity[day] - job.minutes / unit).max(0.0);
            for (part, &count) in &job.parts {
                if let Some(&part) = index.get(part.as_str()) {
                    stock[part][day..].iter_mut().for_each(|stock| *stock -= f64::from(count));
                }
            }
        }
        // What a later day lacks is not there on an earlier one either.
        for stock in &mut stock {
            for day in (1..stock.len()).rev() {
                stock[day - 1] = stock[day - 1].min(stock[day]);
            }
        }
        let model_jobs: Vec<ModelJob> = jobs
            .iter()
            .enumerate()
            .map(|(at, job)| {
                let minutes = job.minutes / unit;
                if let Some(day) = fixed[at] {
                    let cost = job.cost_on(days[day].day);
                    let choices = vec![Choice { day: days.len(), cost }];
                    return ModelJob { minutes: 0.0, needs: Vec::new(), choices };
                }
                let needs: Vec<(usize, f64)> = job
                    .parts
                    .iter()
                    .filter(|need| *need.1 > 0)
                    .filter_map(|(part, &count)| Some((*index.get(part.as_str())?, f64::from(count))))
                    .collect();
                let out = cost(at, None, job.cost_left_out).unwrap_or(job.cost_left_out);
                let fits = |day: usize| {
                    job.may_be_on(days[day].day)
                        && minutes <= capacity[day] + FIT_TOLERANCE * capacity[day].max(1.0)
                        && needs.iter().all(|&(part, count)| count <= stock[part][day])
                };
                let mut choices: Vec<Choice> = (0..days.len())
                    .filter(|&day| fits(day))
                    .filter_map(|day| {
                        let cost = cost(at, Some(days[day].day), job.cost_on(days[day].day))?;
                        (cost < out).then_some(Choice { day, cost })
                    })
                    .collect();
                choices.push(Choice { day: days.len(), cost: out });
                choices.sort_by(|a, b| a.cost.total_cmp(&b.cost));
                ModelJob { minutes, needs, choices }
            })
            .collect();
        let mut limits = Vec::new();
        for (part, stock) in stock.iter().enumerate() {
            let demand: f64 = model_jobs
                .iter()
                .flat_map(|job| &job.needs)
                .filter(|need| need.0 == part)
                .map(|need| need.1)
                .sum();
            for last_day in 0..days.len() {
                let grows = stock.get(last_day + 1).is_none_or(|&next| next > stock[last_day]);
                if grows && stock[last_day] < demand {
                    limits.push(PartLimit { part, last_day, available: stock[last_day] });
                }
            }
        }
        tighten(&mut capacity, &model_jobs, unit);
        Self { model: Model::new(capacity, parts.len(), limits, model_jobs), fixed: fixed.to_vec() }
    }

    /// The day that a choice of the model stands for.
    fn day_index(&self, job: usize, choice: usize) -> Option<usize> {
        let day = self.model.jobs[job].choices[choice].day;
        self.fixed[job].or((day != self.model.left_out_day()).then_some(day))
    }

    fn plan_of(&self, problem: &Problem, solved: &Solved) -> Plan {
        let jobs = problem.jobs();
        let days: Vec<Option<usize>> =
            solved.chosen.iter().enumerate().map(|(job, &choice)| self.day_index(job, choice)).collect();
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
        let cost = solved.cost + 0.0;
        let bound = solved.bound.clamp(0.0, cost);
        let status =
            if cost - bound <= ROUNDING * cost { PlanStatus::Optimal } else { PlanStatus::WithinGap };
        Plan { status, cost, bound, placements, left_out, short_of: shortages(problem, &days), moved }
    }
}
