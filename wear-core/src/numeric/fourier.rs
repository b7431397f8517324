//! Fourier transforms of pairs of real sequences.
//!
//! Two real sequences ride in one complex transform. The scalar planner is used on purpose: vector
//! instructions would make the last bit depend on the processor.

use std::cell::RefCell;
use std::sync::Arc;

use num_complex::Complex64;
use rustfft::{Fft, FftPlannerScalar};

thread_local! {
    static PLANNER: RefCell<FftPlannerScalar<f64>> = RefCell::new(FftPlannerScalar::new());
}

/// Smallest length of at least `points` that transforms fast and is divisible by four: a power of two times 8, 9, 10, 12
/// or 15, sixteenths of the next one up.
pub(crate) fn fast_length(points: usize) -> usize {
    let power = points.max(16).next_power_of_two();
    [8, 9, 10, 12, 15]
        .into_iter()
        .map(|part| power / 16 * part)
        .find(|length| *length >= points && length.is_multiple_of(4))
        .unwrap_or(power)
}

/// Transforms of one length, with the memory they need.
pub(crate) struct PairTransform {
    forward: Arc<dyn Fft<f64>>,
    inverse: Arc<dyn Fft<f64>>,
    buffer: Vec<Complex64>,
    scratch: Vec<Complex64>,
}

impl PairTransform {
    pub(crate) fn new(length: usize) -> Self {
        let (forward, inverse) = PLANNER
            .with_borrow_mut(|planner| (planner.plan_fft_forward(length), planner.plan_fft_inverse(length)));
        let scratch = forward.get_inplace_scratch_len().max(inverse.get_inplace_scratch_len());
        Self {
            forward,
            inverse,
            buffer: vec![Complex64::ZERO; length],
            scratch: vec![Complex64::ZERO; scratch],
        }
    }

    /// `Σ_i first[i] weight[i] e^{−2πijk/n}` for k below n/2, the same for `second`, which is as long; sequences shorter
    /// than n are continued by zeros.
    pub(crate) fn spectra(
        &mut self,
        first: &[f64],
        second: Option<&[f64]>,
        weight: &[f64],
        first_out: &mut [Complex64],
        second_out: Option<&mut [Complex64]>,
    ) {
        let length = self.buffer.len();
        let (filled, rest) = self.buffer.split_at_mut(first.len());
        rest.fill(Complex64::ZERO);
        match second {
            Some(second) => {
                for (cell, ((first, second), weight)) in
                    filled.iter_mut().zip(first.iter().zip(second).zip(weight))
                {
                    *cell = Complex64::new(first * weight, second * weight);
                }
            }
            None => {
                for (cell, (first, weight)) in filled.iter_mut().zip(first.iter().zip(weight)) {
                    *cell = Complex64::new(first * weight, 0.0);
                }
            }
        }
        self.forward.process_with_scratch(&mut self.buffer, &mut self.scratch);
        let mirror = |k: usize| self.buffer[(length - k) % length].conj();
        for (k, out) in first_out.iter_mut().enumerate() {
            *out = 0.5 * (self.buffer[k] + mirror(k));
        }
        for (k, out) in second_out.into_iter().flatten().enumerate() {
            *out = Complex64::new(0.0, -0.5) * (self.buffer[k] - mirror(k));
        }
    }

    /// The two real sequences whose spectra are given for k below n/2 (missing ones are zero), as real
    /// and imaginary part.
    pub(crate) fn sequences(&mut self, first: &[Complex64], second: Option<&[Complex64]>) -> &[Complex64] {
        let length = self.buffer.len();
        let turned = |z: Complex64| Complex64::new(-z.im, z.re);
        let kept = first.len().min(length / 2);
        self.buffer[kept..length + 1 - kept].fill(Complex64::ZERO);
        for k in 0..kept {
            let b = second.map_or(Complex64::ZERO, |second| second[k]);
            if k == 0 {
                self.buffer[0] = Complex64::new(first[0].re, b.re);
            } else {
                self.buffer[k] = first[k] + turned(b);
                self.buffer[length - k] = first[k].conj() + turned(b.conj());
            }
        }
        self.inverse.process_with_scratch(&mut self.buffer, &mut self.scratch);
        &self.buffer
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lengths_are_fast_and_enough() {
        for points in 1..3000 {
            let length = fast_length(points);
            assert!(length >= points && length.is_multiple_of(4), "{points} -> {length}");
            assert!(length <= 16.max(points * 2));
        }
    }

    #[test]
    fn two_bells_go_there_and_back_and_can_be_resampled() {
        let bell = |centre: f64, x: f64| (-0.5 * ((x - centre) / 3.0).powi(2)).exp();
        let (n, finer) = (64, 96);
        let first: Vec<f64> = (0..n).map(|i| bell(28.0, i as f64)).collect();
        let second: Vec<f64> = (0..n).map(|i| bell(33.5, i as f64)).collect();
        let ones = vec![1.0; n];
        let mut a = vec![Complex64::ZERO; n / 2];
        let mut b = a.clone();
        PairTransform::new(n).spectra(&first, Some(&second), &ones, &mut a, Some(&mut b));
        assert!((a[0].re - first.iter().sum::<f64>()).abs() < 1e-12);
        let mut back = PairTransform::new(finer);
        for (i, value) in back.sequences(&a, Some(&b)).iter().enumerate() {
            let x = i as f64 * n as f64 / finer as f64;
            assert!((value.re / n as f64 - bell(28.0, x)).abs() < 1e-8, "{i}");
            assert!((value.im / n as f64 - bell(33.5, x)).abs() < 1e-8, "{i}");
        }
    }
}
