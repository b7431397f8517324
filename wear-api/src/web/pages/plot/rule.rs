//! The chain along a twelve-inch rule: whole at the top, its end under a glass below.

use super::{Anchor, Scale, Svg};
use crate::words::Words;
use wear_core::degradation::Quantiles;

/// Millimetres of an inch.
const INCH: f64 = 25.4;

/// Length of 24 pitches of a new chain, mm: twelve inches.
const NOMINAL: f64 = 304.8;

const WIDTH: f64 = 720.0;
const LEFT: f64 = 24.0;
const RIGHT: f64 = 696.0;

/// Draws it; `density` is that of the elongation now, percent against per percent.
pub fn rule(words: &Words, density: &[(f64, f64)], elongation: Quantiles, limit: f64) -> String {
    let end = (limit * 1.35).max(elongation.p90 * 1.2).clamp(0.7, 1.6);
    let millimetres = |percent: f64| NOMINAL * (1.0 + percent / 100.0);
    let description = words.rule_description(
        words.percent(elongation.p50, 2),
        words.percent(elongation.p10, 2),
        words.percent(elongation.p90, 2),
        words.percent(limit, 2),
        words.number(millimetres(limit), 1),
    );
    let mut svg = Svg::new("rule-plot", WIDTH, 318.0, &words.rule_title(), &description);
    whole(&mut svg, elongation.p50, end);
    let x = Scale::new((0.0, end), (LEFT, RIGHT));
    let base = 246.0;
    let highest = density.iter().map(|(_, d)| *d).fold(f64::MIN_POSITIVE, f64::max);
    let y = Scale::new((0.0, highest), (base, 158.0));
    let mut area: Vec<(f64, f64)> = density
        .iter()
        .filter(|(percent, _)| *percent <= end)
        .map(|(percent, d)| (x.at(*percent), y.at(*d)))
        .collect();
    if let (Some(first), Some(last)) = (area.first().copied(), area.last().copied()) {
        area.push((last.0, base));
        area.push((first.0, base));
    }
    svg.polygon("belief", &area);
    edges(&mut svg, words, &x, end, base);
    let (p10, p50, p90) = (x.at(elongation.p10), x.at(elongation.p50), x.at(elongation.p90));
    svg.line("bracket", (p10, 150.0), (p90, 150.0));
    svg.line("bracket", (p10, 145.0), (p10, 155.0));
    svg.line("bracket", (p90, 145.0), (p90, 155.0));
    svg.line("likely-line", (p50, 143.0), (p50, base));
    let limit_x = x.at(limit);
    svg.line("limit", (limit_x, 112.0), (limit_x, base));
    svg.line("limit-end", (limit_x, base + 44.0), (limit_x, base + 51.0));
    let (limit_anchor, limit_text) =
        if limit_x > 520.0 { (Anchor::End, limit_x - 6.0) } else { (Anchor::Start, limit_x + 6.0) };
    let says = words.rule_limit(words.percent(limit, 2), words.number(millimetres(limit), 1));
    svg.text("strong", (limit_text, 124.0), limit_anchor, says);
    // On the side away from the limit, where there is room.
    let to_the_left = if p50 < limit_x { p50 > LEFT + 130.0 } else { p50 > RIGHT - 130.0 };
    let (anchor, at) =
        if to_the_left { (Anchor::End, p50.min(RIGHT)) } else { (Anchor::Start, p50.max(LEFT)) };
    svg.text("label", (at, 139.0), anchor, words.rule_likely(words.percent(elongation.p50, 2)));
    svg.finish()
}

/// Twelve inches and the end, with the chain's pins along them at true scale.
fn whole(svg: &mut Svg, elongation: f64, end: f64) {
    let longest = NOMINAL * (1.0 + end / 100.0);
    let x = Scale::new((0.0, longest), (LEFT, RIGHT));
    svg.rect("rule-body", (LEFT - 10.0, 34.0), (RIGHT - LEFT + 20.0, 26.0));
    for quarter in 0..=48 {
        let at = x.at(f64::from(quarter) * INCH / 4.0);
        let length = if quarter % 4 == 0 { 12.0 } else { 6.0 };
        svg.line("tick", (at, 34.0), (at, 34.0 + length));
        if quarter % 4 == 0 {
            svg.text("small", (at, 57.0), Anchor::Middle, quarter / 4);
        }
    }
    let pitch = 12.7 * (1.0 + elongation / 100.0);
    for pin in 0..24 {
        let (from, to) = (x.at(f64::from(pin) * pitch), x.at(f64::from(pin + 1) * pitch));
        let class = if pin % 2 == 0 { "plate outer" } else { "plate" };
        svg.line(class, (from, 22.0), (to, 22.0));
    }
    for pin in 0..=24 {
        svg.circle("pin", (x.at(f64::from(pin) * pitch), 22.0), 3.4);
    }
    let lens = x.at(NOMINAL);
    svg.line("lens", (lens, 62.0), (LEFT, 100.0));
    svg.line("lens", (RIGHT, 62.0), (RIGHT, 100.0));
    svg.line("lens", (LEFT, 100.0), (RIGHT, 100.0));
}

/// The glass's rule: inches by thirty-seconds on one edge, millimetres and percent on the other.
fn edges(svg: &mut Svg, words: &Words, x: &Scale, end: f64, base: f64) {
    svg.rect("rule-body", (LEFT - 10.0, base), (RIGHT - LEFT + 20.0, 44.0));
    let per_inch = 100.0 * INCH / NOMINAL;
    for step in 0..=32 {
        let percent = f64::from(step) / 32.0 * per_inch;
        if percent > end {
            break;
        }
        let at = x.at(percent);
        svg.line("tick", (at, base), (at, base + if step % 2 == 0 { 11.0 } else { 7.0 }));
        let fraction = match step {
            0 => "12 in".to_owned(),
            _ if step % 4 == 0 => format!("12 {}/8", step / 4),
            _ if step % 2 == 0 => format!("12 {}/16", step / 2),
            _ => format!("12 {step}/32"),
        };
        svg.text(
            "small",
            (at, base + 22.0),
            if step == 0 { Anchor::Start } else { Anchor::Middle },
            fraction,
        );
    }
    let tenths = (NOMINAL * end / 100.0 / 0.5).floor() as u32;
    for half in 0..=tenths {
        let mm = NOMINAL + f64::from(half) * 0.5;
        let at = x.at(100.0 * (mm / NOMINAL - 1.0));
        svg.line("tick", (at, base + 44.0), (at, base + 38.0));
        if half % 2 == 0 && half > 0 {
            svg.text("small", (at, base + 36.0), Anchor::Middle, words.number(mm, 1));
        }
    }
    svg.text("small", (LEFT, base + 36.0), Anchor::Start, format!("{} mm", words.number(NOMINAL, 1)));
    for tick in 0..=8 {
        let percent = f64::from(tick) * 0.25;
        if percent > end {
            break;
        }
        let at = x.at(percent);
        svg.line("tick", (at, base + 44.0), (at, base + 50.0));
        svg.text("small", (at, base + 63.0), Anchor::Middle, words.percent(percent, 2));
    }
}
