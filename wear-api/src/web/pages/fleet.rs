//! The fleet, by when each bike needs someone.

use actix_web::{get, web};
use askama::Template;
use chrono::{Days, NaiveDate};
use serde::Deserialize;

use super::frame::{Frame, Viewer};
use super::{Answer, encoded, html};
use crate::domain::{Advice, Cursor, FleetEntry, GroupName, OutlookFilter, PageRequest};
use crate::service::{Services, bikes, outlook};
use crate::web::auth::App;
use crate::words::Words;

/// Length of the time line: half a year.
const AXIS_DAYS: f64 = 182.0;

/// Width of the time line in its own units.
const AXIS_WIDTH: f64 = 400.0;

/// Days with a mark.
const TICKS: [i64; 6] = [0, 7, 28, 61, 112, 182];

/// Choices of the filter by time, days.
const WITHIN: [u64; 5] = [0, 7, 14, 28, 61];

/// In the order in which someone is needed.
const URGENT_FIRST: [Advice; 5] =
    [Advice::SwapNow, Advice::Hold, Advice::SwapBy, Advice::MeasureBy, Advice::RideOn];

#[derive(Template)]
#[template(path = "fleet.html")]
struct Fleet {
    f: Frame,
    total: i64,
    due: i64,
    search: String,
    advice: String,
    counts: Vec<Count>,
    groups: Vec<Choice>,
    withins: Vec<(u64, bool)>,
    ticks: Vec<Tick>,
    rows: Vec<Row>,
    is_first: bool,
    narrowed: bool,
    next: Option<String>,
    first: String,
}

struct Count {
    word: &'static str,
    words: String,
    bikes: i64,
    href: String,
    current: bool,
}

struct Choice {
    name: String,
    chosen: bool,
}

struct Tick {
    x: String,
    text: String,
    anchor: &'static str,
}

struct Bar {
    from: String,
    width: String,
}

struct Row {
    id: String,
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

/// Which bikes, and from where on. A word, group or cursor that nobody knows is passed over.
#[derive(Deserialize)]
struct Query {
    search: Option<String>,
    advice: Option<String>,
    group: Option<String>,
    within: Option<String>,
    after: Option<String>,
}

impl Query {
    fn filled(value: Option<&String>) -> Option<&str> {
        value.map(|value| value.trim()).filter(|value| !value.is_empty())
    }

    /// The address of the same list with another advice or cursor.
    fn address(&self, advice: Option<&str>, after: Option<&Cursor>) -> String {
        let mut parts = Vec::new();
        let mut add = |name: &str, value: Option<&str>| {
            if let Some(value) = value {
                parts.push(format!("{name}={}", encoded(value)));
            }
        };
        add("search", Self::filled(self.search.as_ref()));
        add("advice", advice);
        add("group", Self::filled(self.group.as_ref()));
        add("within", Self::filled(self.within.as_ref()));
        let after = after.map(ToString::to_string);
        add("after", after.as_deref());
        if parts.is_empty() { "/fleet".to_owned() } else { format!("/fleet?{}", parts.join("&")) }
    }
}

#[get("/fleet")]
pub(super) async fn page(
    viewer: Viewer<App>,
    services: web::Data<Services>,
    query: web::Query<Query>,
) -> Answer {
    let Viewer { actor, frame, .. } = viewer;
    let words = *frame.words();
    let advice: Option<Advice> = query.advice.as_deref().and_then(|word| word.parse().ok());
    let after: Option<Cursor> = query.after.as_deref().and_then(|cursor| cursor.parse().ok());
    let within: Option<u64> =
        query.within.as_deref().and_then(|days| days.parse().ok()).filter(|days| WITHIN.contains(days));
    let groups = bikes::group_names(&services, &actor).await?;
    let group = Query::filled(query.group.as_ref())
        .and_then(|name| groups.iter().find(|group| group.as_str() == name));
    let all = OutlookFilter {
        advice: None,
        group: group.cloned(),
        search: Query::filled(query.search.as_ref()).map(str::to_owned),
        due_before: within.and_then(|days| frame.today.checked_add_days(Days::new(days + 1))),
    };
    let counted = outlook::counts(&services, &actor, &all).await?;
    let due_today = OutlookFilter { due_before: frame.today.checked_add_days(Days::new(1)), ..all.clone() };
    let due = outlook::counts(&services, &actor, &due_today).await?;
    let filter = OutlookFilter { advice, ..all.clone() };
    let page = PageRequest { after, ..PageRequest::default() };
    let fleet = outlook::fleet(&services, &actor, &filter, &page).await?;
    let narrowed = all != OutlookFilter::default() || advice.is_some();
    let count = |advice: Advice| counted.iter().find(|(of, _)| *of == advice).map_or(0, |(_, bikes)| *bikes);
    html(&Fleet {
        total: counted.iter().map(|(_, bikes)| bikes).sum(),
        due: due.iter().map(|(_, bikes)| bikes).sum(),
        search: all.search.clone().unwrap_or_default(),
        advice: advice.map(Advice::as_str).unwrap_or_default().to_owned(),
        counts: URGENT_FIRST
            .into_iter()
            .map(|of| Count {
                word: of.as_str(),
                words: words.advice(of),
                bikes: count(of),
                href: query.address(Some(of.as_str()), None),
                current: advice == Some(of),
            })
            .collect(),
        groups: groups
            .iter()
            .map(|name| Choice { name: name.as_str().to_owned(), chosen: group == Some(name) })
            .collect(),
        withins: WITHIN.into_iter().map(|days| (days, within == Some(days))).collect(),
        ticks: ticks(&words),
        rows: fleet.items.iter().map(|entry| row(entry, frame.today, &words)).collect(),
        is_first: page.after.is_none(),
        narrowed,
        next: fleet.next.map(|cursor| query.address(advice.map(Advice::as_str), Some(&cursor))),
        first: query.address(None, None),
        f: frame,
    })
}

fn ticks(words: &Words) -> Vec<Tick> {
    TICKS
        .into_iter()
        .map(|day| Tick {
            x: format!("{:.0}", x(day)),
            text: match day {
                0 => words.tick_today(),
                7 => words.tick_weeks(1_u32),
                28 => words.tick_weeks(4_u32),
                182 => words.tick_later(),
                days => words.tick_months((days as f64 / 30.4).round()),
            },
            anchor: match day {
                0 => "start",
                182 => "end",
                _ => "middle",
            },
        })
        .collect()
}

fn row(entry: &FleetEntry, today: NaiveDate, words: &Words) -> Row {
    let FleetEntry { label, group, usage: _, outlook, reason, with_chain } = entry;
    let ahead = |day: NaiveDate| (day - today).num_days().max(0);
    let bar = outlook.swap_by.map(|swap_by| {
        let from = outlook.measure_by.map_or(0, ahead);
        let width = (x(ahead(swap_by)) - x(from)).max(4.0);
        Bar { from: format!("{:.0}", x(from).min(AXIS_WIDTH - 4.0)), width: format!("{width:.0}") }
    });
    let spans: Vec<String> = [
        outlook.measure_by.map(|day| words.fleet_pays_by(words.date(day))),
        outlook.swap_by.map(|day| words.fleet_risk_on(words.date(day))),
    ]
    .into_iter()
    .flatten()
    .collect();
    Row {
        id: outlook.bike_id.to_string(),
        label: label.as_str().to_owned(),
        group: GroupName::as_str(group).to_owned(),
        word: outlook.advice.as_str(),
        words: words.with_chain(
            words.what_to_do(outlook.advice, outlook.swap_by, outlook.measure_by, today),
            outlook.advice,
            with_chain,
        ),
        reason: words.why(
            outlook.advice,
            *reason,
            outlook.remaining,
            outlook.probability_over.map(|over| over.get()),
        ),
        left: words.left(outlook.advice, *reason, outlook.remaining),
        bar,
        act: outlook.attention_on.map(|day| format!("{:.0}", x(ahead(day)).clamp(1.5, AXIS_WIDTH - 1.5))),
        span_in_words: if spans.is_empty() { words.fleet_no_date() } else { spans.join("; ") },
    }
}

/// Where a day lies on the time line: near days get more room.
fn x(days: i64) -> f64 {
    AXIS_WIDTH * (days as f64 / AXIS_DAYS).sqrt().min(1.0)
}
