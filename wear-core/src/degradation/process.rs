//! The gamma process and its transform.

use std::num::NonZero;

use num_complex::Complex64;

use super::FastPhase;
use crate::reading::Likelihood;
use crate::units::{LogSd, Probability, ReferenceKilometres};

/// Elongation, percent, above which nothing is resolved: a chain that long is past every limit, and
/// quantiles of elongation stop here (A).
pub const CEILING_PERCENT: f64 = 6.0;

/// `r(s) = a(1 − exp(−s/s_r))`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct RunningIn {
    pub(super) amount: f64,
    pub(super) distance: f64,
}

impl RunningIn {
    /// `r(s)`, percent.
    pub(super) fn at(self, s: f64) -> f64 {
        -self.amount * (-s / self.distance).exp_m1()
    }

    /// `r'(s)`, percent per reference km.
    pub(super) fn slope(self, s: f64) -> f64 {
        self.amount / self.distance * (-s / self.distance).exp()
    }
}

/// `c(z) = ln(1 + φz)`: the transform of an increment of shape κ is `E e^{−zG} = exp(−κ c(z))`.
pub(super) fn log_transform(scale: f64, z: Complex64) -> Complex64 {
    let (re, im) = (scale * z.re, scale * z.im);
    Complex64::new(0.5 * (re * (2.0 + re) + im * im).ln_1p(), im.atan2(1.0 + re))
}

/// A factor, median 1, on an exposure that isn't known exactly: `F ~ Gamma(a, 1/b)`.
///
/// A gamma distribution and not the log-normal that it stands for, because the transform of an increment over an
/// uncertain exposure is then in closed form: `E exp(−κ F c) = (1 + κc/b)^(−a)`. With `a = 1/σ² + ½`, rounded to a
/// multiple of ½ so that the power needs no logarithm, and `b = a − ⅓` the logarithm's standard deviation is σ within
/// 6 % and the median 1 within 2 %, for σ up to 1; below σ = 0.3 within 1 % (C).
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct ExposureFactor {
    a: f64,
    b: f64,
}

/// Spread of a logarithm below which an exposure counts as exact: its share of any answer is beyond the grid's accuracy.
const EXACT: f64 = 0.002;

impl ExposureFactor {
    /// `None` when the exposure is as good as exact.
    pub(super) fn of(ln_sd: LogSd) -> Option<Self> {
        let sigma = ln_sd.get();
        (sigma > EXACT).then(|| {
            let a = 0.5 * (2.0 * sigma.powi(-2) + 1.0).round();
            Self { a, b: a - 1.0 / 3.0 }
        })
    }

    /// Mean and variance.
    pub(super) fn moments(factor: Option<Self>) -> (f64, f64) {
        factor.map_or((1.0, 0.0), |Self { a, b }| (a / b, a / (b * b)))
    }

    /// `ln E exp(−κ F c)` at a real c, which is `−κc` when the exposure is exact.
    pub(super) fn log_transform(factor: Option<Self>, shape: f64, c: f64) -> f64 {
        match factor {
            None => -shape * c,
            Some(Self { a, b }) => -a * (shape * c / b).ln_1p(),
        }
    }

    /// `E exp(−κ F c) / E exp(−κ F c₀)` for c₀ real and no larger than c's real part, so that it is at most 1.
    #[inline]
    pub(super) fn ratio(factor: Option<Self>, shape: f64, (c, first): (Complex64, f64)) -> Complex64 {
        match factor {
            None => Complex64::from_polar((-shape * (c.re - first)).exp(), -shape * c.im),
            Some(Self { a, b }) => half_power((b + shape * first) / (b + shape * c), (2.0 * a) as u32),
        }
    }

    /// `value` times the derivative of `ln E exp(−κ F c)` in κ, over c.
    #[inline]
    pub(super) fn slope_over_c(
        factor: Option<Self>,
        shape: f64,
        c: Complex64,
        value: Complex64,
    ) -> Complex64 {
        match factor {
            None => -value,
            Some(Self { a, b }) => -a * value / (b + shape * c),
        }
    }

    /// Exceeded with probability at most `e^{−t}`, by the bound of [`upper_bound`].
    pub(super) fn upper_bound(factor: Option<Self>, t: f64) -> f64 {
        factor.map_or(1.0, |Self { a, b }| upper_bound(1.0 / b, a, t))
    }
}

/// `z^(n/2)` for z of positive real part and at most 1.
#[inline]
fn half_power(z: Complex64, n: u32) -> Complex64 {
    let mut power = if n.is_multiple_of(2) { Complex64::ONE } else { root(z) };
    let (mut square, mut left) = (z, n / 2);
    while left > 0 {
        if !left.is_multiple_of(2) {
            power *= square;
        }
        square *= square;
        left /= 2;
    }
    power
}

/// The root of positive real part of a z of positive real part.
#[inline]
fn root(z: Complex64) -> Complex64 {
    let re = (0.5 * (z.norm_sqr().sqrt() + z.re)).sqrt();
    Complex64::new(re, 0.5 * z.im / re)
}

/// Riding that may be missing from the record before a reading: with `probability` an extra exposure of this mean,
/// Gamma(shape k, scale m/k).
///
/// The transform of the extra increment is in closed form, `1 − p + p(1 + mθc/kφ)^(−k)`, so the filter takes it in without an
/// approximation.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MissingRiding {
    /// Probability that any is missing.
    pub probability: Probability,
    /// Mean of what is missing then, reference km.
    pub mean: ReferenceKilometres,
    /// Exponential parts that it is the sum of: 1 is anything from little to much, 4 is about the mean, give or take half.
    pub parts: NonZero<u8>,
}

impl MissingRiding {
    /// Most rides are on record: before one reading in four some 600 reference km are missing (A).
    pub const ONE_IN_FOUR: Self = Self {
        probability: Probability::constant(0.25),
        mean: ReferenceKilometres::constant(600.0),
        parts: NonZero::new(4).unwrap(),
    };

    /// Some riding is missing for sure, 600 reference km in the mean (A).
    pub const CERTAIN: Self =
        Self { probability: Probability::constant(1.0), parts: NonZero::<u8>::MIN, ..Self::ONE_IN_FOUR };
}

/// Exposure that comes on top of what was counted and isn't known.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Extra {
    /// Riding may be missing.
    Missing(MissingRiding),
    /// Anything up to so many reference km, evenly: what a chain has run that was put on at an unknown time.
    UpTo(f64),
}

impl Extra {
    /// Mean and variance, reference km.
    pub(super) fn moments(self) -> (f64, f64) {
        match self {
            Self::Missing(MissingRiding { probability, mean, parts }) => {
                let (p, m) = (probability.get(), mean.get());
                (p * m, p * (1.0 + 1.0 / f64::from(parts.get()) - p) * m * m)
            }
            Self::UpTo(most) => (0.5 * most, most * most / 12.0),
        }
    }

    /// Exceeded with probability at most `e^{−t}`, reference km.
    pub(super) fn upper_bound(self, t: f64) -> f64 {
        match self {
            Self::Missing(MissingRiding { probability, mean, parts }) => {
                let t = (t + probability.get().max(f64::MIN_POSITIVE).ln()).max(0.0);
                let parts = f64::from(parts.get());
                upper_bound(mean.get() / parts, parts, t)
            }
            Self::UpTo(most) => most,
        }
    }

    /// `E exp(−κc)` of the extra shape κ, at `shape_per_km` = θ/φ.
    pub(super) fn transform(self, shape_per_km: f64, c: Complex64) -> Complex64 {
        match self {
            Self::Missing(MissingRiding { probability, mean, parts }) => {
                let (p, k) = (probability.get(), parts.get());
                let one = 1.0 + mean.get() / f64::from(k) * shape_per_km * c;
                1.0 - p + p / one.powu(u32::from(k))
            }
            Self::UpTo(most) => {
                let z = most * shape_per_km * c;
                // (1 − e^{−z})/z, by its series where the difference would lose digits.
                if z.norm_sqr() < 1e-6 { 1.0 - 0.5 * z + z * z / 6.0 } else { (1.0 - (-z).exp()) / z }
            }
        }
    }
}

/// A likelihood as a function of the filter's state, `x = X − r(s)`: a reading's, or that a chain is still on.
#[derive(Debug, Clone, Copy)]
pub(super) struct StateLikelihood {
    pub(super) likelihood: Likelihood,
    /// Running-in by then, percent.
    pub(super) known: f64,
    pub(super) fast: FastPhase,
}

impl StateLikelihood {
    pub(super) fn relative(&self, x: f64) -> f64 {
        self.likelihood.relative(self.fast.elongation(x + self.known))
    }

    /// 1/variance of the sharpest bell that the likelihood makes of a density in x.
    pub(super) fn sharpness(&self) -> f64 {
        let sd = self.likelihood.sd();
        (self.fast.slope(self.likelihood.centre() + 4.0 * sd) / sd).powi(2)
    }

    /// x above which only the floor is left.
    pub(super) fn reach(&self) -> f64 {
        self.fast.slow(self.likelihood.reach()) - self.known
    }

    pub(super) fn at_infinity(&self) -> f64 {
        self.likelihood.at_infinity()
    }
}

/// An increment that is exceeded with probability at most `e^{−t}`:
/// `φ(κ + √(2κt) + t)` (sub-gamma tail; Boucheron, Lugosi, Massart 2013, section 2.4; M).
pub(super) fn upper_bound(scale: f64, shape: f64, t: f64) -> f64 {
    scale * (shape + (2.0 * shape * t).sqrt() + t)
}

#[cfg(test)]
mod tests {
    use statrs::function::gamma::gamma_ur;

    use super::*;

    #[test]
    fn transform_is_that_of_the_gamma_distribution() {
        let z = Complex64::new(7.0, 130.0);
        let direct = (Complex64::ONE + 0.01 * z).powf(-3.2);
        assert!(((-3.2 * log_transform(0.01, z)).exp() - direct).norm() < 1e-14);
    }

    #[test]
    fn the_factor_of_an_exposure_has_the_spread_and_the_median_it_stands_for() {
        assert_eq!(ExposureFactor::of(LogSd::ZERO), None);
        for sigma in [0.01, 0.05, 0.2, 0.5, 1.0] {
            let ExposureFactor { a, b } = ExposureFactor::of(LogSd::new(sigma).unwrap()).unwrap();
            // Trigamma by its series from a + 20 on (Abramowitz & Stegun 6.4.12, M) and the recurrence down.
            let n = a + 20.0;
            let far = 1.0 / n + 0.5 / (n * n) + 1.0 / (6.0 * n.powi(3)) - 1.0 / (30.0 * n.powi(5));
            let trigamma = (0..20).map(|i| (a + f64::from(i)).powi(-2)).sum::<f64>() + far;
            assert!((trigamma.sqrt() / sigma - 1.0).abs() < 0.04, "{sigma} {}", trigamma.sqrt());
            let below_one = 1.0 - gamma_ur(a, b);
            assert!((below_one - 0.5).abs() < 0.01, "{sigma} {below_one}");
        }
    }

    #[test]
    fn an_uncertain_exposure_mixes_increments() {
        // E exp(−κFc) by quadrature over the density of F.
        let (kappa, c) = (30.0, log_transform(0.01, Complex64::new(4.0, 25.0)));
        let factor = ExposureFactor::of(LogSd::new(0.3).unwrap());
        let ExposureFactor { a, b } = factor.unwrap();
        let density =
            |f: f64| (a * b.ln() - statrs::function::gamma::ln_gamma(a) + (a - 1.0) * f.ln() - b * f).exp();
        let step = 1e-3;
        let direct: Complex64 =
            (1..6_000).map(|i| f64::from(i) * step).map(|f| density(f) * step * (-kappa * f * c).exp()).sum();
        let closed = |kappa: f64| {
            let first = 0.5 * c.re;
            ExposureFactor::ratio(factor, kappa, (c, first))
                * ExposureFactor::log_transform(factor, kappa, first).exp()
        };
        assert!((closed(kappa) - direct).norm() < 1e-9, "{} {direct}", closed(kappa));
        let slope = (closed(kappa + 0.01).ln() - closed(kappa - 0.01).ln()) / 0.02;
        assert!((slope - c * ExposureFactor::slope_over_c(factor, kappa, c, Complex64::ONE)).norm() < 1e-8);
        let mean = ExposureFactor::moments(factor).0;
        assert!((mean - a / b).abs() < 1e-15);
    }

    #[test]
    fn bound_bounds() {
        for shape in [1e-6, 0.02, 1.0, 40.0, 5e3] {
            for t in [1.0_f64, 5.0, 30.0] {
                let exceeded = gamma_ur(shape, upper_bound(1.0, shape, t));
                assert!(exceeded <= (-t).exp() * (1.0 + 1e-9), "{shape} {t} {exceeded}");
            }
        }
    }

    #[test]
    fn running_in_rises_to_its_amount() {
        let curve = RunningIn { amount: 0.03, distance: 150.0 };
        assert_eq!(curve.at(0.0), 0.0);
        assert!((curve.at(150.0) - 0.018_963_6).abs() < 1e-7);
        assert_eq!(curve.at(1e7), 0.03);
        assert!((curve.slope(100.0) - (curve.at(100.5) - curve.at(99.5))).abs() < 1e-8);
    }
}
