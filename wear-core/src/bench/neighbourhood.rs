//! Large neighbourhoods: the jobs of a few days, planned anew by branch and bound.

use super::branch::{Reach, branch};
use super::model::{Choice, Model, ModelJob, Stream, Work};
use super::relaxation::Relaxation;
use super::schedule::Schedule;

/// Nodes that one neighbourhood may take.
const NODES: usize = 60;
/// Jobs that one neighbourhood may free.
const MOST_JOBS: usize = 160;

/// Frees the jobs of a few days at a time until the cost reaches `target` or the work is spent.
pub(super) fn search_neighbourhoods(
    schedule: &mut Schedule<'_>,
    relaxed: &Relaxed,
    target: f64,
    step: f64,
    stream: &mut Stream,
    work: &mut Work,
) {
    let model = schedule.model();
    if model.capacity.is_empty() || model.jobs.is_empty() {
        return;
    }
    let mut size = 3.0_f64;
    let mut pull = 0.5;
    let mut rounds = 0;
    while !work.is_spent() && schedule.cost() > target {
        let scarce = model.part_count > 0 && !model.limits.is_empty() && stream.below(3) == 0;
        rounds += 1;
        if rounds % PULL_EVERY == 1 {
            let free = relaxed.disagreeing(schedule, (pull * MOST_PULLED as f64) as usize, stream);
            let tried = plan_anew(schedule, &free, PULLED, step, work);
            pull = match tried {
                Tried::Whole => (pull * 1.3_f64).min(1.0),
                Tried::CutShort => (pull * 0.8_f64).max(0.2),
            };
            continue;
        }
        let free = if scarce {
            users_of_a_part(schedule, 12 * size.round() as usize, stream)
        } else {
            choose_jobs(schedule, size.round() as usize, stream)
        };
        let before = work.done;
        match plan_anew(schedule, &free, Effort { nodes: NODES, round_every: 0 }, step, work) {
            Tried::Whole => size = (size + 0.1).min(12.0),
            Tried::CutShort => size = (size - 0.2).max(2.0),
        }
        work.done = work.done.max(before + 2_000);
    }
}

/// How hard a neighbourhood is tried.
#[derive(Clone, Copy)]
struct Effort {
    nodes: usize,
    round_every: usize,
}

/// Every so many neighbourhoods one is where plan and relaxation disagree.
const PULL_EVERY: usize = 12;

/// Most jobs of such a one.
const MOST_PULLED: usize = 240;

const PULLED: Effort = Effort { nodes: 200, round_every: 20 };

/// Where the relaxation has each job, as a share of each choice.
#[derive(Debug)]
pub(super) struct Relaxed {
    wanted: Vec<usize>,
    split: Vec<bool>,
}

impl Relaxed {
    /// Of a model that may have fewer choices than the one that was relaxed before.
    pub fn of(model: &Model, work: &mut Work) -> Self {
        let mut relaxation = Relaxation::new(model);
        relaxation.solve(f64::INFINITY, work);
        Self { wanted: relaxation.largest_shares(), split: relaxation.is_split() }
    }

    /// Jobs that the relaxation splits or has elsewhere, and as many others as `most` leaves room for (relaxation
    /// induced neighbourhoods, Danna, Rothberg and Le Pape 2005, M).
    fn disagreeing(&self, schedule: &Schedule<'_>, most: usize, stream: &mut Stream) -> Vec<usize> {
        let open = |job: &usize| schedule.model().jobs[*job].choices.len() > 1;
        let (mut free, mut others): (Vec<usize>, Vec<usize>) = (0..self.wanted.len())
            .filter(open)
            .partition(|&job| self.split[job] || schedule.chosen()[job] != self.wanted[job]);
        while free.len() > most {
            free.swap_remove(stream.below(free.len()));
        }
        while free.len() < most && !others.is_empty() {
            free.push(others.swap_remove(stream.below(others.len())));
        }
        free.sort_unstable();
        free
    }
}

enum Tried {
    Whole,
    CutShort,
}

fn choose_jobs(schedule: &Schedule<'_>, size: usize, stream: &mut Stream) -> Vec<usize> {
    let model = schedule.model();
    let days = model.capacity.len();
    let mut picked = vec![false; days + 1];
    // Start from a job that would rather be elsewhere; free its day and the days it would rather be on.
    let wishing: Vec<usize> = (0..model.jobs.len())
        .filter(|&job| schedule.cost_of(job) > model.jobs[job].choices[0].cost)
        .collect();
    let mut count = 0;
    let mut guard = 0;
    while count < size.min(days) && guard < 20 * size {
        guard += 1;
        let day = if wishing.is_empty() || stream.below(3) == 0 {
            stream.below(days)
        } else {
            let job = wishing[stream.below(wishing.len())];
            let choices = &model.jobs[job].choices;
            let better = choices.iter().take_while(|choice| choice.cost < schedule.cost_of(job)).count();
            if stream.below(2) == 0 { schedule.day_of(job) } else { choices[stream.below(better)].day }
        };
        if day < days && !picked[day] {
            picked[day] = true;
            count += 1;
        }
    }
    let mut free: Vec<usize> = Vec::new();
    for day in (0..days).filter(|&day| picked[day]) {
        free.extend(schedule.jobs_on(day));
    }
    let mut out: Vec<usize> = schedule
        .jobs_on(days)
        .iter()
        .copied()
        .filter(|&job| model.jobs[job].choices.iter().any(|choice| picked[choice.day] && choice.day < days))
        .collect();
    while out.len() > 20 {
        out.swap_remove(stream.below(out.len()));
    }
    free.extend(out);
    while free.len() > MOST_JOBS {
        free.swap_remove(stream.below(free.len()));
    }
    free.sort_unstable();
    free
}

/// Some of the jobs that use one limited part.
fn users_of_a_part(schedule: &Schedule<'_>, most: usize, stream: &mut Stream) -> Vec<usize> {
    let model = schedule.model();
    let part = model.limits[stream.below(model.limits.len())].part;
    let mut free: Vec<usize> = (0..model.jobs.len())
        .filter(|&job| model.jobs[job].choices.len() > 1)
        .filter(|&job| model.jobs[job].needs.iter().any(|need| need.0 == part))
        .collect();
    while free.len() > most {
        free.swap_remove(stream.below(free.len()));
    }
    free.sort_unstable();
    free
}

fn plan_anew(
    schedule: &mut Schedule<'_>,
    free: &[usize],
    effort: Effort,
    step: f64,
    work: &mut Work,
) -> Tried {
    let model = schedule.model();
    let days = model.capacity.len();
    let before: Vec<usize> = free.iter().map(|&job| schedule.chosen()[job]).collect();
    let cost: f64 = free.iter().map(|&job| schedule.cost_of(job)).sum();
    for &job in free {
        schedule.take(job);
    }
    let capacity = (0..days).map(|row| schedule.left(row).max(0.0)).collect();
    let mut limits = model.limits.clone();
    for (index, limit) in limits.iter_mut().enumerate() {
        limit.available = schedule.left(days + index).max(0.0);
    }
    let mut original = Vec::with_capacity(free.len());
    let mut jobs = Vec::with_capacity(free.len());
    for (&job, &now) in free.iter().zip(&before) {
        let entry = &model.jobs[job];
        let kept: Vec<usize> =
            (0..entry.choices.len()).filter(|&choice| choice == now || schedule.fits(job, choice)).collect();
        let choices: Vec<Choice> = kept.iter().map(|&choice| entry.choices[choice]).collect();
        jobs.push(ModelJob { minutes: entry.minutes, needs: entry.needs.clone(), choices });
        original.push(kept);
    }
    let sub = Model::new(capacity, model.part_count, limits, jobs);
    work.spend(sub.choice_count() * 10 + model.limits.len() * 4);
    let reach = Reach { cutoff: cost, step, nodes: effort.nodes, round_every: effort.round_every };
    let found = branch(&sub, Relaxation::new(&sub), reach, work);
    let whole = found.bound >= cost - step.max(1e-6 * cost) || found.chosen.is_some();
    let choices = match found.chosen {
        Some(chosen) => chosen.iter().zip(&original).map(|(&choice, kept)| kept[choice]).collect(),
        None => before.clone(),
    };
    let fit = free.iter().zip(&choices).all(|(&job, &choice)| {
        let fits = schedule.fits(job, choice);
        schedule.put(job, choice);
        fits
    });
    if !fit {
        for (&job, &choice) in free.iter().zip(&before) {
            schedule.put(job, choice);
        }
    }
    schedule.recount();
    if whole { Tried::Whole } else { Tried::CutShort }
}
