//! What a plan is short of.

use std::collections::BTreeMap;

use super::problem::{Day, Problem};

/// A limit that keeps jobs from the day they would cost least on, and by how much it falls short.
#[derive(Debug, Clone, PartialEq)]
pub enum Shortage {
    /// The jobs need this many more minutes on a day.
    Minutes {
        /// The day.
        day: Day,
        /// Minutes missing.
        minutes: f64,
        /// The jobs that are late or left out, as indices.
        jobs: Vec<usize>,
    },
    /// The jobs need this many more of a part by a day.
    Part {
        /// The part's name.
        part: String,
        /// The day by which the most is missing.
        day: Day,
        /// How many are missing.
        count: u64,
        /// The jobs that are late or left out, as indices.
        jobs: Vec<usize>,
    },
    /// A job may not be on any bench day: its earliest day comes after the last.
    Earliest {
        /// The job's index.
        job: usize,
        /// Its earliest day.
        day: Day,
        /// Days from the last bench day to it.
        days: i64,
    },
    /// A job takes longer than each day that it may be on.
    Length {
        /// The job's index.
        job: usize,
        /// The longest of those days.
        day: Day,
        /// Minutes that even that day lacks.
        minutes: f64,
    },
    /// A job is away on every bench day that it could be on.
    Away {
        /// The job's index.
        job: usize,
    },
}

/// A job that is longer than each day it may be on, or may be on none, says so. Each other job that is late or left out
/// although another day would cost less is counted on the day on which it would cost least. What these jobs need there,
/// beyond what the plan leaves free, is missing. A job that waits for a part doesn't wait for minutes.
pub(super) fn shortages(problem: &Problem, placed: &[Option<usize>]) -> Vec<Shortage> {
    let days = problem.days();
    let jobs = problem.jobs();
    let mut short = Vec::new();
    let mut waiting: Vec<(usize, usize)> = Vec::new();
    for (index, job) in jobs.iter().enumerate() {
        let (late, cost) = match placed[index] {
            None => (true, job.cost_left_out),
            Some(day) => (days[day].day > job.due, job.cost_on(days[day].day)),
        };
        if !late {
            continue;
        }
        let open = || (0..days.len()).filter(|&day| job.may_be_on(days[day].day));
        let longest = open().reduce(|a, b| if days[b].minutes > days[a].minutes { b } else { a });
        if let Some(longest) = longest {
            let minutes = job.minutes - days[longest].minutes;
            if minutes > 1e-6 * days[longest].minutes.max(1.0) {
                short.push(Shortage::Length { job: index, day: days[longest].day, minutes });
                continue;
            }
        }
        let best = open().min_by(|&a, &b| job.cost_on(days[a].day).total_cmp(&job.cost_on(days[b].day)));
        match (best, job.earliest, days.last()) {
            (Some(best), ..) if job.cost_on(days[best].day) < cost => waiting.push((index, best)),
            (None, Some(earliest), Some(last)) if earliest > last.day => short.push(Shortage::Earliest {
                job: index,
                day: earliest,
                days: earliest.days_after(last.day),
            }),
            (None, _, Some(_)) => short.push(Shortage::Away { job: index }),
            _ => {}
        }
    }
    let parts = parts_short(problem, placed, &waiting);
    let waits_for_part = |job: usize| {
        parts.iter().any(|shortage| matches!(shortage, Shortage::Part { jobs, .. } if jobs.contains(&job)))
    };
    waiting.retain(|entry| !waits_for_part(entry.0));
    short.extend(minutes_short(problem, placed, &waiting));
    short.extend(parts);
    short
}

fn minutes_short(problem: &Problem, placed: &[Option<usize>], waiting: &[(usize, usize)]) -> Vec<Shortage> {
    let mut on: Vec<Vec<usize>> = vec![Vec::new(); problem.days().len()];
    for (job, day) in placed.iter().enumerate() {
        if let Some(day) = day {
            on[*day].push(job);
        }
    }
    let mut short = Vec::new();
    for (day, mut all) in on.into_iter().enumerate() {
        let here: Vec<usize> = waiting.iter().filter(|entry| entry.1 == day).map(|entry| entry.0).collect();
        all.extend(&here);
        let minutes = problem.minutes_of(&all) - problem.days()[day].minutes;
        if minutes > 1e-6 && !here.is_empty() {
            short.push(Shortage::Minutes { day: problem.days()[day].day, minutes, jobs: here });
        }
    }
    short
}

fn parts_short(problem: &Problem, placed: &[Option<usize>], waiting: &[(usize, usize)]) -> Vec<Shortage> {
    let jobs = problem.jobs();
    let days = problem.days();
    let mut by_part: BTreeMap<&str, Vec<(usize, usize)>> = BTreeMap::new();
    for &(job, day) in waiting {
        for (part, _) in jobs[job].parts.iter().filter(|need| *need.1 > 0) {
            by_part.entry(part).or_default().push((job, day));
        }
    }
    let mut short = Vec::new();
    for (part, users) in by_part {
        let mut worst: Option<(i64, usize)> = None;
        for (at, day) in days.iter().enumerate() {
            let count_of = |job: usize| i64::from(jobs[job].parts.get(part).copied().unwrap_or(0));
            let arrived: i64 = problem
                .arrivals()
                .iter()
                .filter(|arrival| arrival.part == part && arrival.day <= day.day)
                .map(|arrival| i64::from(arrival.count))
                .sum();
            let used: i64 = placed
                .iter()
                .enumerate()
                .filter(|(_, on)| on.is_some_and(|on| on <= at))
                .map(|(job, _)| count_of(job))
                .sum();
            // A late user of the part is counted where it would rather be, not where it is.
            let wanted: i64 = users
                .iter()
                .filter(|&&(job, wish)| wish <= at && placed[job].is_none_or(|on| on > at))
                .map(|&(job, _)| count_of(job))
                .sum();
            let missing = used + wanted - arrived;
            if missing > 0 && worst.is_none_or(|(most, _)| missing > most) {
                worst = Some((missing, at));
            }
        }
        if let Some((missing, at)) = worst {
            let jobs = users.iter().filter(|user| user.1 <= at).map(|user| user.0).collect();
            short.push(Shortage::Part {
                part: part.to_owned(),
                day: days[at].day,
                count: missing.unsigned_abs(),
                jobs,
            });
        }
    }
    short
}
