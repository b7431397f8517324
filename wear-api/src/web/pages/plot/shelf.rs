//! What lies on the shelf and is under way, against what will be needed.

use super::{Anchor, Scale, Svg, ticks};
use crate::words::Words;

/// One part.
#[derive(Debug, Clone)]
pub struct Needed {
    /// Its name.
    pub name: String,
    /// On the shelf; none where nobody counts.
    pub on_shelf: Option<u32>,
    /// Under way.
    pub under_way: u32,
    /// As likely more as fewer.
    pub p50: usize,
    /// One chance in ten of more.
    pub p90: usize,
}

const WIDTH: f64 = 720.0;
const LEFT: f64 = 214.0;
const RIGHT: f64 = 696.0;
const ROW: f64 = 34.0;

/// Draws them, one row a part.
pub fn shelf(words: &Words, parts: &[Needed], days: u32) -> Option<String> {
    if parts.is_empty() {
        return None;
    }
    let says: Vec<String> = parts
        .iter()
        .map(|part| {
            let shelf = part.on_shelf.map_or_else(|| words.orders_not_counted(), |count| count.to_string());
            match (part.p50, part.p90) {
                (0, 0) => words.orders_point_none(&part.name, shelf, part.under_way),
                (0, p90) => words.orders_point_few(&part.name, p90, shelf, part.under_way),
                (p50, p90) => words.orders_point(&part.name, p50, p90, shelf, part.under_way),
            }
        })
        .collect();
    let bottom = 10.0 + parts.len() as f64 * ROW;
    let mut svg =
        Svg::new("shelf-plot", WIDTH, bottom + 60.0, &words.orders_plot_title(days), &says.join(" "));
    svg.hatch("shelf-hatch");
    let there = |part: &Needed| f64::from(part.on_shelf.unwrap_or_default() + part.under_way);
    let highest = parts.iter().map(|part| there(part).max(part.p90 as f64)).fold(1.0, f64::max);
    let (marks, _) = ticks(highest, 6.0);
    let x = Scale::new((0.0, marks.last().copied().unwrap_or(highest)), (LEFT, RIGHT));
    for mark in &marks {
        svg.line("grid", (x.at(*mark), 6.0), (x.at(*mark), bottom));
        svg.text("small", (x.at(*mark), bottom + 14.0), Anchor::Middle, words.number(*mark, 0));
    }
    for (index, part) in parts.iter().enumerate() {
        let top = 10.0 + index as f64 * ROW;
        let middle = top + 12.0;
        svg.text("label", (LEFT - 8.0, middle + 4.0), Anchor::End, shortened(&part.name));
        let shelf = f64::from(part.on_shelf.unwrap_or_default());
        svg.hatched("shelf-hatch", (LEFT, top + 3.0), (x.at(shelf) - LEFT, 18.0));
        svg.rect("cog-edge", (LEFT, top + 3.0), (x.at(there(part)) - LEFT, 18.0));
        svg.line("likely-line", (x.at(part.p50 as f64), top), (x.at(part.p50 as f64), top + 24.0));
        svg.line("bracket", (x.at(part.p50 as f64), middle), (x.at(part.p90 as f64), middle));
        svg.line("bracket", (x.at(part.p90 as f64), top + 5.0), (x.at(part.p90 as f64), top + 19.0));
        svg.probe((LEFT, top), (RIGHT - LEFT, ROW - 4.0), &says[index]);
    }
    svg.line("axis-line", (LEFT, 6.0), (LEFT, bottom));
    svg.text("axis-name", (LEFT, bottom + 34.0), Anchor::Start, words.orders_axes());
    svg.text("axis-name", (LEFT, bottom + 50.0), Anchor::Start, words.orders_marks());
    Some(svg.finish())
}

fn shortened(name: &str) -> String {
    if name.chars().count() <= 26 {
        return name.to_owned();
    }
    let head: String = name.chars().take(25).collect();
    format!("{head}…")
}
