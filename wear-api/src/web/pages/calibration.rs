//! What the fleet has taught, what is still assumed, and what would teach most.

use actix_web::{get, post, web};
use askama::Template;
use serde::Deserialize;

use super::frame::{Frame, Posted, Viewer};
use super::taught::{self, Section, ToDo};
use super::{Answer, html, see};
use crate::service::calibration::{self, Known};
use crate::service::{Services, tools};
use crate::web::auth::{Manager, Mechanic};

#[derive(Template)]
#[template(path = "calibration.html")]
struct CalibrationPage {
    f: Frame,
    /// Learning that was asked for: what became of it, and whether it is done.
    asked: Option<(String, bool)>,
    here: String,
    headline: String,
    lines: Vec<String>,
    to_do: Vec<ToDo>,
    sections: Vec<Section>,
    assumed: Vec<String>,
}

#[derive(Deserialize)]
struct Query {
    asked: Option<i64>,
}

#[get("/calibration")]
pub(super) async fn page(
    viewer: Viewer<Mechanic>,
    services: web::Data<Services>,
    query: web::Query<Query>,
) -> Answer {
    let Viewer { actor, workshop, frame: f, .. } = viewer;
    let known = calibration::get(&services, &actor).await?;
    let in_use = tools::in_use(&services, &actor).await?;
    let next = f.instant(calibration::next_night(&workshop, services.now()));
    let learned_at = known.rates.first().map(|fleet| fleet.learned_at);
    let asked = query.asked.map(|asked| match learned_at {
        Some(learned_at) if learned_at.micros() >= asked => (f.calibration_asked_done(), true),
        _ => (f.calibration_asked(), false),
    });
    let Known { rates, .. } = &known;
    let (headline, lines) = match rates.first() {
        Some(fleet) => (
            f.calibration_learned(fleet.chains_read),
            vec![f.calibration_when(f.instant(fleet.learned_at), next)],
        ),
        None => (
            f.calibration_none(),
            vec![f.calibration_none_text(calibration::FEWEST_CHAINS), f.calibration_next(next)],
        ),
    };
    html(&CalibrationPage {
        to_do: taught::to_do(&f, &known, &in_use),
        sections: taught::sections(&f, &known, &in_use),
        assumed: taught::assumed(&f, &known, &workshop),
        here: f.here.clone(),
        asked,
        headline,
        lines,
        f,
    })
}

#[post("/calibration")]
pub(super) async fn ask(posted: Posted<Manager>, services: web::Data<Services>) -> Answer {
    let actor = posted.viewer.actor;
    let asked_at =
        services.change(&actor, async |work| calibration::ask(&services, work).await).await?.micros();
    Ok(see(format!("/calibration?asked={asked_at}")))
}
