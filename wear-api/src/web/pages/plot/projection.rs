//! How the chain came to where it is, and where it goes: elongation against days, with readings, band and limit.

use chrono::{Datelike as _, Days, Months, NaiveDate};

use super::{Anchor, Scale, Svg, ticks};
use crate::domain::{Advice, Instrument};
use wear_core::bike::PathPoint;

use crate::service::outlook::{Picture, PlottedReading};
use crate::words::Words;

const WIDTH: f64 = 720.0;
const HEIGHT: f64 = 330.0;
const LEFT: f64 = 58.0;
const RIGHT: f64 = 704.0;
const TOP: f64 = 24.0;
const BOTTOM: f64 = 280.0;

/// Draws it; nothing when there is no chain.
pub fn projection(words: &Words, picture: &Picture) -> Option<String> {
    let Picture { outlook, path, readings, today, .. } = picture;
    let (first, last) = (path.first()?.day, path.last()?.day.max(1.0));
    // A chain that came on record today, of a bike that nobody is known to ride, has no path to show.
    if first > -1.0 && last <= 1.0 {
        return None;
    }
    let limit = outlook.limit_percent;
    let shown = readings.iter().map(|reading| place(reading).0 + reading.sd);
    let highest = path.iter().map(|point| point.p90).chain(shown).fold(limit * 1.15, f64::max).min(2.0);
    let (marks, decimals) = ticks(highest, 5.0);
    let x = Scale::new((first, last), (LEFT, RIGHT));
    let y = Scale::new((0.0, marks.last().copied().unwrap_or(highest)), (BOTTOM, TOP));
    let mut svg = Svg::new("path-plot", WIDTH, HEIGHT, &words.path_title(), &description(words, picture));
    for mark in &marks {
        svg.line("grid", (LEFT, y.at(*mark)), (RIGHT, y.at(*mark)));
        let text = words.percent(*mark, decimals);
        svg.text("small", (LEFT - 7.0, y.at(*mark) + 4.0), Anchor::End, text);
    }
    months(&mut svg, words, *today, (first, last), &x);
    let upper = path.iter().map(|point| (x.at(point.day), y.at(point.p90)));
    let lower = path.iter().rev().map(|point| (x.at(point.day), y.at(point.p10)));
    svg.polygon("band", &upper.chain(lower).collect::<Vec<_>>());
    let (so_far, ahead): (Vec<&PathPoint>, Vec<&PathPoint>) = path.iter().partition(|point| point.day <= 0.0);
    let line = |points: &[&PathPoint]| -> Vec<(f64, f64)> {
        points.iter().map(|point| (x.at(point.day), y.at(point.p50))).collect()
    };
    svg.polyline("median", &line(&so_far));
    let onward: Vec<&PathPoint> = so_far.last().copied().into_iter().chain(ahead.iter().copied()).collect();
    svg.polyline("median ahead", &line(&onward));
    svg.line("limit", (LEFT, y.at(limit)), (RIGHT, y.at(limit)));
    let says = words.path_limit(words.percent(limit, 2));
    svg.text("strong", (LEFT + 6.0, y.at(limit) - 6.0), Anchor::Start, says);
    svg.line("today", (x.at(0.0), TOP - 6.0), (x.at(0.0), BOTTOM));
    svg.text("strong", (x.at(0.0), TOP - 10.0), Anchor::Middle, words.tick_today());
    if let Some(swap_by) = outlook.swap_by().filter(|_| outlook.advice != Advice::Hold) {
        let day = (swap_by - *today).num_days() as f64;
        if day > 0.0 && day <= last {
            svg.line("act", (x.at(day), BOTTOM - 26.0), (x.at(day), BOTTOM));
            let text = words.path_swap_by(words.short_date(swap_by));
            let (anchor, shift) = if x.at(day) > 560.0 { (Anchor::End, -5.0) } else { (Anchor::Start, 5.0) };
            svg.text("label", (x.at(day) + shift, BOTTOM - 12.0), anchor, text);
        }
    }
    for reading in readings {
        let day = days_from(words, reading, *today);
        mark(&mut svg, reading, x.at(day), &y);
    }
    probes(&mut svg, words, picture, &x);
    svg.text("axis-name", (LEFT, HEIGHT - 8.0), Anchor::Start, words.path_axes());
    Some(svg.finish())
}

fn days_from(words: &Words, reading: &PlottedReading, today: NaiveDate) -> f64 {
    (words.day_of(reading.taken_at) - today).num_days() as f64
}

/// Elongation at which a reading stands, and whether it is only a bound: `None` a value, `Some(true)` at least.
fn place(reading: &PlottedReading) -> (f64, Option<bool>) {
    match reading.measurement.content() {
        wear_core::reading::Content::Elongation(spots) => (spots.mean() - reading.bias, None),
        wear_core::reading::Content::Gauge { mark, drops_in } => (mark.get() - reading.bias, Some(drops_in)),
        _ => (0.0, None),
    }
}

fn mark(svg: &mut Svg, reading: &PlottedReading, x: f64, y: &Scale) {
    let (value, bound) = place(reading);
    let at = y.at(value);
    let class = if reading.set_aside { "reading aside" } else { "reading" };
    match bound {
        Some(true) => svg.polygon(class, &[(x - 5.5, at), (x + 5.5, at), (x, at - 10.0)]),
        Some(false) => svg.polygon(class, &[(x - 5.5, at), (x + 5.5, at), (x, at + 10.0)]),
        None => {
            svg.line("spread", (x, y.at(value - reading.sd)), (x, y.at(value + reading.sd)));
            match reading.measurement.instrument() {
                Instrument::Rule => svg.rect(class, (x - 4.0, at - 4.0), (8.0, 8.0)),
                Instrument::Caliper => {
                    svg.polygon(class, &[(x - 5.5, at), (x, at - 5.5), (x + 5.5, at), (x, at + 5.5)]);
                }
                _ => svg.circle(class, (x, at), 4.4),
            }
        }
    }
    if reading.set_aside {
        svg.line("struck", (x - 8.0, at - 8.0), (x + 8.0, at + 8.0));
        svg.line("struck", (x - 8.0, at + 8.0), (x + 8.0, at - 8.0));
    }
}

fn months(svg: &mut Svg, words: &Words, today: NaiveDate, (first, last): (f64, f64), x: &Scale) {
    let day = |days: f64| {
        let whole = Days::new(days.abs().round() as u64);
        if days < 0.0 { today.checked_sub_days(whole) } else { today.checked_add_days(whole) }
    };
    let (Some(from), Some(to)) = (day(first), day(last)) else { return };
    let step = (((to - from).num_days() as f64 / 30.4 / 7.0).ceil() as u32).max(1);
    let Some(mut month) = from.with_day(1).and_then(|day| day.checked_add_months(Months::new(1))) else {
        return;
    };
    while month <= to {
        let at = x.at((month - today).num_days() as f64);
        svg.line("tick", (at, BOTTOM), (at, BOTTOM + 6.0));
        if at < RIGHT - 24.0 {
            svg.text("small", (at, BOTTOM + 19.0), Anchor::Middle, words.month(month));
        }
        let Some(next) = month.checked_add_months(Months::new(step)) else { return };
        month = next;
    }
    svg.line("axis-line", (LEFT, BOTTOM), (RIGHT, BOTTOM));
}

fn probes(svg: &mut Svg, words: &Words, picture: &Picture, x: &Scale) {
    let path = &picture.path;
    for (index, point) in path.iter().enumerate() {
        let left = if index == 0 { point.day } else { 0.5 * (path[index - 1].day + point.day) };
        let right = path.get(index + 1).map_or(point.day, |next| 0.5 * (point.day + next.day));
        let width = x.at(right) - x.at(left);
        if width < 1.0 {
            continue;
        }
        let days = point.day.round() as i64;
        let Some(date) = picture.today.checked_add_signed(chrono::Duration::days(days)) else { continue };
        let says = words.path_point(
            words.medium_date(date),
            words.percent(point.p50, 2),
            words.percent(point.p10, 2),
            words.percent(point.p90, 2),
        );
        svg.probe((x.at(left), TOP), (width, BOTTOM - TOP), &says);
    }
}

fn description(words: &Words, picture: &Picture) -> String {
    let Picture { outlook, path, readings, today, .. } = picture;
    let limit = words.percent(outlook.limit_percent, 2);
    let count = readings.len();
    let mut text = words.path_readings(count);
    if let Some(now) = outlook.elongation_percent {
        text.push(' ');
        text.push_str(&words.path_now(words.percent(now.p50, 2), limit));
    }
    if let (Some(last), Some(date)) = (
        path.last().filter(|last| last.day > 0.0),
        path.last().and_then(|last| today.checked_add_days(Days::new(last.day.max(0.0) as u64))),
    ) {
        text.push(' ');
        text.push_str(&words.path_by(
            words.date(date),
            words.percent(last.p50, 2),
            words.percent(last.p10, 2),
            words.percent(last.p90, 2),
        ));
    }
    text
}
