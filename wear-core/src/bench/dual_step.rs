//! One step of the dual simplex method: how far along a row's ray, and what enters the basis there.

use std::cmp::Ordering;
use std::collections::BinaryHeap;

use super::basis::Basic;
use super::model::Work;
use super::prices::Prices;
use super::relaxation::{Outcome, Relaxation, VALUE_TOLERANCE};

const PIVOT_TOLERANCE: f64 = 1e-9;

/// The point on the ray where `choice` of `job` becomes as cheap as the job's key.
struct Candidate {
    at: f64,
    slope: f64,
    job: usize,
    choice: usize,
}

impl PartialEq for Candidate {
    fn eq(&self, other: &Self) -> bool {
        self.cmp(other) == Ordering::Equal
    }
}
impl Eq for Candidate {}
impl PartialOrd for Candidate {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}
impl Ord for Candidate {
    /// The greatest is the first point on the ray, and there the steepest slope.
    fn cmp(&self, other: &Self) -> Ordering {
        other.at.total_cmp(&self.at).then(other.slope.total_cmp(&self.slope)).then(self.job.cmp(&other.job))
    }
}

impl Relaxation<'_> {
    /// One dual step on the basic variable at `at`. `Solved` means done, `Closed` that nothing can mend it;
    /// the prices then go along the ray until the bound shows that, up to the cutoff.
    pub(super) fn step(&mut self, at: usize, sign: f64, cutoff: f64, work: &mut Work) -> Outcome {
        let model = self.model;
        let ray_price: Vec<f64> = self.basis.inverse[at].iter().map(|x| sign * x).collect();
        let ray = Prices::new(model, &self.basis.rows, &ray_price);
        let prices = Prices::new(model, &self.basis.rows, &self.price);
        let mut missing = self.basis.value[at].abs();

        let mut slack: Option<(usize, f64)> = None;
        for (row, &slope) in ray_price.iter().enumerate() {
            if slope < -PIVOT_TOLERANCE && self.basis.basic[at] != Basic::Slack(row) {
                let point = self.price[row].max(0.0) / -slope;
                if slack.is_none_or(|best| point < best.1) {
                    slack = Some((row, point));
                }
            }
        }
        let mut candidates = Vec::with_capacity(model.jobs.len());
        for job in 0..model.jobs.len() {
            if let Some(candidate) = self.next_candidate(job, self.basis.key[job], &prices, &ray) {
                candidates.push(candidate);
            }
        }
        work.spend(model.choice_count() * 3 + self.basis.rows.len() * self.basis.rows.len());
        let mut heap = BinaryHeap::from(candidates);
        let mut flips: Vec<(usize, usize)> = Vec::new();
        let (entering, point) = loop {
            let first = heap.peek().map_or(f64::INFINITY, |candidate| candidate.at);
            if let Some((row, point)) = slack
                && point <= first
            {
                break (Basic::Slack(row), point);
            }
            let Some(candidate) = heap.pop() else {
                let far = 2.0 * (cutoff - self.objective()).abs() / missing;
                if far.is_finite() {
                    for (price, ray) in self.price.iter_mut().zip(&ray_price) {
                        *price += far * ray;
                    }
                }
                return Outcome::Closed;
            };
            let Candidate { job, choice, slope, .. } = candidate;
            if self.basis.members[job].is_empty() && missing + slope > VALUE_TOLERANCE {
                missing += slope;
                flips.push((job, choice));
                if let Some(next) = self.next_candidate(job, choice, &prices, &ray) {
                    heap.push(next);
                }
                work.spend(model.jobs[job].choices.len() * 3);
            } else {
                break (Basic::Choice { job, choice }, candidate.at);
            }
        };

        self.apply_flips(&flips);
        let mut column = Vec::new();
        match entering {
            Basic::Slack(row) => column.push((row, 1.0)),
            Basic::Choice { job, choice } => self.basis.column(model, job, choice, &mut column),
        }
        let direction = self.basis.solve(&column);
        if direction[at].abs() < PIVOT_TOLERANCE {
            if self.since_refresh == 0 || !self.refresh() {
                return Outcome::Stopped;
            }
            return Outcome::Solved;
        }
        self.basis.pivot(at, entering, &direction);
        for (price, ray) in self.price.iter_mut().zip(&ray_price) {
            *price += point * ray;
        }
        self.since_refresh += 1;
        Outcome::Solved
    }

    /// The first choice that undercuts `from` further along the ray.
    fn next_candidate(&self, job: usize, from: usize, prices: &Prices, ray: &Prices) -> Option<Candidate> {
        let model = self.model;
        let choices = &model.jobs[job].choices;
        let start = self.cost(job, from) + prices.of(model, job, choices[from].day);
        let start_slope = ray.of(model, job, choices[from].day);
        let mut best: Option<Candidate> = None;
        for (choice, entry) in choices.iter().enumerate() {
            let slope = ray.of(model, job, entry.day) - start_slope;
            if slope >= -PIVOT_TOLERANCE || self.is_banned(job, choice) {
                continue;
            }
            let above = self.cost(job, choice) + prices.of(model, job, entry.day) - start;
            let candidate = Candidate { at: above.max(0.0) / -slope, slope, job, choice };
            if best.as_ref().is_none_or(|best| candidate > *best) {
                best = Some(candidate);
            }
        }
        best
    }

    fn apply_flips(&mut self, flips: &[(usize, usize)]) {
        if flips.is_empty() {
            return;
        }
        let model = self.model;
        let mut change = vec![0.0; self.basis.rows.len()];
        for &(job, choice) in flips {
            let choices = &model.jobs[job].choices;
            for (choice, sign) in [(choice, 1.0), (self.basis.key[job], -1.0)] {
                model.claims(job, choices[choice].day, |row, claim| {
                    if self.basis.place[row] != usize::MAX {
                        change[self.basis.place[row]] += sign * claim;
                    }
                });
            }
            self.key_cost += self.cost(job, choice) - self.cost(job, self.basis.key[job]);
            self.basis.key[job] = choice;
        }
        for (value, line) in self.basis.value.iter_mut().zip(&self.basis.inverse) {
            *value -= line.iter().zip(&change).map(|(x, y)| x * y).sum::<f64>();
        }
    }
}
