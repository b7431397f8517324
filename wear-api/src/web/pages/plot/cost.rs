//! What it costs to take chains off at each limit.

use super::{Anchor, Scale, Svg, ticks};
use crate::words::Words;

/// Cost at one limit, in whole units of money for the distance that is talked of.
#[derive(Debug, Clone, Copy)]
pub struct CostAt {
    /// Elongation at which chains come off, percent.
    pub limit: f64,
    /// One chance in ten of less.
    pub low: f64,
    /// Most likely.
    pub likely: f64,
    /// One chance in ten of more.
    pub high: f64,
}

/// The curve with what stands out on it.
#[derive(Debug, Clone)]
pub struct CostCurve<'a> {
    /// Costs by limit.
    pub points: &'a [CostAt],
    /// Which of them is least.
    pub best: usize,
    /// The limit in use, percent.
    pub current: f64,
    /// The distance that the costs are for.
    pub per: &'a str,
    /// The currency.
    pub currency: &'a str,
}

const WIDTH: f64 = 720.0;
const LEFT: f64 = 62.0;
const RIGHT: f64 = 700.0;
const TOP: f64 = 26.0;
const BOTTOM: f64 = 240.0;

/// Draws it.
pub fn cost(words: &Words, curve: &CostCurve<'_>) -> Option<String> {
    let CostCurve { points, best, current, per, currency } = curve;
    let (first, last, best) = (points.first()?, points.last()?, points.get(*best)?);
    let money =
        |value: f64| words.money((value * 10_f64.powi(words.decimals_of_money() as i32)).round() as i64);
    let percent = |value: f64| words.percent(value, 2);
    let says = words.policy_plot_says(
        percent(best.limit),
        money(best.likely),
        percent(first.limit),
        money(first.likely),
        percent(last.limit),
        money(last.likely),
    );
    let mut svg = Svg::new("cost-plot", WIDTH, 292.0, &words.policy_plot_title(per), &says);
    let highest = points.iter().map(|point| point.high).fold(0.0, f64::max);
    let (marks, decimals) = ticks(highest, 5.0);
    let y = Scale::new((0.0, marks.last().copied().unwrap_or(highest)), (BOTTOM, TOP));
    let x = Scale::new((first.limit, last.limit), (LEFT, RIGHT));
    for mark in &marks {
        svg.line("grid", (LEFT, y.at(*mark)), (RIGHT, y.at(*mark)));
        svg.text("small", (LEFT - 7.0, y.at(*mark) + 4.0), Anchor::End, words.number(*mark, decimals));
    }
    let upper = points.iter().map(|point| (x.at(point.limit), y.at(point.high)));
    let lower = points.iter().rev().map(|point| (x.at(point.limit), y.at(point.low)));
    svg.polygon("band", &upper.chain(lower).collect::<Vec<_>>());
    let line: Vec<_> = points.iter().map(|point| (x.at(point.limit), y.at(point.likely))).collect();
    svg.polyline("median", &line);
    for (index, point) in points.iter().enumerate() {
        let at = x.at(point.limit);
        svg.line("tick", (at, BOTTOM), (at, BOTTOM + 5.0));
        if index % 2 == 0 {
            svg.text("small", (at, BOTTOM + 18.0), Anchor::Middle, percent(point.limit));
        }
    }
    // Where both would lie on each other, the limit in use goes below.
    if *current >= first.limit && *current <= last.limit {
        svg.line("limit", (x.at(*current), TOP), (x.at(*current), BOTTOM));
        svg.text("label", (x.at(*current) + 6.0, BOTTOM - 8.0), Anchor::Start, words.policy_plot_current());
    }
    svg.line("likely-line", (x.at(best.limit), TOP - 2.0), (x.at(best.limit), BOTTOM));
    svg.circle("reading", (x.at(best.limit), y.at(best.likely)), 5.0);
    svg.text("strong", (x.at(best.limit), TOP - 9.0), Anchor::Middle, words.policy_plot_best());
    let step = (RIGHT - LEFT) / (points.len().max(2) - 1) as f64;
    for point in *points {
        let says = words.policy_plot_point(
            percent(point.limit),
            money(point.likely),
            money(point.low),
            money(point.high),
        );
        let from = (x.at(point.limit) - step / 2.0).max(LEFT);
        let to = (x.at(point.limit) + step / 2.0).min(RIGHT);
        svg.probe((from, TOP), (to - from, BOTTOM - TOP), &says);
    }
    svg.line("axis-line", (LEFT, BOTTOM), (RIGHT, BOTTOM));
    svg.text("axis-name", (LEFT, BOTTOM + 40.0), Anchor::Start, words.policy_plot_axes(currency, per));
    Some(svg.finish())
}
