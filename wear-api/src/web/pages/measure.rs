//! Measuring: pick the bike, tap what the instrument shows, see at once what it means.

use actix_web::{HttpRequest, get, post, web};
use askama::Template;
use chrono::Duration;
use serde::Deserialize;

use super::failure::Failure;
use super::frame::{Fields, Frame, Posted, Viewer};
use super::method::Method;
use super::tool_choice::{self, Tools};
use super::work::TWICE;
use super::{Answer, again, html, riding, see, session};
use crate::domain::{
    Advice, Bike, BikeId, FieldError, FieldErrors, FleetEntry, Invalid, Measured, Note, OdometerTotal,
    OutlookFilter, PageRequest, PageSize, ReadWith, Reading, ReadingId, Timestamp,
};
use crate::service::{Actor, ServiceError, Services, bikes, history, outlook, readings};
use crate::web::auth::Mechanic;
use crate::words::{Words, is_riding_unknown, is_unknown};

/// How long a saved reading can be undone.
const UNDO: Duration = Duration::minutes(1);

/// Bikes offered to pick from.
const OFFERED: i64 = 12;

#[derive(Template)]
#[template(path = "measure_pick.html")]
struct Pick {
    f: Frame,
    search: String,
    found: Vec<Offer>,
}

struct Offer {
    id: String,
    label: String,
    group: String,
    word: &'static str,
    words: String,
}

#[derive(Template)]
#[template(path = "measure.html")]
struct Measure {
    f: Frame,
    id: String,
    label: String,
    group: String,
    ways: Vec<WayShown>,
    now: String,
}

struct WayShown {
    word: &'static str,
    name: String,
    how: String,
    asks: String,
    pad: &'static str,
    quick: &'static [&'static str],
    gauge: Vec<GaugeAnswer>,
    open: bool,
    typed: String,
    odometer: String,
    tools: Vec<tool_choice::Choice>,
    error: Option<String>,
}

struct GaugeAnswer {
    sent: String,
    says: String,
    outside: bool,
}

#[derive(Template)]
#[template(path = "measure_result.html")]
struct Shown {
    f: Frame,
    id: String,
    label: String,
    reading_id: String,
    measured: String,
    word: &'static str,
    to_do: String,
    sentence: String,
    over: Option<String>,
    ridden_unknown: bool,
    overdue: bool,
    warnings: Vec<String>,
    saved: Option<i64>,
    voided: bool,
    late: bool,
}

#[derive(Deserialize)]
struct PickQuery {
    search: Option<String>,
}

#[derive(Deserialize)]
struct ResultQuery {
    saved: Option<i64>,
    late: Option<u8>,
}

#[get("/measure")]
pub(super) async fn pick(
    viewer: Viewer<Mechanic>,
    services: web::Data<Services>,
    query: web::Query<PickQuery>,
) -> Answer {
    let Viewer { actor, frame, .. } = viewer;
    let search = query.search.as_deref().map(str::trim).unwrap_or_default().to_owned();
    let few = PageRequest::first(PageSize::new(OFFERED).map_err(|_| Failure::Internal)?);
    let filter = OutlookFilter {
        search: Some(search.clone()).filter(|text| !text.is_empty()),
        advice: search.is_empty().then_some(Advice::MeasureBy),
        ..OutlookFilter::default()
    };
    let found = outlook::fleet(&services, &actor, &filter, &few).await?.items;
    // One bike of exactly that label needs no choice.
    let mut exact = found.iter().filter(|entry| entry.label.as_str().eq_ignore_ascii_case(&search));
    if let (Some(one), None) = (exact.next(), exact.next()) {
        return Ok(see(format!("/bikes/{}/measure", one.outlook.bike_id)));
    }
    let found = found.iter().map(|entry| offer(entry, &frame)).collect();
    html(&Pick { f: frame, search, found })
}

fn offer(entry: &FleetEntry, frame: &Frame) -> Offer {
    let outlook = &entry.outlook;
    Offer {
        id: outlook.bike_id.to_string(),
        label: entry.label.as_str().to_owned(),
        group: entry.group.as_str().to_owned(),
        word: outlook.advice.as_str(),
        words: frame.what_to_do(outlook.advice, outlook.swap_by, outlook.measure_by, frame.today),
    }
}

fn last_way(request: &HttpRequest) -> Option<Method> {
    request.cookie(session::WAY_COOKIE)?.value().parse().ok()
}

fn page_of(
    frame: Frame,
    (bike, tools): (&Bike, &Tools),
    now: Timestamp,
    open: Option<Method>,
    wrong: Option<(&Fields, String)>,
) -> Measure {
    let words = *frame.words();
    let ways = Method::ALL
        .iter()
        .map(|&way| {
            let is_open = open == Some(way);
            let wrong = wrong.as_ref().filter(|_| is_open);
            WayShown {
                word: way.as_str(),
                name: way.name(&words),
                how: way.how(&words),
                asks: way.asks(&words),
                pad: way.pad(),
                quick: way.quick(),
                gauge: if way.is_gauge() { marks(&frame) } else { Vec::new() },
                open: is_open,
                typed: wrong.map(|(fields, _)| fields.get("value").to_owned()).unwrap_or_default(),
                odometer: wrong.map(|(fields, _)| fields.get("odometer").to_owned()).unwrap_or_default(),
                tools: tools.choices(way.instrument(), wrong.map(|(fields, _)| *fields)),
                error: wrong.map(|(_, error)| error.clone()),
            }
        })
        .collect();
    Measure {
        f: frame,
        id: bike.id.to_string(),
        label: bike.facts.label.as_str().to_owned(),
        group: bike.facts.group.as_str().to_owned(),
        ways,
        now: now.to_string(),
    }
}

fn marks(frame: &Frame) -> Vec<GaugeAnswer> {
    [(0.5, 1), (0.75, 2), (1.0, 1)]
        .into_iter()
        .flat_map(|(mark, decimals)| {
            let shown = frame.percent(mark, decimals);
            [
                GaugeAnswer {
                    sent: format!("{mark} in"),
                    says: frame.measure_drops_in(&shown),
                    outside: false,
                },
                GaugeAnswer {
                    sent: format!("{mark} out"),
                    says: frame.measure_stays_out(&shown),
                    outside: true,
                },
            ]
        })
        .collect()
}

#[get("/bikes/{bike_id}/measure")]
pub(super) async fn page(
    request: HttpRequest,
    viewer: Viewer<Mechanic>,
    services: web::Data<Services>,
    bike_id: web::Path<BikeId>,
) -> Answer {
    let bike = bikes::get(&services, &viewer.actor, *bike_id).await?;
    let tools = Tools::of(&services, &viewer.actor, &request).await?;
    html(&page_of(viewer.frame, (&bike, &tools), services.now(), last_way(&request), None))
}

#[post("/bikes/{bike_id}/measure")]
pub(super) async fn save(
    request: HttpRequest,
    posted: Posted<Mechanic>,
    services: web::Data<Services>,
    bike_id: web::Path<BikeId>,
) -> Answer {
    let Posted { viewer, fields } = posted;
    let Viewer { actor, frame, .. } = viewer;
    let bike_id = *bike_id;
    let bike = bikes::get(&services, &actor, bike_id).await?;
    let tools = Tools::of(&services, &actor, &request).await?;
    let of = (&bike, &tools);
    let way: Method = fields.get("way").parse().map_err(|_| Failure::Garbled)?;
    let now = services.now();
    let measured = match way.measured(&fields) {
        Ok(measured) => measured,
        Err(typo) => {
            let error = typo.text(frame.words());
            return again(&page_of(frame, of, now, Some(way), Some((&fields, error))));
        }
    };
    let shown = match riding::total_of(&frame, &fields) {
        Ok(shown) => shown,
        Err(error) => return again(&page_of(frame, of, now, Some(way), Some((&fields, error)))),
    };
    let tool_id = match tool_choice::chosen(fields.filled("tool")) {
        Ok(tool_id) => tool_id,
        Err(cause) => {
            let error = frame.wrong(&cause);
            return again(&page_of(frame, of, now, Some(way), Some((&fields, error))));
        }
    };
    let with = ReadWith { tool_id, read_by: None };
    // The script says when it was measured, so that a reading sent late, or twice, is the same reading.
    let said: Option<Timestamp> = fields.filled("taken_at").and_then(|at| at.parse().ok());
    let saved = match said.filter(|at| at.not_after(now).is_ok()) {
        Some(taken_at) => store(&services, &actor, bike_id, taken_at, (measured, with), shown).await,
        None => match sent_just_before(&services, &actor, bike_id, now, &measured).await? {
            // With an odometer that the first time came without it is the same reading still.
            Some(same) if shown.is_some() => {
                store(&services, &actor, bike_id, same.taken_at, (measured, with), shown).await
            }
            Some(same) => Ok(same.id),
            None => store(&services, &actor, bike_id, now, (measured, with), shown).await,
        },
    };
    let id = match saved {
        Ok(id) => id,
        Err(ServiceError::Invalid(errors)) => {
            let error = refused(&frame, &errors);
            return again(&page_of(frame, of, now, Some(way), Some((&fields, error))));
        }
        Err(other) => return Err(other.into()),
    };
    let mut answer = see(format!("/bikes/{bike_id}/readings/{id}?saved={}", now.micros()));
    let kept = session::choice(&request, session::WAY_COOKIE, way.as_str());
    answer.add_cookie(&kept).map_err(|_| Failure::Internal)?;
    let kept = tools.kept(&request, way.instrument(), tool_id);
    answer.add_cookie(&kept).map_err(|_| Failure::Internal)?;
    Ok(answer)
}

/// Why a reading isn't taken.
fn refused(frame: &Frame, errors: &FieldErrors) -> String {
    let no_chain = |error: &FieldError| {
        let of_chain = matches!(
            error.cause,
            Invalid::BeforeFitting { .. } | Invalid::AfterRemoval { .. } | Invalid::NoSuch { .. }
        );
        of_chain && error.pointer == "/taken_at"
    };
    if errors.as_slice().iter().any(no_chain) {
        frame.measure_no_chain()
    } else {
        frame.wrongs(errors).join(" ")
    }
}

async fn store(
    services: &Services,
    actor: &Actor,
    bike_id: BikeId,
    taken_at: Timestamp,
    read: (Measured, ReadWith),
    shown: Option<OdometerTotal>,
) -> Result<ReadingId, ServiceError> {
    let (stored, _) = services
        .change(actor, async |work| {
            readings::post(services, work, bike_id, taken_at, read.clone(), shown).await
        })
        .await?;
    Ok(stored.get().id)
}

/// The same reading, stored a moment ago.
async fn sent_just_before(
    services: &Services,
    actor: &Actor,
    bike_id: BikeId,
    now: Timestamp,
    measured: &Measured,
) -> Result<Option<Reading>, Failure> {
    let latest = readings::list(services, actor, bike_id, &PageRequest::default()).await?.items;
    let same = |reading: &Reading| {
        reading.voided.is_none() && reading.taken_at > now.plus(-TWICE) && reading.measured == *measured
    };
    Ok(latest.into_iter().find(same))
}

#[get("/bikes/{bike_id}/readings/{reading_id}")]
pub(super) async fn result(
    viewer: Viewer<Mechanic>,
    services: web::Data<Services>,
    path: web::Path<(BikeId, ReadingId)>,
    query: web::Query<ResultQuery>,
) -> Answer {
    let Viewer { actor, frame: f, .. } = viewer;
    let (bike_id, reading_id) = path.into_inner();
    let bike = bikes::get(&services, &actor, bike_id).await?;
    let reading = history::reading(&services, &actor, bike_id, reading_id).await?;
    let outlook = outlook::of_bike(&services, &actor, bike_id).await?;
    let voided = reading.voided.is_some();
    let fresh = |saved: &i64| within_undo(*saved, services.now());
    html(&Shown {
        id: bike_id.to_string(),
        label: bike.facts.label.as_str().to_owned(),
        reading_id: reading_id.to_string(),
        measured: f.measured(&reading.measured),
        word: outlook.advice.as_str(),
        to_do: f.what_to_do(outlook.advice, outlook.swap_by(), outlook.measure_by(), f.today),
        sentence: f.sentence(&outlook),
        ridden_unknown: is_riding_unknown(&outlook) && !voided,
        over: outlook
            .probability_over_limit
            .filter(|_| !is_unknown(outlook.advice, outlook.reason) && !Words::says_over(&outlook))
            .map(|over| f.bike_chance_over(f.chance(over))),
        overdue: outlook.advice == Advice::SwapNow,
        warnings: f.warnings(&outlook, false),
        saved: query.saved.filter(fresh).filter(|_| !voided),
        voided,
        late: query.late.is_some() && !voided,
        f,
    })
}

fn within_undo(saved: i64, now: Timestamp) -> bool {
    let age = now.micros() - saved;
    (0..=UNDO.num_microseconds().unwrap_or_default()).contains(&age)
}

#[post("/bikes/{bike_id}/readings/{reading_id}/undo")]
pub(super) async fn undo(
    posted: Posted<Mechanic>,
    services: web::Data<Services>,
    path: web::Path<(BikeId, ReadingId)>,
) -> Answer {
    let Posted { viewer, fields } = posted;
    let (bike_id, reading_id) = path.into_inner();
    let saved = fields.get("saved").parse().unwrap_or_default();
    if !within_undo(saved, services.now()) {
        return Ok(see(format!("/bikes/{bike_id}/readings/{reading_id}?late=1")));
    }
    let reason = Note::new(&viewer.frame.result_undone_reason()).map_err(|_| Failure::Internal)?;
    services
        .change(&viewer.actor, async |work| {
            readings::void(&services, work, bike_id, reading_id, reason).await
        })
        .await?;
    Ok(see(format!("/bikes/{bike_id}/readings/{reading_id}")))
}
