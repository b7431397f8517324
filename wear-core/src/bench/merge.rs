//! Jobs of one bike, which set up once when they are on the bench on one day.
//!
//! Which of them go together isn't known beforehand. Plans are made with all of a bike's jobs together and with none,
//! mended bike by bike at their true minutes, planned again with those together that then are, and the cheapest is
//! taken. The bound is that of a problem that is easier: of k jobs each is shorter by (k − 1)/k of the set-up, which
//! is at least what any way of putting them together saves.

use std::collections::BTreeMap;

use super::problem::{Job, Problem};
use super::unit::{Placed, Unit, solve_units};

/// Times that a plan is mended and planned again.
const ROUNDS: usize = 3;

/// Most ways to place the jobs of a bike that are all tried.
const MOST_WAYS: usize = 30_000;

/// Plans a problem in which bikes have several jobs, keeping those jobs on their days that have one.
pub(super) fn solve_merged(problem: &Problem, kept: &[Option<usize>]) -> Placed {
    let count = problem.jobs().len();
    let all_together: Vec<usize> = (0..count).collect();
    let starts =
        [units(problem, kept, &all_together, |_| Some(0)), units(problem, kept, &all_together, Some)];
    let bound = solve_units(problem, &shortened(problem, kept)).bound;
    let mut best: Option<(f64, Vec<Option<usize>>)> = None;
    for start in starts {
        let mut days = solve_units(problem, &start).days;
        let mut cost = f64::INFINITY;
        for _ in 0..ROUNDS {
            let mut mended = Mended::new(problem, &days);
            mended.improve(kept);
            if mended.cost() >= cost - 1e-9 * cost.abs() {
                break;
            }
            cost = mended.cost();
            days.clone_from(&mended.days);
            if best.as_ref().is_none_or(|(least, _)| cost < *least) {
                best = Some((cost, days.clone()));
            }
            if cost - bound <= 1e-7 * cost {
                break;
            }
            let again = units(problem, kept, &all_together, |job| days[job]);
            days = solve_units(problem, &again).days;
        }
    }
    let (cost, days) = best.unwrap_or_else(|| {
        let nobody = vec![None; count];
        (Mended::new(problem, &nobody).cost(), nobody)
    });
    Placed { days, cost, bound: bound.min(cost) }
}

/// One unit for each bike and value of `together`; jobs that stay on a day go with those that stay on the same.
fn units(
    problem: &Problem,
    kept: &[Option<usize>],
    jobs: &[usize],
    together: impl Fn(usize) -> Option<usize>,
) -> Vec<Unit> {
    let mut groups: BTreeMap<(Option<usize>, usize, usize), Vec<usize>> = BTreeMap::new();
    let alone = problem.jobs().len();
    for &job in jobs {
        let key = match (problem.bike_of(job), kept[job], together(job)) {
            (Some(bike), Some(day), _) => (Some(day), bike, alone),
            (Some(bike), None, Some(group)) => (None, bike, group),
            (_, day, _) => (day, alone, alone + 1 + job),
        };
        groups.entry(key).or_default().push(job);
    }
    groups.into_iter().map(|((day, ..), jobs)| Unit::of(problem, jobs, day)).collect()
}

/// Every job alone, shorter by its share of the most that its bike can save.
fn shortened(problem: &Problem, kept: &[Option<usize>]) -> Vec<Unit> {
    let companions = problem.companions();
    (0..problem.jobs().len())
        .map(|job| {
            let mut unit = Unit::of(problem, vec![job], kept[job]);
            if let Some(bike) = problem.bike_of(job) {
                let jobs = companions[&bike].len() as f64;
                unit.minutes = (unit.minutes - problem.setup_minutes() * (jobs - 1.0) / jobs).max(0.0);
            }
            unit
        })
        .collect()
}

/// A plan that is improved bike by bike.
struct Mended<'p> {
    problem: &'p Problem,
    days: Vec<Option<usize>>,
    /// Minutes left on each day.
    left: Vec<f64>,
    /// By part: what has arrived, less what is used, by each day.
    parts: BTreeMap<&'p str, Vec<i64>>,
}

impl<'p> Mended<'p> {
    fn new(problem: &'p Problem, days: &[Option<usize>]) -> Self {
        let mut parts = BTreeMap::new();
        for part in problem.parts_used() {
            let mut stock = vec![0_i64; problem.days().len()];
            for arrival in problem.arrivals().iter().filter(|arrival| arrival.part == part) {
                for (stock, day) in stock.iter_mut().zip(problem.days()) {
                    *stock += if day.day >= arrival.day { i64::from(arrival.count) } else { 0 };
                }
            }
            parts.insert(part, stock);
        }
        let left = problem.days().iter().map(|day| day.minutes).collect();
        let mut mended = Self { problem, days: vec![None; days.len()], left, parts };
        for (job, day) in days.iter().enumerate() {
            mended.put(job, *day);
        }
        mended
    }

    fn job(&self, job: usize) -> &'p Job {
        &self.problem.jobs()[job]
    }

    fn cost_of(&self, job: usize, day: Option<usize>) -> f64 {
        day.map_or(self.job(job).cost_left_out, |day| self.job(job).cost_on(self.problem.days()[day].day))
    }

    fn cost(&self) -> f64 {
        self.days.iter().enumerate().map(|(job, day)| self.cost_of(job, *day)).sum()
    }

    /// Minutes that `job` adds to a day with the others that are there.
    fn minutes(&self, job: usize, day: usize) -> f64 {
        let companion = self.problem.bike_of(job).is_some_and(|bike| {
            self.problem.companions()[&bike]
                .iter()
                .any(|&other| other != job && self.days[other] == Some(day))
        });
        self.job(job).minutes - if companion { self.problem.setup_minutes() } else { 0.0 }
    }

    fn put(&mut self, job: usize, day: Option<usize>) {
        if let Some(before) = self.days[job] {
            self.left[before] += self.minutes(job, before);
            self.use_parts(job, before, 1);
        }
        self.days[job] = None;
        if let Some(day) = day {
            self.left[day] -= self.minutes(job, day);
            self.use_parts(job, day, -1);
            self.days[job] = Some(day);
        }
    }

    fn use_parts(&mut self, job: usize, day: usize, sign: i64) {
        for (part, &count) in &self.job(job).parts {
            if let Some(stock) = self.parts.get_mut(part.as_str()) {
                stock[day..].iter_mut().for_each(|stock| *stock += sign * i64::from(count));
            }
        }
    }

    fn fits(&self, job: usize, day: Option<usize>) -> bool {
        let Some(day) = day else { return true };
        let minutes = self.problem.days()[day].minutes;
        self.job(job).may_be_on(self.problem.days()[day].day)
            && self.minutes(job, day) <= self.left[day] + 1e-9 * minutes.max(1.0)
            && self.job(job).parts.iter().all(|(part, &count)| {
                count == 0
                    || self
                        .parts
                        .get(part.as_str())
                        .is_some_and(|stock| stock[day..].iter().all(|&stock| stock >= i64::from(count)))
            })
    }

    /// Places the jobs of one bike after another anew until none gets cheaper.
    fn improve(&mut self, kept: &[Option<usize>]) {
        let mut groups: Vec<Vec<usize>> = self.problem.companions().values().cloned().collect();
        groups.extend(
            (0..self.days.len()).filter(|&job| self.problem.bike_of(job).is_none()).map(|job| vec![job]),
        );
        for group in &mut groups {
            group.retain(|&job| kept[job].is_none());
        }
        for _ in 0..20 {
            let mut changed = false;
            for group in &groups {
                changed |= self.improve_group(group);
            }
            if !changed {
                break;
            }
        }
    }

    fn improve_group(&mut self, group: &[usize]) -> bool {
        let before: Vec<Option<usize>> = group.iter().map(|&job| self.days[job]).collect();
        let cost: f64 = group.iter().map(|&job| self.cost_of(job, self.days[job])).sum();
        let ways = (self.days_and_out().count() as f64).powi(group.len().min(64) as i32);
        let mut best = (cost - 1e-9 * cost.abs(), before.clone());
        if ways <= MOST_WAYS as f64 {
            for &job in group {
                self.put(job, None);
            }
            self.descend(group, 0, 0.0, &mut best);
            for (&job, &day) in group.iter().zip(&best.1) {
                self.put(job, day);
            }
        } else {
            for (at, &job) in group.iter().enumerate() {
                self.put(job, None);
                let cheapest = self
                    .days_and_out()
                    .filter(|&day| self.fits(job, day))
                    .min_by(|&a, &b| self.cost_of(job, a).total_cmp(&self.cost_of(job, b)));
                let day = cheapest.unwrap_or(None);
                let better = self.cost_of(job, day) < self.cost_of(job, before[at]);
                self.put(job, if better { day } else { before[at] });
            }
        }
        group.iter().zip(&before).any(|(&job, day)| self.days[job] != *day)
    }

    fn days_and_out(&self) -> impl Iterator<Item = Option<usize>> + use<> {
        std::iter::once(None).chain((0..self.left.len()).map(Some))
    }

    fn descend(&mut self, group: &[usize], at: usize, cost: f64, best: &mut (f64, Vec<Option<usize>>)) {
        let Some(&job) = group.get(at) else {
            *best = (cost, group.iter().map(|&job| self.days[job]).collect());
            return;
        };
        for day in self.days_and_out() {
            let next = cost + self.cost_of(job, day);
            if next < best.0 && self.fits(job, day) {
                self.put(job, day);
                self.descend(group, at + 1, next, best);
                self.put(job, None);
            }
        }
    }
}
