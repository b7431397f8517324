//! Simulated annealing over ejection chains: leaves the valleys that local search stops in.
//!
//! A move puts one job on another of its choices and pushes jobs out until it fits. Each of those goes to
//! its cheapest choice that fits, or pushes out others in turn. Worse plans are accepted with probability
//! exp(−Δ/T) (Metropolis 1953, M).

use super::model::{Model, Stream, Work};
use super::schedule::Schedule;

/// A cost that temperatures are measured by.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Scale {
    /// Median over the jobs of what one more day from the best costs.
    Day,
    /// Mean of what those jobs cost that cost anything in the plan at the start.
    Job,
}

/// How an annealing cools.
#[derive(Debug, Clone, Copy)]
pub(super) struct Cooling {
    /// What the temperatures are shares of.
    pub scale: Scale,
    /// First temperature.
    pub hot: f64,
    /// Last temperature.
    pub cold: f64,
    /// Most jobs that one move puts elsewhere.
    pub longest_chain: usize,
}

/// Cools down over the work given. `schedule` ends as the best plan met in the colder half.
pub(super) fn anneal(
    schedule: &mut Schedule<'_>,
    cooling: Cooling,
    work_units: u64,
    stream: &mut Stream,
    work: &mut Work,
) {
    let Cooling { scale, hot, cold: coldest, longest_chain } = cooling;
    let model = schedule.model();
    let movable: Vec<usize> =
        (0..model.jobs.len()).filter(|&job| model.jobs[job].choices.len() > 1).collect();
    let typical = match scale {
        Scale::Day => typical_step(model),
        Scale::Job => {
            let costly = (0..model.jobs.len()).filter(|&job| schedule.cost_of(job) > 0.0).count();
            schedule.cost() / costly.max(1) as f64
        }
    };
    if movable.is_empty() || typical <= 0.0 {
        return;
    }
    let users = users_of_parts(model);
    let start = work.done;
    let mut temperature = hot * typical;
    let mut cost = schedule.cost();
    let mut best_cost = f64::INFINITY;
    let mut best = schedule.chosen().to_vec();
    let mut chain = Chain { longest: longest_chain, ..Chain::default() };
    let mut count = 0_u32;
    let mut cold = false;
    while work.done < start + work_units && !work.is_spent() {
        count += 1;
        if count.is_multiple_of(64) {
            let share = (work.done - start) as f64 / work_units as f64;
            temperature = typical * hot * (coldest / hot).powf(share);
            cold = share > 0.5;
        }
        work.spend(20);
        let job = movable[stream.below(movable.len())];
        let now = schedule.chosen()[job];
        let target = stream.below(model.jobs[job].choices.len().min(now + 4));
        if target == now {
            continue;
        }
        // What this move may cost at most, drawn before it is made.
        let allowed = -temperature * (1.0 - stream.unit()).ln();
        if model.jobs[job].choices[target].cost - model.jobs[job].choices[now].cost > allowed {
            continue;
        }
        match chain.try_move(schedule, &users, job, target, allowed, stream, work) {
            Some(change) => cost += change,
            None => chain.undo(schedule),
        }
        if cold && cost < best_cost - 1e-9 * cost.abs() {
            best_cost = cost;
            best.copy_from_slice(schedule.chosen());
        }
    }
    if best_cost.is_finite() {
        *schedule = Schedule::from_choices(model, &best, 0..model.jobs.len());
    }
}

/// Most users of a part that are looked at for one who frees some.
const MOST_USERS: usize = 24;

/// One move and what is needed to take it back.
#[derive(Default)]
struct Chain {
    /// Job and choice before.
    before: Vec<(usize, usize)>,
    waiting: Vec<usize>,
    longest: usize,
}

impl Chain {
    fn lift(&mut self, schedule: &mut Schedule<'_>, job: usize) -> f64 {
        let cost = schedule.cost_of(job);
        self.before.push((job, schedule.chosen()[job]));
        schedule.take(job);
        cost
    }

    fn undo(&self, schedule: &mut Schedule<'_>) {
        for &(job, _) in &self.before {
            schedule.take(job);
        }
        for &(job, choice) in &self.before {
            schedule.put(job, choice);
        }
    }

    /// The change of cost, at most `allowed`; `None` leaves the schedule to [`Chain::undo`].
    #[allow(clippy::too_many_arguments)]
    fn try_move(
        &mut self,
        schedule: &mut Schedule<'_>,
        users: &[Vec<usize>],
        job: usize,
        target: usize,
        allowed: f64,
        stream: &mut Stream,
        work: &mut Work,
    ) -> Option<f64> {
        let model = schedule.model();
        self.before.clear();
        self.waiting.clear();
        let mut change = -self.lift(schedule, job);
        let (mut job, mut target) = (job, target);
        loop {
            let entry = model.jobs[job].choices[target];
            let mut draws = 0;
            while !schedule.fits(job, target) {
                draws += 1;
                work.spend(20);
                if draws > 4 || self.before.len() >= self.longest {
                    return None;
                }
                let pushed = if schedule.has_minutes(job, entry.day, 0.0) {
                    let (part, last_day) = schedule.short_part(job, entry.day)?;
                    // Only a user that is there by then frees any.
                    let users = &users[part];
                    let from = stream.below(users.len());
                    work.spend(4);
                    let helps = |user: &usize| schedule.day_of(*user) <= last_day;
                    let there = users[from..].iter().chain(&users[..from]).take(MOST_USERS).copied();
                    there.into_iter().find(helps)?
                } else {
                    let here = schedule.jobs_on(entry.day);
                    *here.get(stream.below(here.len()))?
                };
                if schedule.is_out(pushed) || self.before.iter().any(|moved| moved.0 == pushed) {
                    continue;
                }
                change -= self.lift(schedule, pushed);
                self.waiting.push(pushed);
            }
            schedule.put(job, target);
            change += entry.cost;
            let Some(next) = self.waiting.pop() else {
                return (change <= allowed).then_some(change);
            };
            let choices = &model.jobs[next].choices;
            let within = choices.iter().take_while(|choice| change + choice.cost <= allowed).count();
            if within == 0 {
                return None;
            }
            work.spend(10 + 4 * within);
            target = match (0..within).find(|&choice| schedule.fits(next, choice)) {
                Some(choice) => choice,
                None => stream.below(within.min(6)),
            };
            job = next;
        }
    }
}

fn users_of_parts(model: &Model) -> Vec<Vec<usize>> {
    let mut users: Vec<Vec<usize>> = vec![Vec::new(); model.part_count];
    for (job, entry) in model.jobs.iter().enumerate() {
        for need in &entry.needs {
            users[need.0].push(job);
        }
    }
    users
}

/// Median over the jobs of what one more day from the best costs.
fn typical_step(model: &Model) -> f64 {
    let mut steps: Vec<f64> = model
        .jobs
        .iter()
        .filter(|job| job.choices.len() > 1)
        .map(|job| {
            let middle = job.choices.len() / 2;
            (job.choices[middle].cost - job.choices[0].cost) / middle as f64
        })
        .filter(|step| *step > 0.0)
        .collect();
    steps.sort_by(f64::total_cmp);
    steps.get(steps.len() / 2).copied().unwrap_or(0.0)
}
