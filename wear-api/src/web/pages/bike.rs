//! One bike: where its chain is, where it goes, why, and what was done.

use actix_web::{get, post, web};
use askama::Template;
use chrono::{Datelike as _, NaiveDate};
use serde::Deserialize;

use super::doubt::{Explained, explained};
use super::failure::Failure;
use super::frame::{Fields, Frame, Posted, Typed, Viewer};
use super::new_bike::km_before;
use super::plot::{self, Cog, Month};
use super::riding::{self, RidingShown};
use super::steps::{left_undone, swap_of};
use super::swap::value_of;
use super::symptom::reported;
use super::{Answer, again, encoded, html, see};
use crate::words::{Words, is_riding_unknown, is_unknown};
use wear_core::bike::RateSource;

use crate::domain::{
    Advice, Bike, BikeId, BikePatch, BikeStart, Care, CareId, FieldErrors, GOES_WITH_CHAIN, KmBefore,
    NewSwap, Note, Outlook, Place, ReadingId, StartPatch, Swap, SwapId, Timestamp,
};
use crate::input::parse;
use crate::service::bikes::EnterStart;
use crate::service::history::BikeHistory;
use crate::service::outlook::Picture;
use crate::service::swap_choices::teeth_at;
use crate::service::{
    Actor, ServiceError, Services, bikes, care, history, odometer, outlook, readings, swap_voiding, symptoms,
};
use crate::web::auth::{App, Mechanic};

/// Entries of the history shown at first.
const SHOWN: usize = 14;

#[derive(Template)]
#[template(path = "bike.html")]
struct BikePage {
    f: Frame,
    id: String,
    label: String,
    group: String,
    usage: String,
    retired: bool,
    /// When it left the fleet, in words.
    left: Option<String>,
    word: &'static str,
    to_do: String,
    sentence: String,
    chances: String,
    overdue: bool,
    ridden_unknown: bool,
    rule: Option<String>,
    path: Option<String>,
    drivers: Vec<Driver>,
    driven: Option<String>,
    single_cog: bool,
    cassette: Option<CassetteShown>,
    rings: Option<String>,
    warnings: Vec<String>,
    explained: Vec<Explained>,
    mended: Option<String>,
    /// Of how many readings the outlook is.
    basis_first: String,
    basis: Vec<String>,
    /// What is worn besides the chain.
    goes_with: Option<String>,
    rides: Option<String>,
    events: Vec<Event>,
    more_events: bool,
    /// What was recorded a moment ago.
    swapped: Option<String>,
    undo: Undo,
    taken_back: bool,
    edited: bool,
    cared: bool,
    undone: Vec<String>,
    fittings: Vec<FittingShown>,
    earlier: Vec<FittingShown>,
    places: Vec<(&'static str, String)>,
    start: StartShown,
    riding: RidingShown,
}

struct StartShown {
    text: String,
    fitted_on: String,
    chain_km: String,
    errors: Vec<String>,
}

struct Driver {
    name: String,
    share: String,
    width: String,
    spared: bool,
}

struct CassetteShown {
    plot: String,
    text: String,
    skips: String,
    next: String,
    held: Option<String>,
    cost: Option<String>,
}

/// Swaps that were recorded a moment ago.
struct Undo {
    swaps: Vec<String>,
}

struct Event {
    at: Timestamp,
    when: String,
    what: String,
    detail: String,
    voided: Option<String>,
    /// What can be voided: `readings/` and its id.
    voidable: Option<String>,
    is_swap: bool,
    /// What can count again: `readings/` and its id.
    restorable: Option<String>,
    /// Where a swap that was undone is entered again, filled in.
    again: Option<String>,
}

struct FittingShown {
    id: String,
    part: String,
    when: String,
}

#[derive(Default, Deserialize)]
struct Query {
    all: Option<u8>,
    done: Option<String>,
    /// Swaps that were recorded a moment ago, with commas between them.
    swaps: Option<String>,
}

#[get("/bikes/{bike_id}")]
pub(super) async fn page(
    viewer: Viewer<App>,
    services: web::Data<Services>,
    bike_id: web::Path<BikeId>,
    query: web::Query<Query>,
) -> Answer {
    let Viewer { actor, frame: f, .. } = viewer;
    html(&shown(f, &actor, &services, *bike_id, &query, (Typed::default(), Vec::new())).await?)
}

/// The page again with a form of it that wasn't taken: what was typed, and what is wrong.
pub(super) async fn refused(
    f: Frame,
    actor: &Actor,
    services: &Services,
    bike_id: BikeId,
    refused: (Typed, Vec<String>),
) -> Answer {
    again(&shown(f, actor, services, bike_id, &Query::default(), refused).await?)
}

async fn shown(
    f: Frame,
    actor: &Actor,
    services: &Services,
    bike_id: BikeId,
    query: &Query,
    (typed, errors): (Typed, Vec<String>),
) -> Result<BikePage, Failure> {
    let (_, start) = bikes::get_with_start(services, actor, bike_id).await?;
    let picture = outlook::picture(services, actor, bike_id).await?;
    let history = history::of_bike(services, actor, bike_id).await?;
    let mut events = events(&f, &history);
    let more_events = query.all.is_none() && events.len() > SHOWN;
    if more_events {
        events.truncate(SHOWN);
    }
    let Picture { bike, outlook, .. } = &picture;
    let (present, earlier) = fittings(&f, &history);
    let mut basis = basis(&f, outlook);
    let swapped = query.done.as_deref() == Some("swap");
    let ids = query.swaps.as_deref().unwrap_or_default();
    let ids: Vec<SwapId> = ids.split(',').filter_map(|id| id.parse().ok()).collect();
    let newest = history.swaps.first().filter(|_| ids.is_empty()).map(|swap| swap.facts.id);
    let is_recorded = |swap: &&Swap| {
        let id = swap.facts.id;
        swapped && swap.voided.is_none() && (ids.contains(&id) || newest == Some(id))
    };
    let recorded: Vec<&Swap> = history.swaps.iter().filter(is_recorded).collect();
    let mut undone: Vec<String> = Vec::new();
    for swap in &recorded {
        let ticked = swap.facts.checklist.clone().unwrap_or_default();
        for check in left_undone(services, actor, f.words(), bike, swap.facts.place, &ticked).await? {
            if !undone.contains(&check) {
                undone.push(check);
            }
        }
    }
    // Undone from the last to the first, as they were recorded in that order.
    let undo = Undo { swaps: ids.iter().map(ToString::to_string).collect() };
    let parts = recorded.iter().rev().map(|swap| f.place(swap.facts.place)).collect::<Vec<_>>();
    Ok(BikePage {
        start: start_shown(&f, start, &typed, &errors),
        id: bike_id.to_string(),
        label: bike.facts.label.as_str().to_owned(),
        group: bike.facts.group.as_str().to_owned(),
        usage: f.usage(bike.facts.usage),
        retired: bike.retired_at.is_some(),
        left: bike.retired_at.map(|at| f.bike_left(f.instant(at))),
        word: outlook.advice.as_str(),
        to_do: f.what_to_do(outlook.advice, outlook.swap_by(), outlook.measure_by(), f.today),
        sentence: f.sentence(outlook),
        chances: chances(&f, outlook),
        overdue: outlook.advice == Advice::SwapNow,
        ridden_unknown: is_riding_unknown(outlook),
        rule: outlook
            .elongation_percent
            .filter(|_| !is_unknown(outlook.advice, outlook.reason))
            .map(|band| plot::rule(f.words(), &picture.density, band, outlook.limit_percent)),
        path: plot::projection(f.words(), &picture),
        drivers: drivers(&f, outlook),
        driven: outlook.basis.fitted_at.filter(|_| outlook.basis.distance_km > 0.0).map(|_| {
            f.bike_drivers_text(f.ridden(outlook.basis.distance_km), f.ridden(outlook.basis.reference_km))
        }),
        single_cog: bike.facts.drivetrain.cogs().len() == 1,
        cassette: cassette(&f, outlook),
        rings: rings(&f, outlook),
        warnings: f.warnings(outlook, !outlook.explanations.is_empty()),
        explained: explained(&f, outlook),
        mended: match query.done.as_deref() {
            Some("mended") => Some(f.doubt_mended()),
            Some("agree") => Some(f.doubt_gone()),
            _ => None,
        },
        basis_first: basis.remove(0),
        basis,
        goes_with: goes_with(&f, bike, outlook, &history),
        rides: plot::rides(f.words(), &months(&history)),
        events,
        more_events,
        swapped: (!recorded.is_empty()).then(|| f.swap_done(parts.join(", "))),
        undo,
        taken_back: query.done.as_deref() == Some("undone"),
        edited: query.done.as_deref() == Some("edited"),
        cared: query.done.as_deref() == Some("care"),
        undone,
        fittings: present,
        earlier,
        riding: riding::shown(&f, &history, &typed, &errors),
        places: Place::ALL.iter().map(|&place| (place.as_str(), f.place(place))).collect(),
        f,
    })
}

fn start_shown(f: &Frame, start: Option<BikeStart>, typed: &Typed, errors: &[String]) -> StartShown {
    let (text, fitted_on, km) = match start {
        None => (f.start_none(), None, None),
        Some(BikeStart::New { fitted_on }) => (f.start_new(f.medium_date(fitted_on)), Some(fitted_on), None),
        Some(BikeStart::AsFound { since, ridden }) => {
            let since = f.medium_date(f.day_of(since));
            let text = match ridden {
                None => f.start_found(since),
                Some(before) => f.start_found_after(since, f.about(before.km())),
            };
            (text, None, ridden.map(KmBefore::km))
        }
    };
    StartShown {
        text,
        fitted_on: typed.or(START, "fitted_on", fitted_on.map(|day| day.to_string()).unwrap_or_default()),
        chain_km: typed.or(START, "chain_km", km.map(|km| f.typed(f.in_units(km), 0)).unwrap_or_default()),
        errors: if typed.is(START) { errors.to_vec() } else { Vec::new() },
    }
}

/// Takes a bike out of the fleet, or brings it back.
#[post("/bikes/{bike_id}/fleet")]
pub(super) async fn fleet(
    posted: Posted<Mechanic>,
    services: web::Data<Services>,
    bike_id: web::Path<BikeId>,
) -> Answer {
    let Posted { viewer: Viewer { actor, .. }, fields } = posted;
    let revision = bikes::get(&services, &actor, *bike_id).await?.revision;
    let patch = BikePatch { retired: Some(fields.get("in") == "no"), ..BikePatch::default() };
    services
        .change(&actor, async |work| bikes::patch(&services, work, *bike_id, revision, patch).await)
        .await?;
    Ok(see(format!("/bikes/{bike_id}")))
}

/// The form that corrects the start.
const START: &str = "start";

#[post("/bikes/{bike_id}/start")]
pub(super) async fn correct_start(
    posted: Posted<Mechanic>,
    services: web::Data<Services>,
    bike_id: web::Path<BikeId>,
) -> Answer {
    let Posted { viewer: Viewer { actor, frame, .. }, fields } = posted;
    let corrected = match start_patch(&frame, &fields) {
        Ok(start) => {
            let revision = bikes::get(&services, &actor, *bike_id).await?.revision;
            let patch = BikePatch { start, ..BikePatch::default() };
            services
                .change(&actor, async |work| bikes::patch(&services, work, *bike_id, revision, patch).await)
                .await
        }
        Err(errors) => Err(ServiceError::Invalid(errors)),
    };
    match corrected {
        Ok(_) => Ok(see(format!("/bikes/{bike_id}#parts"))),
        Err(error) => {
            let errors = frame.refused(error)?;
            refused(frame, &actor, &services, *bike_id, (Typed::into(START, fields), errors)).await
        }
    }
}

/// With a day: new on it. Without: as found.
fn start_patch(f: &Frame, fields: &Fields) -> Result<StartPatch, FieldErrors> {
    let mut errors = FieldErrors::new();
    let fitted_on = fields.filled("fitted_on").and_then(|text| errors.keep("/fitted_on", parse::date(text)));
    let ridden = km_before(f, fields, &mut errors);
    errors.keep("/chain_km", EnterStart::new(fitted_on, ridden));
    if errors.is_empty() {
        Ok(StartPatch { fitted_on: Some(fitted_on), ridden: fitted_on.is_none().then_some(ridden) })
    } else {
        Err(errors)
    }
}

fn chances(f: &Frame, outlook: &Outlook) -> String {
    let over = outlook.probability_over_limit.filter(|_| !is_unknown(outlook.advice, outlook.reason));
    let Some(over) = over else { return String::new() };
    let by = outlook.measure_by().filter(|_| !matches!(outlook.advice, Advice::SwapNow | Advice::MeasureBy));
    match (by, Words::says_over(outlook)) {
        (Some(day), false) => f.bike_chances(f.date(day), f.chance(over)),
        (Some(day), true) => f.bike_measure_by(f.date(day)),
        (None, false) => f.bike_chance_over(f.chance(over)),
        (None, true) => String::new(),
    }
}

/// What is on the bike, is worn and goes with the chain.
fn goes_with(f: &Frame, bike: &Bike, outlook: &Outlook, history: &BikeHistory) -> Option<String> {
    let is_worn =
        |place, position| outlook.worn_out(place, position).is_some_and(|worn| worn >= GOES_WITH_CHAIN);
    let open = history.fittings.iter().filter(|fitting| fitting.removed_at.is_none());
    let worn: Vec<String> = open
        .filter(|fitting| is_worn(fitting.place, fitting.position))
        .map(|fitting| f.place_with_teeth(fitting.place, teeth_at(bike, fitting.place, fitting.position)))
        .collect();
    (!worn.is_empty()).then(|| f.bike_goes_with(worn.join(", ")))
}

fn drivers(f: &Frame, outlook: &Outlook) -> Vec<Driver> {
    let largest = outlook.drivers.iter().map(|driver| driver.share_percent.abs()).fold(1.0, f64::max);
    outlook
        .drivers
        .iter()
        .filter(|driver| driver.share_percent.abs() >= 0.5)
        .map(|driver| Driver {
            name: f.driver_name(driver.driver),
            share: f.percent(driver.share_percent, 0),
            width: format!("{:.1}", 100.0 * driver.share_percent.abs() / largest),
            spared: driver.share_percent < 0.0,
        })
        .collect()
}

fn cassette(f: &Frame, outlook: &Outlook) -> Option<CassetteShown> {
    let report = outlook.cassette.as_ref()?;
    let cogs: Vec<Cog> = report
        .sprockets
        .iter()
        .map(|it| Cog { teeth: u32::from(it.teeth), damage: it.damage, worn: it.probability_skips })
        .collect();
    let count = |value: f64| f.number(value, 0);
    let to_come = report.chains_to_come;
    Some(CassetteShown {
        plot: plot::cogs(f.words(), "cassette-plot", &f.cassette_plot_title(), &cogs),
        text: if to_come.p90 < 0.5 {
            f.bike_cassette_done()
        } else if to_come.p50 < 0.5 {
            f.bike_cassette_unlikely(count(to_come.p90))
        } else {
            f.bike_cassette_text(to_come.p50.round(), count(to_come.p10), count(to_come.p90))
        },
        skips: f.bike_cassette_skips(f.chance(report.probability_skips)),
        next: f.bike_cassette_next(f.chance(report.probability_skips_at_limit)),
        held: outlook
            .basis
            .cassette
            .filter(|basis| basis.chains_held > 0)
            .map(|basis| f.bike_cassette_held(f64::from(basis.chains_held))),
        cost: report.cost_per_1000_km_now.zip(report.cost_per_1000_km_at_limit).map(|(now, limit)| {
            let (per, km) = (f.thousand(), 1.0 / f.in_units(1.0));
            let money = |minor: f64| f.money((minor.round() * km).round() as i64);
            f.bike_cassette_cost(money(now), per, money(limit))
        }),
    })
}

fn rings(f: &Frame, outlook: &Outlook) -> Option<String> {
    let rings: Vec<Cog> = outlook
        .rings
        .iter()
        .map(|it| Cog { teeth: u32::from(it.teeth), damage: it.damage, worn: it.probability_worn })
        .collect();
    (!rings.is_empty()).then(|| plot::cogs(f.words(), "rings-plot", &f.rings_plot_title(), &rings))
}

fn basis(f: &Frame, outlook: &Outlook) -> Vec<String> {
    let basis = &outlook.basis;
    let rate = match &basis.wear_rate_from {
        RateSource::Default => f.bike_basis_default(),
        RateSource::Group { group, chains_read } => f.bike_basis_learned(f.bike_of_group(group), chains_read),
        RateSource::Fleet { chains_read } => f.bike_basis_learned(f.bike_of_fleet(), chains_read),
    };
    let mut lines = vec![f.bike_basis_text(basis.readings_used, rate)];
    let energy = basis.energy_source_percent;
    if energy.measured + energy.distance_and_climb + energy.distance > 0.0 {
        lines.push(f.bike_basis_energy(
            f.percent(energy.measured, 0),
            f.percent(energy.distance_and_climb, 0),
            f.percent(energy.distance, 0),
        ));
    }
    lines.push(f.bike_basis_assumed());
    lines
}

fn months(history: &BikeHistory) -> Vec<Month> {
    let mut months: Vec<Month> = Vec::new();
    for day in &history.days {
        let Some(first) = day.key.day.with_day(1) else { continue };
        while let Some(last) = months.last()
            && let Some(next) = next_month(last.first)
            && next < first
        {
            months.push(Month { first: next, km: 0.0, wet_km: 0.0, rides: 0 });
        }
        if months.last().is_none_or(|month| month.first != first) {
            months.push(Month { first, km: 0.0, wet_km: 0.0, rides: 0 });
        }
        if let Some(month) = months.last_mut() {
            let km = day.distance_mm as f64 / 1e6;
            month.km += km;
            month.rides += day.rides;
            if day.key.wet {
                month.wet_km += km;
            }
        }
    }
    // Two years are what one looks at.
    let from = months.len().saturating_sub(24);
    months.split_off(from)
}

fn next_month(first: NaiveDate) -> Option<NaiveDate> {
    first.checked_add_months(chrono::Months::new(1))
}

fn events(f: &Frame, history: &BikeHistory) -> Vec<Event> {
    let mut events: Vec<Event> = history
        .readings
        .iter()
        .map(|reading| Event {
            at: reading.taken_at,
            when: f.instant(reading.taken_at),
            what: f.event_reading(),
            detail: f.measured(&reading.measured),
            voided: reading.voided.as_ref().map(|voided| f.event_voided(voided.reason.as_str())),
            voidable: reading.voided.is_none().then(|| format!("readings/{}", reading.id)),
            is_swap: false,
            restorable: reading.voided.is_some().then(|| format!("readings/{}", reading.id)),
            again: None,
        })
        .collect();
    events.extend(history.care.iter().map(|care| Event {
        at: care.done_at,
        when: f.instant(care.done_at),
        what: f.event_care(),
        detail: noted(cared(f, history, care), care.note.as_ref()),
        voided: care.voided.as_ref().map(|voided| f.event_voided(voided.reason.as_str())),
        voidable: care.voided.is_none().then(|| format!("care/{}", care.id)),
        is_swap: false,
        restorable: care.voided.is_some().then(|| format!("care/{}", care.id)),
        again: None,
    }));
    events.extend(history.odometer.iter().map(|statement| Event {
        at: statement.read_at,
        when: f.instant(statement.read_at),
        what: f.event_odometer(),
        detail: f.ridden(statement.total.km()),
        voided: statement.voided.as_ref().map(|voided| f.event_voided(voided.reason.as_str())),
        voidable: statement.voided.is_none().then(|| format!("odometer/{}", statement.id)),
        is_swap: false,
        restorable: statement.voided.is_some().then(|| format!("odometer/{}", statement.id)),
        again: None,
    }));
    events.extend(history.symptoms.iter().map(|report| Event {
        at: report.facts.reported_at,
        when: f.instant(report.facts.reported_at),
        what: f.event_symptom(),
        detail: reported(f.words(), &report.facts),
        voided: report.voided.as_ref().map(|voided| f.event_voided(voided.reason.as_str())),
        voidable: report.voided.is_none().then(|| format!("symptoms/{}", report.facts.id)),
        is_swap: false,
        restorable: report.voided.is_some().then(|| format!("symptoms/{}", report.facts.id)),
        again: None,
    }));
    events.extend(history.swaps.iter().map(|swap| Event {
        at: swap.facts.swapped_at,
        when: f.instant(swap.facts.swapped_at),
        what: f.event_swap(),
        detail: swap_detail(f, &swap.facts),
        voided: swap.voided.as_ref().map(|voided| f.event_voided(voided.reason.as_str())),
        voidable: swap.voided.is_none().then(|| format!("swaps/{}", swap.facts.id)),
        is_swap: true,
        restorable: None,
        again: swap.voided.is_some().then(|| {
            let of = swap_of(swap.facts.place).map_or("chain", |kind| kind.as_str());
            let place = encoded(&value_of(swap.facts.place, swap.facts.position));
            let at = swap.facts.swapped_at.datetime().with_timezone(&f.zone).format("%Y-%m-%dT%H:%M");
            format!("of={of}&with={place}&at={}", encoded(&at.to_string()))
        }),
    }));
    events.sort_by_key(|event| std::cmp::Reverse(event.at));
    events
}

fn swap_detail(f: &Frame, swap: &NewSwap) -> String {
    let text = noted(f.place(swap.place), swap.note.as_ref());
    match &swap.checklist {
        Some(ticked) => format!("{text} ({})", f.swap_ticked(ticked.words().len())),
        None => text,
    }
}

/// What was done, and what with.
fn cared(f: &Frame, history: &BikeHistory, care: &Care) -> String {
    let kind = f.care(care.kind);
    match care.lubricant_id.and_then(|id| history.lubricants.get(&id)) {
        Some(lubricant) => f.event_care_with(kind, lubricant.as_str()),
        None => kind,
    }
}

fn noted(text: String, note: Option<&Note>) -> String {
    note.map_or_else(|| text.clone(), |note| format!("{text}: {}", note.as_str()))
}

fn fittings(f: &Frame, history: &BikeHistory) -> (Vec<FittingShown>, Vec<FittingShown>) {
    let (mut present, mut earlier) = (Vec::new(), Vec::new());
    for fitting in &history.fittings {
        let teeth = teeth_at(&history.bike, fitting.place, fitting.position);
        let mut part = f.place_with_teeth(fitting.place, teeth);
        if let Some(model) = history.models.get(&fitting.part_id) {
            part = format!("{part}: {}", model.as_str());
        }
        let from = f.medium_date(f.day_of(fitting.fitted_at));
        let shown = |when| FittingShown { id: fitting.id.to_string(), part: part.clone(), when };
        match fitting.removed_at {
            None => present.push(shown(f.fitting_since(from))),
            Some(to) => earlier.push(shown(f.fitting_until(from, f.medium_date(f.day_of(to))))),
        }
    }
    earlier.reverse();
    (present, earlier)
}

#[post("/bikes/{bike_id}/readings/{reading_id}/void")]
pub(super) async fn void(
    posted: Posted<Mechanic>,
    services: web::Data<Services>,
    path: web::Path<(BikeId, ReadingId)>,
) -> Answer {
    let Posted { viewer, fields } = posted;
    let (bike_id, reading_id) = path.into_inner();
    let reason = reason(&fields)?;
    services
        .change(&viewer.actor, async |work| {
            readings::void(&services, work, bike_id, reading_id, reason).await
        })
        .await?;
    Ok(see(format!("/bikes/{bike_id}#history")))
}

#[post("/bikes/{bike_id}/care/{care_id}/void")]
pub(super) async fn void_care(
    posted: Posted<Mechanic>,
    services: web::Data<Services>,
    path: web::Path<(BikeId, CareId)>,
) -> Answer {
    let Posted { viewer, fields } = posted;
    let (bike_id, care_id) = path.into_inner();
    let reason = reason(&fields)?;
    services
        .change(&viewer.actor, async |work| care::void(&services, work, bike_id, care_id, reason).await)
        .await?;
    Ok(see(format!("/bikes/{bike_id}#history")))
}

/// Takes back that something was marked as wrong.
#[post("/bikes/{bike_id}/{what}/{id}/restore")]
pub(super) async fn restore(
    posted: Posted<Mechanic>,
    services: web::Data<Services>,
    path: web::Path<(BikeId, String, String)>,
) -> Answer {
    let (bike_id, what, id) = path.into_inner();
    let nothing = || ServiceError::NotFound { what: "entry" };
    services
        .change(&posted.viewer.actor, async |work| match what.as_str() {
            "readings" => {
                let id = id.parse().map_err(|_| nothing())?;
                readings::restore(&services, work, bike_id, id).await.map(|_| ())
            }
            "care" => {
                let id = id.parse().map_err(|_| nothing())?;
                care::restore(&services, work, bike_id, id).await.map(|_| ())
            }
            "odometer" => {
                let id = id.parse().map_err(|_| nothing())?;
                odometer::restore(&services, work, bike_id, id).await.map(|_| ())
            }
            "symptoms" => {
                let id = id.parse().map_err(|_| nothing())?;
                symptoms::restore(&services, work, bike_id, id).await.map(|_| ())
            }
            _ => Err(nothing()),
        })
        .await?;
    Ok(see(format!("/bikes/{bike_id}#history")))
}

fn reason(fields: &Fields) -> Result<Note, ServiceError> {
    Note::new(fields.get("reason")).map_err(|cause| ServiceError::field("/reason", cause))
}

#[post("/bikes/{bike_id}/swaps/{swap_id}/void")]
pub(super) async fn void_swap(
    posted: Posted<Mechanic>,
    services: web::Data<Services>,
    path: web::Path<(BikeId, SwapId)>,
) -> Answer {
    let Posted { viewer, fields } = posted;
    let (bike_id, swap_id) = path.into_inner();
    let reason = reason(&fields)?;
    services
        .change(&viewer.actor, async |work| {
            swap_voiding::void(&services, work, bike_id, swap_id, reason).await
        })
        .await?;
    Ok(see(format!("/bikes/{bike_id}#history")))
}
