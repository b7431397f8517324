//! The bench: its plan, days that differ, bikes that are away.

use actix_web::{get, post, web};
use askama::Template;
use chrono::{Days, NaiveDate};
use serde::Deserialize;

use super::failure::Failure;
use super::frame::{Fields, Frame, Posted, Typed, Viewer};
use super::plan_shown::{PlanShown, plan_shown};
use super::{Answer, again, html, see};
use crate::domain::{
    BenchDayFacts, BenchDayId, BenchPlan, BikeFilter, BikeId, BikeSort, BookingFacts, BookingFilter,
    BookingId, DateRange, Minutes, PageRequest, PageSize, PlanState, PlanWindow,
};
use crate::input::parse;
use crate::service::{Actor, ServiceError, Services, bench_days, bench_plan, bikes, bookings};
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
}

struct Listed {
    id: String,
    text: String,
    revision: i64,
}

#[derive(Deserialize)]
struct Query {
    state: Option<String>,
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
    let proposed = query.state.as_deref() == Some(PlanState::Proposed.as_str());
    html(&shown(&services, &actor, frame, proposed, (Typed::default(), Vec::new())).await?)
}

async fn shown(
    services: &Services,
    actor: &Actor,
    f: Frame,
    proposed: bool,
    (typed, errors): (Typed, Vec<String>),
) -> Result<BenchPage, Failure> {
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
    let last = f.today.checked_add_days(Days::new(TWO_WEEKS)).unwrap_or(f.today);
    Ok(BenchPage {
        plan: plan.map(|plan| plan_shown(&f, &plan, is_proposal, other)),
        from: typed.or("plan", "from", f.today.to_string()),
        to: typed.or("plan", "to", last.to_string()),
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
            again(&shown(services, &actor, frame, false, (typed, errors)).await?)
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
        return again(&shown(&services, &actor, frame, false, (typed, vec![error])).await?);
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
