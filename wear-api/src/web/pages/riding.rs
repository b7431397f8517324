//! What a bike's page says of riding besides rides, and of care: odometer, declared use, how far care is told.

use actix_web::{post, web};

use super::care_setting::{self, CareChoice, Unset};
use super::frame::{Fields, Frame, Posted, Typed, Viewer};
use super::{Answer, bike, see};
use crate::domain::{
    BikeId, BikePatch, DaysOfUse, DeclaredUse, DeclaredUseId, DistanceAWeek, Note, OdometerTotal,
    StatementId, UseOf,
};
use crate::input::parse;
use crate::service::declared_use::Declare;
use crate::service::history::BikeHistory;
use crate::service::{ServiceError, Services, bikes, declared_use, odometer};
use crate::web::auth::Mechanic;
use crate::words::parse_number;

/// What stands on the bike's page.
pub(super) struct RidingShown {
    /// What is declared, the bike's own first.
    pub declared: Vec<DeclaredShown>,
    /// How far care is told.
    pub care: CareChoice,
    /// The bike's revision, for a change of it.
    pub revision: i64,
    /// What stands in the field of the odometer.
    pub odometer: String,
    /// What stands in the fields of declared use.
    pub declare: DeclareShown,
    /// What was wrong with what was typed.
    pub errors: Vec<String>,
}

/// The fields in which use is declared.
#[derive(Default)]
pub(super) struct DeclareShown {
    /// Distance a week.
    pub per_week: String,
    /// First day.
    pub from: String,
    /// Last day.
    pub until: String,
}

impl DeclareShown {
    /// As it was typed into a form.
    pub fn typed(typed: &Typed, form: &str) -> Self {
        let value = |name| typed.get(form, name).to_owned();
        Self { per_week: value("per_week"), from: value("from"), until: value("until") }
    }
}

/// One declaration.
pub(super) struct DeclaredShown {
    /// In words.
    pub text: String,
    /// Its id, where it is the bike's own.
    pub own: Option<String>,
}

/// The forms of this part of the bike's page.
const ODOMETER: &str = "odometer";
const USE: &str = "use";
const CARE: &str = "care";

/// Of a bike's history, or of what was typed and not taken.
pub(super) fn shown(f: &Frame, history: &BikeHistory, typed: &Typed, errors: &[String]) -> RidingShown {
    let is_here = [ODOMETER, USE, CARE].iter().any(|form| typed.is(form));
    RidingShown {
        declared: history.declared.iter().map(|one| declared(f, one)).collect(),
        care: if typed.is(CARE) {
            let every = typed.get(CARE, "care_every").to_owned();
            CareChoice::typed(f.words(), Unset::AsWorkshop, typed.get(CARE, "care"), every)
        } else {
            CareChoice::of(f.words(), Unset::AsWorkshop, history.bike.facts.care)
        },
        revision: history.bike.revision,
        odometer: typed.get(ODOMETER, "odometer").to_owned(),
        declare: DeclareShown::typed(typed, USE),
        errors: if is_here { errors.to_vec() } else { Vec::new() },
    }
}

/// What an odometer can show, in words.
pub(super) fn range(f: &Frame) -> String {
    f.odometer_range(f.number(f.in_units(wear_core::bounds::ODOMETER.maximum), 0), f.unit())
}

/// How far, and for which days.
pub(super) fn in_words(f: &Frame, one: &DeclaredUse) -> String {
    let distance = f.ridden(one.per_week.km());
    let day = |day| f.medium_date(day);
    match (one.days.from(), one.days.until()) {
        (None, None) => f.use_always(distance),
        (Some(from), None) => f.use_from(distance, day(from)),
        (None, Some(until)) => f.use_until(distance, day(until)),
        (Some(from), Some(until)) => f.use_between(distance, day(from), day(until)),
    }
}

fn declared(f: &Frame, one: &DeclaredUse) -> DeclaredShown {
    let text = in_words(f, one);
    match one.of {
        UseOf::Bike(_) => DeclaredShown { text, own: Some(one.id.to_string()) },
        UseOf::Group(_) => DeclaredShown { text: f.use_of_group(text), own: None },
    }
}

/// How far was typed, and for which days.
///
/// # Errors
/// What is wrong, in words.
pub(super) fn declare_of(f: &Frame, fields: &Fields) -> Result<Declare, Vec<String>> {
    let mut errors = Vec::new();
    let typed = parse_number(fields.get("per_week"));
    let per_week = typed.and_then(|week| DistanceAWeek::from_km(f.km_of(week)).ok());
    if per_week.is_none() {
        let most = f.number(f.in_units(wear_core::bounds::KM_PER_WEEK.maximum), 0);
        errors.push(f.use_range(most, f.unit()));
    }
    let mut day = |name| {
        let parsed = fields.filled(name).map(parse::date).transpose();
        parsed.map_err(|cause| errors.push(f.wrong(&cause))).ok().flatten()
    };
    let days = DaysOfUse::new(day("from"), day("until"));
    let days = days.map_err(|cause| errors.push(f.wrong(&cause))).ok();
    match (days, per_week) {
        (Some(days), Some(per_week)) if errors.is_empty() => Ok(Declare { days, per_week }),
        _ => Err(errors),
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

#[post("/bikes/{bike_id}/odometer")]
pub(super) async fn enter(
    posted: Posted<Mechanic>,
    services: web::Data<Services>,
    bike_id: web::Path<BikeId>,
) -> Answer {
    let Posted { viewer: Viewer { actor, frame, .. }, fields } = posted;
    let bike_id = *bike_id;
    let errors = match total_of(&frame, &fields) {
        Ok(Some(total)) => match services
            .change(&actor, async |work| {
                odometer::post(&services, work, bike_id, services.now(), total).await
            })
            .await
        {
            Ok(_) => return Ok(see(format!("/bikes/{bike_id}#history"))),
            Err(error) => frame.refused(error)?,
        },
        Ok(None) => vec![range(&frame)],
        Err(wrong) => vec![wrong],
    };
    bike::refused(frame, &actor, &services, bike_id, (Typed::into(ODOMETER, fields), errors)).await
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
    let Posted { viewer: Viewer { actor, frame, .. }, fields } = posted;
    let bike_id = *bike_id;
    let errors = match declare_of(&frame, &fields) {
        Ok(declare) => match services
            .change(&actor, async |work| declared_use::post_of_bike(&services, work, bike_id, declare).await)
            .await
        {
            Ok(_) => return Ok(see(format!("/bikes/{bike_id}#riding"))),
            Err(error) => frame.refused(error)?,
        },
        Err(errors) => errors,
    };
    bike::refused(frame, &actor, &services, bike_id, (Typed::into(USE, fields), errors)).await
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
    let Posted { viewer: Viewer { actor, frame, .. }, fields } = posted;
    let bike_id = *bike_id;
    let stored = bikes::get(&services, &actor, bike_id).await?.facts.care;
    let care = match care_setting::parse(frame.words(), &fields, stored) {
        Ok(care) => care,
        Err(wrong) => {
            let refused = (Typed::into(CARE, fields), vec![wrong]);
            return bike::refused(frame, &actor, &services, bike_id, refused).await;
        }
    };
    let revision = fields.get("revision").parse().unwrap_or_default();
    let patch = BikePatch { care: Some(care), ..BikePatch::default() };
    services
        .change(&actor, async |work| bikes::patch(&services, work, bike_id, revision, patch).await)
        .await?;
    Ok(see(format!("/bikes/{bike_id}#riding")))
}
