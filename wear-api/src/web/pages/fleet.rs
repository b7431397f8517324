//! The fleet, by when each bike needs someone.

use actix_web::{HttpResponse, get, web};
use askama::Template;
use chrono::NaiveDate;
use serde::Deserialize;

use super::session::Viewer;
use super::{html, words};
use crate::domain::{Advice, Cursor, FleetEntry, OutlookFilter, PageSize, UnitsShown};
use crate::service::{Services, outlook, workshops};
use crate::web::problem::Problem;

/// Length of the time line: half a year.
const AXIS_DAYS: f64 = 182.0;

/// Width of the time line in its own units.
const AXIS_WIDTH: f64 = 400.0;

/// Days with a mark, and what stands over it.
const TICKS: [(i64, &str, &str); 6] = [
    (0, "today", "start"),
    (7, "1 week", "middle"),
    (28, "4 weeks", "middle"),
    (61, "2 months", "middle"),
    (112, "4 months", "middle"),
    (182, "later", "end"),
];

/// In the order in which someone is needed.
const URGENT_FIRST: [Advice; 5] =
    [Advice::SwapNow, Advice::Hold, Advice::SwapBy, Advice::MeasureBy, Advice::RideOn];

#[derive(Template)]
#[template(path = "fleet.html")]
struct Fleet {
    workshop: String,
    today: String,
    signed_in: bool,
    total: i64,
    filter: String,
    counts: Vec<Count>,
    ticks: Vec<Tick>,
    rows: Vec<Row>,
    next: Option<String>,
}

struct Count {
    word: &'static str,
    words: &'static str,
    bikes: i64,
}

struct Tick {
    x: String,
    text: &'static str,
    anchor: &'static str,
}

struct Bar {
    from: String,
    width: String,
}

struct Row {
    label: String,
    group: String,
    word: &'static str,
    words: String,
    reason: String,
    left: String,
    bar: Option<Bar>,
    act: Option<String>,
    span_in_words: String,
}

/// Which bikes, and from where on.
#[derive(Deserialize)]
struct Query {
    advice: Option<String>,
    after: Option<String>,
}

#[get("/fleet")]
pub(super) async fn page(
    viewer: Viewer,
    services: web::Data<Services>,
    query: web::Query<Query>,
) -> Result<HttpResponse, Problem> {
    let workshop = workshops::get(&services, &viewer.actor).await?;
    let settings = &workshop.settings;
    let today = services.now().date_in(settings.time_zone);
    // A word or cursor that nobody knows shows the whole fleet from its beginning.
    let advice: Option<Advice> = query.advice.as_deref().and_then(|word| word.parse().ok());
    let after: Option<Cursor> = query.after.as_deref().and_then(|cursor| cursor.parse().ok());
    let all = outlook::counts(&services, &viewer.actor, &OutlookFilter::default()).await?;
    let filter = OutlookFilter { advice, ..OutlookFilter::default() };
    let size = PageSize::default();
    let fleet = outlook::fleet(&services, &viewer.actor, &filter, after.as_ref(), size).await?;
    let counted = |advice: Advice| all.iter().find(|(of, _)| *of == advice).map_or(0, |(_, bikes)| *bikes);
    html(&Fleet {
        workshop: settings.name.as_str().to_owned(),
        today: words::date(today),
        signed_in: viewer.signed_in,
        total: all.iter().map(|(_, bikes)| bikes).sum(),
        filter: advice.map(Advice::as_str).unwrap_or_default().to_owned(),
        counts: URGENT_FIRST
            .into_iter()
            .map(|advice| Count {
                word: advice.as_str(),
                words: words::advice(advice),
                bikes: counted(advice),
            })
            .collect(),
        ticks: TICKS
            .iter()
            .map(|&(day, text, anchor)| Tick { x: format!("{:.0}", x(day)), text, anchor })
            .collect(),
        next: fleet.next.map(|cursor| {
            let filter = advice.map(|advice| format!("&advice={}", advice.as_str())).unwrap_or_default();
            format!("/fleet?after={cursor}{filter}")
        }),
        rows: fleet.items.iter().map(|entry| row(entry, today, settings.units_shown)).collect(),
    })
}

fn row(entry: &FleetEntry, today: NaiveDate, units: UnitsShown) -> Row {
    let FleetEntry { label, group, usage: _, outlook } = entry;
    let ahead = |day: NaiveDate| (day - today).num_days().max(0);
    let bar = outlook.swap_by.map(|swap_by| {
        let from = outlook.measure_by.map_or(0, ahead);
        let width = (x(ahead(swap_by)) - x(from)).max(4.0);
        Bar { from: format!("{:.0}", x(from).min(AXIS_WIDTH - 4.0)), width: format!("{width:.0}") }
    });
    let until = |name: &str, day: Option<NaiveDate>| day.map(|day| format!("{name} {}", words::date(day)));
    let spans: Vec<String> = [
        until("a reading pays by", outlook.measure_by),
        until("the accepted risk is reached on", outlook.swap_by),
    ]
    .into_iter()
    .flatten()
    .collect();
    Row {
        label: label.as_str().to_owned(),
        group: group.as_str().to_owned(),
        word: outlook.advice.as_str(),
        words: words::to_do(outlook),
        reason: words::why(outlook, units),
        left: words::left(outlook, units),
        bar,
        act: outlook.attention_on.map(|day| format!("{:.0}", x(ahead(day)).clamp(1.5, AXIS_WIDTH - 1.5))),
        span_in_words: if spans.is_empty() { "no date".to_owned() } else { spans.join("; ") },
    }
}

/// Where a day lies on the time line: near days get more room.
fn x(days: i64) -> f64 {
    AXIS_WIDTH * (days as f64 / AXIS_DAYS).sqrt().min(1.0)
}
