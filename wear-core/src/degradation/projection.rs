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

pub(super) struct Projection {
    lowest: f64,
    highest: f64,
    /// `2/T` (`1/T` for the first), the weight of each term.
    frequencies: Vec<Complex64>,
    log_transforms: Vec<Complex64>,
    term: f64,
    /// By what factor the exposure from now on may be off.
    ahead: Option<ExposureFactor>,
    rates: Vec<Rate>,
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

impl Projection {
    /// For all elongations that can be reached `since` reference km after the last reading, running-in taken off.
    pub(super) fn of_reach(posterior: &Posterior, since: f64) -> Self {
        let (state, parameters) = (&posterior.state, &posterior.parameters);
        let weights = nodes::normalised(&state.log_weights(parameters));
        let factor = ExposureFactor::of(posterior.open.since_last_reading);
        let reach = step::reach(parameters, state, &weights, Way { ds: since, factor }, REACH);
        Self::up_to(posterior, reach.min(posterior.ceiling()), since)
    }

    /// For elongations up to `highest`, running-in taken off, `since` reference km after the last reading or later.
    pub(super) fn up_to(posterior: &Posterior, highest: f64, since: f64) -> Self {
        let parameters = &posterior.parameters;
        let factor = ExposureFactor::of(posterior.open.since_last_reading);
        let state = &refined(posterior, highest, since);
        let weights = nodes::normalised(&state.log_weights(parameters));
        let highest = highest.max(state.cells.top());
        let length =
            fast_length((ROOM * (highest - state.cells.lowest) / state.cells.width).ceil() as usize + 2);
        let span = length as f64 * state.cells.width;
        let damping = DAMPING / span;
        let frequency = std::f64::consts::TAU / span;
        let half = length / 2;
        let frequencies: Vec<Complex64> =
            (0..half).map(|k| Complex64::new(damping, k as f64 * frequency)).collect();
        let log_transforms: Vec<Complex64> =
            frequencies.iter().map(|&z| process::log_transform(parameters.scale(), z)).collect();
        let damped: Vec<f64> =
            (0..state.cells.count).map(|cell| (-damping * cell as f64 * state.cells.width).exp()).collect();
        let mut forward = PairTransform::new(length);
        let mut rates = Vec::with_capacity(state.rates.count);
        let smallest = NEGLIGIBLE_TERM * span * damping;
        for node in (0..state.rates.count).step_by(2) {
            let has_second = node + 1 < state.rates.count;
            let (mut first, mut second) = (vec![Complex64::ZERO; half], vec![Complex64::ZERO; half]);
            forward.spectra(
                state.node(node),
                has_second.then(|| state.node(node + 1)),
                &damped,
                &mut first,
                has_second.then_some(&mut second),
            );
            for (node, mut transform) in [(node, first), (node + 1, second)] {
                let weight = weights.get(node).copied().unwrap_or(0.0);
                if weight > NEGLIGIBLE_WEIGHT {
                    let shape_per_km = state.rates.log_rate(node).exp() / parameters.scale();
                    let (shape, first) = (shape_per_km * since, log_transforms.first().map_or(0.0, |c| c.re));
                    let decay = ExposureFactor::log_transform(factor, shape, first);
                    for (value, c) in transform.iter_mut().zip(&log_transforms) {
                        *value *= weight;
                        if since > 0.0 {
                            *value *= ExposureFactor::ratio(factor, shape, (*c, first));
                        }
                    }
                    let kept = transform.iter().rposition(|z| z.norm() > smallest).map_or(0, |k| k + 1);
                    transform.truncate(kept);
                    rates.push(Rate { shape_per_km, transform, decay });
                }
            }
        }
        Self {
            lowest: state.cells.lowest,
            highest,
            frequencies,
            log_transforms,
            term: 1.0 / span,
            ahead: ExposureFactor::of(posterior.open.ahead),
            rates,
        }
    }

    /// Lowest and highest elongation, running-in taken off, that can be asked for.
    pub(super) const fn range(&self) -> (f64, f64) {
        (self.lowest, self.highest)
    }

    /// Distribution at `y`, `ahead` reference km from now.
    pub(super) fn at(&self, y: f64, ahead: f64) -> Point {
        let mut drifts = vec![Complex64::ZERO; self.longest()];
        let values = self.values(y, ahead, |k, value, rate, c| {
            let slope = ExposureFactor::slope(self.ahead, rate.shape_per_km * ahead, c);
            drifts[k] += value * slope * rate.shape_per_km;
        });
        self.sum(&values, Some(&drifts), y - self.lowest)
    }

    /// `P(x < y)` at `y`, `ahead` reference km from now: [`Projection::at`] without its slopes.
    pub(super) fn below(&self, y: f64, ahead: f64) -> f64 {
        self.sum(&self.values(y, ahead, |_, _, _, _| ()), None, y - self.lowest).below
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
        let height = y - self.lowest;
        if height < 0.0 {
            return values;
        }
        let damping = self.frequencies.first().map_or(0.0, |z| z.re);
        let first = self.log_transforms.first().map_or(0.0, |c| c.re);
        for rate in &self.rates {
            let shape = rate.shape_per_km * ahead;
            let decay = rate.decay + ExposureFactor::log_transform(self.ahead, shape, first);
            let left = NEGLIGIBLE_DECAY - damping * height - decay;
            if left > 0.0 {
                continue;
            }
            let (negligible, decay) = ((2.0 * left).exp(), decay.exp());
            for (k, ((sum, &transform), c)) in
                values.iter_mut().zip(&rate.transform).zip(&self.log_transforms).enumerate()
            {
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

    /// The distribution of y now, for many y.
    pub(super) fn slice(&self) -> Slice<'_> {
        let mut values = vec![Complex64::ZERO; self.longest()];
        for rate in &self.rates {
            let decay = rate.decay.exp();
            for (sum, &transform) in values.iter_mut().zip(&rate.transform) {
                *sum += transform * decay;
            }
        }
        Slice { projection: self, values }
    }

    fn sum(&self, values: &[Complex64], drifts: Option<&[Complex64]>, height: f64) -> Point {
        let mut point = Point::default();
        for (k, (&value, &z)) in values.iter().zip(&self.frequencies).enumerate() {
            let fold = if k == 0 { 1.0 } else { 2.0 };
            let wave = Complex64::from_polar(fold * self.term * (z.re * height).exp(), z.im * height);
            let density = value * wave;
            point.density += density.re;
            point.below += (density / z).re;
            if let Some(drifts) = drifts {
                point.drift += (drifts[k] * wave / z).re;
            }
        }
        Point {
            below: point.below.clamp(0.0, 1.0),
            density: point.density.max(0.0),
            drift: point.drift.min(0.0),
        }
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

/// A [`Projection`] at the present exposure.
pub(super) struct Slice<'a> {
    projection: &'a Projection,
    values: Vec<Complex64>,
}

impl Slice<'_> {
    pub(super) fn at(&self, y: f64) -> Point {
        let (lowest, highest) = self.projection.range();
        if y < lowest {
            return Point::default();
        }
        let point = self.projection.sum(&self.values, None, y.min(highest) - lowest);
        if y > highest { Point { density: 0.0, ..point } } else { point }
    }

    /// [`Slice::at`] for `count` elongations from `first` on, `step` apart: each term turns by the same factor from one to
    /// the next, so that it is computed once.
    pub(super) fn evenly(&self, first: f64, step: f64, count: usize) -> Vec<Point> {
        let (lowest, highest) = self.projection.range();
        let y = |index: usize| first + index as f64 * step;
        let begin = (0..count).find(|&index| y(index) >= lowest).unwrap_or(count);
        let end = (begin..count).find(|&index| y(index) > highest).unwrap_or(count);
        let mut points = vec![Point::default(); count];
        let height = y(begin) - lowest;
        for (k, (&value, &z)) in self.values.iter().zip(&self.projection.frequencies).enumerate() {
            let fold = if k == 0 { 1.0 } else { 2.0 };
            let mut wave = value
                * Complex64::from_polar(fold * self.projection.term * (z.re * height).exp(), z.im * height);
            let turn = Complex64::from_polar((z.re * step).exp(), z.im * step);
            let integral = z.inv();
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
