//! What a bench plan is asked for, checked.

use std::collections::{BTreeMap, HashMap, HashSet};

use thiserror::Error;

use crate::bounds::{self, OutOfRange};

/// A calendar day as a number of days from any fixed day. Only differences matter.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Day(pub i32);

impl Day {
    /// Days from `earlier` to `self`; negative when `self` comes first.
    #[must_use]
    pub fn days_after(self, earlier: Self) -> i64 {
        i64::from(self.0) - i64::from(earlier.0)
    }
}

/// A day on which the bench works.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BenchDay {
    /// The calendar day.
    pub day: Day,
    /// Minutes that jobs may take in sum, in [`bounds::BENCH_MINUTES`].
    pub minutes: f64,
}

/// Parts that come in. Arrivals of one part add up.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Arrival {
    /// Name of the part.
    pub part: String,
    /// First day on which the parts may be used; any day, before the first bench day too.
    pub day: Day,
    /// How many, in [`bounds::PART_COUNT`].
    pub count: u32,
}

/// One job to be put on a day or left out.
#[derive(Debug, Clone, PartialEq)]
pub struct Job {
    /// Name, unique in the problem.
    pub id: String,
    /// Minutes it takes, in [`bounds::JOB_MINUTES`].
    pub minutes: f64,
    /// Parts it uses, each count in [`bounds::PART_COUNT`].
    pub parts: BTreeMap<String, u32>,
    /// First day it may be on; `None` for any.
    pub earliest: Option<Day>,
    /// Days on which it may not be on the bench, as first and last of each stretch.
    pub away: Vec<(Day, Day)>,
    /// The day on which it costs nothing.
    pub due: Day,
    /// Cost of each day before `due`, in [`bounds::PLAN_COST`].
    pub cost_early_per_day: f64,
    /// Cost of each day after `due`, in [`bounds::PLAN_COST`].
    pub cost_late_per_day: f64,
    /// Cost of being left out, in [`bounds::PLAN_COST`].
    pub cost_left_out: f64,
    /// The day an accepted plan put it on. A new plan moves as few of these as it can.
    pub pinned: Option<Day>,
}

impl Job {
    /// (days before due) × early, or (days after due) × late.
    #[must_use]
    pub fn cost_on(&self, day: Day) -> f64 {
        let late = day.days_after(self.due);
        if late < 0 { -late as f64 * self.cost_early_per_day } else { late as f64 * self.cost_late_per_day }
    }

    /// Is the job allowed on `day` as far as its earliest day and the days it is away go?
    #[must_use]
    pub fn may_be_on(&self, day: Day) -> bool {
        self.earliest.is_none_or(|earliest| day >= earliest)
            && !self.away.iter().any(|&(first, last)| first <= day && day <= last)
    }
}

/// A bench plan to be made. The days are distinct and in order, the jobs' ids distinct, all numbers legal.
#[derive(Debug, Clone, PartialEq)]
pub struct Problem {
    days: Vec<BenchDay>,
    arrivals: Vec<Arrival>,
    jobs: Vec<Job>,
}

/// Why a problem is refused.
#[derive(Debug, Clone, PartialEq, Error)]
#[non_exhaustive]
pub enum ProblemError {
    /// A day's number is out of range.
    #[error("days[{index}].{field}: {source}")]
    BenchDay {
        /// Place in the list.
        index: usize,
        /// The field.
        field: &'static str,
        /// What was given and what is allowed.
        source: OutOfRange,
    },
    /// An arrival's number is out of range.
    #[error("arrivals[{index}].{field} (part \"{part}\"): {source}")]
    Arrival {
        /// Place in the list.
        index: usize,
        /// The part's name.
        part: String,
        /// The field.
        field: &'static str,
        /// What was given and what is allowed.
        source: OutOfRange,
    },
    /// A job's number is out of range.
    #[error("jobs[{index}].{field} (id \"{id}\"): {source}")]
    Job {
        /// Place in the list.
        index: usize,
        /// The job's id.
        id: String,
        /// The field.
        field: &'static str,
        /// What was given and what is allowed.
        source: OutOfRange,
    },
    /// The same day is listed twice.
    #[error("days[{index}].date: day {day:?} is listed before at days[{first}], allowed once")]
    DayTwice {
        /// Place of the second.
        index: usize,
        /// Place of the first.
        first: usize,
        /// The day.
        day: Day,
    },
    /// Two jobs have one id.
    #[error("jobs[{index}].id: \"{id}\" is the id of jobs[{first}] too, allowed once")]
    JobTwice {
        /// Place of the second.
        index: usize,
        /// Place of the first.
        first: usize,
        /// The id.
        id: String,
    },
    /// A name is empty.
    #[error("{list}[{index}].{field}: \"\" is empty, allowed is any other text")]
    NoName {
        /// The list.
        list: &'static str,
        /// Place in the list.
        index: usize,
        /// The field.
        field: &'static str,
    },
}

impl Problem {
    /// Checks a problem. Days may come in any order and may have gaps.
    ///
    /// # Errors
    /// [`ProblemError`], naming the list, the place and the field, for a number out of range, a day listed
    /// twice, two jobs of one id, or an empty name.
    pub fn new(
        mut days: Vec<BenchDay>,
        arrivals: Vec<Arrival>,
        jobs: Vec<Job>,
    ) -> Result<Self, ProblemError> {
        let mut seen_days = HashMap::new();
        for (index, day) in days.iter().enumerate() {
            bounds::BENCH_MINUTES.check(day.minutes).map_err(|source| ProblemError::BenchDay {
                index,
                field: "minutes",
                source,
            })?;
            if let Some(first) = seen_days.insert(day.day, index) {
                return Err(ProblemError::DayTwice { index, first, day: day.day });
            }
        }
        for (index, arrival) in arrivals.iter().enumerate() {
            if arrival.part.is_empty() {
                return Err(ProblemError::NoName { list: "arrivals", index, field: "part" });
            }
            bounds::PART_COUNT.check(f64::from(arrival.count)).map_err(|source| ProblemError::Arrival {
                index,
                part: arrival.part.clone(),
                field: "count",
                source,
            })?;
        }
        let mut seen_jobs = HashMap::new();
        for (index, job) in jobs.iter().enumerate() {
            if job.id.is_empty() {
                return Err(ProblemError::NoName { list: "jobs", index, field: "id" });
            }
            if let Some(first) = seen_jobs.insert(job.id.as_str(), index) {
                return Err(ProblemError::JobTwice { index, first, id: job.id.clone() });
            }
            check_job(index, job)?;
        }
        days.sort_by_key(|day| day.day);
        Ok(Self { days, arrivals, jobs })
    }

    /// The days in order.
    #[must_use]
    pub fn days(&self) -> &[BenchDay] {
        &self.days
    }

    /// The arrivals as given.
    #[must_use]
    pub fn arrivals(&self) -> &[Arrival] {
        &self.arrivals
    }

    /// The jobs as given.
    #[must_use]
    pub fn jobs(&self) -> &[Job] {
        &self.jobs
    }

    /// Names of all parts that a job uses, in order.
    pub(super) fn parts_used(&self) -> Vec<&str> {
        let mut parts: Vec<&str> = self
            .jobs
            .iter()
            .flat_map(|job| job.parts.iter().filter(|part| *part.1 > 0).map(|part| part.0.as_str()))
            .collect::<HashSet<_>>()
            .into_iter()
            .collect();
        parts.sort_unstable();
        parts
    }
}

fn check_job(index: usize, job: &Job) -> Result<(), ProblemError> {
    let numbers = [
        ("minutes", &bounds::JOB_MINUTES, job.minutes),
        ("cost_early_per_day", &bounds::PLAN_COST, job.cost_early_per_day),
        ("cost_late_per_day", &bounds::PLAN_COST, job.cost_late_per_day),
        ("cost_left_out", &bounds::PLAN_COST, job.cost_left_out),
    ];
    let counts = job.parts.values().map(|&count| ("parts", &bounds::PART_COUNT, f64::from(count)));
    for (field, bound, value) in numbers.into_iter().chain(counts) {
        bound.check(value).map_err(|source| ProblemError::Job {
            index,
            id: job.id.clone(),
            field,
            source,
        })?;
    }
    if job.parts.keys().any(String::is_empty) {
        return Err(ProblemError::NoName { list: "jobs", index, field: "parts" });
    }
    Ok(())
}
