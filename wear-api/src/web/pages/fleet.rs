//! The fleet, by when each bike needs someone.

use actix_web::{get, web};
use askama::Template;
use chrono::{Days, NaiveDate};

use super::frame::{Frame, Viewer};
use super::which::{WITHIN, Which};
use super::{Answer, html};
use crate::domain::{Advice, FleetEntry, FleetSort, GroupName, OutlookFilter};
use crate::service::{Services, bikes, outlook};
use crate::web::auth::App;
use crate::words::Words;

/// Length of the time line: half a year.
const AXIS_DAYS: f64 = 182.0;

/// Width of the time line in its own units.
const AXIS_WIDTH: f64 = 400.0;

/// Days with a mark.
const TICKS: [i64; 6] = [0, 7, 28, 61, 112, 182];

/// Bikes on a page.
const ON_A_PAGE: u32 = 50;

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
    sorts: Vec<(&'static str, String, bool)>,
    ticks: Vec<Tick>,
    rows: Vec<Row>,
    /// Whether there is no bike at all.
    is_empty: bool,
    /// Where the page is in the list, when it has more than one.
    range: Option<String>,
    previous: Option<String>,
    next: Option<String>,
    first: String,
    /// What the list is narrowed to, for the forms that act on it.
    pairs: Vec<(&'static str, String)>,
    listed: i64,
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

#[get("/fleet")]
pub(super) async fn page(
    viewer: Viewer<App>,
    services: web::Data<Services>,
    query: web::Query<Vec<(String, String)>>,
) -> Answer {
    let Viewer { actor, frame, .. } = viewer;
    let words = *frame.words();
    let groups = bikes::group_names(&services, &actor).await?;
    let mut which = Which { chosen: Vec::new(), ..Which::of(&query) };
    which.group = which.group.filter(|group| groups.contains(group));
    let all = OutlookFilter { advice: None, ..which.filter(frame.today) };
    let counted = outlook::counts(&services, &actor, &all).await?;
    let due_today = OutlookFilter { due_before: frame.today.checked_add_days(Days::new(1)), ..all.clone() };
    let due = outlook::counts(&services, &actor, &due_today).await?;
    let count = |advice: Advice| counted.iter().find(|(of, _)| *of == advice).map_or(0, |(_, bikes)| *bikes);
    let total: i64 = counted.iter().map(|(_, bikes)| bikes).sum();
    let listed = which.advice.map_or(total, count);
    let pages = u32::try_from(listed).unwrap_or(u32::MAX).div_ceil(ON_A_PAGE).max(1);
    which.page = which.page.min(pages - 1);
    let after = u64::from(which.page) * u64::from(ON_A_PAGE);
    let filter = which.filter(frame.today);
    let rows = (ON_A_PAGE, after);
    let entries = outlook::fleet_page(&services, &actor, &filter, which.order(), rows).await?;
    let with_advice = |advice| Which { advice, page: 0, ..which.clone() }.address("/fleet");
    let turned = |to: u32| Which { page: to, ..which.clone() }.address("/fleet");
    let shown = entries.len() as i64;
    html(&Fleet {
        total,
        due: due.iter().map(|(_, bikes)| bikes).sum(),
        search: which.search.clone().unwrap_or_default(),
        advice: which.advice.map(Advice::as_str).unwrap_or_default().to_owned(),
        counts: URGENT_FIRST
            .into_iter()
            .map(|of| Count {
                word: of.as_str(),
                words: words.advice(of),
                bikes: count(of),
                href: with_advice(Some(of)),
                current: which.advice == Some(of),
            })
            .collect(),
        groups: groups
            .iter()
            .map(|name| Choice { name: name.as_str().to_owned(), chosen: which.group.as_ref() == Some(name) })
            .collect(),
        withins: WITHIN.into_iter().map(|days| (days, which.within == Some(days))).collect(),
        sorts: FleetSort::ALL
            .iter()
            .map(|&sort| (sort.as_str(), words.word("fleet-sort", sort.as_str()), which.order() == sort))
            .collect(),
        ticks: ticks(&words),
        rows: entries.iter().map(|entry| row(entry, frame.today, &words)).collect(),
        is_empty: total == 0 && !which.is_narrowed(),
        range: (pages > 1).then(|| {
            let from = after as i64;
            words.fleet_range(from + 1, from + shown, words.number(listed as f64, 0))
        }),
        previous: which.page.checked_sub(1).map(turned),
        next: (which.page + 1 < pages).then(|| turned(which.page + 1)),
        first: with_advice(None),
        pairs: which.pairs(),
        listed,
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
