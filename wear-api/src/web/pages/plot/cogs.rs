//! Sprockets side by side, each with its teeth and filled as far as it is used up: full is the end.

use super::{Anchor, Svg};
use crate::words::Words;

/// A sprocket or ring to draw.
#[derive(Debug, Clone, Copy)]
pub struct Cog {
    /// Its teeth.
    pub teeth: u32,
    /// Damage as a share of what a typical one bears.
    pub damage: f64,
    /// Probability that it is worn out.
    pub worn: f64,
}

const HEIGHT: f64 = 214.0;
const BASE: f64 = 164.0;

/// Room of the largest, and pixels a millimetre at most.
const TALLEST: f64 = 118.0;
const LARGEST_SCALE: f64 = 0.62;

/// Height of a tooth above and below the pitch circle, mm, as it is drawn.
const TOOTH: f64 = 3.6;

/// Least room of one, for its label.
const LEAST_STEP: f64 = 46.0;

/// Radius of the pitch circle of a sprocket for half-inch chains, mm: p / (2 sin(π/z)).
fn pitch_radius(teeth: u32) -> f64 {
    12.7 / (2.0 * (std::f64::consts::PI / f64::from(teeth.max(3))).sin())
}

/// Draws them; `name` is the drawing's own on the page.
pub fn cogs(words: &Words, name: &str, title: &str, all: &[Cog]) -> String {
    // What is beyond its end is at its end.
    let used = |cog: &Cog| cog.damage.clamp(0.0, 1.0);
    let percent = |cog: &Cog| words.percent(100.0 * used(cog), 0);
    let listed: Vec<String> =
        all.iter().map(|cog| words.cog_described(cog.teeth, percent(cog), words.chance(cog.worn))).collect();
    let largest = all.iter().map(|cog| pitch_radius(cog.teeth) + TOOTH).fold(0.0, f64::max);
    let scale = (TALLEST / (2.0 * largest.max(1.0))).min(LARGEST_SCALE);
    let radius = |cog: &Cog| scale * (pitch_radius(cog.teeth) + TOOTH);
    let step = |cog: &Cog| (2.0 * radius(cog) + 10.0).max(LEAST_STEP);
    let width = (all.iter().map(step).sum::<f64>() + 16.0).max(150.0);
    let mut svg = Svg::new(name, width, HEIGHT, title, &listed.join(" "));
    let hatch = format!("{name}-hatch");
    svg.hatch(&hatch);
    let mut left = 8.0;
    for (cog, says) in all.iter().zip(&listed) {
        let (outer, room) = (radius(cog), step(cog));
        let root = outer - 2.0 * scale * TOOTH;
        let (x, y) = (left + room / 2.0, BASE - outer);
        svg.teeth("cog-teeth", (x, y), (root + outer) / 2.0, outer - root, cog.teeth);
        svg.circle("cog-body", (x, y), root);
        svg.filled_disc(&hatch, (x, y), root, used(cog));
        let level = y + root - 2.0 * root * used(cog);
        let half = (root * root - (level - y).powi(2)).max(0.0).sqrt();
        svg.line("cog-level", (x - half, level), (x + half, level));
        svg.circle("cog-edge", (x, y), root);
        svg.text("strong", (x, BASE - 2.0 * outer - 6.0), Anchor::Middle, percent(cog));
        svg.text("small", (x, BASE + 15.0), Anchor::Middle, cog.teeth);
        svg.probe((x - outer, BASE - 2.0 * outer), (2.0 * outer, 2.0 * outer), says);
        left += room;
    }
    svg.line("axis-line", (8.0, BASE + 1.0), (width - 8.0, BASE + 1.0));
    svg.text("axis-name", (8.0, BASE + 32.0), Anchor::Start, words.cog_axis_teeth());
    svg.text("axis-name", (8.0, BASE + 45.0), Anchor::Start, words.cog_axis_damage());
    svg.finish()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::Language;

    #[test]
    fn what_is_beyond_its_end_is_full() {
        let words = Words::of(Language::En);
        let drawn = |damage| cogs(&words, "c", "t", &[Cog { teeth: 17, damage, worn: 0.4 }]);
        assert!(drawn(4.06).contains("100\u{a0}%") && !drawn(4.06).contains("406"), "{}", drawn(4.06));
        assert!(drawn(0.25).contains("25\u{a0}%"));
        // A tooth and a gap for each, whatever the size.
        assert!(drawn(0.25).contains("pathLength=\"34\""), "{}", drawn(0.25));
    }

    #[test]
    fn sprockets_have_the_size_of_their_teeth() {
        // By the formula: 17 teeth of half an inch lie on 34.56 mm, 52 on 105.17.
        assert!((pitch_radius(17) - 34.558).abs() < 0.01, "{}", pitch_radius(17));
        assert!((pitch_radius(52) - 105.171).abs() < 0.01, "{}", pitch_radius(52));
    }
}
