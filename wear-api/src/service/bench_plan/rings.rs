//! Worn rings that aren't to be had: a chain doesn't wait for them.

use std::collections::{BTreeMap, BTreeSet};

use wear_core::bench::{Day, Plan, Problem};

use super::gather::Gathered;
use crate::domain::{PartModelId, Place, Visit};

/// Models that someone keeps count of, and of which none is there or comes within the window.
pub(super) fn not_to_be_had(gathered: &Gathered) -> BTreeSet<PartModelId> {
    let is_missing = |arrivals: &[(chrono::NaiveDate, u32)]| {
        arrivals.iter().filter(|(date, _)| *date <= gathered.window.to).all(|(_, count)| *count == 0)
    };
    gathered.supply.iter().filter(|(_, arrivals)| is_missing(arrivals)).map(|(model, _)| *model).collect()
}

/// For visits that the plan leaves out or takes off their promised day, by index: the models of rings that are too few
/// on a day on which all else that the visit needs is there.
pub(super) fn too_few(
    problem: &Problem,
    plan: &Plan,
    visits: &[Visit],
) -> BTreeMap<usize, BTreeSet<PartModelId>> {
    let shelf = Shelf::left_by(problem, plan);
    let held_back = plan.left_out.iter().chain(&plan.moved).map(|&job| {
        let rings: BTreeMap<String, PartModelId> = visits[job]
            .tasks
            .iter()
            .filter(|task| task.place == Place::Ring.as_str())
            .filter_map(|task| task.part_model_id.map(|model| (model.to_string(), model)))
            .collect();
        let entry = &problem.jobs()[job];
        // Who is only moved was promised one day.
        let promised = entry.pinned.filter(|_| shelf.placed[job].is_some());
        let short = |part: &str, day: usize| shelf.is_short(job, part, day);
        let days: Vec<usize> = (0..problem.days().len())
            .filter(|&at| {
                let day = problem.days()[at].day;
                entry.may_be_on(day) && promised.is_none_or(|promised| day == promised)
            })
            .filter(|&day| !entry.parts.keys().any(|part| !rings.contains_key(part) && short(part, day)))
            .collect();
        let too_few = rings.iter().filter(|(part, _)| days.iter().any(|&day| short(part, day)));
        (job, too_few.map(|(_, model)| *model).collect::<BTreeSet<_>>())
    });
    held_back.filter(|(_, models)| !models.is_empty()).collect()
}

/// What a plan leaves of the parts.
struct Shelf<'a> {
    problem: &'a Problem,
    /// For each job the index of its day.
    placed: Vec<Option<usize>>,
    /// Of each part that jobs use, what is left on each bench day.
    left: BTreeMap<&'a str, Vec<i64>>,
}

impl<'a> Shelf<'a> {
    fn left_by(problem: &'a Problem, plan: &Plan) -> Self {
        let days: Vec<Day> = problem.days().iter().map(|day| day.day).collect();
        let first_on = |day: Day| days.partition_point(|other| *other < day);
        let mut left: BTreeMap<&str, Vec<i64>> = BTreeMap::new();
        let mut change = |part: &'a str, from: usize, by: i64| {
            let counts = left.entry(part).or_insert_with(|| vec![0; days.len()]);
            counts.iter_mut().skip(from).for_each(|count| *count += by);
        };
        for arrival in problem.arrivals() {
            change(&arrival.part, first_on(arrival.day), i64::from(arrival.count));
        }
        let mut placed = vec![None; problem.jobs().len()];
        for placement in &plan.placements {
            let day = first_on(placement.day);
            placed[placement.job] = Some(day);
            for (part, count) in &problem.jobs()[placement.job].parts {
                change(part, day, -i64::from(*count));
            }
        }
        Self { problem, placed, left }
    }

    /// Whether the other jobs leave too few of a part for `job` to be on the day.
    fn is_short(&self, job: usize, part: &str, day: usize) -> bool {
        let needed = self.problem.jobs()[job].parts.get(part).map_or(0, |count| i64::from(*count));
        let own = |at: usize| if self.placed[job].is_some_and(|on| on <= at) { needed } else { 0 };
        let left = self.left.get(part).into_iter().flatten().enumerate().skip(day);
        left.map(|(at, left)| left + own(at)).min().unwrap_or(0) < needed
    }
}
