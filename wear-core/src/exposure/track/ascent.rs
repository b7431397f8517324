//! Climb: peaks and valleys after smoothing, as a band.
//!
//! Every sample's noise adds to a raw sum of rises: white noise of σ adds E max(0, Δ) = σ/√π = 0.5642 σ a sample. So
//! heights are averaged along the road first, and a rise counts only once it exceeds a threshold (hysteresis). No
//! threshold is right for every road and device, hence a band.

use super::legs::{Kind, Path};

/// Heights are averaged over this much road, m (A).
const SMOOTHING_M: f64 = 50.0;

/// Hysteresis for the low, the likely and the high end, m: what barometers need, what receivers need, and between (T).
const HYSTERESIS_M: [f64; 3] = [10.0, 5.0, 2.0];

/// The same as multiples of the noise that is left after smoothing, where that is more (A).
const NOISE_MULTIPLES: [f64; 3] = [8.0, 6.0, 3.0];

/// Share of the points that have to know their height (A).
const LEAST_COVERAGE: f64 = 0.8;

/// A height that never changes over this distance is no height, m (A): devices without one write nought.
const LONGEST_LEVEL_M: f64 = 2_000.0;

/// Moved during a pause by more than this, m (A): the heights before and after belong to two rides.
const LARGEST_MOVE_IN_PAUSE_M: f64 = 100.0;

/// How far uphill, m; `low_m` ≤ `likely_m` ≤ `high_m`. The ends are what a larger and a smaller threshold give; they
/// are no quantiles.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AscentBand {
    /// Rises of 10 m and more.
    pub low_m: f64,
    /// Rises of 5 m and more.
    pub likely_m: f64,
    /// Rises of 2 m and more.
    pub high_m: f64,
}

/// Sum of the rises from valley to peak, in the unit of the heights, where a turn counts once the height has come away
/// from its last extreme by `hysteresis`. 0 gives the raw sum of rises. More hysteresis never gives more climb.
///
/// NaN among the heights counts as no height.
#[must_use]
pub fn ascent_by_hysteresis(heights: &[f64], hysteresis: f64) -> f64 {
    enum State {
        Level { low: f64, high: f64 },
        Up { valley: f64, peak: f64 },
        Down { valley: f64 },
    }
    let mut heights = heights.iter().copied().filter(|height| !height.is_nan());
    let Some(first) = heights.next() else { return 0.0 };
    let mut state = State::Level { low: first, high: first };
    let mut climb = 0.0;
    for height in heights {
        state = match state {
            State::Level { low, .. } if height - low >= hysteresis && height > low => {
                State::Up { valley: low, peak: height }
            }
            State::Level { high, .. } if high - height >= hysteresis && height < high => {
                State::Down { valley: height }
            }
            State::Level { low, high } => State::Level { low: low.min(height), high: high.max(height) },
            State::Up { valley, peak } if height >= peak => State::Up { valley, peak: height },
            State::Up { valley, peak } if peak - height >= hysteresis => {
                climb += peak - valley;
                State::Down { valley: height }
            }
            State::Up { .. } => state,
            State::Down { valley } if height <= valley => State::Down { valley: height },
            State::Down { valley } if height - valley >= hysteresis => State::Up { valley, peak: height },
            State::Down { .. } => state,
        };
    }
    match state {
        State::Up { valley, peak } => climb + peak - valley,
        _ => climb,
    }
}

/// Heights along the road, smoothed.
pub(super) struct Heights {
    /// By point; `None` where the track doesn't know.
    pub(super) smooth_m: Vec<Option<f64>>,
    /// Stretches without a jump, as smoothed heights.
    parts: Vec<Vec<f64>>,
    /// Noise left after smoothing, m.
    noise_m: f64,
}

/// Why there is no climb: the share of points that know their height, 0 to 1, or a height that never changes.
pub(super) struct NoHeights {
    pub(super) share: f64,
    pub(super) level: bool,
}

impl Heights {
    pub(super) fn of(path: &Path, along_m: &[f64]) -> Result<Self, NoHeights> {
        let known: Vec<(usize, f64)> =
            path.points.iter().enumerate().filter_map(|(i, point)| Some((i, point.elevation_m?))).collect();
        let share = known.len() as f64 / path.points.len().max(1) as f64;
        let length = along_m.last().copied().unwrap_or(0.0);
        let level = known.windows(2).all(|pair| pair[0].1 == pair[1].1) && length > LONGEST_LEVEL_M;
        if known.len() < 2 || share < LEAST_COVERAGE || level {
            return Err(NoHeights { share, level });
        }
        let mut breaks: Vec<usize> = path
            .legs
            .iter()
            .filter(|leg| match leg.kind {
                Kind::Jump => true,
                Kind::Paused => leg.metres > LARGEST_MOVE_IN_PAUSE_M,
                Kind::Moving | Kind::Resting | Kind::Untimed => false,
            })
            .map(|leg| leg.to)
            .collect();
        breaks.push(path.points.len());
        let mut smooth_m = vec![None; path.points.len()];
        let mut parts = Vec::new();
        let mut rest = known.as_slice();
        let (mut samples, mut sizes) = (0.0, 0.0);
        for end in breaks {
            let (part, after) = rest.split_at(rest.partition_point(|&(i, _)| i < end));
            rest = after;
            let averaged = averages(part, along_m);
            for (&(i, _), &(mean, size)) in part.iter().zip(&averaged) {
                smooth_m[i] = Some(mean);
                samples += 1.0;
                sizes += size;
            }
            parts.push(averaged.into_iter().map(|(mean, _)| mean).collect());
        }
        let raw: Vec<f64> = known.iter().map(|&(_, height)| height).collect();
        let noise_m = if samples > 0.0 { noise(&raw) / (sizes / samples).sqrt() } else { 0.0 };
        Ok(Self { smooth_m, parts, noise_m })
    }

    pub(super) fn climb(&self) -> AscentBand {
        let [low_m, likely_m, high_m]: [f64; 3] = [0, 1, 2].map(|end| {
            let hysteresis = HYSTERESIS_M[end].max(NOISE_MULTIPLES[end] * self.noise_m);
            self.parts.iter().map(|part| ascent_by_hysteresis(part, hysteresis)).sum()
        });
        // The same rises in another number of pieces round otherwise.
        let likely_m = likely_m.max(low_m);
        AscentBand { low_m, likely_m, high_m: high_m.max(likely_m) }
    }
}

impl Heights {
    /// The likely climb from one point to another, m.
    pub(super) fn climb_between(&self, from: usize, to: usize) -> f64 {
        let known: Vec<f64> = self.smooth_m[from..=to].iter().copied().flatten().collect();
        ascent_by_hysteresis(&known, HYSTERESIS_M[1].max(NOISE_MULTIPLES[1] * self.noise_m))
    }
}

/// The mean height within half the smoothing distance on both sides, and of how many points.
fn averages(part: &[(usize, f64)], along_m: &[f64]) -> Vec<(f64, f64)> {
    let (mut from, mut to, mut sum) = (0, 0, 0.0);
    part.iter()
        .map(|&(i, _)| {
            while to < part.len() && along_m[part[to].0] <= along_m[i] + 0.5 * SMOOTHING_M {
                sum += part[to].1;
                to += 1;
            }
            while along_m[part[from].0] < along_m[i] - 0.5 * SMOOTHING_M {
                sum -= part[from].1;
                from += 1;
            }
            let size = (to - from) as f64;
            (sum / size, size)
        })
        .collect()
}

/// Standard deviation of white noise on the heights, m, from their second differences: robust, blind to hills.
fn noise(heights: &[f64]) -> f64 {
    // For white noise Var(e₁ − 2e₂ + e₃) = 6σ²; a normal's median of |x| is 0.6745 sd.
    let mut bends: Vec<f64> =
        heights.windows(3).map(|three| (three[0] - 2.0 * three[1] + three[2]).abs()).collect();
    if bends.is_empty() {
        return 0.0;
    }
    let middle = bends.len() / 2;
    let (_, median, _) = bends.select_nth_unstable_by(middle, f64::total_cmp);
    *median / 0.674_489_75 / 6.0_f64.sqrt()
}
