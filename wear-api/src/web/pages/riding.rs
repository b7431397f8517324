//! What a bike's page says of riding besides rides, and of care: odometer, declared use, how far care is told.

use actix_web::{post, web};

use super::care_setting::{self, CareChoice, Unset};
use super::failure::Failure;
use super::frame::{Fields, Frame, Posted};
use super::words::parse_number;
use super::{Answer, see};
use crate::domain::{
    BikeId, BikePatch, DaysOfUse, DeclaredUse, DeclaredUseId, DistanceAWeek, Note, OdometerTotal,
    StatementId, UseOf,
};
use crate::service::declared_use::Declare;
use crate::service::history::BikeHistory;
use crate::service::{ServiceError, Services, bikes, declared_use, odometer};
use crate::web::auth::Mechanic;

/// What stands on the bike's page.
pub(super) struct RidingShown {
    /// What is declared, the bike's own first.
    pub declared: Vec<DeclaredShown>,
    /// How far care is told.
    pub care: CareChoice,
    /// The bike's revision, for a change of it.
    pub revision: i64,
    /// What was wrong with what was typed.
    pub error: Option<String>,
}

/// One declaration.
pub(super) struct DeclaredShown {
    /// In words.
    pub text: String,
    /// Its id, where it is the bike's own.
    pub own: Option<String>,
}

/// Of a bike's history; `wrong` names the form of which something was wrong.
pub(super) fn shown(f: &Frame, history: &BikeHistory, wrong: Option<&str>) -> RidingShown {
    let most = |km: f64| f.number(f.in_units(km), 0);
    let error = wrong.map(|form| match form {
        "use" => f.use_range(most(wear_core::bounds::KM_PER_WEEK.maximum), f.unit()),
        "care" => f.care_setting_range(),
        _ => range(f),
    });
    RidingShown {
        declared: history.declared.iter().map(|one| declared(f, one)).collect(),
        care: CareChoice::of(f.words(), Unset::AsWorkshop, history.bike.facts.care),
        revision: history.bike.revision,
        error,
    }
}

/// What an odometer can show, in words.
pub(super) fn range(f: &Frame) -> String {
    f.odometer_range(f.number(f.in_units(wear_core::bounds::ODOMETER.maximum), 0), f.unit())
}

fn declared(f: &Frame, one: &DeclaredUse) -> DeclaredShown {
    let distance = f.ridden(one.per_week.km());
    let day = |day| f.medium_date(day);
    let text = match (one.days.from(), one.days.until()) {
        (None, None) => f.use_always(distance),
        (Some(from), None) => f.use_from(distance, day(from)),
        (None, Some(until)) => f.use_until(distance, day(until)),
        (Some(from), Some(until)) => f.use_between(distance, day(from), day(until)),
    };
    match one.of {
        UseOf::Bike(_) => DeclaredShown { text, own: Some(one.id.to_string()) },
        UseOf::Group(_) => DeclaredShown { text: f.use_of_group(text), own: None },
    }
}

/// What the odometer was typed to show; none when nothing was typed.
///
/// # Errors
/// When it isn't a total that an odometer can show.
pub(super) fn total_of(f: &Frame, fields: &Fields) -> Result<Option<OdometerTotal>, String> {
    let Some(typed) = fields.filled("odometer") else { return Ok(None) };
    let total = parse_number(typed).and_then(|shown| OdometerTotal::from_km(f.km_of(shown)).ok());
    total.map(Some).ok_or_else(|| range(f))
}

fn wrong(bike_id: BikeId, form: &str) -> Answer {
    Ok(see(format!("/bikes/{bike_id}?wrong={form}#riding")))
}

#[post("/bikes/{bike_id}/odometer")]
pub(super) async fn enter(
    posted: Posted<Mechanic>,
    services: web::Data<Services>,
    bike_id: web::Path<BikeId>,
) -> Answer {
    let Posted { viewer, fields } = posted;
    let bike_id = *bike_id;
    let Ok(Some(total)) = total_of(&viewer.frame, &fields) else { return wrong(bike_id, "odometer") };
    services
        .change(&viewer.actor, async |work| {
            odometer::post(&services, work, bike_id, services.now(), total).await
        })
        .await?;
    Ok(see(format!("/bikes/{bike_id}#history")))
}

#[post("/bikes/{bike_id}/odometer/{statement_id}/void")]
pub(super) async fn void(
    posted: Posted<Mechanic>,
    services: web::Data<Services>,
    path: web::Path<(BikeId, StatementId)>,
) -> Answer {
    let Posted { viewer, fields } = posted;
    let (bike_id, id) = path.into_inner();
    let reason = Note::new(fields.get("reason")).map_err(|cause| ServiceError::field("/reason", cause))?;
    services
        .change(&viewer.actor, async |work| odometer::void(&services, work, bike_id, id, reason).await)
        .await?;
    Ok(see(format!("/bikes/{bike_id}#history")))
}

#[post("/bikes/{bike_id}/declared-use")]
pub(super) async fn declare(
    posted: Posted<Mechanic>,
    services: web::Data<Services>,
    bike_id: web::Path<BikeId>,
) -> Answer {
    let Posted { viewer, fields } = posted;
    let bike_id = *bike_id;
    let typed = parse_number(fields.get("per_week"));
    let per_week = typed.and_then(|week| DistanceAWeek::from_km(viewer.frame.km_of(week)).ok());
    let Some(per_week) = per_week else { return wrong(bike_id, "use") };
    let days = DaysOfUse::new(Some(viewer.frame.today), None).map_err(|_| Failure::Internal)?;
    let days = if fields.filled("always").is_some() { DaysOfUse::ALWAYS } else { days };
    services
        .change(&viewer.actor, async |work| {
            declared_use::post_of_bike(&services, work, bike_id, Declare { days, per_week }).await
        })
        .await?;
    Ok(see(format!("/bikes/{bike_id}#riding")))
}

#[post("/bikes/{bike_id}/declared-use/{declared_use_id}/remove")]
pub(super) async fn take_back(
    posted: Posted<Mechanic>,
    services: web::Data<Services>,
    path: web::Path<(BikeId, DeclaredUseId)>,
) -> Answer {
    let (bike_id, id) = path.into_inner();
    services
        .change(&posted.viewer.actor, async |work| {
            declared_use::remove_of_bike(&services, work, bike_id, id).await
        })
        .await?;
    Ok(see(format!("/bikes/{bike_id}#riding")))
}

#[post("/bikes/{bike_id}/care-setting")]
pub(super) async fn set_care(
    posted: Posted<Mechanic>,
    services: web::Data<Services>,
    bike_id: web::Path<BikeId>,
) -> Answer {
    let Posted { viewer, fields } = posted;
    let bike_id = *bike_id;
    let Ok(care) = care_setting::parse(viewer.frame.words(), &fields) else { return wrong(bike_id, "care") };
    let revision = fields.get("revision").parse().unwrap_or_default();
    let patch = BikePatch { care: Some(care), ..BikePatch::default() };
    services
        .change(&viewer.actor, async |work| bikes::patch(&services, work, bike_id, revision, patch).await)
        .await?;
    Ok(see(format!("/bikes/{bike_id}#riding")))
}
