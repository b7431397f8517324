//! Sprockets side by side as the stack looks from behind, each filled as far as it is used up.

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
const BASE: f64 = 168.0;

/// Draws them; `name` is the drawing's own on the page.
pub fn cogs(words: &Words, name: &str, title: &str, all: &[Cog]) -> String {
    let listed: Vec<String> = all
        .iter()
        .map(|cog| {
            words.cog_described(cog.teeth, words.percent(100.0 * cog.damage, 0), words.chance(cog.worn))
        })
        .collect();
    let step = 44.0;
    let width = (all.len() as f64 * step + 24.0).max(150.0);
    let mut svg = Svg::new(name, width, HEIGHT, title, &listed.join(" "));
    let hatch = format!("{name}-hatch");
    svg.hatch(&hatch);
    let most = all.iter().map(|cog| cog.teeth).max().unwrap_or(1).max(1);
    for (index, cog) in all.iter().enumerate() {
        let x = 14.0 + index as f64 * step;
        let height = 44.0 + 96.0 * f64::from(cog.teeth) / f64::from(most);
        let filled = height * cog.damage.clamp(0.0, 1.0);
        svg.rect("cog-body", (x, BASE - height), (30.0, height));
        svg.hatched(&hatch, (x, BASE - filled), (30.0, filled));
        svg.line("cog-level", (x, BASE - filled), (x + 30.0, BASE - filled));
        svg.rect("cog-edge", (x, BASE - height), (30.0, height));
        svg.text(
            "strong",
            (x + 15.0, BASE - height - 6.0),
            Anchor::Middle,
            words.percent(100.0 * cog.damage, 0),
        );
        svg.text("small", (x + 15.0, BASE + 15.0), Anchor::Middle, cog.teeth);
        svg.probe((x, BASE - height), (30.0, height), &listed[index]);
    }
    svg.line("axis-line", (8.0, BASE), (width - 8.0, BASE));
    svg.text("axis-name", (8.0, BASE + 32.0), Anchor::Start, words.cog_axis_teeth());
    svg.text("axis-name", (8.0, BASE + 45.0), Anchor::Start, words.cog_axis_damage());
    svg.finish()
}
