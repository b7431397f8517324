//! The bench: its plan, its jobs, days that differ, bikes that are away.

use actix_web::{get, post, web};
use askama::Template;
use chrono::{Days, NaiveDate};
use serde::Deserialize;

use super::failure::Failure;
use super::frame::{Fields, Frame, Posted, Typed, Viewer};
use super::plan_shown::{PlanShown, on_weekday, plan_shown, work_of};
use super::steps::left_undone;
use super::{Answer, again, encoded, html, see};
use crate::domain::{
    BenchDayFacts, BenchDayId, BenchPlan, BenchPlanId, BikeFilter, BikeId, BikeSort, BookingFacts,
    BookingFilter, BookingId, DateRange, Minutes, PageRequest, PageSize, PlanState, PlanWindow, SwapId,
};
use crate::input::parse;
use crate::service::bench_plan::{jobs, standing};
use crate::service::{Actor, ServiceError, Services, bench_days, bench_plan, bikes, bookings, swaps};
use crate::web::auth::Mechanic;

/// Days of a plan until somebody says otherwise (A).
const TWO_WEEKS: u64 = 13;

#[derive(Template)]
#[template(path = "bench.html")]
struct BenchPage {
    f: Frame,
    plan: Option<PlanShown>,
    from: String,
    to: String,
    days: Vec<Listed>,
    away: Vec<Listed>,
    typed: Typed,
    errors: Vec<String>,
    /// What was recorded a moment ago, with its swaps to undo.
    recorded: Option<Recorded>,
    undone: bool,
}

struct Recorded {
    bike_id: String,
    says: String,
    swaps: Vec<String>,
    /// Checks before the bike goes out.
    checks: Vec<String>,
}

/// One job, and the days that it could have.
#[derive(Template)]
#[template(path = "bench_job.html")]
struct JobPage {
    f: Frame,
    plan: String,
    bike_id: String,
    label: String,
    work: String,
    minutes: String,
    due: String,
    now: Option<String>,
    by_hand: bool,
    /// What the swap's form ticks besides the chain.
    with: String,
    days: Vec<DayChoice>,
}

struct DayChoice {
    value: String,
    text: String,
    used: String,
    is_present: bool,
}

struct Listed {
    id: String,
    text: String,
    revision: i64,
}

#[derive(Default, Deserialize)]
struct Query {
    state: Option<String>,
    /// A bike whose job was recorded, and its swaps.
    bike: Option<String>,
    swaps: Option<String>,
    done: Option<String>,
}

/// The plan in a state, or none.
pub(super) async fn plan_in(
    services: &Services,
    actor: &Actor,
    state: PlanState,
) -> Result<Option<BenchPlan>, Failure> {
    match bench_plan::get(services, actor, Some(state)).await {
        Ok(plan) => Ok(Some(plan)),
        Err(ServiceError::NotFound { .. }) => Ok(None),
        Err(other) => Err(other.into()),
    }
}

#[get("/bench")]
pub(super) async fn page(
    viewer: Viewer<Mechanic>,
    services: web::Data<Services>,
    query: web::Query<Query>,
) -> Answer {
    let Viewer { actor, frame, .. } = viewer;
    html(&shown(&services, &actor, frame, &query, (Typed::default(), Vec::new())).await?)
}

/// What was recorded a moment ago.
async fn recorded(
    services: &Services,
    actor: &Actor,
    f: &Frame,
    query: &Query,
) -> Result<Option<Recorded>, Failure> {
    let bike_id = query.bike.as_deref().and_then(|id| id.parse::<BikeId>().ok());
    let (Some(bike_id), Some(ids)) = (bike_id, query.swaps.as_deref()) else { return Ok(None) };
    let ids: Vec<SwapId> = ids.split(',').filter_map(|id| id.parse().ok()).collect();
    let latest = swaps::list(services, actor, bike_id, &PageRequest::default()).await?.items;
    let counts: Vec<_> =
        latest.iter().filter(|swap| ids.contains(&swap.facts.id) && swap.voided.is_none()).collect();
    if counts.is_empty() {
        return Ok(None);
    }
    let bike = bikes::get(services, actor, bike_id).await?;
    let mut checks: Vec<String> = Vec::new();
    for swap in &counts {
        let ticked = swap.facts.checklist.clone().unwrap_or_default();
        for check in left_undone(services, actor, f.words(), &bike, swap.facts.place, &ticked).await? {
            if !checks.contains(&check) {
                checks.push(check);
            }
        }
    }
    let parts: Vec<String> = counts.iter().rev().map(|swap| f.place(swap.facts.place)).collect();
    Ok(Some(Recorded {
        bike_id: bike_id.to_string(),
        says: f.bench_recorded(bike.facts.label.as_str(), parts.join(", ")),
        swaps: ids.iter().map(ToString::to_string).collect(),
        checks,
    }))
}

async fn shown(
    services: &Services,
    actor: &Actor,
    f: Frame,
    query: &Query,
    (typed, errors): (Typed, Vec<String>),
) -> Result<BenchPage, Failure> {
    let proposed = query.state.as_deref() == Some(PlanState::Proposed.as_str());
    let accepted = plan_in(services, actor, PlanState::Accepted).await?;
    let proposal = plan_in(services, actor, PlanState::Proposed).await?;
    let newer = match (&accepted, &proposal) {
        (Some(accepted), Some(proposal)) => proposal.computed_at > accepted.computed_at,
        (None, Some(_)) => true,
        _ => false,
    };
    let is_accepted = accepted.is_some();
    let (plan, is_proposal) = match (accepted, proposal.filter(|_| newer)) {
        (None, proposal) => (proposal, true),
        (Some(_), Some(proposal)) if proposed => (Some(proposal), true),
        (accepted, _) => (accepted, false),
    };
    let other = if is_proposal {
        is_accepted.then(|| ("/bench", f.bench_see_accepted()))
    } else {
        newer.then(|| ("/bench?state=proposed", f.bench_see_proposal()))
    };
    let most = PageRequest::first(PageSize::LARGEST);
    let days = DateRange { from: Some(f.today), to: None };
    let entered = bench_days::list(services, actor, days, &most).await?.items;
    let filter = BookingFilter { bike_id: None, days };
    let mut away = Vec::new();
    for booking in bookings::list(services, actor, &filter, &most).await?.items {
        let bike = bikes::get(services, actor, booking.facts.bike_id).await?;
        away.push(Listed {
            id: booking.id.to_string(),
            text: f.bench_booking(
                bike.facts.label.as_str(),
                f.medium_date(booking.facts.from),
                f.medium_date(booking.facts.to),
            ),
            revision: booking.revision,
        });
    }
    // Days stay as they were chosen, as long as they lie ahead.
    let two_weeks = f.today.checked_add_days(Days::new(TWO_WEEKS)).unwrap_or(f.today);
    let chosen = plan.as_ref().map(|plan| plan.window).filter(|window| window.to >= f.today);
    let (from, to) = match chosen {
        Some(window) => (window.from.max(f.today), window.to),
        None => (f.today, two_weeks),
    };
    let shown = match &plan {
        Some(plan) => {
            let standing = standing::of_plan(services, actor, plan).await?;
            Some(plan_shown(&f, plan, is_proposal, other, &standing))
        }
        None => None,
    };
    Ok(BenchPage {
        recorded: recorded(services, actor, &f, query).await?,
        undone: query.done.as_deref() == Some("undone"),
        plan: shown,
        from: typed.or("plan", "from", from.to_string()),
        to: typed.or("plan", "to", to.to_string()),
        days: entered
            .into_iter()
            .map(|day| Listed {
                id: day.id.to_string(),
                text: format!(
                    "{} {}: {}",
                    f.weekday(day.facts.date),
                    f.medium_date(day.facts.date),
                    match day.facts.minutes.get() {
                        0 => f.bench_closed(),
                        minutes => format!("{minutes} {}", f.bench_minutes()),
                    }
                ),
                revision: day.revision,
            })
            .collect(),
        away,
        typed,
        errors,
        f,
    })
}

fn day_of(fields: &Fields, name: &str) -> Result<NaiveDate, ServiceError> {
    parse::date(fields.get(name)).map_err(|cause| ServiceError::field(format!("/{name}"), cause))
}

async fn done(
    services: &Services,
    viewer: Viewer<Mechanic>,
    typed: Typed,
    (to, result): (&str, Result<(), ServiceError>),
) -> Answer {
    let Viewer { actor, frame, .. } = viewer;
    match result {
        Ok(()) => Ok(see(to)),
        Err(error) => {
            let errors = frame.refused(error)?;
            again(&shown(services, &actor, frame, &Query::default(), (typed, errors)).await?)
        }
    }
}

#[post("/bench/plan")]
pub(super) async fn compute(posted: Posted<Mechanic>, services: web::Data<Services>) -> Answer {
    let Posted { viewer, fields } = posted;
    let result = async {
        let window = PlanWindow { from: day_of(&fields, "from")?, to: day_of(&fields, "to")? };
        services
            .change(&viewer.actor, async |work| bench_plan::compute(&services, work, window).await)
            .await
            .map(|_| ())
    };
    let result = result.await;
    done(&services, viewer, Typed::into("plan", fields), ("/bench?state=proposed", result)).await
}

#[post("/bench/accept")]
pub(super) async fn accept(posted: Posted<Mechanic>, services: web::Data<Services>) -> Answer {
    let Posted { viewer, fields } = posted;
    let id = fields.get("id").parse().map_err(|_| Failure::Garbled)?;
    services.change(&viewer.actor, async |work| bench_plan::accept(&services, work, Some(id)).await).await?;
    Ok(see("/bench"))
}

/// Where one goes after a job was changed: back to the plan that it is of.
async fn back(services: &Services, actor: &Actor, plan: BenchPlanId) -> Result<String, Failure> {
    let accepted = plan_in(services, actor, PlanState::Accepted).await?;
    let is_accepted = accepted.is_some_and(|accepted| accepted.id == plan);
    Ok(if is_accepted { "/bench?" } else { "/bench?state=proposed&" }.to_owned())
}

/// Records what a job does, as swaps of this moment.
#[post("/bench/jobs/done")]
pub(super) async fn job_done(posted: Posted<Mechanic>, services: web::Data<Services>) -> Answer {
    let Posted { viewer: Viewer { actor, .. }, fields } = posted;
    let plan: BenchPlanId = fields.get("plan").parse().map_err(|_| Failure::Garbled)?;
    let bike_id: BikeId = fields.get("bike").parse().map_err(|_| Failure::Garbled)?;
    let ids = services.change(&actor, async |work| jobs::done(&services, work, plan, bike_id).await).await?;
    let ids: Vec<String> = ids.iter().map(ToString::to_string).collect();
    Ok(see(format!("{}bike={bike_id}&swaps={}", back(&services, &actor, plan).await?, ids.join(","))))
}

#[derive(Deserialize)]
struct JobQuery {
    plan: BenchPlanId,
}

#[get("/bench/jobs/{bike_id}")]
pub(super) async fn job(
    viewer: Viewer<Mechanic>,
    services: web::Data<Services>,
    bike_id: web::Path<BikeId>,
    query: web::Query<JobQuery>,
) -> Answer {
    let Viewer { actor, frame: f, .. } = viewer;
    let mut plan = None;
    for state in [PlanState::Accepted, PlanState::Proposed] {
        plan = plan.or(plan_in(&services, &actor, state).await?.filter(|plan| plan.id == query.plan));
    }
    let Some(plan) = plan else { return Ok(see("/bench")) };
    let planned = plan.result.days.iter().flat_map(|day| &day.visits);
    let visit = planned.chain(&plan.result.left_out).find(|visit| visit.bike_id == *bike_id);
    let Some(visit) = visit else { return Ok(see("/bench")) };
    let standing = standing::of_plan(&services, &actor, &plan).await?;
    let ahead = plan.result.days.iter().filter(|day| day.date >= f.today);
    let work: Vec<String> = visit.tasks.iter().map(|task| work_of(&f, task)).collect();
    html(&JobPage {
        plan: plan.id.to_string(),
        bike_id: bike_id.to_string(),
        label: visit.label.clone(),
        work: work.join(", "),
        minutes: f.bench_takes(visit.minutes),
        due: f.medium_date(visit.due),
        now: visit.date.map(|date| on_weekday(&f, date)),
        by_hand: visit.by_hand,
        with: encoded(
            &visit
                .tasks
                .iter()
                .map(|task| format!("{} {}", task.place, task.position))
                .collect::<Vec<_>>()
                .join(","),
        ),
        days: ahead
            .map(|day| DayChoice {
                value: day.date.to_string(),
                text: on_weekday(&f, day.date),
                used: f.bench_minutes_used(
                    day.minutes_used,
                    standing.minutes.get(&day.date).copied().unwrap_or(0),
                ),
                is_present: visit.date == Some(day.date),
            })
            .collect(),
        f,
    })
}

/// Gives a job another day, holds it on its own, or lets go of it.
#[post("/bench/jobs/{bike_id}")]
pub(super) async fn move_job(
    posted: Posted<Mechanic>,
    services: web::Data<Services>,
    bike_id: web::Path<BikeId>,
) -> Answer {
    let Posted { viewer, fields } = posted;
    let bike_id = *bike_id;
    let plan: BenchPlanId = fields.get("plan").parse().map_err(|_| Failure::Garbled)?;
    let to = back(&services, &viewer.actor, plan).await?;
    let result = async {
        if fields.get("date") == "release" {
            let change = services
                .change(&viewer.actor, async |work| jobs::release(&services, work, plan, bike_id).await);
            return change.await;
        }
        let date = day_of(&fields, "date")?;
        services
            .change(&viewer.actor, async |work| jobs::place(&services, work, plan, bike_id, date).await)
            .await
    };
    let result = result.await;
    let to = format!("{to}#job-{bike_id}").replace("?#", "#").replace("&#", "#");
    done(&services, viewer, Typed::default(), (&to, result)).await
}

#[post("/bench/days")]
pub(super) async fn add_day(posted: Posted<Mechanic>, services: web::Data<Services>) -> Answer {
    let Posted { viewer, fields } = posted;
    let result = async {
        let minutes = fields.get("minutes").parse().unwrap_or(-1);
        let minutes = Minutes::new(minutes).map_err(|cause| ServiceError::field("/minutes", cause))?;
        let facts = BenchDayFacts { date: day_of(&fields, "date")?, minutes, note: None };
        services
            .change(&viewer.actor, async |work| bench_days::create(&services, work, facts).await)
            .await
            .map(|_| ())
    };
    let result = result.await;
    done(&services, viewer, Typed::into("days", fields), ("/bench#days", result)).await
}

#[post("/bench/days/{id}/remove")]
pub(super) async fn remove_day(
    posted: Posted<Mechanic>,
    services: web::Data<Services>,
    id: web::Path<BenchDayId>,
) -> Answer {
    let revision = posted.fields.get("revision").parse().unwrap_or_default();
    services
        .change(&posted.viewer.actor, async |work| bench_days::remove(&services, work, *id, revision).await)
        .await?;
    Ok(see("/bench#days"))
}

#[post("/bench/bookings")]
pub(super) async fn book(posted: Posted<Mechanic>, services: web::Data<Services>) -> Answer {
    let Posted { viewer, fields } = posted;
    let label = fields.get("label").to_owned();
    let Some(bike_id) = bike_named(&services, &viewer.actor, &label).await? else {
        let Viewer { actor, frame, .. } = viewer;
        let error = frame.bench_no_such(label);
        let typed = Typed::into("bookings", fields);
        return again(&shown(&services, &actor, frame, &Query::default(), (typed, vec![error])).await?);
    };
    let result = async {
        let (from, to) = (day_of(&fields, "from")?, day_of(&fields, "to")?);
        let facts = BookingFacts { bike_id, from, to, note: None };
        services
            .change(&viewer.actor, async |work| bookings::create(&services, work, facts).await)
            .await
            .map(|_| ())
    };
    let result = result.await;
    done(&services, viewer, Typed::into("bookings", fields), ("/bench#away", result)).await
}

/// The one bike with exactly this label.
async fn bike_named(services: &Services, actor: &Actor, label: &str) -> Result<Option<BikeId>, Failure> {
    let filter = BikeFilter { search: Some(label.to_owned()), ..BikeFilter::default() };
    let most = PageRequest::first(PageSize::LARGEST);
    let found = bikes::list(services, actor, &filter, BikeSort::Label, &most).await?.items;
    let mut exact = found.iter().filter(|bike| bike.facts.label.as_str() == label);
    Ok(match (exact.next(), exact.next()) {
        (Some(one), None) => Some(one.id),
        _ => None,
    })
}

#[post("/bench/bookings/{id}/remove")]
pub(super) async fn unbook(
    posted: Posted<Mechanic>,
    services: web::Data<Services>,
    id: web::Path<BookingId>,
) -> Answer {
    let revision = posted.fields.get("revision").parse().unwrap_or_default();
    services
        .change(&posted.viewer.actor, async |work| bookings::remove(&services, work, *id, revision).await)
        .await?;
    Ok(see("/bench#away"))
}
