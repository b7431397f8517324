//! Care and fittings, recorded from a bike's page.

use actix_web::{get, post, web};
use askama::Template;
use chrono::Duration;

use super::failure::Failure;
use super::frame::{Fields, Frame, Posted, Viewer};
use super::{Answer, again, html, riding, see};
use crate::domain::{Bike, BikeId, CareKind, FittingId, Note, PageRequest, Place, Position, Timestamp};
use crate::service::care::EnterCare;
use crate::service::fittings::WhatGoesOn;
use crate::service::{Actor, Mismatch, Services, bikes, care as cares, fittings, lubricants};
use crate::web::auth::Mechanic;

/// The same work on the same bike entered again within so long is the same: someone tapped twice.
pub(super) const TWICE: Duration = Duration::minutes(1);

/// The field that says that a part that doesn't go with the bike is meant so.
pub(super) const ACCEPT: &str = "accept_mismatch";

pub(super) struct Choice {
    pub(super) value: String,
    pub(super) text: String,
    pub(super) chosen: bool,
}

#[derive(Template)]
#[template(path = "care.html")]
struct CarePage {
    f: Frame,
    id: String,
    label: String,
    kinds: Vec<Choice>,
    /// Empty while the workshop has none.
    lubricants: Vec<Choice>,
    now: String,
    at: String,
    note: String,
    odometer: String,
    errors: Vec<String>,
}

pub(super) fn time_of(f: &Frame, fields: &Fields, now: Timestamp, errors: &mut Vec<String>) -> Timestamp {
    let Some(text) = fields.filled("at") else { return tapped_at(fields, now) };
    match f.parse_local(text).filter(|at| at.not_after(now).is_ok()) {
        Some(at) => at,
        None => {
            errors.push(f.swap_bad_time(text));
            now
        }
    }
}

/// When something was tapped: the script says so, that what is sent late, or twice, counts once and in its time.
pub(super) fn tapped_at(fields: &Fields, now: Timestamp) -> Timestamp {
    let said: Option<Timestamp> = fields.filled("taken_at").and_then(|at| at.parse().ok());
    said.filter(|at| at.not_after(now).is_ok()).unwrap_or(now)
}

pub(super) fn note_of(f: &Frame, fields: &Fields, errors: &mut Vec<String>) -> Option<Note> {
    let text = fields.filled("note")?.replace("\r\n", "\n");
    Note::new(&text).map_err(|cause| errors.push(f.wrong(&cause))).ok()
}

async fn care_form(
    services: &Services,
    actor: &Actor,
    f: Frame,
    bike: &Bike,
    fields: &Fields,
    errors: Vec<String>,
) -> Result<CarePage, Failure> {
    let lubricants = lubricants::in_use(services, actor).await?;
    Ok(CarePage {
        id: bike.id.to_string(),
        label: bike.facts.label.as_str().to_owned(),
        kinds: CareKind::ALL
            .iter()
            .map(|&kind| Choice {
                value: kind.as_str().to_owned(),
                text: f.care(kind),
                chosen: match fields.filled("kind") {
                    Some(word) => word == kind.as_str(),
                    None => kind == CareKind::CleanedAndLubricated,
                },
            })
            .collect(),
        lubricants: lubricants
            .iter()
            .map(|lubricant| Choice {
                value: lubricant.id.to_string(),
                text: lubricant.facts.name.as_str().to_owned(),
                chosen: fields.get("lubricant") == lubricant.id.to_string(),
            })
            .collect(),
        now: services.now().to_string(),
        at: fields.get("at").to_owned(),
        note: fields.get("note").to_owned(),
        odometer: fields.get("odometer").to_owned(),
        errors,
        f,
    })
}

#[get("/bikes/{bike_id}/care")]
pub(super) async fn care_page(
    viewer: Viewer<Mechanic>,
    services: web::Data<Services>,
    bike_id: web::Path<BikeId>,
) -> Answer {
    let Viewer { actor, frame, .. } = viewer;
    let bike = bikes::get(&services, &actor, *bike_id).await?;
    html(&care_form(&services, &actor, frame, &bike, &Fields::default(), Vec::new()).await?)
}

#[post("/bikes/{bike_id}/care")]
pub(super) async fn care(
    posted: Posted<Mechanic>,
    services: web::Data<Services>,
    bike_id: web::Path<BikeId>,
) -> Answer {
    let Posted { viewer: Viewer { actor, frame, .. }, fields } = posted;
    let bike = bikes::get(&services, &actor, *bike_id).await?;
    let now = services.now();
    let mut errors = Vec::new();
    let done_at = time_of(&frame, &fields, now, &mut errors);
    let note = note_of(&frame, &fields, &mut errors);
    let kind: Option<CareKind> = fields.get("kind").parse().ok();
    let lubricant_id = fields.filled("lubricant").and_then(|id| id.parse().ok());
    let odometer = riding::total_of(&frame, &fields).unwrap_or_else(|wrong| {
        errors.push(wrong);
        None
    });
    let (Some(kind), true) = (kind, errors.is_empty()) else {
        return again(&care_form(&services, &actor, frame, &bike, &fields, errors).await?);
    };
    // Tapped twice without a script, it came twice within the minute.
    let since = now.plus(-TWICE);
    let latest = cares::list(&services, &actor, bike.id, &PageRequest::default()).await?.items;
    let same = latest.iter().find(|it| done_at == now && it.kind == kind && it.done_at > since);
    let saved = if same.is_some() && odometer.is_none() && lubricant_id.is_none() {
        Ok(())
    } else {
        let done_at = same.map_or(done_at, |same| same.done_at);
        let enter = EnterCare { kind, done_at, note, odometer, lubricant_id };
        let saved =
            services.change(&actor, async |work| cares::post(&services, work, bike.id, enter.clone()).await);
        saved.await.map(|_| ())
    };
    match saved {
        Ok(()) => Ok(see(format!("/bikes/{}?done=care", bike.id))),
        Err(error) => {
            let errors = frame.refused(error)?;
            again(&care_form(&services, &actor, frame, &bike, &fields, errors).await?)
        }
    }
}

#[post("/bikes/{bike_id}/fittings")]
pub(super) async fn fit(
    posted: Posted<Mechanic>,
    services: web::Data<Services>,
    bike_id: web::Path<BikeId>,
) -> Answer {
    let Posted { viewer: Viewer { actor, .. }, fields } = posted;
    let bike_id = *bike_id;
    let place: Place = fields.get("place").parse().map_err(|_| Failure::Garbled)?;
    let position = fields.get("position").parse().ok().and_then(|position| Position::new(position).ok());
    let what = WhatGoesOn::New { place, model_id: None };
    services
        .change(&actor, async |work| {
            let at = (position.unwrap_or_default(), Mismatch::Refused);
            fittings::fit(&services, work, bike_id, what, at, services.now()).await
        })
        .await?;
    Ok(see(format!("/bikes/{bike_id}#parts")))
}

#[post("/bikes/{bike_id}/fittings/{fitting_id}/removal")]
pub(super) async fn remove(
    posted: Posted<Mechanic>,
    services: web::Data<Services>,
    path: web::Path<(BikeId, FittingId)>,
) -> Answer {
    let (bike_id, fitting_id) = path.into_inner();
    services
        .change(&posted.viewer.actor, async |work| {
            fittings::remove(&services, work, bike_id, fitting_id, services.now()).await
        })
        .await?;
    Ok(see(format!("/bikes/{bike_id}#parts")))
}
