//! A plan under construction: who is where, and what is left of every row.

use super::model::{FIT_TOLERANCE, Model};

/// A feasible choice for every job.
#[derive(Debug, Clone)]
pub(super) struct Schedule<'m> {
    model: &'m Model,
    chosen: Vec<usize>,
    left: Vec<f64>,
    /// Jobs by day; the last entry are those left out.
    on_day: Vec<Vec<usize>>,
    /// Place of each job in its day's list.
    place: Vec<usize>,
    /// For each job the choice of being left out.
    out: Vec<usize>,
}

impl<'m> Schedule<'m> {
    /// Every job left out.
    pub fn empty(model: &'m Model) -> Self {
        let out_day = model.left_out_day();
        let out: Vec<usize> = model
            .jobs
            .iter()
            .map(|job| job.choices.iter().position(|choice| choice.day == out_day).unwrap_or(0))
            .collect();
        let mut on_day = vec![Vec::new(); out_day + 1];
        on_day[out_day] = (0..model.jobs.len()).collect();
        let left = (0..model.row_count()).map(|row| model.available(row)).collect();
        Self { model, chosen: out.clone(), left, on_day, place: (0..model.jobs.len()).collect(), out }
    }

    /// As much of `wanted` as fits, in the order of the jobs given; the rest is left out.
    pub fn from_choices(model: &'m Model, wanted: &[usize], order: impl Iterator<Item = usize>) -> Self {
        let mut schedule = Self::empty(model);
        for job in order {
            if schedule.fits(job, wanted[job]) {
                schedule.put(job, wanted[job]);
            }
        }
        schedule
    }

    pub fn model(&self) -> &'m Model {
        self.model
    }

    pub fn chosen(&self) -> &[usize] {
        &self.chosen
    }

    pub fn cost(&self) -> f64 {
        self.model.cost(&self.chosen)
    }

    pub fn cost_of(&self, job: usize) -> f64 {
        self.model.jobs[job].choices[self.chosen[job]].cost
    }

    pub fn day_of(&self, job: usize) -> usize {
        self.model.jobs[job].choices[self.chosen[job]].day
    }

    pub fn jobs_on(&self, day: usize) -> &[usize] {
        &self.on_day[day]
    }

    pub fn is_out(&self, job: usize) -> bool {
        self.day_of(job) == self.model.left_out_day()
    }

    /// What is left of a row.
    pub fn left(&self, row: usize) -> f64 {
        self.left[row]
    }

    /// Takes a job off its day.
    pub fn take(&mut self, job: usize) {
        self.put(job, self.out[job]);
    }

    /// Puts a job on a choice, whether it fits or not.
    pub fn put(&mut self, job: usize, choice: usize) {
        let (model, left) = (self.model, &mut self.left);
        let from = model.jobs[job].choices[self.chosen[job]].day;
        let to = model.jobs[job].choices[choice].day;
        model.claims(job, from, |row, claim| left[row] += claim);
        model.claims(job, to, |row, claim| left[row] -= claim);
        let at = self.place[job];
        self.on_day[from].swap_remove(at);
        if let Some(&follower) = self.on_day[from].get(at) {
            self.place[follower] = at;
        }
        self.place[job] = self.on_day[to].len();
        self.on_day[to].push(job);
        self.chosen[job] = choice;
    }

    /// Does a job that is out fit on a choice?
    pub fn fits(&self, job: usize, choice: usize) -> bool {
        let day = self.model.jobs[job].choices[choice].day;
        self.has_minutes(job, day, 0.0) && self.has_parts(job, day)
    }

    /// Are there minutes for `job` on `day` once `freed` more are free?
    pub fn has_minutes(&self, job: usize, day: usize, freed: f64) -> bool {
        day == self.model.left_out_day() || self.enough(day, self.model.jobs[job].minutes - freed)
    }

    fn enough(&self, row: usize, claim: f64) -> bool {
        claim <= self.left[row] + FIT_TOLERANCE * self.model.available(row).max(1.0)
    }

    /// Are there parts for a job that is out on `day`?
    pub fn has_parts(&self, job: usize, day: usize) -> bool {
        let days = self.model.left_out_day();
        day == days
            || self.model.jobs[job].needs.iter().all(|&(part, count)| {
                self.model
                    .limits_of(part)
                    .all(|index| day > self.model.limits[index].last_day || self.enough(days + index, count))
            })
    }

    /// The part that a job that is out lacks on `day`, and the last day of the limit that says so.
    pub fn short_part(&self, job: usize, day: usize) -> Option<(usize, usize)> {
        let days = self.model.left_out_day();
        let mut limits = self.model.jobs[job]
            .needs
            .iter()
            .flat_map(|&(part, count)| self.model.limits_of(part).map(move |index| (part, count, index)));
        limits.find_map(|(part, count, index)| {
            let last_day = self.model.limits[index].last_day;
            (day <= last_day && !self.enough(days + index, count)).then_some((part, last_day))
        })
    }

    /// Recomputes what is left from the choices, against drift.
    pub fn recount(&mut self) {
        let model = self.model;
        for row in 0..self.left.len() {
            self.left[row] = model.available(row);
        }
        let left = &mut self.left;
        for (job, &choice) in self.chosen.iter().enumerate() {
            model.claims(job, model.jobs[job].choices[choice].day, |row, claim| left[row] -= claim);
        }
    }
}
