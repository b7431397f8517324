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
    /// Minutes it takes, setting up included, in [`bounds::JOB_MINUTES`].
    pub minutes: f64,
    /// The bike it is on, where others may be on the same: on one day they set up once.
    pub bike: Option<String>,
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
    setup_minutes: f64,
    /// Jobs of each bike that has several, when setting up takes time.
    companions: BTreeMap<usize, Vec<usize>>,
    /// By job its bike's place in `companions`.
    bikes: Vec<Option<usize>>,
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
    /// Setting up takes longer than a job that it is a part of.
    #[error(
        "setup_minutes is {setup}, allowed is at most the minutes of each job that shares its bike: jobs[{index}] (id \"{id}\") takes {minutes}"
    )]
    SetUp {
        /// Minutes of setting up.
        setup: f64,
        /// Place of the job in the list.
        index: usize,
        /// The job's id.
        id: String,
        /// The job's minutes.
        minutes: f64,
    },
    /// Minutes of setting up are out of range.
    #[error("setup_minutes: {0}")]
    SetUpRange(OutOfRange),
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
        let bikes = vec![None; jobs.len()];
        Ok(Self { days, arrivals, jobs, setup_minutes: 0.0, companions: BTreeMap::new(), bikes })
    }

    /// The same with minutes of setting up, which are part of each job's minutes and which n jobs of one bike on one
    /// day take once and not n times.
    ///
    /// # Errors
    /// [`ProblemError::SetUpRange`] outside [`bounds::JOB_MINUTES`]; [`ProblemError::SetUp`] when a job that shares
    /// its bike takes less.
    pub fn with_setup_minutes(mut self, setup_minutes: f64) -> Result<Self, ProblemError> {
        self.setup_minutes = bounds::JOB_MINUTES.check(setup_minutes).map_err(ProblemError::SetUpRange)?;
        let mut by_bike: BTreeMap<&str, Vec<usize>> = BTreeMap::new();
        for (index, job) in self.jobs.iter().enumerate() {
            if let Some(bike) = &job.bike {
                by_bike.entry(bike).or_default().push(index);
            }
        }
        self.companions = by_bike.into_values().filter(|jobs| jobs.len() > 1).enumerate().collect();
        if setup_minutes <= 0.0 {
            self.companions.clear();
        }
        for (&bike, jobs) in &self.companions {
            for &index in jobs {
                let job = &self.jobs[index];
                if job.minutes < setup_minutes {
                    let (id, minutes) = (job.id.clone(), job.minutes);
                    return Err(ProblemError::SetUp { setup: setup_minutes, index, id, minutes });
                }
                self.bikes[index] = Some(bike);
            }
        }
        Ok(self)
    }

    /// Minutes that a bike's second job on a day saves, and every further one.
    #[must_use]
    pub fn setup_minutes(&self) -> f64 {
        self.setup_minutes
    }

    /// Minutes of jobs that are on one day, each bike set up once.
    #[must_use]
    pub fn minutes_of(&self, jobs: &[usize]) -> f64 {
        let mut bikes = HashSet::new();
        let set_up_before =
            jobs.iter().filter(|&&job| self.bikes[job].is_some_and(|bike| !bikes.insert(bike))).count();
        let saved = set_up_before as f64 * self.setup_minutes;
        jobs.iter().map(|&job| self.jobs[job].minutes).sum::<f64>() - saved
    }

    /// Jobs of each bike that has several, by a number of the bike; empty when setting up takes no time.
    pub(super) fn companions(&self) -> &BTreeMap<usize, Vec<usize>> {
        &self.companions
    }

    /// The number of a job's bike, when it has several jobs.
    pub(super) fn bike_of(&self, job: usize) -> Option<usize> {
        self.bikes[job]
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
