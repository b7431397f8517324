//! The linear relaxation, solved by a dual simplex method on the working basis.
//!
//! It starts from every job on its cheapest choice, which is dual feasible, and mends one overfull row
//! after another. A step may carry many jobs from one key to the next before a choice enters the basis: it
//! goes to the top of the Lagrangian along the row's ray (the long-step ratio test, Maros 2003, M). Rows
//! come into use only when a solution breaks them.

use super::basis::{Basic, Basis};
use super::model::{Model, Stream, Work};
use super::prices::{PricedBound, Prices, bound_of, priced_bound};
use super::schedule::Schedule;

/// How a solve ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Outcome {
    /// All rows hold.
    Solved,
    /// No solution, or none below the cutoff.
    Closed,
    /// Numerical trouble or the work limit; the prices still give a bound.
    Stopped,
}

/// What became of keys that are closed.
enum Settled {
    Unchanged,
    Changed,
    NothingLeft,
    Singular,
}

pub(super) const VALUE_TOLERANCE: f64 = 1e-7;

/// State of the relaxation; cloned to go down two branches.
#[derive(Debug, Clone)]
pub(super) struct Relaxation<'m> {
    pub(super) model: &'m Model,
    pub basis: Basis,
    /// Price of each row in use, ≥ 0 up to rounding.
    pub(super) price: Vec<f64>,
    /// Costs with a tiny fixed disturbance, by job from `first`, which keeps ties from cycling.
    disturbed: std::rc::Rc<Vec<f64>>,
    first: std::rc::Rc<Vec<usize>>,
    banned: Vec<bool>,
    pub(super) since_refresh: usize,
    /// Sum of the keys' costs.
    pub(super) key_cost: f64,
}

impl<'m> Relaxation<'m> {
    pub fn new(model: &'m Model) -> Self {
        let mut first = vec![0];
        for job in &model.jobs {
            first.push(first[first.len() - 1] + job.choices.len());
        }
        let count = model.choice_count();
        let all = model.jobs.iter().flat_map(|job| &job.choices);
        let typical =
            all.clone().map(|choice| choice.cost.min(1e12).sqrt()).sum::<f64>() / (count.max(1) as f64);
        let mut stream = Stream(7);
        let disturbed = all
            .map(|choice| choice.cost + 1e-9 * stream.unit() * (choice.cost + typical * typical))
            .collect();
        let mut relaxation = Self {
            model,
            basis: Basis::new(model, vec![0; model.jobs.len()]),
            price: Vec::new(),
            disturbed: std::rc::Rc::new(disturbed),
            first: std::rc::Rc::new(first),
            banned: vec![false; count],
            since_refresh: 0,
            key_cost: 0.0,
        };
        for job in 0..model.jobs.len() {
            relaxation.basis.key[job] = relaxation.cheapest(job, &Prices::new(model, &[], &[])).unwrap_or(0);
        }
        relaxation.sum_keys();
        relaxation
    }

    /// This state on a model that keeps only some choices of each job; `kept` names them. `None` when a basic
    /// choice is not kept.
    pub fn on_fewer_choices<'r>(&self, fewer: &'r Model, kept: &[Vec<usize>]) -> Option<Relaxation<'r>> {
        let place = |job: usize, choice: usize| kept[job].iter().position(|&other| other == choice);
        let mut relaxation = Relaxation::new(fewer);
        let mut basis = self.basis.clone();
        for (job, key) in basis.key.iter_mut().enumerate() {
            *key = place(job, *key)?;
        }
        for basic in &mut basis.basic {
            if let Basic::Choice { job, choice } = basic {
                *choice = place(*job, *choice)?;
            }
        }
        relaxation.basis = basis;
        relaxation.price.clone_from(&self.price);
        // Refreshed before the first step, as the disturbances are others here.
        relaxation.since_refresh = usize::MAX / 2;
        relaxation.sum_keys();
        Some(relaxation)
    }

    fn sum_keys(&mut self) {
        self.key_cost = self.basis.key.iter().enumerate().map(|(job, &key)| self.cost(job, key)).sum();
    }

    pub(super) fn cost(&self, job: usize, choice: usize) -> f64 {
        self.disturbed[self.first[job] + choice]
    }

    pub fn is_banned(&self, job: usize, choice: usize) -> bool {
        self.banned[self.first[job] + choice]
    }

    fn cheapest(&self, job: usize, prices: &Prices) -> Option<usize> {
        let choices = &self.model.jobs[job].choices;
        let priced = |choice: usize| self.cost(job, choice) + prices.of(self.model, job, choices[choice].day);
        (0..choices.len())
            .filter(|&choice| !self.is_banned(job, choice))
            .map(|choice| (choice, priced(choice)))
            .min_by(|a, b| a.1.total_cmp(&b.1))
            .map(|best| best.0)
    }

    /// Closes choices. The next solve drives them out of the basis.
    pub fn ban(&mut self, job: usize, choices: impl Iterator<Item = usize>) {
        for choice in choices {
            self.banned[self.first[job] + choice] = true;
        }
    }

    /// Replaces closed keys of jobs without other basic choices.
    fn settle_keys(&mut self) -> Settled {
        let model = self.model;
        let prices = Prices::new(model, &self.basis.rows, &self.price);
        let mut changed = false;
        for job in 0..model.jobs.len() {
            if self.basis.members[job].is_empty() && self.is_banned(job, self.basis.key[job]) {
                let Some(choice) = self.cheapest(job, &prices) else { return Settled::NothingLeft };
                self.basis.key[job] = choice;
                changed = true;
            }
        }
        self.sum_keys();
        match changed {
            false => Settled::Unchanged,
            true if self.basis.refresh(model) => Settled::Changed,
            true => Settled::Singular,
        }
    }

    /// Objective of the current basis: a bound once it is dual feasible.
    pub fn objective(&self) -> f64 {
        let rest: f64 = self
            .basis
            .basic
            .iter()
            .zip(&self.basis.value)
            .map(|(basic, value)| match *basic {
                Basic::Slack(_) => 0.0,
                Basic::Choice { job, choice } => {
                    value * (self.cost(job, choice) - self.cost(job, self.basis.key[job]))
                }
            })
            .sum();
        self.key_cost + rest
    }

    /// Solves to optimality, or until the objective shows that nothing below `cutoff` is left.
    pub fn solve(&mut self, cutoff: f64, work: &mut Work) -> Outcome {
        match self.settle_keys() {
            Settled::NothingLeft => return Outcome::Closed,
            Settled::Singular => return Outcome::Stopped,
            Settled::Changed | Settled::Unchanged => {}
        }
        loop {
            let outcome = self.mend(cutoff, work);
            if outcome != Outcome::Solved {
                return outcome;
            }
            if !self.use_broken_rows(work) {
                return Outcome::Solved;
            }
        }
    }

    fn use_broken_rows(&mut self, work: &mut Work) -> bool {
        let model = self.model;
        let mut left: Vec<f64> = (0..model.row_count()).map(|row| model.available(row)).collect();
        for (job, entry) in model.jobs.iter().enumerate() {
            self.basis.each_value(job, |choice, value| {
                model.claims(job, entry.choices[choice].day, |row, claim| left[row] -= claim * value);
            });
        }
        work.spend(model.jobs.len() * 4);
        let mut added = false;
        for (row, &left) in left.iter().enumerate() {
            if self.basis.place[row] == usize::MAX && left < -VALUE_TOLERANCE {
                self.basis.add_row(model, row);
                self.price.push(0.0);
                added = true;
            }
        }
        added
    }

    /// The basic variable that is furthest out of its range: its place and +1 when it has to rise, −1 to
    /// fall. A key that is out of range changes places with another of its job's basic choices first.
    fn leaving(&mut self) -> Option<(usize, f64)> {
        let mut worst: Option<(usize, f64, f64)> = None;
        let mut worst_key: Option<(usize, f64)> = None;
        for (at, (&value, basic)) in self.basis.value.iter().zip(&self.basis.basic).enumerate() {
            let closed = matches!(*basic, Basic::Choice { job, choice } if self.is_banned(job, choice));
            let (amount, sign) = if closed { (value.abs(), -value.signum()) } else { (-value, 1.0) };
            if amount > VALUE_TOLERANCE && worst.is_none_or(|(.., most)| amount > most) {
                worst = Some((at, sign, amount));
                worst_key = None;
            }
            if let Basic::Choice { job, .. } = *basic {
                let value = self.basis.key_value(job);
                let closed = self.is_banned(job, self.basis.key[job]);
                let amount = if closed { value.abs() } else { -value };
                if amount > VALUE_TOLERANCE && worst.is_none_or(|(.., most)| amount > most) {
                    worst = Some((at, if closed { -value.signum() } else { 1.0 }, amount));
                    worst_key = Some((job, value));
                }
            }
        }
        let (at, sign, _) = worst?;
        if let Some((job, _)) = worst_key {
            let best = self.basis.members[job]
                .iter()
                .copied()
                .max_by(|&a, &b| self.basis.value[a].total_cmp(&self.basis.value[b]))
                .unwrap_or(at);
            self.key_cost -= self.cost(job, self.basis.key[job]);
            self.basis.exchange_key(job, best);
            self.key_cost += self.cost(job, self.basis.key[job]);
            return Some((best, sign));
        }
        Some((at, sign))
    }

    fn mend(&mut self, cutoff: f64, work: &mut Work) -> Outcome {
        let mut steps = 0;
        loop {
            if self.since_refresh > 60 && !self.refresh() {
                return Outcome::Stopped;
            }
            if self.objective() >= cutoff {
                return Outcome::Closed;
            }
            let Some((at, sign)) = self.leaving() else {
                if self.since_refresh > 0 {
                    if !self.refresh() {
                        return Outcome::Stopped;
                    }
                    if self.basis.value.iter().any(|&value| value < -VALUE_TOLERANCE) {
                        continue;
                    }
                }
                match self.settle_keys() {
                    Settled::NothingLeft => return Outcome::Closed,
                    Settled::Singular => return Outcome::Stopped,
                    Settled::Changed => continue,
                    Settled::Unchanged => {}
                }
                return Outcome::Solved;
            };
            steps += 1;
            if work.is_spent() || steps > 2000 + 20 * self.model.jobs.len() {
                return Outcome::Stopped;
            }
            match self.step(at, sign, cutoff, work) {
                Outcome::Solved => {}
                other => return other,
            }
        }
    }

    pub(super) fn refresh(&mut self) -> bool {
        self.since_refresh = 0;
        self.sum_keys();
        if !self.basis.refresh(self.model) {
            return false;
        }
        let size = self.basis.rows.len();
        let mut price = vec![0.0; size];
        for (basic, line) in self.basis.basic.iter().zip(&self.basis.inverse) {
            if let Basic::Choice { job, choice } = *basic {
                let gain = self.cost(job, choice) - self.cost(job, self.basis.key[job]);
                for (price, x) in price.iter_mut().zip(line) {
                    *price -= gain * x;
                }
            }
        }
        self.price = price;
        true
    }

    /// The proven bound of the present prices over the open choices.
    pub fn bound(&self) -> f64 {
        bound_of(self.model, &self.basis.rows, &self.price, |job, choice| !self.is_banned(job, choice))
    }

    /// The present price of each of the model's rows, 0 for those not in use.
    pub fn row_prices(&self) -> Vec<f64> {
        let mut prices = vec![0.0; self.model.row_count()];
        for (&row, &price) in self.basis.rows.iter().zip(&self.price) {
            prices[row] = price.max(0.0);
        }
        prices
    }

    fn priced(&self) -> PricedBound {
        priced_bound(self.model, &self.basis.rows, &self.price, |job, choice| !self.is_banned(job, choice))
    }

    /// The bound with prices of this basis at the undisturbed costs, when that is higher.
    pub fn best_bound(&self) -> PricedBound {
        let disturbed = self.priced();
        let mut price = vec![0.0; self.basis.rows.len()];
        for (basic, line) in self.basis.basic.iter().zip(&self.basis.inverse) {
            if let Basic::Choice { job, choice } = *basic {
                let choices = &self.model.jobs[job].choices;
                let gain = choices[choice].cost - choices[self.basis.key[job]].cost;
                for (price, x) in price.iter_mut().zip(line) {
                    *price -= gain * x;
                }
            }
        }
        let exact =
            priced_bound(self.model, &self.basis.rows, &price, |job, choice| !self.is_banned(job, choice));
        if exact.bound > disturbed.bound { exact } else { disturbed }
    }

    /// Jobs that are split between choices, with each choice's share.
    pub fn split_jobs(&self) -> Vec<(usize, Vec<(usize, f64)>)> {
        let mut split = Vec::new();
        for job in 0..self.basis.key.len() {
            if self.basis.members[job].is_empty() {
                continue;
            }
            let mut shares = Vec::new();
            self.basis.each_value(job, |choice, value| {
                if value > 1e-6 {
                    shares.push((choice, value));
                }
            });
            if shares.len() > 1 {
                split.push((job, shares));
            }
        }
        split
    }

    /// For each job whether it is split between choices.
    pub fn is_split(&self) -> Vec<bool> {
        let mut is_split = vec![false; self.model.jobs.len()];
        for (job, _) in self.split_jobs() {
            is_split[job] = true;
        }
        is_split
    }

    /// Every job on its largest share, where that fits, those that aren't split first; the rest is left out.
    pub fn rounded(&self) -> Schedule<'m> {
        let is_split = self.is_split();
        let (split, whole): (Vec<usize>, Vec<usize>) = (0..is_split.len()).partition(|&job| is_split[job]);
        Schedule::from_choices(self.model, &self.largest_shares(), whole.into_iter().chain(split))
    }

    /// The choice with the largest share of each job.
    pub fn largest_shares(&self) -> Vec<usize> {
        (0..self.basis.key.len())
            .map(|job| {
                let mut best = (self.basis.key[job], f64::NEG_INFINITY);
                self.basis.each_value(job, |choice, value| {
                    if value > best.1 {
                        best = (choice, value);
                    }
                });
                best.0
            })
            .collect()
    }
}
