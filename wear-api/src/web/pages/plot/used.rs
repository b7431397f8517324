//! How full a bench day is.

use super::{Anchor, Scale, Svg};
use crate::words::Words;

/// Draws minutes used of the minutes there are; `index` makes the drawing's name its own.
pub fn used(words: &Words, index: usize, day: &str, used: u32, minutes: u32) -> String {
    let name = format!("day-{index}");
    let says = words.bench_minutes_used(used, minutes);
    let mut svg = Svg::new(&name, 300.0, 26.0, &words.bench_plot_title(day), &says);
    let hatch = format!("{name}-hatch");
    svg.hatch(&hatch);
    let x = Scale::new((0.0, f64::from(minutes.max(used).max(1))), (2.0, 298.0));
    svg.hatched(&hatch, (2.0, 2.0), (x.at(f64::from(used)) - 2.0, 12.0));
    svg.rect("cog-edge", (2.0, 2.0), (x.at(f64::from(minutes)) - 2.0, 12.0));
    for hour in 1..=minutes.max(used) / 60 {
        let at = x.at(f64::from(hour) * 60.0);
        svg.line("tick", (at, 14.0), (at, 18.0));
        let anchor = if at > 285.0 { Anchor::End } else { Anchor::Middle };
        svg.text("small", (at, 26.0), anchor, format!("{hour} h"));
    }
    svg.finish()
}
