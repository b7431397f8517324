//! The wave of a year: two harmonics in the logarithm of a rate.

use std::f64::consts::TAU;
use std::sync::LazyLock;

use num_complex::Complex64;

/// Days in a year of the calendar, on average (M).
pub(super) const YEAR: f64 = 365.2425;

/// Turns of the year's circle a day.
const OMEGA: f64 = TAU / YEAR;

/// Cosine and sine of two harmonics.
pub(super) const COEFFICIENTS: usize = 4;

/// Harmonics of the rate itself that are kept: its logarithm has two, so those of the rate die down like `I_k(a)/I_0(a)`,
/// below 1e-5 for waves from a sixth to six times the mean (M).
const TERMS: usize = 12;

/// Points of a year from which they are computed.
const SAMPLES: usize = 48;

/// `e^{−2πij/n}` for each of them.
static ROUND: LazyLock<[Complex64; SAMPLES]> =
    LazyLock::new(|| std::array::from_fn(|j| Complex64::cis(-TAU * j as f64 / SAMPLES as f64)));

/// Largest logarithm of the rate over its mean that a wave is drawn to: a tenth to ten times (A).
const MOST: f64 = 2.3;

/// `ln rate = a₁ cos ωt + b₁ sin ωt + a₂ cos 2ωt + b₂ sin 2ωt`, t in days since an origin.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize), serde(transparent))]
pub(super) struct Wave(pub [f64; COEFFICIENTS]);

/// The four functions at a time.
pub(super) fn basis(day: f64) -> [f64; COEFFICIENTS] {
    let first = Complex64::cis(OMEGA * day);
    let second = first * first;
    [first.re, first.im, second.re, second.im]
}

impl Wave {
    pub fn is_flat(&self) -> bool {
        self.0 == [0.0; COEFFICIENTS]
    }

    /// `ln rate` at a time.
    pub fn ln_at(&self, day: f64) -> f64 {
        let ln: f64 = basis(day).iter().zip(self.0).map(|(value, by)| value * by).sum();
        ln.clamp(-MOST, MOST)
    }

    pub fn plus(&self, other: &Self) -> Self {
        Self(std::array::from_fn(|i| self.0[i] + other.0[i]))
    }
}

/// The rate of a wave from one day on, in a form whose integrals are closed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Rate {
    /// Fourier coefficients of the rate for the harmonics from none on; those below are their conjugates.
    terms: [Complex64; TERMS + 1],
    flat: bool,
    from: f64,
}

/// Integrals over days ahead.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Integrals {
    /// `∫₀ʰ rate du`.
    pub rate: f64,
    /// `∫₀ʰ e^{−u/τ} rate du`.
    pub fading: f64,
    /// Means over the days ahead of the wave's four functions, weighted by the rate.
    pub basis: [f64; COEFFICIENTS],
}

impl Rate {
    pub fn of(wave: &Wave, from: f64) -> Self {
        let mut terms = [Complex64::ZERO; TERMS + 1];
        terms[0] = Complex64::ONE;
        if wave.is_flat() {
            return Self { terms, flat: true, from };
        }
        let values: [f64; SAMPLES] = std::array::from_fn(|i| {
            wave.ln_at(from + YEAR * i as f64 / SAMPLES as f64).exp() / SAMPLES as f64
        });
        for (k, term) in terms.iter_mut().enumerate() {
            *term = values.iter().enumerate().map(|(i, value)| value * ROUND[i * k % SAMPLES]).sum();
        }
        Self { terms, flat: false, from }
    }

    /// Over the mean of a year.
    pub fn mean(&self) -> f64 {
        self.terms[0].re
    }

    fn last(&self) -> usize {
        if self.flat { 0 } else { TERMS }
    }

    pub fn over(&self, days: f64, fades: f64) -> Integrals {
        let last = self.last();
        // Powers of e^{iωh}, up to two more than the rate has.
        let mut turned = [Complex64::ONE; TERMS + 3];
        let turn = Complex64::cis(OMEGA * days);
        for k in 1..last + 3 {
            turned[k] = turned[k - 1] * turn;
        }
        // ∫₀ʰ e^{ikωu} du = (e^{ikωh} − 1)/ikω
        let whole: [Complex64; TERMS + 3] = std::array::from_fn(|k| match k {
            0 => Complex64::new(days, 0.0),
            _ => {
                let risen = (turned[k] - 1.0) / (k as f64 * OMEGA);
                Complex64::new(risen.im, -risen.re)
            }
        });
        let faded = (-days / fades).exp();
        let (mut rate, mut fading) = (self.terms[0].re * days, self.terms[0].re * fades * (1.0 - faded));
        for k in 1..=last {
            let exponent = Complex64::new(-1.0 / fades, k as f64 * OMEGA);
            rate += 2.0 * (self.terms[k] * whole[k]).re;
            fading += 2.0 * (self.terms[k] * (turned[k] * faded - 1.0) / exponent).re;
        }
        // Σ_k c_k ∫₀ʰ e^{i(k+j)ωu} du over −last ≤ k ≤ last; what has a negative index is its conjugate.
        let turning = |j: usize| -> Complex64 {
            let ahead: Complex64 = (0..=last).map(|k| self.terms[k] * whole[k + j]).sum();
            let back = (1..=last).map(|k| {
                let whole = if k <= j { whole[j - k] } else { whole[k - j].conj() };
                self.terms[k].conj() * whole
            });
            ahead + back.sum::<Complex64>()
        };
        let here = Complex64::cis(OMEGA * self.from);
        let (first, second) = if rate > 0.0 {
            (turning(1) * here / rate, turning(2) * here * here / rate)
        } else {
            (here, here * here)
        };
        Integrals {
            rate: rate.max(0.0),
            fading: fading.max(0.0),
            basis: [first.re, first.im, second.re, second.im],
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn integrals_are_those_of_the_rate() {
        let wave = Wave([0.5, -0.7, 0.2, 0.1]);
        let (from, fades) = (20_123.0, 365.0);
        for wave in [wave, Wave::default()] {
            let rate = Rate::of(&wave, from);
            for days in [0.5, 20.0, 200.0, 365.2425, 900.0] {
                let steps = 40_000;
                let width = days / f64::from(steps);
                let mut sums = [0.0; 6];
                for i in 0..steps {
                    let u = (f64::from(i) + 0.5) * width;
                    let value = wave.ln_at(from + u).exp() * width;
                    let [a, b, c, d] = basis(from + u);
                    for (sum, by) in sums.iter_mut().zip([1.0, (-u / fades).exp(), a, b, c, d]) {
                        *sum += value * by;
                    }
                }
                let found = rate.over(days, fades);
                let all =
                    [found.rate, found.fading].into_iter().chain(found.basis.map(|mean| mean * found.rate));
                for (found, expected) in all.zip(sums) {
                    assert!((found - expected).abs() < 1e-4 * sums[0], "{days}: {found} {expected}");
                }
            }
        }
    }

    #[test]
    fn a_wave_comes_back_after_a_year() {
        let wave = Wave([0.5, -0.7, 0.2, 0.1]);
        assert!((wave.ln_at(100.0) - wave.ln_at(100.0 + YEAR)).abs() < 1e-9);
        assert_eq!(Wave([9.0, 0.0, 0.0, 0.0]).ln_at(0.0), MOST);
    }
}
