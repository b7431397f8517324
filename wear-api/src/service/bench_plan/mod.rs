//! The bench plan: who is on the bench on which day.
//!
//! `gather` reads what a plan rests on, `visits` makes one visit of what a bike needs, the core plans, `rings` says whose
//! chain would wait for a ring (then the core plans again without that ring), `answer` puts the plan into words. A plan
//! is a proposal until it is accepted; then its days are promises, and the next plan moves as few of them as it can.

mod answer;
mod gather;
pub mod jobs;
mod rings;
pub mod standing;
mod visits;

use crate::service::Conflict;
use chrono::Days;

use super::{Actor, ServiceError, Services, UnitOfWork, record};
use crate::domain::{BenchPin, BenchPlan, BenchPlanId, Field, Form, Invalid, PlanState, PlanWindow, Visit};

/// Most days of one plan.
pub const LONGEST_WINDOW: u64 = 92;

/// Days of a plan whose last day isn't given.
pub const USUAL_WINDOW: u64 = 14;

/// Computes a plan and keeps it as the workshop's proposal, in place of the one before.
///
/// # Errors
/// [`ServiceError::Invalid`] for a window that is empty, too long or in the past.
pub async fn compute(
    services: &Services,
    work: &mut UnitOfWork,
    window: PlanWindow,
) -> Result<BenchPlan, ServiceError> {
    let now = services.now();
    let mut tx = services.store.begin_read(work.actor()).await?;
    let workshop = tx.workshop().await?;
    check(window, now.date_in(workshop.settings.time_zone))?;
    let gathered = gather::gather(&mut tx, workshop, window, now).await?;
    drop(tx);
    // The core may think for seconds; other requests are answered meanwhile.
    let result = tokio::task::spawn_blocking(move || answer::plan(&gathered))
        .await
        .map_err(|_| ServiceError::Unplanned { cause: "the planner was stopped".to_owned() })??;
    let plan = BenchPlan { id: BenchPlanId::generate(), window, computed_at: now, accepted_at: None, result };
    let (tx, actor) = work.begin().await?;
    tx.propose_bench_plan(&plan).await?;
    record(tx, actor, now, "bench_plan.compute", format!("bench-plan/{}", plan.id)).await?;
    Ok(plan)
}

fn check(window: PlanWindow, today: chrono::NaiveDate) -> Result<(), ServiceError> {
    if window.from < today {
        let allowed = Form::TodayOrLater;
        let cause = Invalid::unparsed(Field::FromInThePast, &window.from.to_string(), allowed);
        return Err(ServiceError::field("/from", cause));
    }
    let last = window.from.checked_add_days(Days::new(LONGEST_WINDOW - 1));
    if window.to < window.from || last.is_none_or(|last| window.to > last) {
        let cause = Invalid::Together { what: Field::FromAndTo, allowed: Form::Window92 };
        return Err(ServiceError::field("/to", cause));
    }
    Ok(())
}

/// The standing plan: the one in the given state, or where none is given the accepted one and failing that the
/// proposal.
///
/// # Errors
/// [`ServiceError::NotFound`].
pub async fn get(
    services: &Services,
    actor: &Actor,
    state: Option<PlanState>,
) -> Result<BenchPlan, ServiceError> {
    let mut tx = services.store.begin_read(actor).await?;
    let states = match state {
        Some(state) => vec![state],
        None => vec![PlanState::Accepted, PlanState::Proposed],
    };
    for state in states {
        if let Some(plan) = tx.bench_plan(state).await? {
            return Ok(plan);
        }
    }
    Err(ServiceError::NotFound { what: "bench plan" })
}

/// Accepts the proposal: its days become promises. Accepting the plan that was accepted last changes nothing.
///
/// # Errors
/// [`ServiceError::NotFound`] when there is no proposal; [`ServiceError::Conflict`] when `id` names another plan than
/// the present proposal.
pub async fn accept(
    services: &Services,
    work: &mut UnitOfWork,
    id: Option<BenchPlanId>,
) -> Result<BenchPlan, ServiceError> {
    let now = services.now();
    let (tx, actor) = work.begin().await?;
    let accepted = tx.bench_plan(PlanState::Accepted).await?;
    if let Some(plan) = accepted.filter(|plan| Some(plan.id) == id) {
        return Ok(plan);
    }
    let plan = tx
        .bench_plan(PlanState::Proposed)
        .await?
        .ok_or(ServiceError::NotFound { what: "proposed bench plan" })?;
    if id.is_some_and(|id| id != plan.id) {
        return Err(ServiceError::Conflict(Conflict::OtherProposal { plan: plan.id.to_string() }));
    }
    let mut pins = Vec::new();
    for day in &plan.result.days {
        for visit in &day.visits {
            // What was swapped since the plan was computed needs no promise.
            let Some(chain) = visit.tasks.first() else { continue };
            let open = tx.open_fittings(visit.bike_id).await?;
            if open.iter().any(|fitting| fitting.part_id == chain.part_id) {
                let Visit { bike_id, by_hand, .. } = *visit;
                pins.push(BenchPin { part_id: chain.part_id, bike_id, date: day.date, by_hand });
            }
        }
    }
    tx.accept_bench_plan(plan.id, now).await?;
    tx.replace_bench_pins(plan.id, plan.window.to, &pins).await?;
    record(tx, actor, now, "bench_plan.accept", format!("bench-plan/{}", plan.id)).await?;
    Ok(BenchPlan { accepted_at: Some(now), ..plan })
}
