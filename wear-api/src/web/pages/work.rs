//! Swaps, care and fittings, recorded from a bike's page.

use actix_web::{get, post, web};
use askama::Template;
use chrono::Duration;
use serde::Deserialize;
use wear_core::drivetrain::procedure::SwapOf;
use wear_core::units::ElongationReading;

use super::failure::Failure;
use super::frame::{Fields, Frame, Posted, Viewer};
use super::steps::{Procedure, procedure_of, swap_of};
use super::tool_choice;
use super::{Answer, again, html, riding, see};
use crate::domain::{
    Bike, BikeId, CareKind, Checklist, Entry, FittingId, Instrument, Measured, Note, PageRequest, PageSize,
    PartModelId, Place, Position, ReadWith, SwapReason, Timestamp, Tool,
};
use crate::service::care::EnterCare;
use crate::service::fittings::WhatGoesOn;
use crate::service::swaps::EnterSwap;
use crate::service::{
    Actor, Mismatch, ServiceError, Services, bikes, care as cares, fittings, lubricants, part_models, swaps,
    tools,
};
use crate::web::auth::Mechanic;
use crate::words::{Words, parse_number};

/// The same work on the same bike entered again within so long is the same: someone tapped twice.
pub(super) const TWICE: Duration = Duration::minutes(1);

/// The field that says that a part that doesn't go with the bike is meant so.
pub(super) const ACCEPT: &str = "accept_mismatch";

/// Instruments that a worn chain is read with in percent.
const PERCENT: [Instrument; 3] = [Instrument::Rule, Instrument::Caliper, Instrument::Dial];

struct Choice {
    value: String,
    text: String,
    chosen: bool,
}

#[derive(Template)]
#[template(path = "swap.html")]
struct SwapPage {
    f: Frame,
    id: String,
    label: String,
    places: Vec<Choice>,
    models: Vec<Choice>,
    instruments: Vec<Choice>,
    reasons: Vec<Choice>,
    at: String,
    note: String,
    percent: String,
    odometer: String,
    errors: Vec<String>,
    now: String,
    kinds: Vec<(&'static str, String)>,
    of: &'static str,
    procedure: Procedure,
    links: String,
    /// Whether the form asks if a part that doesn't go with the bike is meant so.
    mismatch: bool,
}

/// What is being swapped.
#[derive(Deserialize)]
struct Query {
    of: Option<String>,
}

impl Query {
    fn swap(&self) -> SwapOf {
        self.of.as_deref().and_then(|word| word.parse().ok()).unwrap_or(SwapOf::Chain)
    }
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

async fn swap_form(
    services: &Services,
    actor: &Actor,
    f: Frame,
    bike: &Bike,
    (kind, fields): (SwapOf, &Fields),
    (errors, mismatch): (Vec<String>, bool),
) -> Result<SwapPage, Failure> {
    let mut procedure = procedure_of(services, actor, f.words(), bike, kind).await?;
    for step in &mut procedure.steps {
        step.ticked = fields.all("done").any(|word| word == step.id);
    }
    let open = fittings::list(services, actor, bike.id).await?;
    let rings = bike.facts.drivetrain.rings();
    let mut places: Vec<Choice> = open
        .iter()
        .filter(|fitting| fitting.removed_at.is_none())
        .map(|fitting| {
            let mut text = f.place(fitting.place);
            if fitting.place == Place::Ring
                && let Some(teeth) = rings.iter().rev().nth(usize::from(fitting.position.get()))
            {
                text = format!("{text} {}", teeth.get());
            }
            let value = format!("{} {}", fitting.place, fitting.position.get());
            let chosen = match fields.filled("place") {
                Some(typed) => typed == value,
                None => swap_of(fitting.place) == Some(kind) && fitting.position == Position::default(),
            };
            Choice { chosen, value, text }
        })
        .collect();
    if places.is_empty() {
        places.push(Choice { value: "chain 0".to_owned(), text: f.place(Place::Chain), chosen: true });
    }
    let most = PageRequest::first(PageSize::LARGEST);
    let models = part_models::list(services, actor, &most).await?.items;
    let instruments = match kind {
        SwapOf::Chain => read_with(&f, &tools::in_use(services, actor).await?, fields.get("instrument")),
        _ => Vec::new(),
    };
    Ok(SwapPage {
        id: bike.id.to_string(),
        label: bike.facts.label.as_str().to_owned(),
        places,
        models: models
            .iter()
            .map(|model| Choice {
                value: model.id.to_string(),
                text: format!("{}: {}", f.place(model.facts.geometry.place()), model.facts.name.as_str()),
                chosen: fields.get("model") == model.id.to_string(),
            })
            .collect(),
        instruments,
        reasons: SwapReason::ALL
            .iter()
            .map(|&it| Choice {
                value: it.as_str().to_owned(),
                text: f.swap_reason(it),
                chosen: fields.get("reason") == it.as_str(),
            })
            .collect(),
        now: services.now().to_string(),
        at: fields.get("at").to_owned(),
        note: fields.get("note").to_owned(),
        percent: fields.get("percent").to_owned(),
        odometer: fields.get("odometer").to_owned(),
        errors,
        kinds: SwapOf::ALL
            .iter()
            .map(|&kind| {
                let text = match kind {
                    SwapOf::Chain => f.steps_chain(),
                    SwapOf::Cassette => f.steps_cassette(),
                    SwapOf::Ring => f.steps_ring(),
                };
                (kind.as_str(), text)
            })
            .collect(),
        of: kind.as_str(),
        procedure,
        mismatch: mismatch || fields.filled(ACCEPT).is_some(),
        links: match kind {
            SwapOf::Chain => f.steps_links(bike.facts.drivetrain.links().get()),
            _ => String::new(),
        },
        f,
    })
}

/// What a worn chain can have been read with: an instrument, or one of the tools that have names.
fn read_with(f: &Frame, tools: &[Tool], chosen: &str) -> Vec<Choice> {
    let choice = |value: String, text: String| Choice { chosen: chosen == value, value, text };
    let named = |it: Instrument| tools.iter().filter(move |tool| tool.instrument == it);
    PERCENT
        .into_iter()
        .flat_map(|it| {
            let unnamed = choice(it.as_str().to_owned(), f.instrument(it));
            let of_kind = named(it).map(move |tool| {
                choice(format!("{it} {}", tool.id), f.swap_reading_tool(&tool.name, f.instrument(it)))
            });
            std::iter::once(unnamed).chain(of_kind).collect::<Vec<_>>()
        })
        .collect()
}

#[get("/bikes/{bike_id}/swap")]
pub(super) async fn swap_page(
    viewer: Viewer<Mechanic>,
    services: web::Data<Services>,
    bike_id: web::Path<BikeId>,
    query: web::Query<Query>,
) -> Answer {
    let Viewer { actor, frame, .. } = viewer;
    let bike = bikes::get(&services, &actor, *bike_id).await?;
    let asked = (query.swap(), &Fields::default());
    html(&swap_form(&services, &actor, frame, &bike, asked, (Vec::new(), false)).await?)
}

fn time_of(f: &Frame, fields: &Fields, now: Timestamp, errors: &mut Vec<String>) -> Timestamp {
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

fn note_of(f: &Frame, fields: &Fields, errors: &mut Vec<String>) -> Option<Note> {
    let text = fields.filled("note")?.replace("\r\n", "\n");
    Note::new(&text).map_err(|cause| errors.push(f.wrong(&cause))).ok()
}

fn parse_swap(f: &Frame, fields: &Fields, now: Timestamp) -> Result<EnterSwap, Vec<String>> {
    let mut errors = Vec::new();
    let swapped_at = time_of(f, fields, now, &mut errors);
    let note = note_of(f, fields, &mut errors);
    let (place, position) = fields.get("place").split_once(' ').unwrap_or((fields.get("place"), "0"));
    let place: Place = place.parse().unwrap_or(Place::Chain);
    let position =
        position.parse().ok().and_then(|position| Position::new(position).ok()).unwrap_or_default();
    let model_id: Option<PartModelId> = fields.filled("model").and_then(|id| id.parse().ok());
    let reading = fields.filled("percent").and_then(|typed| {
        let (instrument, tool) = match fields.get("instrument").split_once(' ') {
            Some((instrument, tool)) => (instrument, Some(tool)),
            None => (fields.get("instrument"), None),
        };
        let tool = tool_choice::chosen(tool).map_err(|cause| errors.push(f.wrong(&cause)));
        let tool_id = tool.ok().flatten();
        let instrument = instrument.parse().unwrap_or(Instrument::Rule);
        let measured = parse_number(typed)
            .and_then(|value| ElongationReading::new(value).ok())
            .and_then(|percent| Measured::new(Entry::Percent { instrument, percent }).ok());
        if measured.is_none() {
            errors.push(match parse_number(typed) {
                Some(_) => f.measure_percent_range(),
                None => f.measure_not_a_number(typed),
            });
        }
        measured.map(|measured| (measured, ReadWith { tool_id, read_by: None }))
    });
    let ticked = Checklist::new(fields.all("done"));
    let checklist = ticked.map_err(|(_, cause)| errors.push(f.wrong(&cause))).ok();
    let checklist = checklist.filter(|ticked| !ticked.words().is_empty());
    let odometer = riding::total_of(f, fields).unwrap_or_else(|wrong| {
        errors.push(wrong);
        None
    });
    if errors.is_empty() {
        let reason = fields.filled("reason").filter(|_| swaps::takes_reason(place));
        let reason = reason.and_then(|word| word.parse().ok());
        Ok(EnterSwap {
            swapped_at,
            place,
            position,
            model_id,
            reading,
            note,
            checklist,
            odometer,
            reason,
            mismatch: Mismatch::of(Some(fields.filled(ACCEPT).is_some())),
        })
    } else {
        Err(errors)
    }
}

#[post("/bikes/{bike_id}/swap")]
pub(super) async fn swap(
    posted: Posted<Mechanic>,
    services: web::Data<Services>,
    bike_id: web::Path<BikeId>,
    query: web::Query<Query>,
) -> Answer {
    let Posted { viewer: Viewer { actor, frame, .. }, fields } = posted;
    let bike = bikes::get(&services, &actor, *bike_id).await?;
    let now = services.now();
    let wrong = match parse_swap(&frame, &fields, now) {
        Err(errors) => (errors, false),
        Ok(mut enter) => {
            let sent_before = match enter.swapped_at == now {
                true => swapped_just_now(&services, &actor, bike.id, &enter).await?,
                false => None,
            };
            if sent_before.is_some() && enter.odometer.is_none() {
                return Ok(see(format!("/bikes/{}?done=swap", bike.id)));
            }
            // With an odometer that the first time came without it is the same swap still.
            enter.swapped_at = sent_before.unwrap_or(enter.swapped_at);
            match services
                .change(&actor, async |work| swaps::post(&services, work, bike.id, enter).await)
                .await
            {
                Ok(_) => return Ok(see(format!("/bikes/{}?done=swap", bike.id))),
                Err(error) => {
                    let mismatch = Words::is_mismatch(&error);
                    (frame.refused(error)?, mismatch)
                }
            }
        }
    };
    again(&swap_form(&services, &actor, frame, &bike, (query.swap(), &fields), wrong).await?)
}

/// When the same place was swapped within the minute: somebody tapped twice.
async fn swapped_just_now(
    services: &Services,
    actor: &Actor,
    bike_id: BikeId,
    enter: &EnterSwap,
) -> Result<Option<Timestamp>, ServiceError> {
    let latest = swaps::list(services, actor, bike_id, &PageRequest::default()).await?.items;
    let since = enter.swapped_at.plus(-TWICE);
    let same = latest.iter().find(|it| {
        let facts = &it.facts;
        it.voided.is_none()
            && facts.swapped_at > since
            && (facts.place, facts.position) == (enter.place, enter.position)
    });
    Ok(same.map(|it| it.facts.swapped_at))
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
