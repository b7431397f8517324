//! Sprockets side by side, each with its teeth and filled as far as it is used up: full is the end.

use statrs::distribution::{ContinuousCDF as _, Normal};

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

/// Room above the largest for its label, and below all for teeth and what they are.
const ABOVE: f64 = 24.0;
const BELOW: f64 = 50.0;

/// Height of the largest at most, and pixels a millimetre at most.
const TALLEST: f64 = 118.0;
const LARGEST_SCALE: f64 = 0.62;

/// Height of a tooth above and below the pitch circle, mm, as it is drawn.
const TOOTH: f64 = 3.6;

/// How much sprockets differ in what they bear, ln (A): the spread that is assumed until the fleet has learned its own.
const SPREAD: f64 = 0.6;

/// Least room of one, for its label.
const LEAST_STEP: f64 = 46.0;

/// Radius of the pitch circle of a sprocket for half-inch chains, mm: p / (2 sin(π/z)).
fn pitch_radius(teeth: u32) -> f64 {
    12.7 / (2.0 * (std::f64::consts::PI / f64::from(teeth.max(3))).sin())
}

/// How far it is used up, in agreement with how likely it is worn out: 1 where that is more likely than not. Below that
/// damage is the measure, unless what the sprocket was seen to bear says that it bears more than a typical one.
fn used_up(cog: &Cog) -> f64 {
    if cog.worn >= 0.5 {
        return 1.0;
    }
    let damage = cog.damage.clamp(0.0, 1.0);
    // So unlikely that damage alone says it better.
    if cog.worn < 1e-9 {
        return damage;
    }
    damage.min((SPREAD * Normal::standard().inverse_cdf(cog.worn)).exp())
}

/// Draws them; `name` is the drawing's own on the page.
pub fn cogs(words: &Words, name: &str, title: &str, all: &[Cog]) -> String {
    // Full is worn out, and nothing else is.
    let percent = |cog: &Cog| match used_up(cog) {
        used if used < 1.0 => words.percent((100.0 * used + 1e-6).floor(), 0),
        _ => words.percent(100.0, 0),
    };
    let listed: Vec<String> =
        all.iter().map(|cog| words.cog_described(cog.teeth, percent(cog), words.chance(cog.worn))).collect();
    let largest = all.iter().map(|cog| pitch_radius(cog.teeth) + TOOTH).fold(0.0, f64::max);
    let scale = (TALLEST / (2.0 * largest.max(1.0))).min(LARGEST_SCALE);
    let radius = |cog: &Cog| scale * (pitch_radius(cog.teeth) + TOOTH);
    let step = |cog: &Cog| (2.0 * radius(cog) + 10.0).max(LEAST_STEP);
    let width = (all.iter().map(step).sum::<f64>() + 16.0).max(150.0);
    let base = ABOVE + all.iter().map(radius).fold(0.0, f64::max) * 2.0;
    let mut svg = Svg::new(name, width.round(), (base + BELOW).round(), title, &listed.join(" "));
    let hatch = format!("{name}-hatch");
    svg.hatch(&hatch);
    let mut left = 8.0;
    for (cog, says) in all.iter().zip(&listed) {
        let (outer, room) = (radius(cog), step(cog));
        let root = outer - 2.0 * scale * TOOTH;
        let (x, y) = (left + room / 2.0, base - outer);
        svg.teeth("cog-teeth", (x, y), (root + outer) / 2.0, outer - root, cog.teeth);
        svg.circle("cog-body", (x, y), root);
        svg.filled_disc(&hatch, (x, y), root, used_up(cog));
        let level = y + root - 2.0 * root * used_up(cog);
        let half = (root * root - (level - y).powi(2)).max(0.0).sqrt();
        svg.line("cog-level", (x - half, level), (x + half, level));
        svg.circle("cog-edge", (x, y), root);
        svg.text("strong", (x, base - 2.0 * outer - 6.0), Anchor::Middle, percent(cog));
        svg.text("small", (x, base + 15.0), Anchor::Middle, cog.teeth);
        svg.probe((x - outer, base - 2.0 * outer), (2.0 * outer, 2.0 * outer), says);
        left += room;
    }
    svg.line("axis-line", (8.0, base + 1.0), (width - 8.0, base + 1.0));
    svg.text("axis-name", (8.0, base + 32.0), Anchor::Start, words.cog_axis_teeth());
    svg.text("axis-name", (8.0, base + 45.0), Anchor::Start, words.cog_axis_damage());
    svg.finish()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::Language;

    #[test]
    fn full_is_worn_out_and_nothing_else_is() {
        let used = |damage, worn| used_up(&Cog { teeth: 17, damage, worn });
        // As the damage says: half of typical sprockets are worn out at 1.
        assert_eq!((used(4.06, 0.99), used(1.0, 0.5), used(0.9, 0.6)), (1.0, 1.0, 1.0));
        assert_eq!(used(0.25, 0.011), 0.25);
        assert_eq!((used(0.0, 0.0), used(-0.1, 0.0)), (0.0, 0.0));
        // New chains held on it in spite of twice the typical damage.
        let held = used(2.153, 0.128);
        assert!((held - 0.506).abs() < 0.002, "{held}");
        let words = Words::of(Language::En);
        let drawn = |damage, worn| cogs(&words, "c", "t", &[Cog { teeth: 17, damage, worn }]);
        assert!(drawn(4.06, 0.99).contains("100\u{a0}%") && !drawn(4.06, 0.99).contains("406"));
        assert!(drawn(0.999, 0.499).contains("99\u{a0}%"), "{}", drawn(0.999, 0.499));
        // A tooth and a gap for each, whatever the size.
        assert!(drawn(0.25, 0.01).contains("pathLength=\"34\""));
    }

    #[test]
    fn sprockets_have_the_size_of_their_teeth() {
        // By the formula: 17 teeth of half an inch lie on 34.56 mm, 52 on 105.17.
        assert!((pitch_radius(17) - 34.558).abs() < 0.01, "{}", pitch_radius(17));
        assert!((pitch_radius(52) - 105.171).abs() < 0.01, "{}", pitch_radius(52));
    }
}
