//! One job of a plan: done, given another day, held on its day, or let go of.

use crate::domain::{
    BenchPin, BenchPlan, BenchPlanId, BikeId, Field, Form, Invalid, PlanResult, PlanState, SwapId, Visit,
};
use crate::service::swaps::EnterSwap;
use crate::service::{Mismatch, ServiceError, Services, UnitOfWork, record, swaps};
use crate::store::Tx;
use chrono::NaiveDate;

/// The plan of that id, accepted or proposed.
async fn plan_of(tx: &mut Tx, id: BenchPlanId) -> Result<BenchPlan, ServiceError> {
    for state in [PlanState::Accepted, PlanState::Proposed] {
        if let Some(plan) = tx.bench_plan(state).await?.filter(|plan| plan.id == id) {
            return Ok(plan);
        }
    }
    Err(ServiceError::NotFound { what: "bench plan" })
}

fn visit_of(result: &PlanResult, bike_id: BikeId) -> Option<&Visit> {
    let planned = result.days.iter().flat_map(|day| &day.visits);
    planned.chain(&result.left_out).find(|visit| visit.bike_id == bike_id)
}

fn no_job() -> ServiceError {
    ServiceError::NotFound { what: "job of the bench plan" }
}

/// Records the swaps of a job, as of now and with the same models, of those parts that are still on the bike.
///
/// # Errors
/// [`ServiceError::NotFound`]; whatever [`swaps::post`] refuses.
pub async fn done(
    services: &Services,
    work: &mut UnitOfWork,
    plan: BenchPlanId,
    bike_id: BikeId,
) -> Result<Vec<SwapId>, ServiceError> {
    let now = services.now();
    let (tx, _) = work.begin().await?;
    let plan = plan_of(tx, plan).await?;
    let visit = visit_of(&plan.result, bike_id).ok_or_else(no_job)?;
    let on = tx.open_fittings(bike_id).await?;
    let left: Vec<_> = visit
        .tasks
        .iter()
        .filter_map(|task| on.iter().find(|fitting| fitting.part_id == task.part_id))
        .map(|fitting| (fitting.place, fitting.position))
        .collect();
    let mut ids = Vec::new();
    for (place, position) in left {
        let enter = EnterSwap {
            swapped_at: now,
            place,
            position,
            model_id: None,
            reading: None,
            note: None,
            checklist: None,
            odometer: None,
            reason: None,
            mismatch: Mismatch::Refused,
        };
        ids.push(swaps::post(services, work, bike_id, enter).await?.swap.get().facts.id);
    }
    Ok(ids)
}

/// Gives a job a day of somebody's choice, and holds it there: plans made later keep it as long as they can.
///
/// # Errors
/// [`ServiceError::NotFound`]; [`ServiceError::Invalid`] at `/date` for a day that has passed or on which the bench doesn't
/// work.
pub async fn place(
    services: &Services,
    work: &mut UnitOfWork,
    plan: BenchPlanId,
    bike_id: BikeId,
    date: NaiveDate,
) -> Result<(), ServiceError> {
    let now = services.now();
    let (tx, actor) = work.begin().await?;
    let today = now.date_in(tx.workshop().await?.settings.time_zone);
    let mut plan = plan_of(tx, plan).await?;
    let is_open = plan.result.days.iter().any(|day| day.date == date);
    if date < today || !is_open {
        let cause = Invalid::unparsed(Field::Date, &date.to_string(), Form::BenchDayOfPlan);
        return Err(ServiceError::field("/date", cause));
    }
    let visit = visit_of(&plan.result, bike_id).ok_or_else(no_job)?.clone();
    let placed = Visit { date: Some(date), pinned: Some(date), by_hand: true, ..visit };
    if let Some(chain) = placed.tasks.first() {
        let pin = BenchPin { part_id: chain.part_id, bike_id, date, by_hand: true };
        tx.pin_on_bench(plan.id, &pin).await?;
    }
    put(&mut plan.result, placed);
    tx.change_bench_plan(plan.id, &plan.result).await?;
    record(tx, actor, now, "bench_job.move", format!("bikes/{bike_id}")).await?;
    Ok(())
}

/// Lets go of a job that somebody held on its day: the next plan may give it another. A promise of an accepted plan stays one.
///
/// # Errors
/// [`ServiceError::NotFound`].
pub async fn release(
    services: &Services,
    work: &mut UnitOfWork,
    plan: BenchPlanId,
    bike_id: BikeId,
) -> Result<(), ServiceError> {
    let now = services.now();
    let (tx, actor) = work.begin().await?;
    let mut plan = plan_of(tx, plan).await?;
    let visit = visit_of(&plan.result, bike_id).ok_or_else(no_job)?.clone();
    let promised = visit.date.filter(|_| plan.accepted_at.is_some());
    match (visit.tasks.first(), promised) {
        (Some(chain), Some(date)) => {
            let pin = BenchPin { part_id: chain.part_id, bike_id, date, by_hand: false };
            tx.pin_on_bench(plan.id, &pin).await?;
        }
        _ => tx.unpin_from_bench(bike_id).await?,
    }
    put(&mut plan.result, Visit { pinned: promised, by_hand: false, ..visit });
    tx.change_bench_plan(plan.id, &plan.result).await?;
    record(tx, actor, now, "bench_job.release", format!("bikes/{bike_id}")).await?;
    Ok(())
}

/// Puts a visit where it says that it is, with all sums of the plan.
fn put(result: &mut PlanResult, mut visit: Visit) {
    let bike_id = visit.bike_id;
    for day in &mut result.days {
        day.visits.retain(|other| other.bike_id != bike_id);
    }
    result.left_out.retain(|other| other.bike_id != bike_id);
    match visit.date {
        Some(date) => {
            let late = (date - visit.due).num_days() as f64;
            visit.cost_minor = match late >= 0.0 {
                true => late * visit.cost_late_per_day_minor,
                false => -late * visit.cost_early_per_day_minor,
            };
            for short in &mut result.short_of {
                short.bikes.retain(|label| *label != visit.label);
            }
            result.short_of.retain(|short| !short.bikes.is_empty());
            if let Some(day) = result.days.iter_mut().find(|day| day.date == date) {
                day.visits.push(visit);
            }
        }
        None => result.left_out.push(visit),
    }
    for day in &mut result.days {
        day.minutes_used = day.visits.iter().map(|visit| visit.minutes).sum();
    }
    let planned = result.days.iter().flat_map(|day| &day.visits);
    result.cost_minor = planned.chain(&result.left_out).map(|visit| visit.cost_minor).sum();
    // The bound was proven for the promises of then.
    result.is_optimal = false;
    result.bound_minor = result.bound_minor.min(result.cost_minor);
}
