//! The distribution of elongation at any later exposure, without a grid.
//!
//! `P(x(s+Δ) < y) = (1/2πi) ∫ e^(zy) Σ_θ w_θ a_θ(z) (1+φz)^(−θΔ/φ) dz/z` on Re z = λ, where `a_θ(z)` is the
//! transform of the density at the last reading; the integral is a sum at spacing 2π/T whose error is
//! e^(−λT) (Abate and Whitt 1992, Queueing Systems 10:5; M). Derivatives in y and Δ are sums of the same
//! terms.

use std::borrow::Cow;

use num_complex::Complex64;

use super::filter::{Posterior, State};
use super::process::{CEILING_PERCENT, ExposureFactor};
use super::step::{self, DAMPING, Way};
use super::{nodes, process};
use crate::numeric::fourier::{PairTransform, fast_length};

/// Terms smaller than this are left out, before they are amplified by `e^(λ(y − lowest))`.
const NEGLIGIBLE_TERM: f64 = 1e-15;

/// Terms that have decayed to less than the exponential of this are left out.
const NEGLIGIBLE_DECAY: f64 = -32.0;

/// Nodes of ln θ with less weight than this are left out.
const NEGLIGIBLE_WEIGHT: f64 = 1e-8;

/// Span of the sum over the range looked at. Near the span's upper end the factor `e^(λy)` raises what the
/// spectrum's cut leaves by up to `e^18`, which showed as 2e-4 in a probability that is nil; with this much room it is
/// `e^12` at most.
const ROOM: f64 = 1.5;

/// Largest node spacing in units of the width of what is summed over the nodes; errs by
/// `2 exp(−2π²/c²)`, here 5·10⁻⁹ of the part that varies.
const SPACING: f64 = 1.0;

/// `e^(−t)` is the probability that the range of elongations looked at leaves out.
const REACH: f64 = 18.0;

/// The line Re z = λ on which transforms are taken, for elongations of one range.
struct Line {
    lowest: f64,
    highest: f64,
    /// Cells over the whole span.
    length: usize,
    frequencies: Vec<Complex64>,
    /// `1/z` of each frequency z: it integrates over y.
    integrals: Vec<Complex64>,
    log_transforms: Vec<Complex64>,
    /// `1/T`, half the weight of each term but the first.
    term: f64,
    /// Terms below this are negligible.
    smallest: f64,
}

/// Elongation at any exposure from one on.
pub(super) struct Projection {
    line: Line,
    /// By what factor the exposure from now on may be off.
    ahead: Option<ExposureFactor>,
    rates: Vec<Rate>,
}

/// Elongation at one exposure.
pub(super) struct Slice {
    line: Line,
    /// The transform, summed over all rates.
    values: Vec<Complex64>,
}

/// One node of ln θ.
struct Rate {
    /// θ/φ, shape gained per reference km.
    shape_per_km: f64,
    /// Weighted transform of the density now, over its first term's decay since the last reading, as far as it isn't
    /// negligible.
    transform: Vec<Complex64>,
    /// Logarithm of that decay.
    decay: f64,
}

/// A distribution function with its slopes.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Point {
    /// `P(x < y)`.
    pub(super) below: f64,
    /// Derivative in y.
    pub(super) density: f64,
    /// Derivative in Δ, not positive.
    pub(super) drift: f64,
}

impl Line {
    fn new(state: &State, highest: f64, scale: f64) -> Self {
        let highest = highest.max(state.cells.top());
        let length =
            fast_length((ROOM * (highest - state.cells.lowest) / state.cells.width).ceil() as usize + 2);
        let span = length as f64 * state.cells.width;
        let damping = DAMPING / span;
        let frequency = std::f64::consts::TAU / span;
        let frequencies: Vec<Complex64> =
            (0..length / 2).map(|k| Complex64::new(damping, k as f64 * frequency)).collect();
        let log_transforms = frequencies.iter().map(|&z| process::log_transform(scale, z)).collect();
        Self {
            lowest: state.cells.lowest,
            highest,
            length,
            integrals: frequencies.iter().map(Complex64::inv).collect(),
            frequencies,
            log_transforms,
            term: 1.0 / span,
            smallest: NEGLIGIBLE_TERM * span * damping,
        }
    }

    /// `λ`, and `c(λ)`.
    fn first(&self) -> (f64, f64) {
        (self.frequencies.first().map_or(0.0, |z| z.re), self.log_transforms.first().map_or(0.0, |c| c.re))
    }

    /// Shows `each` the transform at the last reading, unweighted, with θ/φ and the weight of every node that counts.
    fn each_rate(&self, posterior: &Posterior, state: &State, mut each: impl FnMut(f64, f64, &[Complex64])) {
        let weights = nodes::normalised(&state.log_weights(&posterior.parameters));
        let damping = self.first().0;
        let damped: Vec<f64> =
            (0..state.cells.count).map(|cell| (-damping * cell as f64 * state.cells.width).exp()).collect();
        let mut forward = PairTransform::new(self.length);
        let half = self.frequencies.len();
        let mut spectra = vec![Complex64::ZERO; 2 * half];
        let (even, odd) = spectra.split_at_mut(half);
        let mut transformed: [Option<&[f64]>; 2] = [None; 2];
        for node in (0..state.rates.count).step_by(2) {
            if weights[node..].iter().take(2).all(|weight| *weight <= NEGLIGIBLE_WEIGHT) {
                continue;
            }
            let pair = [Some(state.node(node)), (node + 1 < state.rates.count).then(|| state.node(node + 1))];
            // Before any reading all nodes have one density.
            if pair != transformed {
                let second_out = pair[1].map(|_| &mut *odd);
                forward.spectra(state.node(node), pair[1], &damped, even, second_out);
                transformed = pair;
            }
            for (node, spectrum) in [(node, &*even), (node + 1, &*odd)] {
                let weight = weights.get(node).copied().unwrap_or(0.0);
                if weight > NEGLIGIBLE_WEIGHT {
                    each(state.rates.log_rate(node).exp() / posterior.parameters.scale(), weight, spectrum);
                }
            }
        }
    }

    /// The terms of `spectrum` after the shape has grown by so much, over the first one's decay, until they are negligible.
    fn grown<'a>(
        &'a self,
        spectrum: &'a [Complex64],
        shape: f64,
        factor: Option<ExposureFactor>,
    ) -> impl Iterator<Item = Complex64> + 'a {
        let (first, negligible) = (self.first().1, self.smallest * self.smallest);
        spectrum.iter().zip(&self.log_transforms).map_while(move |(value, c)| {
            if shape <= 0.0 {
                return Some(*value);
            }
            let ratio = ExposureFactor::ratio(factor, shape, (*c, first));
            (ratio.norm_sqr() > negligible).then(|| value * ratio)
        })
    }

    fn sum(&self, values: &[Complex64], drifts: Option<&[Complex64]>, height: f64) -> Point {
        let mut point = Point::default();
        let (damping, frequency) = (self.frequencies[0].re, self.frequencies[1].im);
        let mut wave = Complex64::from(self.term * (damping * height).exp());
        // Each term turns by the same angle against the one before; all but the first count twice.
        let turn = Complex64::cis(frequency * height);
        for (k, (&value, &integral)) in values.iter().zip(&self.integrals).enumerate() {
            let density = value * wave;
            point.density += density.re;
            point.below += (density * integral).re;
            if let Some(drifts) = drifts {
                point.drift += (drifts[k] * wave * integral).re;
            }
            wave *= if k == 0 { 2.0 * turn } else { turn };
        }
        Point {
            below: point.below.clamp(0.0, 1.0),
            density: point.density.max(0.0),
            drift: point.drift.min(0.0),
        }
    }
}

impl Projection {
    /// For elongations up to `highest`, running-in taken off, `since` reference km after the last reading or later.
    pub(super) fn up_to(posterior: &Posterior, highest: f64, since: f64) -> Self {
        let state = &refined(posterior, highest, since);
        let line = Line::new(state, highest, posterior.parameters.scale());
        let factor = ExposureFactor::of(posterior.open.since_last_reading);
        let first = line.first().1;
        let mut rates = Vec::with_capacity(state.rates.count);
        let mut terms = Vec::with_capacity(line.frequencies.len());
        line.each_rate(posterior, state, |shape_per_km, weight, spectrum| {
            let shape = shape_per_km * since;
            terms.clear();
            terms.extend(line.grown(spectrum, shape, factor).map(|term| term * weight));
            let counts = |z: &Complex64| z.norm_sqr() > line.smallest * line.smallest;
            let kept = terms.iter().rposition(counts).map_or(0, |last| last + 1);
            let decay = ExposureFactor::log_transform(factor, shape, first);
            rates.push(Rate { shape_per_km, transform: terms[..kept].to_vec(), decay });
        });
        Self { line, ahead: ExposureFactor::of(posterior.open.ahead), rates }
    }

    /// Distribution at `y`, `ahead` reference km from now.
    pub(super) fn at(&self, y: f64, ahead: f64) -> Point {
        let mut drifts = vec![Complex64::ZERO; self.longest()];
        let values = self.values(y, ahead, |k, value, rate, c| {
            let slope = ExposureFactor::slope_over_c(self.ahead, rate.shape_per_km * ahead, c, value);
            drifts[k] += slope * rate.shape_per_km;
        });
        drifts.iter_mut().zip(&self.line.log_transforms).for_each(|(drift, c)| *drift *= c);
        self.line.sum(&values, Some(&drifts), y - self.line.lowest)
    }

    /// `P(x < y)` at `y`, `ahead` reference km from now: [`Projection::at`] without its slopes.
    pub(super) fn below(&self, y: f64, ahead: f64) -> f64 {
        self.line.sum(&self.values(y, ahead, |_, _, _, _| ()), None, y - self.line.lowest).below
    }

    fn longest(&self) -> usize {
        self.rates.iter().map(|rate| rate.transform.len()).max().unwrap_or(0)
    }

    /// The transform `ahead` reference km from now, as far as it matters at `y`; `each` sees every rate's part of it.
    #[inline]
    fn values(
        &self,
        y: f64,
        ahead: f64,
        mut each: impl FnMut(usize, Complex64, &Rate, Complex64),
    ) -> Vec<Complex64> {
        let mut values = vec![Complex64::ZERO; self.longest()];
        let height = y - self.line.lowest;
        if height < 0.0 {
            return values;
        }
        let (damping, first) = self.line.first();
        for rate in &self.rates {
            let shape = rate.shape_per_km * ahead;
            let decay = rate.decay + ExposureFactor::log_transform(self.ahead, shape, first);
            let left = NEGLIGIBLE_DECAY - damping * height - decay;
            if left > 0.0 {
                continue;
            }
            let (negligible, decay) = ((2.0 * left).exp(), decay.exp());
            for (k, ((sum, &transform), c)) in
                values.iter_mut().zip(&rate.transform).zip(&self.line.log_transforms).enumerate()
            {
                if shape <= 0.0 {
                    *sum += transform * decay;
                    each(k, transform * decay, rate, *c);
                    continue;
                }
                let ratio = ExposureFactor::ratio(self.ahead, shape, (*c, first));
                if ratio.norm_sqr() < negligible {
                    break;
                }
                let value = transform * decay * ratio;
                *sum += value;
                each(k, value, rate, *c);
            }
        }
        values
    }
}

/// The state on nodes of ln θ dense enough for the distribution functions that are summed over them.
///
/// Given θ, the distribution function at y is a step of width `√(Var x + φG)/G` in ln θ, G the wear still to
/// come until y.
fn refined<'a>(posterior: &'a Posterior, highest: f64, since: f64) -> Cow<'a, State> {
    let (state, parameters) = (&posterior.state, &posterior.parameters);
    let (mean_log_rate, sd_log_rate) = posterior.log_rate();
    let (x, variance) = state.moments(parameters);
    let expected = (mean_log_rate + sd_log_rate).exp() * since;
    let to_come = (highest - x).max(expected.min(CEILING_PERCENT));
    let width = (variance + parameters.scale() * to_come).sqrt() / to_come;
    let precision = width.powi(-2) + sd_log_rate.powi(-2);
    let spacing = SPACING / (precision.sqrt() * posterior.resolution.rate);
    let mut state = Cow::Borrowed(state);
    if let Some(rates) = state.rates.with_spacing(spacing).filter(|_| to_come > 0.0) {
        state.to_mut().move_to(rates);
    }
    state
}

impl Slice {
    /// All elongations that can be reached `since` reference km after the last reading, running-in taken off.
    pub(super) fn of_reach(posterior: &Posterior, since: f64) -> Self {
        let (state, parameters) = (&posterior.state, &posterior.parameters);
        let weights = nodes::normalised(&state.log_weights(parameters));
        let factor = ExposureFactor::of(posterior.open.since_last_reading);
        let reach = step::reach(parameters, state, &weights, Way { ds: since, factor, extra: None }, REACH);
        Self::up_to(posterior, reach.min(posterior.ceiling()), since)
    }

    /// Elongations up to `highest`, running-in taken off, `since` reference km after the last reading.
    pub(super) fn up_to(posterior: &Posterior, highest: f64, since: f64) -> Self {
        let state = &refined(posterior, highest, since);
        let line = Line::new(state, highest, posterior.parameters.scale());
        let factor = ExposureFactor::of(posterior.open.since_last_reading);
        let first = line.first().1;
        let mut values = vec![Complex64::ZERO; line.frequencies.len()];
        let mut kept = 0;
        line.each_rate(posterior, state, |shape_per_km, weight, spectrum| {
            let shape = shape_per_km * since;
            let weight = weight * ExposureFactor::log_transform(factor, shape, first).exp();
            for (k, (sum, term)) in values.iter_mut().zip(line.grown(spectrum, shape, factor)).enumerate() {
                *sum += term * weight;
                kept = kept.max(k + 1);
            }
        });
        values.truncate(kept);
        Self { line, values }
    }

    /// Lowest and highest elongation, running-in taken off, that can be asked for.
    pub(super) const fn range(&self) -> (f64, f64) {
        (self.line.lowest, self.line.highest)
    }

    pub(super) fn at(&self, y: f64) -> Point {
        let (lowest, highest) = self.range();
        if y < lowest {
            return Point::default();
        }
        let point = self.line.sum(&self.values, None, y.min(highest) - lowest);
        if y > highest { Point { density: 0.0, ..point } } else { point }
    }

    /// [`Slice::at`] for `count` elongations from `first` on, `step` apart: each term turns by the same factor from one to
    /// the next, so that it is computed once.
    pub(super) fn evenly(&self, first: f64, step: f64, count: usize) -> Vec<Point> {
        let (lowest, highest) = self.range();
        let y = |index: usize| first + index as f64 * step;
        let begin = (0..count).find(|&index| y(index) >= lowest).unwrap_or(count);
        let end = (begin..count).find(|&index| y(index) > highest).unwrap_or(count);
        let mut points = vec![Point::default(); count];
        let height = y(begin) - lowest;
        let damping = self.line.first().0;
        let (raised, grown) = (self.line.term * (damping * height).exp(), (damping * step).exp());
        let terms = self.line.frequencies.iter().zip(&self.line.integrals);
        for (k, (&value, (z, &integral))) in self.values.iter().zip(terms).enumerate() {
            let fold = if k == 0 { 1.0 } else { 2.0 };
            let mut wave = value * Complex64::from_polar(fold * raised, z.im * height);
            let turn = Complex64::from_polar(grown, z.im * step);
            for point in &mut points[begin..end] {
                point.density += wave.re;
                point.below += (wave * integral).re;
                wave *= turn;
            }
        }
        for point in &mut points[begin..end] {
            point.density = point.density.max(0.0);
            point.below = point.below.clamp(0.0, 1.0);
        }
        let beyond = Point { density: 0.0, ..self.at(highest) };
        points[end..].fill(beyond);
        points
    }
}
