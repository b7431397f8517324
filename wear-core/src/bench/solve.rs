//! The stages of a solve, cheapest first.

use super::anneal::anneal;
use super::branch::{Reach, branch, round_up};
use super::improve::improve;
use super::model::{Choice, Model, ModelJob, Stream, Work};
use super::neighbourhood::search_neighbourhoods;
use super::relaxation::{Outcome, Relaxation};
use super::schedule::Schedule;

/// A plan of the model and what is proven about it.
#[derive(Debug, Clone)]
pub(super) struct Solved {
    pub chosen: Vec<usize>,
    pub cost: f64,
    pub bound: f64,
}

/// Relative gap at which no more work is put in.
const CLOSE_ENOUGH: f64 = 1e-4;

pub(super) fn solve(model: &Model) -> Solved {
    T0.with(|_| ());
    let mut work = Work::new(u64::MAX);
    let mut root = Relaxation::new(model);
    let outcome = root.solve(f64::INFINITY, &mut work);
    let step = model.cost_step();
    let priced = root.best_bound();
    let mut bound = round_up(priced.bound.max(0.0), step);

    let wanted = root.largest_shares();
    let mut is_split = vec![false; model.jobs.len()];
    for (job, _) in root.split_jobs() {
        is_split[job] = true;
    }
    let (split, whole): (Vec<usize>, Vec<usize>) = (0..model.jobs.len()).partition(|&job| is_split[job]);
    let mut schedule = Schedule::from_choices(model, &wanted, whole.into_iter().chain(split));
    improve(&mut schedule, &mut work);
    let mut chosen = schedule.chosen().to_vec();
    let mut cost = schedule.cost();
    trace("root", &work, cost, bound);

    let mut stream = Stream(11);
    let start = work.done;
    for stage in STAGES {
        if is_closed(cost, bound)
            || outcome == Outcome::Stopped && stage.nodes > 0 && root.split_jobs().is_empty()
        {
            break;
        }
        work.limit = start + stage.work;
        let (reduced, original) = reduce(model, &priced.above, &chosen, cost - priced.bound);
        let kept = chosen
            .iter()
            .zip(&original)
            .map(|(choice, kept)| kept.iter().position(|other| other == choice).unwrap_or(0));
        let mut reduced_chosen: Vec<usize> = kept.collect();
        if stage.nodes > 0 {
            let reach = Reach { cutoff: cost, step, nodes: stage.nodes, round_every: 16 };
            let found = branch(&reduced, Relaxation::new(&reduced), reach, &mut work);
            bound = bound.max(found.bound.min(cost));
            if let Some(better) = found.chosen {
                reduced_chosen = better;
            }
        } else {
            let mut schedule = Schedule::from_choices(&reduced, &reduced_chosen, 0..reduced.jobs.len());
            let target = bound + CLOSE_ENOUGH * bound.abs();
            let share = (work.limit.saturating_sub(work.done)) / stage.cycles;
            let limit = work.limit;
            let mut best = schedule.clone();
            for cycle in 1..=stage.cycles {
                work.limit = limit - (stage.cycles - cycle) * share;
                anneal(&mut schedule, share / 2, &mut stream, &mut work);
                trace("  annealed", &work, schedule.cost(), bound);
                improve(&mut schedule, &mut work);
                search_neighbourhoods(&mut schedule, target, step, &mut stream, &mut work);
                trace("  cycle", &work, schedule.cost(), bound);
                if schedule.cost() < best.cost() {
                    best = schedule.clone();
                }
                if best.cost() <= target {
                    break;
                }
            }
            schedule = best;
            reduced_chosen = schedule.chosen().to_vec();
        }
        let candidate: Vec<usize> =
            reduced_chosen.iter().zip(&original).map(|(&choice, kept)| kept[choice]).collect();
        if model.cost(&candidate) < cost {
            cost = model.cost(&candidate);
            chosen = candidate;
        }
        bound = bound.min(cost);
        trace(if stage.nodes > 0 { "tree" } else { "near" }, &work, cost, bound);
    }
    Solved { bound: bound.min(cost), chosen, cost }
}

thread_local! { static T0: std::time::Instant = std::time::Instant::now(); }
fn trace(stage: &str, work: &Work, cost: f64, bound: f64) {
    if std::env::var_os("PLAN_TRACE").is_some() {
        eprintln!(
            "{:.3}s {stage} work {:.1}M cost {cost} bound {bound} gap {:.4}%",
            T0.with(|t| t.elapsed().as_secs_f64()),
            work.done as f64 / 1e6,
            (cost - bound) / cost * 100.0
        );
    }
}

struct Stage {
    nodes: usize,
    work: u64,
    cycles: u64,
}

const STAGES: &[Stage] = &[
    Stage { nodes: 40, work: 20_000_000, cycles: 0 },
    Stage { nodes: 0, work: 60_000_000, cycles: 1 },
    Stage { nodes: 400, work: 100_000_000, cycles: 0 },
    Stage { nodes: 0, work: 700_000_000, cycles: 6 },
    Stage { nodes: 2000, work: 1_000_000_000, cycles: 0 },
];

fn is_closed(cost: f64, bound: f64) -> bool {
    cost - bound <= CLOSE_ENOUGH * cost.abs()
}

/// The model without choices that no plan cheaper than the present one can have: those priced more than
/// the gap above their job's cheapest (reduced-cost fixing).
fn reduce(model: &Model, above: &[Vec<f64>], chosen: &[usize], gap: f64) -> (Model, Vec<Vec<usize>>) {
    let out = model.left_out_day();
    let mut original = Vec::with_capacity(model.jobs.len());
    let mut jobs = Vec::with_capacity(model.jobs.len());
    for (job, entry) in model.jobs.iter().enumerate() {
        let kept: Vec<usize> = (0..entry.choices.len())
            .filter(|&choice| {
                choice == chosen[job]
                    || entry.choices[choice].day == out
                    || above[job][choice] <= gap + 1e-9 * gap.abs()
            })
            .collect();
        let choices: Vec<Choice> = kept.iter().map(|&choice| entry.choices[choice]).collect();
        jobs.push(ModelJob { minutes: entry.minutes, needs: entry.needs.clone(), choices });
        original.push(kept);
    }
    (Model::new(model.capacity.clone(), model.part_count, model.limits.clone(), jobs), original)
}
