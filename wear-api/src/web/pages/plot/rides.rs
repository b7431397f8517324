//! What a bike was ridden, by month.

use chrono::NaiveDate;

use super::{Anchor, Scale, Svg, ticks};
use crate::words::Words;

/// One month's riding.
#[derive(Debug, Clone, Copy)]
pub struct Month {
    /// Its first day.
    pub first: NaiveDate,
    /// Distance, km.
    pub km: f64,
    /// Of it in the wet, km.
    pub wet_km: f64,
    /// Rides.
    pub rides: i64,
}

const WIDTH: f64 = 720.0;
const LEFT: f64 = 58.0;
const RIGHT: f64 = 704.0;
const TOP: f64 = 16.0;
const BOTTOM: f64 = 138.0;

/// Draws the months.
pub fn rides(words: &Words, months: &[Month]) -> Option<String> {
    let (first, last) = (months.first()?, months.last()?);
    let total: f64 = months.iter().map(|month| month.km).sum();
    let wet: f64 = months.iter().map(|month| month.wet_km).sum();
    let description = words.rides_description(
        words.ridden(total),
        words.month(first.first),
        words.month(last.first),
        words.ridden(wet),
    );
    let mut svg = Svg::new("rides-plot", WIDTH, 176.0, &words.rides_title(), &description);
    svg.hatch("rides-hatch");
    let highest = months.iter().map(|month| words.in_units(month.km)).fold(0.0, f64::max);
    let (marks, _) = ticks(highest, 3.0);
    let y = Scale::new((0.0, marks.last().copied().unwrap_or(1.0)), (BOTTOM, TOP));
    for mark in &marks {
        svg.line("grid", (LEFT, y.at(*mark)), (RIGHT, y.at(*mark)));
        svg.text("small", (LEFT - 7.0, y.at(*mark) + 4.0), Anchor::End, words.number(*mark, 0));
    }
    let step = (RIGHT - LEFT) / months.len() as f64;
    let every = months.len().div_ceil(8);
    for (index, month) in months.iter().enumerate() {
        let x = LEFT + index as f64 * step;
        let (top, wet_top) = (y.at(words.in_units(month.km)), y.at(words.in_units(month.wet_km)));
        let width = (step - 3.0).max(1.0);
        svg.rect("bar", (x, top), (width, BOTTOM - top));
        svg.hatched("rides-hatch", (x, wet_top), (width, BOTTOM - wet_top));
        if index % every == 0 {
            svg.text("small", (x, BOTTOM + 15.0), Anchor::Start, words.month(month.first));
        }
        let says = words.rides_month(
            words.month(month.first),
            words.ridden(month.km),
            month.rides,
            words.ridden(month.wet_km),
        );
        svg.probe((x, TOP), (step, BOTTOM - TOP), &says);
    }
    svg.line("axis-line", (LEFT, BOTTOM), (RIGHT, BOTTOM));
    svg.text("axis-name", (LEFT, BOTTOM + 32.0), Anchor::Start, words.rides_axes(words.unit()));
    Some(svg.finish())
}
