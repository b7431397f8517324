//! Swaps, recorded in one form: what comes off, what goes on, and what is worn besides.

use std::collections::BTreeSet;

use actix_web::{get, post, web};
use askama::Template;
use serde::Deserialize;
use wear_core::drivetrain::procedure::SwapOf;
use wear_core::units::ElongationReading;

use super::failure::Failure;
use super::frame::{Fields, Frame, Posted, Viewer};
use super::steps::{Procedure, kind_name, procedure_together, swap_of};
use super::tool_choice;
use super::work::{ACCEPT, Choice, TWICE, note_of, time_of};
use super::{Answer, again, html, riding, see};
use crate::domain::{
    Advice, BikeId, Checklist, Entry, Instrument, Measured, Note, PageRequest, Place, Position, ReadWith,
    SwapId, SwapReason, Timestamp, Tool,
};
use crate::service::swap_choices::{self, SwapChoices, SwapModel, SwapPlace};
use crate::service::swaps::EnterSwap;
use crate::service::{Actor, Mismatch, ServiceError, Services, swap_voiding, swaps, tools};
use crate::web::auth::Mechanic;
use crate::words::{Words, parse_number};

/// Instruments that a worn chain is read with in percent.
const PERCENT: [Instrument; 3] = [Instrument::Rule, Instrument::Caliper, Instrument::Dial];

/// A new chain that skips with this probability is worth a word before it goes on (A).
const MAY_SKIP: f64 = 0.2;

#[derive(Template)]
#[template(path = "swap.html")]
struct SwapPage {
    f: Frame,
    id: String,
    label: String,
    word: &'static str,
    to_do: String,
    /// What is worn besides the chain and goes with it.
    worn: Vec<String>,
    places: Vec<PlaceShown>,
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

struct PlaceShown {
    value: String,
    name: String,
    chosen: bool,
    worn: bool,
    /// What is known of what is there.
    says: Option<String>,
    /// The field of its model.
    model: String,
    fits: Vec<Choice>,
    other_teeth: Vec<Choice>,
    doesnt_go: Vec<Choice>,
}

/// What is being swapped.
#[derive(Deserialize)]
struct Query {
    of: Option<String>,
    /// Places that are ticked besides, as fields have them, with commas between them.
    with: Option<String>,
    at: Option<String>,
}

impl Query {
    fn swap(&self) -> SwapOf {
        self.of.as_deref().and_then(|word| word.parse().ok()).unwrap_or(SwapOf::Chain)
    }

    fn ticked(&self) -> BTreeSet<String> {
        self.with.as_deref().unwrap_or_default().split(',').map(|it| it.trim().to_owned()).collect()
    }
}

/// A place as fields have it: `ring 1`.
pub(super) fn value_of(place: Place, position: Position) -> String {
    format!("{place} {}", position.get())
}

fn place_in(text: &str) -> (Place, Position) {
    let (place, position) = text.split_once(' ').unwrap_or((text, "0"));
    let position =
        position.parse().ok().and_then(|position| Position::new(position).ok()).unwrap_or_default();
    (place.parse().unwrap_or(Place::Chain), position)
}

/// The field that names the model that went on at a place.
fn model_field(value: &str) -> String {
    format!("model-{}", value.replace(' ', "-"))
}

async fn swap_form(
    services: &Services,
    actor: &Actor,
    f: Frame,
    choices: &SwapChoices,
    (query, fields): (&Query, &Fields),
    (errors, mismatch): (Vec<String>, bool),
) -> Result<SwapPage, Failure> {
    let (kind, bike, outlook) = (query.swap(), &choices.bike, &choices.outlook);
    let places = places_shown(&f, choices, query, fields);
    // In one visit what is worn goes as well, in an order that suits all of it.
    let goes = |other: SwapOf| {
        let of_kind = |it: &&PlaceShown| swap_of(place_in(&it.value).0) == Some(other);
        places.iter().filter(of_kind).any(|it| it.chosen || it.worn)
    };
    let others = SwapOf::ALL.iter().copied().filter(|&other| other != kind && goes(other));
    let swaps: Vec<SwapOf> = std::iter::once(kind).chain(others).collect();
    let mut procedure = procedure_together(services, actor, f.words(), (bike, &swaps)).await?;
    for step in &mut procedure.steps {
        step.ticked = fields.all("done").any(|word| word == step.id);
    }
    let instruments = read_with(&f, &tools::in_use(services, actor).await?, fields.get("instrument"));
    Ok(SwapPage {
        id: bike.id.to_string(),
        label: bike.facts.label.as_str().to_owned(),
        word: outlook.advice.as_str(),
        to_do: f.what_to_do(outlook.advice, outlook.swap_by(), outlook.measure_by(), f.today),
        worn: choices
            .places
            .iter()
            .filter(|it| it.goes_with_chain())
            .map(|it| f.swap_worn(place_name(&f, it), f.chance(it.worn_out.unwrap_or_default())))
            .collect(),
        places,
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
        at: fields.filled("at").or(query.at.as_deref()).unwrap_or_default().to_owned(),
        note: fields.get("note").to_owned(),
        percent: fields.get("percent").to_owned(),
        odometer: fields.get("odometer").to_owned(),
        errors,
        kinds: SwapOf::ALL.iter().map(|&kind| (kind.as_str(), kind_name(f.words(), kind))).collect(),
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

fn place_name(f: &Frame, it: &SwapPlace) -> String {
    f.place_with_teeth(it.place, it.teeth)
}

fn places_shown(f: &Frame, choices: &SwapChoices, query: &Query, fields: &Fields) -> Vec<PlaceShown> {
    let typed: BTreeSet<String> = fields.all("place").map(str::to_owned).collect();
    let with = query.ticked();
    let first = choices.places.iter().find(|it| swap_of(it.place) == Some(query.swap()));
    let first = first.map(|it| value_of(it.place, it.position));
    let shown = |it: &SwapPlace| {
        let value = value_of(it.place, it.position);
        let field = model_field(&value);
        let named = fields.filled(&field).or_else(|| fields.filled("model").filter(|_| typed.len() == 1));
        let choice = |it: &SwapModel| Choice {
            value: it.model.id.to_string(),
            text: model_name(f, it),
            chosen: named == Some(it.model.id.to_string().as_str()),
        };
        let group =
            |wanted: fn(&SwapModel) -> bool| it.models.iter().filter(|it| wanted(it)).map(choice).collect();
        PlaceShown {
            chosen: match typed.is_empty() {
                true => first.as_ref() == Some(&value) || with.contains(&value),
                false => typed.contains(&value),
            },
            worn: it.goes_with_chain(),
            says: says(f, choices, it),
            name: match &it.on {
                Some((_, model)) => format!("{}: {}", place_name(f, it), model.as_str()),
                None => place_name(f, it),
            },
            fits: group(|it| it.doesnt_go.is_none() && it.same_teeth),
            other_teeth: group(|it| it.doesnt_go.is_none() && !it.same_teeth),
            doesnt_go: group(|it| it.doesnt_go.is_some()),
            model: field,
            value,
        }
    };
    let mut places: Vec<PlaceShown> = choices.places.iter().map(shown).collect();
    if places.is_empty() {
        // Nothing is on record; what goes on first is a chain.
        let none = SwapPlace {
            place: Place::Chain,
            position: Position::default(),
            teeth: None,
            on: None,
            worn_out: None,
            models: Vec::new(),
        };
        places.push(PlaceShown { chosen: true, ..shown(&none) });
    }
    places
}

/// A model, with how many of it lie on the shelf.
fn model_name(f: &Frame, it: &SwapModel) -> String {
    let name = it.model.facts.name.as_str();
    match it.on_shelf {
        Some(count) => f.swap_model_on_shelf(name, f64::from(count)),
        None => name.to_owned(),
    }
}

/// What is known of the part that is there.
fn says(f: &Frame, choices: &SwapChoices, it: &SwapPlace) -> Option<String> {
    if it.place == Place::Chain {
        let outlook = &choices.outlook;
        let is_known = !matches!(outlook.advice, Advice::Hold) && outlook.elongation_percent.is_some();
        let over = outlook.probability_over_limit.filter(|_| is_known)?;
        return Some(f.why_over(f.chance(over)));
    }
    let worn = it.worn_out?;
    let (chance, is_ring) = (f.chance(worn), it.place == Place::Ring);
    Some(match (it.goes_with_chain(), worn >= MAY_SKIP) {
        (true, _) if is_ring => f.swap_ring_worn(chance),
        (true, _) => f.swap_cassette_worn(chance),
        (false, true) if is_ring => f.swap_ring_may(chance),
        (false, true) => f.swap_cassette_may(chance),
        (false, false) if is_ring => f.swap_ring_stays(chance),
        (false, false) => f.swap_cassette_stays(chance),
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
pub(super) async fn page(
    viewer: Viewer<Mechanic>,
    services: web::Data<Services>,
    bike_id: web::Path<BikeId>,
    query: web::Query<Query>,
) -> Answer {
    let Viewer { actor, frame, .. } = viewer;
    let choices = swap_choices::of_bike(&services, &actor, *bike_id).await?;
    let asked = (&*query, &Fields::default());
    html(&swap_form(&services, &actor, frame, &choices, asked, (Vec::new(), false)).await?)
}

/// What the worn chain read, with what it was read.
fn reading_of(f: &Frame, fields: &Fields, errors: &mut Vec<String>) -> Option<(Measured, ReadWith)> {
    let typed = fields.filled("percent")?;
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
}

/// The swaps that a form says, all of one moment. What was read of the old chain goes with the chain; remark and odometer
/// with the first of them.
fn parse_swaps(f: &Frame, fields: &Fields, now: Timestamp) -> Result<Vec<EnterSwap>, Vec<String>> {
    let mut errors = Vec::new();
    let swapped_at = time_of(f, fields, now, &mut errors);
    let mut note: Option<Note> = note_of(f, fields, &mut errors);
    let mut reading = reading_of(f, fields, &mut errors);
    let ticked = Checklist::new(fields.all("done"));
    let checklist = ticked.map_err(|(_, cause)| errors.push(f.wrong(&cause))).ok();
    let checklist = checklist.filter(|ticked| !ticked.words().is_empty());
    let mut odometer = riding::total_of(f, fields).unwrap_or_else(|wrong| {
        errors.push(wrong);
        None
    });
    let said: Vec<&str> = fields.all("place").filter(|value| !value.is_empty()).collect();
    let mut places: Vec<(Place, Position)> = said.iter().map(|value| place_in(value)).collect();
    places.sort_by_key(|(place, position)| (*place != Place::Chain, *place, *position));
    places.dedup();
    if places.is_empty() {
        errors.push(f.swap_nothing_chosen());
    }
    if reading.is_some() && !places.iter().any(|(place, _)| *place == Place::Chain) {
        errors.push(f.swap_reading_without_chain());
    }
    if !errors.is_empty() {
        return Err(errors);
    }
    let only = places.len() == 1;
    let entered = places.into_iter().map(|(place, position)| {
        let field = model_field(&value_of(place, position));
        let model = fields.filled(&field).or_else(|| fields.filled("model").filter(|_| only));
        let reason = fields.filled("reason").filter(|_| swaps::takes_reason(place));
        EnterSwap {
            swapped_at,
            place,
            position,
            model_id: model.and_then(|id| id.parse().ok()),
            reading: reading.take_if(|_| place == Place::Chain),
            note: note.take(),
            checklist: checklist.clone(),
            odometer: odometer.take(),
            reason: reason.and_then(|word| word.parse().ok()),
            mismatch: Mismatch::of(Some(fields.filled(ACCEPT).is_some())),
        }
    });
    Ok(entered.collect())
}

#[post("/bikes/{bike_id}/swap")]
pub(super) async fn save(
    posted: Posted<Mechanic>,
    services: web::Data<Services>,
    bike_id: web::Path<BikeId>,
    query: web::Query<Query>,
) -> Answer {
    let Posted { viewer: Viewer { actor, frame, .. }, fields } = posted;
    let bike_id = *bike_id;
    let now = services.now();
    let wrong = match parse_swaps(&frame, &fields, now) {
        Err(errors) => (errors, false),
        Ok(entered) => match enter_all(&services, &actor, bike_id, entered, now).await {
            Ok(ids) => return Ok(see(done(bike_id, &ids))),
            Err((place, error)) => {
                let mismatch = Words::is_mismatch(&error);
                let mut errors = frame.refused(error)?;
                if let (Some(place), true, [first, ..]) = (place, mismatch, errors.as_mut_slice()) {
                    *first = frame.swap_part_refused(frame.place(place), &*first);
                }
                (errors, mismatch)
            }
        },
    };
    let choices = swap_choices::of_bike(&services, &actor, bike_id).await?;
    again(&swap_form(&services, &actor, frame, &choices, (&*query, &fields), wrong).await?)
}

/// Where one goes once swaps are saved: to the bike, which names what was recorded and offers to undo it.
pub(super) fn done(bike_id: BikeId, ids: &[SwapId]) -> String {
    let ids: Vec<String> = ids.iter().map(ToString::to_string).collect();
    format!("/bikes/{bike_id}?done=swap&swaps={}", ids.join(","))
}

/// Enters swaps in one change: all of them, or none. Those that somebody tapped twice count once.
pub(super) async fn enter_all(
    services: &Services,
    actor: &Actor,
    bike_id: BikeId,
    entered: Vec<EnterSwap>,
    now: Timestamp,
) -> Result<Vec<SwapId>, (Option<Place>, ServiceError)> {
    let mut of_now = Vec::new();
    for mut enter in entered {
        if enter.swapped_at == now
            && let Some(same) =
                swapped_just_now(services, actor, bike_id, &enter).await.map_err(|e| (None, e))?
        {
            // With an odometer that the first time came without it is the same swap still.
            enter.swapped_at = same;
        }
        of_now.push(enter);
    }
    let mut at = None;
    let mut ids = Vec::new();
    let saved = services
        .change(actor, async |work| {
            ids.clear();
            for enter in &of_now {
                at = Some(enter.place);
                let entered = swaps::post(services, work, bike_id, enter.clone()).await?;
                ids.push(entered.swap.get().facts.id);
            }
            Ok(())
        })
        .await;
    saved.map_err(|error| (at, error))?;
    Ok(ids)
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

/// Takes back what was recorded a moment ago, the last part first.
#[post("/bikes/{bike_id}/swaps/undo")]
pub(super) async fn undo(
    posted: Posted<Mechanic>,
    services: web::Data<Services>,
    bike_id: web::Path<BikeId>,
) -> Answer {
    let Posted { viewer: Viewer { actor, frame, .. }, fields } = posted;
    let bike_id = *bike_id;
    let ids: Vec<SwapId> = fields.all("swap").filter_map(|id| id.parse().ok()).collect();
    let reason = Note::new(&frame.swap_undone_reason()).map_err(|_| Failure::Internal)?;
    services
        .change(&actor, async |work| {
            for id in ids.iter().rev() {
                swap_voiding::void(&services, work, bike_id, *id, reason.clone()).await?;
            }
            Ok(())
        })
        .await?;
    Ok(see(match fields.get("from") {
        "bench" => "/bench?done=undone".to_owned(),
        _ => format!("/bikes/{bike_id}?done=undone"),
    }))
}
