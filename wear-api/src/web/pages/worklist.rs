//! Several bikes at once: their list to print and as a table, and care that was done to all of them.

use actix_web::http::header;
use actix_web::{HttpResponse, get, post, web};
use askama::Template;

use super::failure::Failure;
use super::frame::{Fields, Frame, Posted, Viewer};
use super::which::{MOST_LISTED, Which};
use super::{Answer, again, html, mannered, see};
use crate::domain::{BikeId, CareKind, FleetEntry, LubricantId};
use crate::service::care::EnterCare;
use crate::service::{Actor, ServiceError, Services, care as cares, lubricants, outlook};
use crate::transfer::{Cell, Separator, Writer};
use crate::web::auth::Mechanic;

#[derive(Template)]
#[template(path = "worklist.html")]
struct WorklistPage {
    f: Frame,
    title: String,
    rows: Vec<Row>,
    /// Whether there are more than a list holds.
    is_cut: bool,
    table: String,
    back: String,
}

struct Row {
    label: String,
    group: String,
    word: &'static str,
    to_do: String,
    reason: String,
    left: String,
}

#[derive(Template)]
#[template(path = "care_of_several.html")]
struct CarePage {
    f: Frame,
    bikes: Vec<(String, String)>,
    kinds: Vec<Choice>,
    lubricants: Vec<Choice>,
    at: String,
    done: Option<String>,
    errors: Vec<String>,
}

struct Choice {
    value: String,
    text: String,
    chosen: bool,
}

fn to_do(f: &Frame, entry: &FleetEntry) -> String {
    let outlook = &entry.outlook;
    let to_do = f.what_to_do(outlook.advice, outlook.swap_by, outlook.measure_by, f.today);
    f.words().with_chain(to_do, outlook.advice, &entry.with_chain)
}

fn reason(f: &Frame, entry: &FleetEntry) -> String {
    let outlook = &entry.outlook;
    f.why(outlook.advice, entry.reason, outlook.remaining, outlook.probability_over.map(|over| over.get()))
}

#[get("/fleet/worklist")]
pub(super) async fn page(
    viewer: Viewer<Mechanic>,
    services: web::Data<Services>,
    query: web::Query<Vec<(String, String)>>,
) -> Answer {
    let Viewer { actor, frame: f, .. } = viewer;
    let which = Which::of(&query);
    let entries = which.entries(&services, &actor, f.today).await?;
    let rows: Vec<Row> = entries
        .iter()
        .map(|entry| Row {
            label: entry.label.to_string(),
            group: entry.group.to_string(),
            word: entry.outlook.advice.as_str(),
            to_do: to_do(&f, entry),
            reason: reason(&f, entry),
            left: f.left(entry.outlook.advice, entry.reason, entry.outlook.remaining),
        })
        .collect();
    html(&WorklistPage {
        title: f.worklist_title(rows.len() as i64, f.date(f.today)),
        is_cut: rows.len() as u32 >= MOST_LISTED,
        rows,
        table: which.address("/fleet/worklist.csv"),
        back: Which { chosen: Vec::new(), ..which }.address("/fleet"),
        f,
    })
}

/// The same as a table, in the notation that spreadsheets of the reader's language open.
#[get("/fleet/worklist.csv")]
pub(super) async fn table(
    viewer: Viewer<Mechanic>,
    services: web::Data<Services>,
    query: web::Query<Vec<(String, String)>>,
) -> Result<HttpResponse, Failure> {
    let Viewer { actor, frame: f, .. } = viewer;
    let entries = Which::of(&query).entries(&services, &actor, f.today).await?;
    let separator = if f.decimal_mark() == "," { Separator::Semicolon } else { Separator::Comma };
    let titles = [
        f.fleet_bike(),
        f.fleet_group(),
        f.fleet_to_do(),
        f.worklist_reason(),
        f.worklist_due(),
        f.worklist_swap_by(),
        f.worklist_measure_by(),
        f.worklist_left(f.unit()),
        f.worklist_over(),
    ];
    let titles: Vec<&str> = titles.iter().map(String::as_str).collect();
    let broken = |error: csv::Error| {
        tracing::error!(%error, "a worklist can't be written");
        Failure::Internal
    };
    let mut sheet = Writer::titled(&titles, separator).map_err(broken)?;
    for entry in &entries {
        let FleetEntry { label, group, usage: _, outlook: it, reason: _, with_chain: _ } = entry;
        sheet
            .row(&[
                Cell::text(label),
                Cell::text(group.as_str()),
                Cell::Plain(to_do(&f, entry)),
                Cell::Plain(reason(&f, entry)),
                Cell::or_empty(it.attention_on, Cell::plain),
                Cell::or_empty(it.swap_by, Cell::plain),
                Cell::or_empty(it.measure_by, Cell::plain),
                Cell::or_empty(it.remaining, |km| Cell::Number(f.in_units(km.p50).round())),
                Cell::or_empty(it.probability_over, |over| {
                    Cell::Number((1_000.0 * over.get()).round() / 10.0)
                }),
            ])
            .map_err(broken)?;
    }
    let mut answer = mannered(HttpResponse::Ok());
    answer.insert_header((header::CONTENT_TYPE, "text/csv; charset=utf-8; header=present")).insert_header((
        header::CONTENT_DISPOSITION,
        format!("attachment; filename=\"{}-{}.csv\"", f.worklist_file(), f.today),
    ));
    Ok(answer.body(sheet.take().map_err(broken)?))
}

async fn care_form(
    services: &Services,
    actor: &Actor,
    f: Frame,
    bikes: &[BikeId],
    fields: &Fields,
    errors: Vec<String>,
) -> Result<CarePage, Failure> {
    let lubricants = lubricants::in_use(services, actor).await?;
    let entries = outlook::entries(services, actor, bikes).await?;
    let chosen = fields.filled("kind").unwrap_or(CareKind::CleanedAndLubricated.as_str());
    Ok(CarePage {
        bikes: entries.iter().map(|it| (it.outlook.bike_id.to_string(), it.label.to_string())).collect(),
        kinds: CareKind::ALL
            .iter()
            .map(|&kind| Choice {
                value: kind.as_str().to_owned(),
                text: f.care(kind),
                chosen: chosen == kind.as_str(),
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
        at: fields.get("at").to_owned(),
        done: None,
        errors,
        f,
    })
}

#[get("/fleet/care")]
pub(super) async fn care_page(
    viewer: Viewer<Mechanic>,
    services: web::Data<Services>,
    query: web::Query<Vec<(String, String)>>,
) -> Answer {
    let Viewer { actor, frame, .. } = viewer;
    let done = query.iter().find(|(name, _)| name == "done").and_then(|(_, count)| count.parse::<i64>().ok());
    let done = done.map(|bikes| frame.care_several_done(bikes));
    let which = Which::of(&query);
    let form = care_form(&services, &actor, frame, &which.chosen, &Fields::default(), Vec::new()).await?;
    html(&CarePage { done, ..form })
}

/// All of it or nothing: a bike that can't have it is named.
#[post("/fleet/care")]
pub(super) async fn care(posted: Posted<Mechanic>, services: web::Data<Services>) -> Answer {
    let Posted { viewer: Viewer { actor, frame, .. }, fields } = posted;
    let pairs: Vec<(String, String)> =
        fields.all("bike").map(|bike| ("bike".to_owned(), bike.to_owned())).collect();
    let bikes = Which::of(&pairs).chosen;
    let mut errors = Vec::new();
    if bikes.is_empty() {
        errors.push(frame.care_several_none());
    }
    let done_at = match fields.filled("at") {
        // The whole minute: a form that comes twice says the same.
        None => services.now().minute(),
        Some(typed) => frame.parse_local(typed).unwrap_or_else(|| {
            errors.push(frame.care_several_bad_time(typed));
            services.now()
        }),
    };
    let kind: Option<CareKind> = fields.get("kind").parse().ok();
    let lubricant_id: Option<LubricantId> = fields.filled("lubricant").and_then(|id| id.parse().ok());
    let (Some(kind), true) = (kind, errors.is_empty()) else {
        return again(&care_form(&services, &actor, frame, &bikes, &fields, errors).await?);
    };
    let enter = EnterCare { kind, done_at, note: None, odometer: None, lubricant_id };
    let saved: Result<(), ServiceError> = services
        .change(&actor, async |work| {
            for bike in &bikes {
                cares::post(&services, work, *bike, enter.clone()).await?;
            }
            Ok(())
        })
        .await;
    match saved {
        Ok(()) => Ok(see(format!("/fleet/care?done={}", bikes.len()))),
        Err(error) => {
            let errors = frame.refused(error)?;
            again(&care_form(&services, &actor, frame, &bikes, &fields, errors).await?)
        }
    }
}
