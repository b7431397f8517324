//! Plots as SVG inside the page, with axes, units, a title and a description. Looks come from the style sheet.

mod cogs;
mod cost;
mod coverage;
mod projection;
mod rides;
mod rule;
mod season;
mod shelf;
mod used;

use std::fmt::{Display, Write as _};

pub use cogs::{Cog, cogs};
pub use cost::{CostAt, CostCurve, cost};
pub use coverage::{Covered, coverage};
pub use projection::projection;
pub use rides::{Month, rides};
pub use rule::rule;
pub use season::season;
pub use shelf::{Needed, shelf};
pub use used::used;

/// A drawing under way.
pub struct Svg {
    out: String,
}

/// Where a text stands relative to its point.
#[derive(Debug, Clone, Copy)]
pub enum Anchor {
    /// The text begins there.
    Start,
    /// The text's middle is there.
    Middle,
    /// The text ends there.
    End,
}

impl Svg {
    /// Begins a drawing; `name` is its own on the page.
    pub fn new(name: &str, width: f64, height: f64, title: &str, description: &str) -> Self {
        let mut svg = Self { out: String::new() };
        svg.write(format_args!(
            r#"<svg class="plot {name}" viewBox="0 0 {width} {height}" role="img" aria-labelledby="{name}-title {name}-desc"><title id="{name}-title">"#
        ));
        svg.escaped(title);
        svg.write(format_args!(r#"</title><desc id="{name}-desc">"#));
        svg.escaped(description);
        svg.write(format_args!("</desc>"));
        svg
    }

    /// A diagonal hatch, to fill areas with: meaning never hangs on a colour.
    pub fn hatch(&mut self, id: &str) {
        self.write(format_args!(
            r#"<defs><pattern id="{id}" width="5" height="5" patternUnits="userSpaceOnUse" patternTransform="rotate(45)"><rect class="hatch-ground" width="5" height="5"/><line class="hatch-line" x1="0" y1="0" x2="0" y2="5"/></pattern></defs>"#
        ));
    }

    fn write(&mut self, arguments: std::fmt::Arguments<'_>) {
        // Writing to a string doesn't fail.
        let _written = self.out.write_fmt(arguments);
    }

    fn escaped(&mut self, text: &str) {
        for c in text.chars() {
            match c {
                '&' => self.out.push_str("&amp;"),
                '<' => self.out.push_str("&lt;"),
                '>' => self.out.push_str("&gt;"),
                '"' => self.out.push_str("&quot;"),
                other => self.out.push(other),
            }
        }
    }

    /// A line.
    pub fn line(&mut self, class: &str, (x1, y1): (f64, f64), (x2, y2): (f64, f64)) {
        self.write(format_args!(
            r#"<line class="{class}" x1="{x1:.1}" y1="{y1:.1}" x2="{x2:.1}" y2="{y2:.1}"/>"#
        ));
    }

    /// A rectangle by its corner and size.
    pub fn rect(&mut self, class: &str, (x, y): (f64, f64), (width, height): (f64, f64)) {
        let (width, height) = (width.max(0.0), height.max(0.0));
        self.write(format_args!(
            r#"<rect class="{class}" x="{x:.1}" y="{y:.1}" width="{width:.1}" height="{height:.1}"/>"#
        ));
    }

    /// A rectangle filled with a hatch.
    pub fn hatched(&mut self, hatch: &str, (x, y): (f64, f64), (width, height): (f64, f64)) {
        let (width, height) = (width.max(0.0), height.max(0.0));
        self.write(format_args!(
            r#"<rect fill="url(#{hatch})" x="{x:.1}" y="{y:.1}" width="{width:.1}" height="{height:.1}"/>"#
        ));
    }

    /// An invisible area that says something when one points at it.
    pub fn probe(&mut self, (x, y): (f64, f64), (width, height): (f64, f64), says: &str) {
        self.write(format_args!(
            r#"<rect class="probe" x="{x:.1}" y="{y:.1}" width="{width:.1}" height="{height:.1}"><title>"#
        ));
        self.escaped(says);
        self.write(format_args!("</title></rect>"));
    }

    /// A circle.
    pub fn circle(&mut self, class: &str, (x, y): (f64, f64), radius: f64) {
        self.write(format_args!(r#"<circle class="{class}" cx="{x:.1}" cy="{y:.1}" r="{radius:.1}"/>"#));
    }

    /// A ring of so many teeth, by the radius and height of their middle.
    pub fn teeth(&mut self, class: &str, (x, y): (f64, f64), radius: f64, height: f64, teeth: u32) {
        self.write(format_args!(
            r#"<circle class="{class}" cx="{x:.1}" cy="{y:.1}" r="{radius:.1}" stroke-width="{height:.1}" pathLength="{}" stroke-dasharray="1 1"/>"#,
            2 * teeth
        ));
    }

    /// A disc filled with a hatch from its bottom up to a share of its height.
    pub fn filled_disc(&mut self, hatch: &str, (x, y): (f64, f64), radius: f64, share: f64) {
        if share >= 1.0 {
            self.write(format_args!(
                r#"<circle fill="url(#{hatch})" cx="{x:.1}" cy="{y:.1}" r="{radius:.1}"/>"#
            ));
            return;
        }
        let level = y + radius - 2.0 * radius * share.max(0.0);
        let half = (radius * radius - (level - y).powi(2)).max(0.0).sqrt();
        let large = u8::from(share > 0.5);
        self.write(format_args!(
            r#"<path fill="url(#{hatch})" d="M{:.1} {level:.1}A{radius:.1} {radius:.1} 0 {large} 0 {:.1} {level:.1}Z"/>"#,
            x - half,
            x + half
        ));
    }

    /// A line through points.
    pub fn polyline(&mut self, class: &str, points: &[(f64, f64)]) {
        self.shape("polyline", class, points);
    }

    /// An area with corners.
    pub fn polygon(&mut self, class: &str, points: &[(f64, f64)]) {
        self.shape("polygon", class, points);
    }

    fn shape(&mut self, shape: &str, class: &str, points: &[(f64, f64)]) {
        self.write(format_args!(r#"<{shape} class="{class}" points=""#));
        for (index, (x, y)) in points.iter().enumerate() {
            let space = if index > 0 { " " } else { "" };
            self.write(format_args!("{space}{x:.1},{y:.1}"));
        }
        self.write(format_args!(r#""/>"#));
    }

    /// A text.
    pub fn text(&mut self, class: &str, (x, y): (f64, f64), anchor: Anchor, text: impl Display) {
        let anchor = match anchor {
            Anchor::Start => "start",
            Anchor::Middle => "middle",
            Anchor::End => "end",
        };
        self.write(format_args!(r#"<text class="{class}" x="{x:.1}" y="{y:.1}" text-anchor="{anchor}">"#));
        self.escaped(&text.to_string());
        self.write(format_args!("</text>"));
    }

    /// The drawing as markup.
    pub fn finish(mut self) -> String {
        self.out.push_str("</svg>");
        self.out
    }
}

/// From values to places on the page.
#[derive(Debug, Clone, Copy)]
pub struct Scale {
    from: (f64, f64),
    to: (f64, f64),
}

impl Scale {
    /// Lays the values of `from` over the places of `to`.
    pub const fn new(from: (f64, f64), to: (f64, f64)) -> Self {
        Self { from, to }
    }

    /// The place of a value, held inside the plot.
    pub fn at(&self, value: f64) -> f64 {
        let span = self.from.1 - self.from.0;
        let share = if span == 0.0 { 0.0 } else { ((value - self.from.0) / span).clamp(0.0, 1.0) };
        self.to.0 + share * (self.to.1 - self.to.0)
    }
}

/// Round values from nought to at least `highest`, about `count` of them, and their decimals.
pub fn ticks(highest: f64, count: f64) -> (Vec<f64>, usize) {
    let highest = if highest > 0.0 { highest } else { 1.0 };
    let raw = highest / count.max(1.0);
    let power = 10_f64.powf(raw.log10().floor());
    let step = [1.0, 2.0, 5.0, 10.0].map(|m| m * power).into_iter().find(|s| *s >= raw).unwrap_or(raw);
    let decimals = (-step.log10().floor()).max(0.0) as usize;
    let last = (highest / step).ceil() as usize;
    ((0..=last).map(|i| i as f64 * step).collect(), decimals)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn texts_are_escaped() {
        let mut svg = Svg::new("x", 1.0, 1.0, "a < b", "\"c\"");
        svg.text("t", (0.0, 0.0), Anchor::Start, "<script>");
        let out = svg.finish();
        assert!(out.contains("a &lt; b") && out.contains("&lt;script&gt;") && !out.contains("<script>"));
    }

    #[test]
    fn ticks_are_round_and_reach_the_top() {
        assert_eq!(ticks(1.0, 5.0), (vec![0.0, 0.2, 0.4, 0.6000000000000001, 0.8, 1.0], 1));
        let (values, decimals) = ticks(730.0, 4.0);
        assert_eq!((values, decimals), (vec![0.0, 200.0, 400.0, 600.0, 800.0], 0));
        assert!(ticks(0.0, 4.0).0.len() > 1);
    }
}
