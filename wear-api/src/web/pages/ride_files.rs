//! Rides from files, several at once.

use actix_web::{get, post, web};
use askama::Template;
use chrono::NaiveDate;
use serde::Deserialize;
use wear_core::exposure::track::RoadSettings;

use super::failure::Failure;
use super::file_form::{Parts, PostedFile};
use super::frame::{Frame, Viewer};
use super::{Answer, again, html};
use crate::domain::{BikeId, Label, Ride, RideOutcome, Surface, Telling};
use crate::input::parse;
use crate::service::ride_files::{self, RideFile};
use crate::service::{Actor, ServiceError, Services, bikes};
use crate::web::auth::Mechanic;

/// Largest form with ride files, bytes: a long day's recording is one or two millions.
const MOST: usize = 16 << 20;

#[derive(Template)]
#[template(path = "ride_files.html")]
struct FilesPage {
    f: Frame,
    label: String,
    surfaces: Vec<(&'static str, String, bool)>,
    wet: bool,
    day: String,
    largest: String,
    done: Option<String>,
    /// The bike that got rides.
    done_for: Option<String>,
    files: Vec<FileShown>,
    errors: Vec<String>,
}

/// What became of a file.
struct FileShown {
    name: String,
    says: String,
    is_refused: bool,
}

#[derive(Deserialize)]
struct Query {
    bike: Option<String>,
}

fn shown(mut f: Frame, label: String, parts: &Parts, errors: Vec<String>) -> FilesPage {
    "/rides/files".clone_into(&mut f.here);
    FilesPage {
        label,
        surfaces: Surface::ALL
            .iter()
            .map(|it| {
                (it.as_str(), f.word("surface-name", it.as_str()), parts.text("surface") == it.as_str())
            })
            .collect(),
        wet: !parts.text("wet").is_empty(),
        day: parts.text("day").to_owned(),
        largest: (MOST >> 20).to_string(),
        done: None,
        done_for: None,
        files: Vec::new(),
        errors,
        f,
    }
}

#[get("/rides/files")]
pub(super) async fn page(
    viewer: Viewer<Mechanic>,
    services: web::Data<Services>,
    query: web::Query<Query>,
) -> Answer {
    let Viewer { actor, frame, .. } = viewer;
    let label = match query.bike.as_deref().and_then(|id| id.parse::<BikeId>().ok()) {
        Some(id) => bikes::get(&services, &actor, id).await?.facts.label.to_string(),
        None => String::new(),
    };
    html(&shown(frame, label, &Parts::default(), Vec::new()))
}

/// Each file is a ride of its own: one that can't be read keeps no other out.
#[post("/rides/files")]
pub(super) async fn take(posted: PostedFile<Mechanic, MOST>, services: web::Data<Services>) -> Answer {
    let PostedFile { viewer: Viewer { actor, frame, .. }, parts } = posted;
    let Some(parts) = parts else {
        let errors = vec![frame.ride_files_too_large((MOST >> 20).to_string())];
        return again(&shown(frame, String::new(), &Parts::default(), errors));
    };
    let typed = parts.text("bike").to_owned();
    let mut errors = Vec::new();
    let bike = match Label::new(&typed) {
        Ok(label) => bikes::labelled(&services, &actor, &label).await?,
        Err(_) => None,
    };
    if bike.is_none() {
        errors.push(frame.ride_files_no_bike(typed.chars().take(64).collect::<String>()));
    }
    let ridden_on = match parts.text("day") {
        "" => None,
        day => match parse::date(day) {
            Ok(day) => Some(day),
            Err(cause) => {
                errors.push(frame.wrong(&cause));
                None
            }
        },
    };
    if parts.files("files").next().is_none() {
        errors.push(frame.ride_files_none());
    }
    let (Some(bike), true) = (bike, errors.is_empty()) else {
        return again(&shown(frame, typed, &parts, errors));
    };
    let mut files = Vec::new();
    for (name, bytes) in parts.files("files") {
        let taken = one(&services, &actor, bike, &parts, ridden_on, bytes).await;
        files.push(became(&frame, name, taken)?);
    }
    let taken = files.iter().filter(|file| !file.is_refused).count();
    let done = Some(frame.ride_files_done(taken, typed.as_str()));
    let all_refused = taken == 0;
    let form = shown(frame, typed, &parts, Vec::new());
    let listed = FilesPage { done, done_for: Some(bike.to_string()), files, ..form };
    if all_refused { again(&listed) } else { html(&listed) }
}

async fn one(
    services: &Services,
    actor: &Actor,
    bike_id: BikeId,
    parts: &Parts,
    ridden_on: Option<NaiveDate>,
    bytes: &[u8],
) -> Result<RideOutcome, ServiceError> {
    let file = RideFile {
        bike_id,
        bytes: bytes.to_vec(),
        ridden_on,
        surface: parts.text("surface").parse().ok(),
        wet: !parts.text("wet").is_empty(),
        road: RoadSettings::default(),
    };
    let posted =
        services.change(actor, async |work| ride_files::post(services, work, file.clone()).await).await;
    posted.map(|(outcome, _)| outcome)
}

fn became(f: &Frame, name: &str, taken: Result<RideOutcome, ServiceError>) -> Result<FileShown, Failure> {
    let (says, is_refused) = match taken {
        Ok(outcome) => (said(f, &outcome), false),
        Err(ServiceError::RideFile(error)) => {
            (f.wrong_value(f.said(&error.fault.said()), f.said(&error.fault.form())), true)
        }
        Err(error) => (f.refused(error)?.join(" "), true),
    };
    Ok(FileShown { name: name.to_owned(), says, is_refused })
}

fn said(f: &Frame, outcome: &RideOutcome) -> String {
    let Ride { started_at, facts, telling, .. } = outcome.ride();
    let (time, distance) = (f.instant(*started_at), f.ridden(facts.distance_mm() as f64 / 1e6));
    match outcome {
        RideOutcome::Deleted(_) => f.ride_files_deleted(time),
        _ if *telling != Telling::Counted => f.ride_files_twice(time, distance),
        RideOutcome::Inserted(_) => f.ride_files_new(time, distance),
        RideOutcome::Unchanged(_) | RideOutcome::Replaced { .. } => f.ride_files_again(time, distance),
    }
}
