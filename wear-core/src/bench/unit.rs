//! What is planned as one: a job alone, or jobs of one bike that go on the bench together.

use std::collections::{BTreeMap, HashMap};

use super::model::{Choice, FIT_TOLERANCE, Model, ModelJob, PartLimit};
use super::problem::Problem;
use super::solve::{Solved, solve};

/// Jobs that go to one day, or are left out, together.
#[derive(Debug, Clone)]
pub(super) struct Unit {
    /// Indices of the jobs.
    pub jobs: Vec<usize>,
    pub minutes: f64,
    /// Cost by day; `None` where it may not be.
    pub costs: Vec<Option<f64>>,
    /// Cost of being left out.
    pub out: f64,
    /// The day that it stays on.
    pub fixed: Option<usize>,
}

impl Unit {
    /// The jobs together, setting up once.
    pub fn of(problem: &Problem, jobs: Vec<usize>, fixed: Option<usize>) -> Self {
        let all = problem.jobs();
        let costs = problem
            .days()
            .iter()
            .map(|day| {
                let allowed = jobs.iter().all(|&job| all[job].may_be_on(day.day));
                allowed.then(|| jobs.iter().map(|&job| all[job].cost_on(day.day)).sum())
            })
            .collect();
        let out = jobs.iter().map(|&job| all[job].cost_left_out).sum();
        Self { minutes: problem.minutes_of(&jobs), costs, out, fixed, jobs }
    }
}

/// A day for each job, and what is proven.
#[derive(Debug, Clone)]
pub(super) struct Placed {
    /// By job, the index of its day.
    pub days: Vec<Option<usize>>,
    pub cost: f64,
    pub bound: f64,
}

/// Plans units as a whole.
pub(super) fn solve_units(problem: &Problem, units: &[Unit]) -> Placed {
    let model = model(problem, units);
    let Solved { chosen, cost, bound } = solve(&model);
    let mut days = vec![None; problem.jobs().len()];
    for ((unit, entry), choice) in units.iter().zip(&model.jobs).zip(chosen) {
        let day = entry.choices[choice].day;
        let day = unit.fixed.or((day != model.left_out_day()).then_some(day));
        for &job in &unit.jobs {
            days[job] = day;
        }
    }
    Placed { days, cost, bound }
}

fn model(problem: &Problem, units: &[Unit]) -> Model {
    let days = problem.days();
    let parts = problem.parts_used();
    let index: HashMap<&str, usize> = parts.iter().enumerate().map(|(index, &part)| (part, index)).collect();
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
    let needs = |unit: &Unit| -> Vec<(usize, f64)> {
        let mut needs = BTreeMap::new();
        for (part, &count) in unit.jobs.iter().flat_map(|&job| &problem.jobs()[job].parts) {
            if let Some(&part) = index.get(part.as_str()).filter(|_| count > 0) {
                *needs.entry(part).or_insert(0.0) += f64::from(count);
            }
        }
        needs.into_iter().collect()
    };
    // A power of two, so that dividing by it is exact.
    let mean = units.iter().map(|unit| unit.minutes).sum::<f64>() / units.len().max(1) as f64;
    let scale = if mean > 0.0 { mean.log2().round().exp2() } else { 1.0 };
    let mut capacity: Vec<f64> = days.iter().map(|day| day.minutes / scale).collect();
    for unit in units {
        let Some(day) = unit.fixed else { continue };
        capacity[day] = (capacity[day] - unit.minutes / scale).max(0.0);
        for (part, count) in needs(unit) {
            stock[part][day..].iter_mut().for_each(|stock| *stock -= count);
        }
    }
    // What a later day lacks is not there on an earlier one either.
    for stock in &mut stock {
        for day in (1..stock.len()).rev() {
            stock[day - 1] = stock[day - 1].min(stock[day]);
        }
    }
    let jobs: Vec<ModelJob> = units
        .iter()
        .map(|unit| {
            let minutes = unit.minutes / scale;
            if let Some(day) = unit.fixed {
                let choices = vec![Choice { day: days.len(), cost: unit.costs[day].unwrap_or(unit.out) }];
                return ModelJob { minutes: 0.0, needs: Vec::new(), choices };
            }
            let needs = needs(unit);
            let fits = |day: usize| {
                minutes <= capacity[day] + FIT_TOLERANCE * capacity[day].max(1.0)
                    && needs.iter().all(|&(part, count)| count <= stock[part][day])
            };
            let mut choices: Vec<Choice> = (0..days.len())
                .filter(|&day| fits(day))
                .filter_map(|day| {
                    let cost = unit.costs[day]?;
                    (cost < unit.out).then_some(Choice { day, cost })
                })
                .collect();
            choices.push(Choice { day: days.len(), cost: unit.out });
            choices.sort_by(|a, b| a.cost.total_cmp(&b.cost));
            ModelJob { minutes, needs, choices }
        })
        .collect();
    let mut limits = Vec::new();
    for (part, stock) in stock.iter().enumerate() {
        let demand: f64 =
            jobs.iter().flat_map(|job| &job.needs).filter(|need| need.0 == part).map(|need| need.1).sum();
        for last_day in 0..days.len() {
            let grows = stock.get(last_day + 1).is_none_or(|&next| next > stock[last_day]);
            if grows && stock[last_day] < demand {
                limits.push(PartLimit { part, last_day, available: stock[last_day] });
            }
        }
    }
    tighten(&mut capacity, &jobs, scale);
    Model::new(capacity, parts.len(), limits, jobs)
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
