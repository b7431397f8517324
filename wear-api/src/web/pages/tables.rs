//! Tables out and in: first what a file would do, then doing it.

use std::io::Cursor;

use actix_web::http::header;
use actix_web::{HttpResponse, get, post, web};
use askama::Template;
use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use serde::Deserialize;

use super::failure::Failure;
use super::file_form::{LARGEST_FILE, Parts, PostedFile};
use super::frame::{Frame, Viewer};
use super::{Answer, again, html, mannered};
use crate::domain::Use;
use crate::service::imports::{self, Ended, Imported};
use crate::service::{Actor, Services};
use crate::transfer::{Cell, Findings, Separator, TableCause, TableKind, TableMistake, Writer};
use crate::web::auth::Manager;
use crate::web::download::{self, ExportPlaces};

/// In the order in which an import needs them.
const ORDER: [TableKind; 8] = [
    TableKind::PartModels,
    TableKind::Bikes,
    TableKind::Parts,
    TableKind::Readings,
    TableKind::Swaps,
    TableKind::Care,
    TableKind::Rides,
    TableKind::Odometer,
];

/// The page's address.
const PAGE: &str = "/settings/tables";

#[derive(Template)]
#[template(path = "tables.html")]
struct TablesPage {
    f: Frame,
    tables: Vec<Choice>,
    largest: String,
    /// What an import did.
    done: Option<String>,
    /// What doesn't fit about odometers that the import told of.
    notices: Vec<String>,
    /// What keeps a file from being taken.
    wrong: Option<String>,
    mistakes: Vec<Mistake>,
    /// A file that was checked and can be imported.
    checked: Option<Checked>,
}

struct Choice {
    value: &'static str,
    text: String,
    chosen: bool,
}

struct Mistake {
    line: u64,
    column: String,
    text: String,
}

struct Checked {
    kind: &'static str,
    says: String,
    notices: Vec<String>,
    table: String,
}

fn named(f: &Frame, kind: TableKind) -> String {
    match kind {
        TableKind::PartModels => f.tables_part_models(),
        TableKind::Bikes => f.tables_bikes(),
        TableKind::Parts => f.tables_parts(),
        TableKind::Rides => f.tables_rides(),
        TableKind::Readings => f.tables_readings(),
        TableKind::Care => f.tables_care(),
        TableKind::Swaps => f.tables_swaps(),
        TableKind::Odometer => f.tables_odometer(),
    }
}

fn shown(mut f: Frame, chosen: Option<TableKind>) -> TablesPage {
    // A change of language leads here from the answers to forms as well: their own addresses can't be opened.
    PAGE.clone_into(&mut f.here);
    let choice = |kind: &TableKind| Choice {
        value: kind.as_str(),
        text: named(&f, *kind),
        // Most who come here have bikes to enter.
        chosen: *kind == chosen.unwrap_or(TableKind::Bikes),
    };
    TablesPage {
        tables: ORDER.iter().map(choice).collect(),
        largest: f.tables_largest((LARGEST_FILE >> 20).to_string()),
        done: None,
        notices: Vec::new(),
        wrong: None,
        mistakes: Vec::new(),
        checked: None,
        f,
    }
}

#[get("/settings/tables")]
pub(super) async fn page(viewer: Viewer<Manager>) -> Answer {
    html(&shown(viewer.frame, None))
}

#[derive(Deserialize)]
struct ExportQuery {
    separator: Option<String>,
}

#[get("/settings/tables/{kind}.csv")]
pub(super) async fn export(
    viewer: Viewer<Manager>,
    services: web::Data<Services>,
    kind: web::Path<String>,
    query: web::Query<ExportQuery>,
    places: web::Data<ExportPlaces>,
) -> Result<HttpResponse, actix_web::Error> {
    let kind: TableKind = kind.parse().map_err(|_| Failure::NotFound("table"))?;
    let given = query.separator.as_deref().map(str::parse::<Separator>);
    let separator = given.transpose().map_err(|_| Failure::Garbled)?.unwrap_or(Separator::Comma);
    Ok(download::table(&services, &viewer.actor, &places, kind, separator).await?)
}

/// A table of bikes to fill in: two lines of it are examples.
#[get("/settings/tables/template/bikes.csv")]
pub(super) async fn template(viewer: Viewer<Manager>) -> Result<HttpResponse, Failure> {
    let f = viewer.frame;
    let separator = if f.decimal_mark() == "," { Separator::Semicolon } else { Separator::Comma };
    let titles = f.template_titles();
    let titles: Vec<&str> = titles.split(", ").collect();
    let broken = |error: csv::Error| {
        tracing::error!(%error, "a template can't be written");
        Failure::Internal
    };
    let mut table = Writer::titled(&titles, separator).map_err(broken)?;
    let fitted = f.today.checked_sub_days(chrono::Days::new(90)).unwrap_or(f.today);
    for (label, speeds, on) in [("041", 8, Cell::plain(fitted)), ("042", 11, Cell::Empty)] {
        let row = [
            Cell::text(label),
            Cell::text(f.template_group()),
            Cell::plain(Use::Town),
            Cell::Whole(speeds),
            on,
        ];
        table.row(&row).map_err(broken)?;
    }
    let mut answer = mannered(HttpResponse::Ok());
    answer
        .insert_header((header::CONTENT_TYPE, "text/csv; charset=utf-8; header=present"))
        .insert_header((header::CONTENT_DISPOSITION, "attachment; filename=\"bikes.csv\""));
    Ok(answer.body(table.take().map_err(broken)?))
}

/// Says what a file would do, and offers to do it.
#[post("/settings/tables/check")]
pub(super) async fn check(posted: PostedFile<Manager>, services: web::Data<Services>) -> Answer {
    let PostedFile { viewer: Viewer { actor, frame, .. }, parts } = posted;
    let parts = parts.filter(|parts| parts.bytes("file").len() <= LARGEST_FILE);
    let Some(parts) = parts else { return too_large(frame) };
    let Some(kind) = kind_of(&parts) else { return Err(Failure::Garbled) };
    let table = parts.bytes("file");
    if table.is_empty() {
        let wrong = Some(frame.tables_no_file());
        return again(&TablesPage { wrong, ..shown(frame, Some(kind)) });
    }
    match run(&services, &actor, kind, table, true).await? {
        Ended::Done(counts) => {
            let checked = Checked {
                kind: kind.as_str(),
                says: would(&frame, kind, &counts),
                notices: notices(&frame, &counts),
                table: STANDARD.encode(table),
            };
            html(&TablesPage { checked: Some(checked), ..shown(frame, Some(kind)) })
        }
        Ended::Refused(findings) => refused(frame, kind, findings),
    }
}

/// Imports what was checked.
#[post("/settings/tables/import")]
pub(super) async fn import(posted: PostedFile<Manager>, services: web::Data<Services>) -> Answer {
    let PostedFile { viewer: Viewer { actor, frame, .. }, parts } = posted;
    let Some(parts) = parts else { return too_large(frame) };
    let Some(kind) = kind_of(&parts) else { return Err(Failure::Garbled) };
    let table = STANDARD.decode(parts.bytes("table")).map_err(|_| Failure::Garbled)?;
    match run(&services, &actor, kind, &table, false).await? {
        Ended::Done(counts) => {
            let done = Some(did(&frame, kind, &counts));
            let notices = notices(&frame, &counts);
            html(&TablesPage { done, notices, ..shown(frame, None) })
        }
        // Something else changed since it was checked.
        Ended::Refused(findings) => refused(frame, kind, findings),
    }
}

fn kind_of(parts: &Parts) -> Option<TableKind> {
    parts.text("kind").parse().ok()
}

async fn run(
    services: &Services,
    actor: &Actor,
    kind: TableKind,
    table: &[u8],
    dry_run: bool,
) -> Result<Ended, Failure> {
    let source = Box::new(Cursor::new(table.to_vec()));
    Ok(services
        .change(actor, async |work| imports::import(services, work, kind, source, dry_run).await)
        .await?)
}

fn too_large(frame: Frame) -> Answer {
    let wrong = Some(frame.tables_too_large((LARGEST_FILE >> 20).to_string()));
    again(&TablesPage { wrong, ..shown(frame, None) })
}

fn refused(f: Frame, kind: TableKind, findings: Findings) -> Answer {
    let found = findings.found();
    let listed = findings.into_listed();
    let wrong = f.tables_mistakes(found, listed.len());
    let mistake = |TableMistake { line, column, cause }: TableMistake| {
        let text = match &cause {
            TableCause::Value(cause) => f.wrong(cause),
            TableCause::Line(fault, form) => f.wrong_value(f.said(fault), f.said(form)),
        };
        Mistake { line, column, text }
    };
    let mistakes = listed.into_iter().map(mistake).collect();
    again(&TablesPage { wrong: Some(wrong), mistakes, ..shown(f, Some(kind)) })
}

fn would(f: &Frame, kind: TableKind, done: &Imported) -> String {
    let said = f.tables_would(named(f, kind), done.lines, done.accepted, done.replaced, done.unchanged);
    with_odd(f, said, done.odd)
}

fn did(f: &Frame, kind: TableKind, done: &Imported) -> String {
    let said = f.tables_did(named(f, kind), done.lines, done.accepted, done.replaced, done.unchanged);
    with_odd(f, said, done.odd)
}

/// With how many lines count for nothing, where any does.
fn with_odd(f: &Frame, said: String, odd: u64) -> String {
    if odd == 0 { said } else { format!("{said} {}", f.tables_odd(odd)) }
}

/// What doesn't fit about odometers, bike by bike.
fn notices(f: &Frame, done: &Imported) -> Vec<String> {
    done.notices.iter().map(|(bike, notice)| f.tables_notice(bike.as_str(), f.warning(notice))).collect()
}
