//! How a year goes, month by month, against its mean.

use super::{Anchor, Scale, Svg, ticks};
use crate::domain::MonthShare;
use crate::words::Words;

const WIDTH: f64 = 720.0;
const LEFT: f64 = 58.0;
const RIGHT: f64 = 622.0;
const TOP: f64 = 16.0;
const BOTTOM: f64 = 190.0;

/// Draws the months; none while no season is known.
pub fn season(words: &Words, months: &[MonthShare]) -> Option<String> {
    if months.is_empty() {
        return None;
    }
    let times = |value: f64| words.number(value, 1);
    let says: Vec<String> = months
        .iter()
        .map(|it| {
            let name = words.month_name(it.month);
            words.season_plot_point(name, times(it.p50), times(it.p10), times(it.p90))
        })
        .collect();
    let mut svg = Svg::new("season-plot", WIDTH, 232.0, &words.season_plot_title(), &says.join(" "));
    let highest = months.iter().map(|it| it.p90).fold(1.0, f64::max);
    let (values, decimals) = ticks(highest, 4.0);
    let y = Scale::new((0.0, values.last().copied().unwrap_or(highest)), (BOTTOM, TOP));
    for value in values {
        svg.line("grid", (LEFT, y.at(value)), (RIGHT, y.at(value)));
        svg.text("small", (LEFT - 7.0, y.at(value) + 4.0), Anchor::End, words.number(value, decimals));
    }
    let step = (RIGHT - LEFT) / months.len() as f64;
    let half = (step * 0.28).min(22.0);
    for (index, it) in months.iter().enumerate() {
        let x = LEFT + (index as f64 + 0.5) * step;
        svg.rect("chance", (x - half, y.at(it.p90)), (2.0 * half, y.at(it.p10) - y.at(it.p90)));
        svg.line("held", (x - half, y.at(it.p50)), (x + half, y.at(it.p50)));
        svg.text("small", (x, BOTTOM + 15.0), Anchor::Middle, words.short_month(it.month));
        svg.probe((x - step / 2.0, TOP), (step, BOTTOM - TOP), &says[index]);
    }
    svg.line("limit", (LEFT, y.at(1.0)), (RIGHT, y.at(1.0)));
    svg.text("strong", (RIGHT + 5.0, y.at(1.0) + 4.0), Anchor::Start, words.season_mean());
    svg.line("axis-line", (LEFT, BOTTOM), (RIGHT, BOTTOM));
    svg.text("axis-name", (LEFT, BOTTOM + 34.0), Anchor::Start, words.season_plot_axes());
    Some(svg.finish())
}
