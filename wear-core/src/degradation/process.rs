//! The gamma process and its transform.

use num_complex::Complex64;

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
