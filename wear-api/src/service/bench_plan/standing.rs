//! How a plan stands now: what is done, and which jobs no longer fit what the bench, the shelf and the bikes say today.

use std::collections::{BTreeMap, BTreeSet, HashMap};

use chrono::NaiveDate;

use super::gather::{self, DueBike, Gathered};
use super::visits;
use crate::domain::{
    Advice, BenchPlan, BikeId, ClosingTime, PartId, PartModelId, PlanReason, PlanWindow, PlannedDay,
    Timestamp, Visit, VisitTask,
};
use crate::service::{Actor, ServiceError, Services};

/// Why a job no longer fits.
#[derive(Debug, Clone, PartialEq)]
pub enum Trouble {
    /// Its day has passed, and it isn't done.
    DayPassed,
    /// The bench no longer works on its day.
    BenchClosed,
    /// It is today's, and the bench has no minute left today.
    TodayIsOver,
    /// The jobs of its day take longer than the day has, and it costs least to wait with this one.
    DayOverfull {
        /// Minutes that the day has now.
        has: u32,
        /// Minutes that the jobs of the day take.
        takes: u32,
    },
    /// The bike is away on its day.
    BikeAway,
    /// The chain is done, and something that was to go with it is still on.
    StillOn {
        /// What.
        task: VisitTask,
    },
    /// A part isn't there by its day.
    PartMissing {
        /// The job that lacks it.
        task: VisitTask,
    },
    /// The bike left the fleet.
    LeftFleet,
    /// By what is known now its chain can stay.
    ChainCanStay {
        /// Until when, where a day is known.
        until: Option<NaiveDate>,
    },
    /// A reading comes first by what is known now.
    MeasureFirst,
    /// Somebody has to look at the bike first.
    NeedsChecking,
    /// It is due before its day by what is known now.
    DueEarlier {
        /// When.
        due: NaiveDate,
    },
    /// Something is worn besides by now.
    AlsoWorn {
        /// What.
        task: VisitTask,
    },
}

/// How one job of a plan stands.
#[derive(Debug, Clone, PartialEq)]
pub enum JobState {
    /// As planned.
    Open,
    /// Its chain is off.
    Done {
        /// Since when.
        at: Timestamp,
    },
    /// It no longer fits.
    Troubled(Vec<Trouble>),
}

/// A bike that came due since the plan was made.
#[derive(Debug, Clone, PartialEq)]
pub struct NewlyDue {
    /// The bike.
    pub bike_id: BikeId,
    /// What people call it.
    pub label: String,
    /// When it is due.
    pub due: NaiveDate,
}

/// How a plan stands now.
#[derive(Debug, Clone, PartialEq)]
pub struct Standing {
    /// The present date where the workshop is.
    pub today: NaiveDate,
    /// When the bench closes.
    pub closes_at: ClosingTime,
    /// Of each bike that the plan has on a day.
    pub jobs: BTreeMap<BikeId, JobState>,
    /// Minutes that each day has now; of today, what is left.
    pub minutes: BTreeMap<NaiveDate, u32>,
    /// Bikes that are due within the plan's days and that it has neither on a day nor left out.
    pub newly_due: Vec<NewlyDue>,
    /// Parts that the jobs not done yet take off the shelf, by model.
    pub taken: BTreeMap<PartModelId, u32>,
}

impl Standing {
    /// How many jobs no longer fit.
    #[must_use]
    pub fn troubled(&self) -> usize {
        self.jobs.values().filter(|state| matches!(state, JobState::Troubled(_))).count()
    }

    /// How many jobs are done.
    #[must_use]
    pub fn done(&self) -> usize {
        self.jobs.values().filter(|state| matches!(state, JobState::Done { .. })).count()
    }
}

/// How a plan stands now.
///
/// # Errors
/// [`ServiceError`].
pub async fn of_plan(services: &Services, actor: &Actor, plan: &BenchPlan) -> Result<Standing, ServiceError> {
    let now = services.now();
    let mut tx = services.store.begin_read(actor).await?;
    let workshop = tx.workshop().await?;
    let today = now.date_in(workshop.settings.time_zone);
    let window = PlanWindow { from: plan.window.from.max(today), to: plan.window.to.max(today) };
    let gathered = gather::gather(&mut tx, workshop, window, now).await?;
    let planned: Vec<BikeId> = visits_of(plan).map(|(_, visit)| visit.bike_id).collect();
    let mut off: HashMap<PartId, Option<Timestamp>> = HashMap::new();
    for fitting in tx.fittings_of_bikes(&planned).await? {
        let ended = off.entry(fitting.part_id).or_insert(fitting.removed_at);
        // A part that is on now counts as on, whatever its earlier stays.
        *ended = ended.zip(fitting.removed_at).map(|(a, b)| a.max(b));
    }
    let retired: BTreeSet<BikeId> = tx
        .bikes_by_id(&planned)
        .await?
        .into_values()
        .filter(|bike| bike.retired_at.is_some())
        .map(|bike| bike.id)
        .collect();
    Ok(standing(plan, &gathered, &off, &retired, today))
}

fn visits_of(plan: &BenchPlan) -> impl Iterator<Item = (&PlannedDay, &Visit)> {
    plan.result.days.iter().flat_map(|day| day.visits.iter().map(move |visit| (day, visit)))
}

fn standing(
    plan: &BenchPlan,
    gathered: &Gathered,
    off: &HashMap<PartId, Option<Timestamp>>,
    retired: &BTreeSet<BikeId>,
    today: NaiveDate,
) -> Standing {
    let minutes: BTreeMap<NaiveDate, u32> =
        gathered.days.iter().map(|(date, minutes)| (*date, minutes.get())).collect();
    let due: HashMap<BikeId, &DueBike> = gathered.bikes.iter().map(|bike| (bike.bike_id, bike)).collect();
    let mut jobs = BTreeMap::new();
    let mut open: Vec<(&PlannedDay, &Visit)> = Vec::new();
    let mut troubles: BTreeMap<BikeId, Vec<Trouble>> = BTreeMap::new();
    for (day, visit) in visits_of(plan) {
        let chain = visit.tasks.first().map(|task| task.part_id);
        let removed = chain.and_then(|part| off.get(&part).copied().flatten());
        if let Some(at) = removed {
            let is_on = |task: &&VisitTask| matches!(off.get(&task.part_id), Some(None));
            let left: Vec<Trouble> = visit
                .tasks
                .iter()
                .filter(is_on)
                .map(|task| Trouble::StillOn { task: task.clone() })
                .collect();
            let state = if left.is_empty() { JobState::Done { at } } else { JobState::Troubled(left) };
            jobs.insert(visit.bike_id, state);
            continue;
        }
        let found = if retired.contains(&visit.bike_id) {
            vec![Trouble::LeftFleet]
        } else {
            of_bike(gathered, due.get(&visit.bike_id).copied(), day, visit, today)
        };
        if found.iter().all(|trouble| !is_over(trouble)) {
            open.push((day, visit));
        }
        troubles.entry(visit.bike_id).or_default().extend(found);
    }
    // Those that wait least gladly come first: what doesn't fit is what costs least to wait with.
    open.sort_by(|(a_day, a), (b_day, b)| {
        let by_cost = b.cost_late_per_day_minor.total_cmp(&a.cost_late_per_day_minor);
        a_day.date.cmp(&b_day.date).then(by_cost)
    });
    for (bike_id, trouble) in overfull(&open, &minutes, today) {
        troubles.entry(bike_id).or_default().push(trouble);
    }
    for (bike_id, trouble) in missing_parts(&open, gathered) {
        troubles.entry(bike_id).or_default().push(trouble);
    }
    let mut taken = BTreeMap::new();
    for model in open.iter().flat_map(|(_, visit)| &visit.tasks).filter_map(|task| task.part_model_id) {
        *taken.entry(model).or_insert(0) += 1;
    }
    for (bike_id, found) in troubles {
        let state = if found.is_empty() { JobState::Open } else { JobState::Troubled(found) };
        jobs.insert(bike_id, state);
    }
    let left_out: BTreeSet<BikeId> = plan.result.left_out.iter().map(|visit| visit.bike_id).collect();
    let is_new = |bike: &&DueBike| {
        !jobs.contains_key(&bike.bike_id) && !left_out.contains(&bike.bike_id) && bike.pinned.is_none()
    };
    let newly_due = gathered.bikes.iter().filter(is_new);
    Standing {
        newly_due: newly_due
            .map(|bike| NewlyDue {
                bike_id: bike.bike_id,
                label: bike.label.to_string(),
                due: due_now(bike, gathered.window.from),
            })
            .collect(),
        today,
        closes_at: gathered.settings.closes_at,
        jobs,
        minutes,
        taken,
    }
}

/// Whether the job needs neither minutes nor parts any more.
const fn is_over(trouble: &Trouble) -> bool {
    matches!(trouble, Trouble::LeftFleet | Trouble::ChainCanStay { .. })
}

fn due_now(bike: &DueBike, from: NaiveDate) -> NaiveDate {
    match bike.outlook.advice {
        Advice::SwapNow => from,
        _ => bike.outlook.swap_by().or(bike.pinned).unwrap_or(from),
    }
}

fn of_bike(
    gathered: &Gathered,
    bike: Option<&DueBike>,
    day: &PlannedDay,
    visit: &Visit,
    today: NaiveDate,
) -> Vec<Trouble> {
    let mut found = Vec::new();
    if day.date < today {
        found.push(Trouble::DayPassed);
    } else if !gathered.days.iter().any(|(date, _)| *date == day.date) {
        found.push(if day.date == today { Trouble::TodayIsOver } else { Trouble::BenchClosed });
    }
    let Some(bike) = bike else {
        if let Some(released) = gathered.released.iter().find(|it| it.bike_id == visit.bike_id) {
            let until = match released.reason {
                PlanReason::ChainCanStay { until } => until,
                _ => None,
            };
            found.push(Trouble::ChainCanStay { until });
        } else if gathered.to_measure.iter().any(|it| it.bike_id == visit.bike_id) {
            found.push(Trouble::MeasureFirst);
        } else if gathered.to_look_at.iter().any(|(bike_id, ..)| *bike_id == visit.bike_id) {
            found.push(Trouble::NeedsChecking);
        } else {
            found.push(Trouble::ChainCanStay { until: None });
        }
        return found;
    };
    if bike.away.iter().any(|&(first, last)| first <= day.date && day.date <= last) {
        found.push(Trouble::BikeAway);
    }
    let due = due_now(bike, gathered.window.from);
    if due < visit.due && due < day.date {
        found.push(Trouble::DueEarlier { due });
    }
    // What is worn by now goes in the same visit.
    let now = visits::visit(gathered, bike, &BTreeSet::new(), &mut BTreeSet::new());
    let known: BTreeSet<PartId> = visit
        .tasks
        .iter()
        .chain(visit.waiting.iter().map(|waiting| &waiting.task))
        .map(|task| task.part_id)
        .collect();
    let more = now.into_iter().flat_map(|visit| visit.tasks).filter(|task| !known.contains(&task.part_id));
    found.extend(more.map(|task| Trouble::AlsoWorn { task }));
    found
}

/// Jobs beyond the minutes of their day.
fn overfull(
    open: &[(&PlannedDay, &Visit)],
    minutes: &BTreeMap<NaiveDate, u32>,
    today: NaiveDate,
) -> Vec<(BikeId, Trouble)> {
    let mut found = Vec::new();
    for jobs in open.chunk_by(|(a, _), (b, _)| a.date == b.date) {
        let Some((day, _)) = jobs.first() else { continue };
        let Some(&has) = minutes.get(&day.date).filter(|_| day.date >= today) else { continue };
        let takes: u32 = jobs.iter().map(|(_, visit)| visit.minutes).sum();
        let mut used = 0;
        for (_, visit) in jobs {
            if used + visit.minutes <= has {
                used += visit.minutes;
            } else {
                found.push((visit.bike_id, Trouble::DayOverfull { has, takes }));
            }
        }
    }
    found
}

/// Jobs whose parts aren't there by their day.
fn missing_parts(open: &[(&PlannedDay, &Visit)], gathered: &Gathered) -> Vec<(BikeId, Trouble)> {
    let mut used: BTreeMap<PartModelId, u32> = BTreeMap::new();
    let mut found = Vec::new();
    for (day, visit) in open {
        for task in &visit.tasks {
            let Some(model) = task.part_model_id else { continue };
            let Some(arrivals) = gathered.supply.get(&model) else { continue };
            let by = day.date.max(gathered.window.from);
            let there: u32 = arrivals.iter().filter(|(date, _)| *date <= by).map(|(_, count)| count).sum();
            let used = used.entry(model).or_insert(0);
            if *used < there {
                *used += 1;
            } else {
                found.push((visit.bike_id, Trouble::PartMissing { task: task.clone() }));
            }
        }
    }
    found
}
