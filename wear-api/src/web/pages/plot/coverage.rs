//! How often forecasts held, month by month, against what chance explains.

use super::{Anchor, Scale, Svg};
use crate::words::Words;

/// One month.
#[derive(Debug, Clone)]
pub struct Covered {
    /// Its name.
    pub month: String,
    /// Readings in it.
    pub readings: u64,
    /// Share that held, 0 to 1.
    pub share: f64,
    /// Shares that chance explains.
    pub band: (f64, f64),
}

const WIDTH: f64 = 720.0;
const LEFT: f64 = 58.0;
const RIGHT: f64 = 622.0;
const TOP: f64 = 16.0;
const BOTTOM: f64 = 190.0;

/// The share that right intervals hold.
const RIGHT_SHARE: f64 = 0.8;

/// Draws the months.
pub fn coverage(words: &Words, months: &[Covered]) -> Option<String> {
    if months.is_empty() {
        return None;
    }
    let share = |value: f64| words.percent(100.0 * value, 0);
    let says: Vec<String> = months
        .iter()
        .map(|it| {
            words.track_plot_point(
                &it.month,
                share(it.share),
                it.readings,
                share(it.band.0),
                share(it.band.1),
            )
        })
        .collect();
    let mut svg = Svg::new("coverage-plot", WIDTH, 232.0, &words.track_plot_title(), &says.join(" "));
    let y = Scale::new((0.0, 1.0), (BOTTOM, TOP));
    for tick in 0..=5 {
        let value = f64::from(tick) * 0.2;
        svg.line("grid", (LEFT, y.at(value)), (RIGHT, y.at(value)));
        svg.text("small", (LEFT - 7.0, y.at(value) + 4.0), Anchor::End, share(value));
    }
    let step = (RIGHT - LEFT) / months.len() as f64;
    // Room for a name and a gap.
    let every = (72.0 / step).ceil() as usize;
    for (index, it) in months.iter().enumerate() {
        let x = LEFT + (index as f64 + 0.5) * step;
        let half = (step * 0.28).min(22.0);
        let (top, bottom) = (y.at(it.band.1), y.at(it.band.0));
        svg.rect("chance", (x - half, top), (2.0 * half, bottom - top));
        let outside = it.share < it.band.0 || it.share > it.band.1;
        svg.line("held", (x - half, y.at(it.share)), (x + half, y.at(it.share)));
        if outside {
            svg.line("struck", (x - 5.0, y.at(it.share) - 5.0), (x + 5.0, y.at(it.share) + 5.0));
            svg.line("struck", (x - 5.0, y.at(it.share) + 5.0), (x + 5.0, y.at(it.share) - 5.0));
        }
        if (months.len() - 1 - index).is_multiple_of(every) {
            svg.text("small", (x, BOTTOM + 15.0), Anchor::Middle, &it.month);
        }
        svg.probe((x - step / 2.0, TOP), (step, BOTTOM - TOP), &says[index]);
    }
    svg.line("limit", (LEFT, y.at(RIGHT_SHARE)), (RIGHT, y.at(RIGHT_SHARE)));
    svg.text("strong", (RIGHT + 5.0, y.at(RIGHT_SHARE) + 4.0), Anchor::Start, words.track_right());
    svg.line("axis-line", (LEFT, BOTTOM), (RIGHT, BOTTOM));
    svg.text("axis-name", (LEFT, BOTTOM + 34.0), Anchor::Start, words.track_plot_axes());
    Some(svg.finish())
}
