//! One step of the filter: over some exposure, to a reading.

use num_complex::Complex64;

use super::WearParameters;
use super::filter::{Cells, Resolution, State};
use super::process::{self, CEILING_PERCENT, ExposureFactor, Extra, StateLikelihood};
use crate::numeric::fourier::{PairTransform, fast_length};
use crate::reading::FLOOR;

/// Frequencies times standard deviation up to which a bell's spectrum is kept. What is cut there, `exp(−½·8²)` or
/// 1.3·10⁻¹⁴ of its height, rings over the whole grid, and every reading that the ringing explains better than the
/// density does raises it: at 6.5 forty scattered readings drowned in it.
const KEPT_DEVIATIONS: f64 = 8.0;

/// Frequencies times standard deviation at which a bell's spectrum has fallen to [`BAND_EDGE`].
const BAND_DEVIATIONS: f64 = 6.5;

/// Share of a spectrum's height by which its bandwidth is told, `exp(−½·6.5²)`: far enough above [`ROUNDING`], so that
/// noise never asks for finer cells, which would keep more noise.
const BAND_EDGE: f64 = 6.7e-10;

/// Damping over the grid, `λL`, when mass leaves at its upper end.
pub(super) const DAMPING: f64 = 18.0;

/// Samples below this share of the damped density's height are rounding.
const ROUNDING: f64 = 1e-14;

/// Most cells a grid may have, at standard resolution.
const MOST_CELLS: f64 = 16_384.0;

/// Square of the share of a spectrum's height below which what is left of a term is none: a hundredth of rounding.
const NOTHING: f64 = 1e-36;

/// Relative evidence below which the whole predicted range is looked at.
const SURPRISING: f64 = 1e-4;

/// Predictive likelihood, relative to the reading's peak, below which a reading is set aside: the process does not
/// explain it, and ringing begins to count (A).
const LOST: f64 = 1e-7;

/// Samples below this share of the density's height may be ringing: no evidence that a reading is explained.
const SOLID: f64 = 1e-8;

/// `e^(−t)` is the probability that a node's reach leaves out, in proportion to the node's weight.
const REACH: f64 = 30.0;

/// The state after a reading, before it is accepted.
pub(super) struct Trial {
    pub(super) cells: Cells,
    pub(super) mass: Vec<f64>,
    pub(super) beyond: Vec<f64>,
    /// `ln p(reading | θ, earlier readings)` at each node, relative to the reading's peak.
    pub(super) log_evidence: Vec<f64>,
    /// `p(reading | earlier readings)`, relative to the reading's peak.
    pub(super) relative_evidence: f64,
    /// The same from what cannot be ringing.
    solid_evidence: f64,
    /// Whether the reading is a blunder and the state as if it had not been taken.
    pub(super) set_aside: bool,
}

/// Widest cell that a density needs whose sharpest bell has this precision (1/variance).
pub(super) fn widest_cell(precision: f64, resolution: Resolution) -> f64 {
    std::f64::consts::PI / (KEPT_DEVIATIONS * precision.sqrt()) / resolution.elongation
}

/// The way to the next reading: reference km, the factor by which they may be off, and what may come on top.
#[derive(Clone, Copy)]
pub(super) struct Way {
    pub(super) ds: f64,
    pub(super) factor: Option<ExposureFactor>,
    pub(super) extra: Option<Extra>,
}

/// Highest x that matters at the end of the way.
pub(super) fn reach(parameters: &WearParameters, state: &State, weights: &[f64], way: Way, t: f64) -> f64 {
    let largest = weights.iter().copied().fold(0.0, f64::max);
    let rise = (0..state.rates.count)
        .filter_map(|node| {
            let t = t + (weights[node] / largest).ln();
            let extra = way.extra.map_or(0.0, |extra| extra.upper_bound(t));
            let most = shape(parameters, state, node, way.ds) * ExposureFactor::upper_bound(way.factor, t)
                + shape(parameters, state, node, extra);
            (t > 0.0 && most > 0.0).then(|| process::upper_bound(parameters.scale(), most, t))
        })
        .fold(0.0, f64::max);
    state.cells.top() + rise
}

fn shape(parameters: &WearParameters, state: &State, node: usize, ds: f64) -> f64 {
    state.rates.log_rate(node).exp() * ds / parameters.scale()
}

/// Predicts to `s` and applies the likelihood, on no more of the grid than can matter; `weights` are the probabilities
/// of the nodes' rates before the reading.
pub(super) fn attempt(
    parameters: &WearParameters,
    state: &State,
    weights: &[f64],
    way: Way,
    seen: &StateLikelihood,
    resolution: Resolution,
) -> Trial {
    let top = state.cells.top();
    let reach = reach(parameters, state, weights, way, REACH).min(top.max(CEILING_PERCENT));
    let near = top.max(reach.min(seen.reach()));
    let sharpness = seen.sharpness();
    let over = |top, sharpness| {
        predict(parameters, state, weights, way, Range { top, reach }, sharpness, resolution)
    };
    let mut trial = apply(over(near, sharpness), weights, seen);
    if near < reach && trial.solid_evidence < SURPRISING {
        trial = apply(over(reach, sharpness), weights, seen);
    }
    if trial.solid_evidence < LOST { set_aside(over(reach, 0.0)) } else { trial }
}

/// The prediction, unmoved by the reading.
fn set_aside(predicted: Predicted) -> Trial {
    let Predicted { cells, mass, beyond } = predicted;
    let log_evidence = vec![FLOOR.ln(); beyond.len()];
    Trial {
        cells,
        mass,
        beyond,
        log_evidence,
        relative_evidence: FLOOR,
        solid_evidence: FLOOR,
        set_aside: true,
    }
}

/// How far a prediction looks, and how far it would have to look to see all.
struct Range {
    top: f64,
    reach: f64,
}

struct Predicted {
    cells: Cells,
    mass: Vec<f64>,
    beyond: Vec<f64>,
}

fn predict(
    parameters: &WearParameters,
    state: &State,
    weights: &[f64],
    way: Way,
    Range { top, reach }: Range,
    sharpness: f64,
    resolution: Resolution,
) -> Predicted {
    let (cells, count) = (state.cells, state.rates.count);
    let all_inside = top >= reach;
    let length = fast_length(((top - cells.lowest) / cells.width).ceil() as usize + 2);
    let span = length as f64 * cells.width;
    let damping = if all_inside && reach < CEILING_PERCENT { 0.0 } else { DAMPING / span };
    let damped: Vec<f64> =
        (0..cells.count).map(|cell| (-damping * cell as f64 * cells.width).exp()).collect();

    let half = length / 2;
    let frequency = std::f64::consts::TAU / span;
    let transforms: Vec<Complex64> = (0..half)
        .map(|k| process::log_transform(parameters.scale(), Complex64::new(damping, k as f64 * frequency)))
        .collect();
    let mut spectra = vec![Complex64::ZERO; count * half];
    let mut forward = PairTransform::new(length);
    let mut highest = 0;
    let largest = weights.iter().copied().fold(0.0, f64::max);
    for (pair, out) in spectra.chunks_mut(2 * half).enumerate() {
        let (first, second) = out.split_at_mut(half);
        let node = 2 * pair;
        let has_second = !second.is_empty();
        forward.spectra(
            state.node(node),
            has_second.then(|| state.node(node + 1)),
            &damped,
            first,
            has_second.then_some(&mut *second),
        );
        for (node, spectrum) in [(node, first), (node + 1, second)] {
            if !spectrum.is_empty() {
                convolve(spectrum, &transforms, shape(parameters, state, node, way.ds), way.factor);
                if let Some(extra) = way.extra {
                    let shape_per_km = shape(parameters, state, node, 1.0);
                    for (value, &c) in spectrum.iter_mut().zip(&transforms) {
                        *value *= extra.transform(shape_per_km, c);
                    }
                }
                if weights[node] > 1e-12 {
                    // A light node's density lies where the common cells end, and its cut edge is not worth finer ones.
                    let edge = BAND_EDGE * (largest / weights[node]).sqrt();
                    highest = highest.max(band(spectrum, edge));
                }
            }
        }
    }

    // No bell is sharper than what the present cells were made for, whatever noise says.
    let sharpest = ((highest + 1) as f64 / BAND_DEVIATIONS).min(half as f64 / KEPT_DEVIATIONS) * frequency;
    let precision = sharpest.powi(2);
    let width =
        widest_cell(precision + sharpness, resolution).max(span / (MOST_CELLS * resolution.elongation));
    let finer_length = fast_length((span / width).ceil() as usize);
    let finer = Cells { lowest: cells.lowest, width: span / finer_length as f64, count: finer_length };
    let mut inverse = PairTransform::new(finer_length);
    let undamped: Vec<f64> = (0..finer_length)
        .map(|cell| (damping * cell as f64 * finer.width).exp() / finer_length as f64)
        .collect();
    let mut mass = vec![0.0; count * finer_length];
    for (pair, rows) in mass.chunks_mut(2 * finer_length).enumerate() {
        let node = 2 * pair;
        let second = (node + 1 < count).then(|| &spectra[(node + 1) * half..(node + 2) * half]);
        let values = inverse.sequences(&spectra[node * half..(node + 1) * half], second);
        let height = values.iter().map(|value| value.re.max(value.im)).fold(0.0, f64::max);
        let (first, second) = rows.split_at_mut(finer_length);
        for (node, row, part) in [(node, first, 0), (node + 1, second, 1)] {
            if row.is_empty() {
                continue;
            }
            let shape = shape(parameters, state, node, way.ds);
            let attenuation = ExposureFactor::log_transform(way.factor, shape, transforms[0].re).exp();
            for ((out, value), undamped) in row.iter_mut().zip(values).zip(&undamped) {
                let value = if part == 0 { value.re } else { value.im };
                *out = if value > ROUNDING * height { value * undamped * attenuation } else { 0.0 };
            }
        }
    }

    let beyond = (0..count)
        .map(|node| {
            let row = &mut mass[node * finer_length..(node + 1) * finer_length];
            let inside: f64 = row.iter().sum();
            let before = 1.0 - state.beyond[node];
            // What came back round the grid is no more than e^(−DAMPING): not evidence of anything. Nor is what is left
            // of a node of negligible weight, which the reach left out.
            if inside < 1e-6 * before {
                row.fill(0.0);
                return 1.0;
            }
            if all_inside && reach < CEILING_PERCENT {
                let scale = before / inside.max(f64::MIN_POSITIVE);
                row.iter_mut().for_each(|value| *value *= scale);
                return state.beyond[node];
            }
            let scale = (before / inside).min(1.0);
            row.iter_mut().for_each(|value| *value *= scale);
            let left = before - inside;
            state.beyond[node] + if left > 1e-7 { left } else { 0.0 }
        })
        .collect();
    Predicted { cells: finer, mass, beyond }
}

/// Multiplies by `exp(−κ(c_k − c_0))`, or its mean over the exposure's factor; the common `exp(−κ c_0)` is put back
/// later, so that two nodes that share a transform stay of one magnitude.
fn convolve(
    spectrum: &mut [Complex64],
    transforms: &[Complex64],
    shape: f64,
    factor: Option<ExposureFactor>,
) {
    if shape <= 0.0 {
        return;
    }
    let first = transforms.first().map_or(0.0, |c| c.re);
    // The spectrum is highest at its beginning, and the ratio falls.
    for (k, c) in transforms.iter().enumerate() {
        let ratio = ExposureFactor::ratio(factor, shape, (*c, first));
        if ratio.norm_sqr() < NOTHING {
            spectrum[k..].fill(Complex64::ZERO);
            return;
        }
        spectrum[k] *= ratio;
    }
}

/// The highest frequency at which more than `edge` of the spectrum's height is left.
fn band(spectrum: &[Complex64], edge: f64) -> usize {
    let height = spectrum.first().map_or(0.0, |z| z.norm_sqr());
    spectrum.iter().rposition(|z| z.norm_sqr() > edge * edge * height).unwrap_or(0)
}

fn apply(predicted: Predicted, weights: &[f64], seen: &StateLikelihood) -> Trial {
    let Predicted { cells, mut mass, mut beyond } = predicted;
    let relative: Vec<f64> = (0..cells.count).map(|cell| seen.relative(cells.at(cell))).collect();
    let (mut total, mut total_solid) = (0.0, 0.0);
    let mut log_evidence = Vec::with_capacity(weights.len());
    for (node, row) in mass.chunks_exact_mut(cells.count).enumerate() {
        let mut evidence = beyond[node] * seen.at_infinity();
        let mut solid = evidence;
        let ringing = SOLID * row.iter().copied().fold(0.0, f64::max);
        for (value, relative) in row.iter_mut().zip(&relative) {
            let explained = *value * relative;
            if *value > ringing {
                solid += explained;
            }
            evidence += explained;
            *value = explained;
        }
        if evidence > 0.0 {
            row.iter_mut().for_each(|value| *value /= evidence);
            beyond[node] *= seen.at_infinity() / evidence;
        } else {
            // Nothing of this node is left that the reading could come from, not even by a blunder.
            row.fill(0.0);
            beyond[node] = 1.0;
            evidence = f64::MIN_POSITIVE;
        }
        log_evidence.push(evidence.ln());
        total += weights[node] * evidence;
        total_solid += weights[node] * solid;
    }
    Trial {
        cells,
        mass,
        beyond,
        log_evidence,
        relative_evidence: total,
        solid_evidence: total_solid,
        set_aside: false,
    }
}
