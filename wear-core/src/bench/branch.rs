//! Branch and bound over the relaxation.

use super::improve::improve;
use super::model::{Model, Work};
use super::relaxation::{Outcome, Relaxation};

/// What a search found.
#[derive(Debug)]
pub(super) struct Found {
    /// Choices that cost less than the cutoff, when there are any.
    pub chosen: Option<Vec<usize>>,
    /// No plan of the model costs less than this or than the cutoff, whichever is smaller.
    pub bound: f64,
}

/// Most work of the local search on one rounded solution.
const IMPROVEMENT: u64 = 1_000_000;

struct Node<'m> {
    relaxation: Relaxation<'m>,
    bound: f64,
}

/// How far a search may go.
#[derive(Debug, Clone, Copy)]
pub(super) struct Reach {
    /// Only plans below this cost count.
    pub cutoff: f64,
    /// Every plan's cost is a multiple of this, or 0.
    pub step: f64,
    /// Number of nodes solved at most.
    pub nodes: usize,
    /// Repair and improve rounded solutions every so many nodes; 0 for never.
    pub round_every: usize,
}

/// The least cost that a plan with `bound` can have when costs come in steps.
pub(super) fn round_up(bound: f64, step: f64) -> f64 {
    if step > 0.0 { bound.max(((bound / step) - 1e-6).ceil() * step) } else { bound }
}

/// The cost that a plan must stay below to count as better than `cost`.
fn needed(cost: f64, step: f64) -> f64 {
    if cost.is_infinite() { cost } else { cost - (step * 0.999).max(1e-9 * cost.abs()) }
}

/// Depth first to find plans, then the open node with the least bound, to raise the bound.
pub(super) fn branch<'m>(model: &'m Model, root: Relaxation<'m>, reach: Reach, work: &mut Work) -> Found {
    let mut best: Option<Vec<usize>> = None;
    let mut cutoff = reach.cutoff;
    let root_bound = round_up(root.bound(), reach.step);
    let mut open = vec![Node { bound: root_bound, relaxation: root }];
    let mut current: Option<Node<'_>> = None;
    let mut nodes = 0;
    let mut floor = f64::INFINITY;
    loop {
        let node = match current.take() {
            Some(node) => node,
            None => {
                open.retain(|node| node.bound < needed(cutoff, reach.step));
                let Some(least) = (0..open.len()).min_by(|&a, &b| open[a].bound.total_cmp(&open[b].bound))
                else {
                    return Found { chosen: best, bound: cutoff.min(floor) };
                };
                open.swap_remove(least)
            }
        };
        if nodes >= reach.nodes || work.is_spent() {
            open.push(node);
            break;
        }
        nodes += 1;
        let Node { mut relaxation, bound } = node;
        let outcome = relaxation.solve(needed(cutoff, reach.step), work);
        if outcome == Outcome::Closed {
            // Closing is believed as far as the prices prove it.
            floor = floor.min(bound.max(round_up(relaxation.bound(), reach.step)));
            work.spend(model.choice_count() * 2);
            continue;
        }
        if outcome == Outcome::Stopped {
            open.push(Node { relaxation, bound });
            break;
        }
        let bound = bound.max(round_up(relaxation.bound(), reach.step));
        work.spend(model.choice_count() * 2);
        let split = relaxation.split_jobs();
        if split.is_empty() || (reach.round_every > 0 && nodes % reach.round_every == 1) {
            let mut schedule = relaxation.rounded();
            if !split.is_empty() {
                let limit = work.limit;
                work.limit = limit.min(work.done + IMPROVEMENT);
                improve(&mut schedule, work);
                work.limit = limit;
            }
            if schedule.cost() < cutoff {
                cutoff = schedule.cost();
                best = Some(schedule.chosen().to_vec());
            }
        }
        if split.is_empty() || bound >= needed(cutoff, reach.step) {
            continue;
        }
        let (first, second) = children(model, &relaxation, &split);
        let mut other = relaxation.clone();
        other.ban(second.0, second.1.into_iter());
        open.push(Node { relaxation: other, bound });
        relaxation.ban(first.0, first.1.into_iter());
        current = Some(Node { relaxation, bound });
    }
    let bound = open.iter().map(|node| node.bound).fold(cutoff.min(floor), f64::min);
    Found { chosen: best, bound }
}

/// Share of a split job's largest choice from which a dive takes it as decided.
const DECIDED: f64 = 0.7;

/// Times that a dive may run into a dead end.
const MOST_REFUSALS: usize = 12;

/// Dead ends after which what a dive left open is searched as a tree. Decisions made early in a dive are mostly right and
/// late ones mostly not.
const SEARCHED_AFTER: [usize; 3] = [2, 4, MOST_REFUSALS];

/// Nodes of such a tree, and every how many of them one is rounded.
const OPEN_END_NODES: usize = 400;
const OPEN_END_ROUND_EVERY: usize = 8;

/// Most work of such a search.
const OPEN_END_WORK: u64 = 40_000_000;

/// Goes straight down: decides the split jobs that lean most to one choice, a good part of them at a time,
/// solves again, and at the end rounds. Gives any plan, not only one below the cutoff.
pub(super) fn dive<'m>(
    model: &'m Model,
    mut relaxation: Relaxation<'m>,
    cutoff: f64,
    work: &mut Work,
) -> Vec<usize> {
    let largest = |shares: &[(usize, f64)]| shares.iter().map(|share| share.1).fold(0.0, f64::max);
    let mut best: Option<Vec<usize>> = None;
    let mut cutoff = cutoff;
    // The values of a closed relaxation may break rows: they are rounded like others, never taken as they are.
    let closed = relaxation.solve(cutoff, work) == Outcome::Closed;
    let mut refusals = 0;
    while !closed && !work.is_spent() && refusals < MOST_REFUSALS {
        let mut split = relaxation.split_jobs();
        if split.is_empty() {
            break;
        }
        let wanted = relaxation.largest_shares();
        split.sort_by(|a, b| largest(&b.1).total_cmp(&largest(&a.1)));
        let least = if refusals == 0 { split.len().div_ceil(6) } else { 1 };
        let mut next = relaxation.clone();
        for (at, (job, shares)) in split.iter().enumerate() {
            if at < least || (refusals == 0 && largest(shares) >= DECIDED && at < 2 * least) {
                let choices = model.jobs[*job].choices.len();
                next.ban(*job, (0..choices).filter(|&choice| choice != wanted[*job]));
            }
        }
        match next.solve(cutoff, work) {
            Outcome::Solved => relaxation = next,
            Outcome::Stopped => break,
            Outcome::Closed => {
                if refusals > 0 {
                    let job = split[0].0;
                    relaxation.ban(job, std::iter::once(wanted[job]));
                    if relaxation.solve(cutoff, work) != Outcome::Solved {
                        break;
                    }
                }
                refusals += 1;
                if SEARCHED_AFTER.contains(&refusals) {
                    let (nodes, round_every) = (OPEN_END_NODES, OPEN_END_ROUND_EVERY);
                    let reach = Reach { cutoff, step: 0.0, nodes, round_every };
                    let limit = work.limit;
                    work.limit = work.done + OPEN_END_WORK;
                    if let Some(chosen) = branch(model, relaxation.clone(), reach, work).chosen {
                        cutoff = model.cost(&chosen);
                        best = Some(chosen);
                    }
                    work.limit = limit;
                }
            }
        }
    }
    let mut schedule = relaxation.rounded();
    let limit = work.limit;
    work.limit = work.done + IMPROVEMENT;
    improve(&mut schedule, work);
    work.limit = limit;
    best.filter(|_| cutoff <= schedule.cost()).unwrap_or_else(|| schedule.chosen().to_vec())
}

type Ban = (usize, Vec<usize>);

/// One job on the choice with its largest share, or anywhere but there.
fn children(model: &Model, relaxation: &Relaxation<'_>, split: &[(usize, Vec<(usize, f64)>)]) -> (Ban, Ban) {
    let weight = |entry: &(usize, Vec<(usize, f64)>)| {
        let largest = entry.1.iter().map(|share| share.1).fold(0.0, f64::max);
        let job = &model.jobs[entry.0];
        let costs = entry.1.iter().map(|share| job.choices[share.0].cost);
        let spread = costs.clone().fold(0.0, f64::max) - costs.fold(f64::INFINITY, f64::min);
        (1.0 - largest) * (spread + 1e-3 * job.minutes)
    };
    let mut chosen = &split[0];
    let mut most = f64::NEG_INFINITY;
    for entry in split {
        let weight = weight(entry);
        if weight > most {
            most = weight;
            chosen = entry;
        }
    }
    let job = chosen.0;
    let choices = &model.jobs[job].choices;
    let largest = chosen.1.iter().copied().max_by(|a, b| a.1.total_cmp(&b.1)).map_or(0, |share| share.0);
    let open: Vec<usize> = (0..choices.len()).filter(|&choice| !relaxation.is_banned(job, choice)).collect();
    let others: Vec<usize> = open.iter().copied().filter(|&choice| choice != largest).collect();
    ((job, others), (job, vec![largest]))
}
