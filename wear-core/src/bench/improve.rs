//! Local search: single moves, and moves that push another job elsewhere.

use super::model::Work;
use super::schedule::Schedule;

/// Smallest gain that counts, as a share of the cost of the moves' jobs.
const LEAST_GAIN: f64 = 1e-9;

/// Improves until no move of the neighbourhood helps or the work is spent.
///
/// Moves: a job to a cheaper day; a job to a cheaper day while one job there (or, when a part is short,
/// one user of that part anywhere) goes to its best other day or is left out.
pub(super) fn improve(schedule: &mut Schedule<'_>, work: &mut Work) {
    let jobs = schedule.model().jobs.len();
    let mut quiet = 0;
    let mut job = 0;
    while quiet < jobs && !work.is_spent() {
        if improve_job(schedule, job, work) {
            quiet = 0;
        } else {
            quiet += 1;
        }
        job = (job + 1) % jobs;
    }
    schedule.recount();
}

fn improve_job(schedule: &mut Schedule<'_>, job: usize, work: &mut Work) -> bool {
    let model = schedule.model();
    let before = schedule.chosen()[job];
    let now = schedule.cost_of(job);
    if now <= model.jobs[job].choices[0].cost {
        return false;
    }
    schedule.take(job);
    for (choice, entry) in model.jobs[job].choices.iter().enumerate() {
        let gain = now - entry.cost;
        if gain <= LEAST_GAIN * now {
            break;
        }
        work.spend(8);
        let minutes = schedule.has_minutes(job, entry.day, 0.0);
        let parts = schedule.has_parts(job, entry.day);
        if minutes && parts {
            schedule.put(job, choice);
            return true;
        }
        let pushed = if parts || !minutes {
            schedule.jobs_on(entry.day).to_vec()
        } else {
            users_of_short_parts(schedule, job)
        };
        for other in pushed {
            if other != job && push(schedule, job, choice, other, gain, work) {
                return true;
            }
        }
    }
    schedule.put(job, before);
    false
}

fn users_of_short_parts(schedule: &Schedule<'_>, job: usize) -> Vec<usize> {
    let model = schedule.model();
    (0..model.jobs.len())
        .filter(|&other| {
            !schedule.is_out(other)
                && model.jobs[other]
                    .needs
                    .iter()
                    .any(|need| model.jobs[job].needs.iter().any(|own| own.0 == need.0))
        })
        .collect()
}

/// Puts `job` on `choice` by moving `other` to a choice that costs it less than `gain` more.
fn push(
    schedule: &mut Schedule<'_>,
    job: usize,
    choice: usize,
    other: usize,
    gain: f64,
    work: &mut Work,
) -> bool {
    let model = schedule.model();
    let day = model.jobs[job].choices[choice].day;
    let other_day = schedule.day_of(other);
    let freed = if other_day == day { model.jobs[other].minutes } else { 0.0 };
    work.spend(4);
    if !schedule.has_minutes(job, day, freed) {
        return false;
    }
    let other_choice = schedule.chosen()[other];
    let other_cost = schedule.cost_of(other);
    let dearest = other_cost + gain - LEAST_GAIN * (other_cost + gain);
    if !model.jobs[other].choices.iter().any(|entry| entry.day != other_day && entry.cost < dearest) {
        return false;
    }
    schedule.take(other);
    work.spend(20);
    if schedule.fits(job, choice) {
        schedule.put(job, choice);
        for (index, entry) in model.jobs[other].choices.iter().enumerate() {
            if entry.cost >= dearest {
                break;
            }
            work.spend(6);
            if index != other_choice && schedule.fits(other, index) {
                schedule.put(other, index);
                return true;
            }
        }
        schedule.take(job);
    }
    schedule.put(other, other_choice);
    false
}
