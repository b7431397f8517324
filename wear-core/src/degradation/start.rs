//! How a chain's record begins: with a new chain, or with one that was on the bike already.

use super::FastPhase;
use crate::numeric::normal;
use crate::units::{Limit, LogSd, ReferenceKilometres};

/// Percent over which the density of a chain as found falls by e beyond its limit: a yard that takes chains off when
/// somebody notices (A).
pub const LEFT_ON_BEYOND_LIMIT: f64 = 0.08;

/// Spread of the logarithm of "about so many kilometres on it" (A).
pub const HINT_LN_SD: LogSd = LogSd::constant(0.4);

/// Where the density of a chain as found ends: `e^(−30)` of its height.
const END: f64 = 30.0;

/// How the record of a chain begins.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub enum Start {
    /// With a new chain: a fitting date was given, or a swap put it on.
    #[default]
    New,
    /// With a chain that was on the bike when the record began.
    AsFound(AsFound),
}

impl Start {
    /// A chain of unknown age on a bike whose chains come off at `limit`.
    #[must_use]
    pub const fn as_found(limit: Limit) -> Self {
        Self::AsFound(AsFound { limit, ridden: None })
    }
}

/// A chain whose age nobody knows. Exposures count from where its record begins.
///
/// Its elongation ε there has a density that is flat from where a new chain's running-in ends (mean of ε0 plus a: 0.07
/// percent with the defaults) to the limit D, beyond it falls as `exp(−(ε − D)/0.08)`, all smoothed by the spread of ε0
/// (0.03; A). Running-in is over. A chain that lasts is met more often than one that doesn't, its density times 1/θ
/// (length bias; Cox, Renewal Theory, 1962, M), so `ln θ ~ N(µ − τ², τ²)`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AsFound {
    limit: Limit,
    ridden: Option<(ReferenceKilometres, LogSd)>,
}

impl AsFound {
    /// A chain of unknown age on a bike whose chains come off at `limit`.
    #[must_use]
    pub const fn at_limit(limit: Limit) -> Self {
        Self { limit, ridden: None }
    }

    /// The same with about so many reference kilometres on it when the record begins, known to `ln_sd`
    /// ([`HINT_LN_SD`] for "about 2,000 km").
    #[must_use]
    pub const fn ridden_about(self, before: ReferenceKilometres, ln_sd: LogSd) -> Self {
        Self { ridden: Some((before, ln_sd)), ..self }
    }

    /// The limit at which chains of its bike come off.
    #[must_use]
    pub const fn limit(&self) -> Limit {
        self.limit
    }

    /// What it had run when its record began, reference km, and the spread of its logarithm.
    #[must_use]
    pub const fn ridden(&self) -> Option<(ReferenceKilometres, LogSd)> {
        self.ridden
    }
}

/// The density of elongation of a chain as found, in the slow process X of [`FastPhase`].
#[derive(Debug, Clone, Copy)]
pub(super) struct FoundDensity {
    from: f64,
    limit: f64,
    sd: f64,
    fast: FastPhase,
}

impl FoundDensity {
    pub(super) fn new(from: f64, limit: Limit, sd: f64, fast: FastPhase) -> Self {
        Self { from: from.min(limit.get()), limit: limit.get(), sd, fast }
    }

    /// X between which all of it lies.
    pub(super) fn range(&self) -> (f64, f64) {
        let end = self.limit + 8.0 * self.sd + END * LEFT_ON_BEYOND_LIMIT;
        (self.from - 8.0 * self.sd, self.fast.slow(end))
    }

    /// 1/variance of the sharpest bell in it.
    pub(super) fn precision(&self) -> f64 {
        (self.fast.slope(self.limit + 4.0 * self.sd) / self.sd).powi(2)
    }

    /// At slow elongation X, relative to the plateau.
    pub(super) fn at(&self, x: f64) -> f64 {
        let elongation = self.fast.elongation(x);
        relative(elongation, self.from, self.limit, self.sd) * self.fast.slope(elongation)
    }
}

/// `1{l < ε < D} + 1{ε ≥ D} exp(−(ε − D)/b)`, convolved with N(0, σ²):
/// `Φ((ε−l)/σ) − Φ((ε−D)/σ) + exp(σ²/2b² − (ε−D)/b) Φ((ε−D)/σ − σ/b)`.
fn relative(elongation: f64, from: f64, limit: f64, sd: f64) -> f64 {
    let (low, high) = ((elongation - from) / sd, (elongation - limit) / sd);
    // Differences of small numbers, so that the tail isn't lost in 1 − 1.
    let flat = if high > 0.0 {
        normal::distribution(-high) - normal::distribution(-low)
    } else {
        normal::distribution(low) - normal::distribution(high)
    };
    flat.max(0.0) + tail(elongation, limit, sd)
}

fn tail(elongation: f64, limit: f64, sd: f64) -> f64 {
    let b = LEFT_ON_BEYOND_LIMIT;
    let exponent = 0.5 * (sd / b).powi(2) - (elongation - limit) / b;
    exponent.exp() * normal::distribution((elongation - limit) / sd - sd / b)
}

/// Probability, relative to one far below its limit, that a chain of elongation ε is still on: the plateau's upper end.
pub(crate) fn still_on(elongation: f64, limit: f64, sd: f64) -> f64 {
    normal::distribution((limit - elongation) / sd) + tail(elongation, limit, sd)
}

/// Elongation above which [`still_on`] is below `e^(−exponent)`.
pub(crate) fn off_beyond(limit: f64, sd: f64, exponent: f64) -> f64 {
    limit + 8.0 * sd + exponent * LEFT_ON_BEYOND_LIMIT
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_smoothed_plateau_is_the_convolution() {
        // scipy 1.17, integrate.quad of the plateau times the normal density, points at 0.07 and the limit (C).
        for (elongation, limit, expected) in FROM_SCIPY {
            let ours = relative(elongation, 0.07, limit, 0.03);
            assert!((ours - expected).abs() < 1e-9, "{elongation} {limit}: {ours} {expected}");
        }
    }

    #[test]
    fn what_is_still_on_is_the_plateau_without_its_beginning() {
        for elongation in [0.3, 0.5, 0.62, 1.1] {
            let plateau = relative(elongation, 0.07, 0.5, 0.03);
            assert!((still_on(elongation, 0.5, 0.03) - plateau).abs() < 1e-10);
        }
        assert!(still_on(off_beyond(0.5, 0.03, 20.0), 0.5, 0.03) < (-20.0_f64).exp());
    }

    #[test]
    fn with_the_fast_phase_the_density_is_still_one_of_elongation() {
        let integral = |fast| {
            let density = FoundDensity::new(0.07, Limit::constant(1.0), 0.03, fast);
            let (low, high) = density.range();
            let step = (high - low) / 40_000.0;
            (0..40_000).map(|i| density.at(low + (f64::from(i) + 0.5) * step) * step).sum::<f64>()
        };
        assert!((integral(FastPhase::NONE) - (0.93 + 0.08)).abs() < 1e-6, "{}", integral(FastPhase::NONE));
        assert!(
            (integral(FastPhase::ASSUMED) - integral(FastPhase::NONE)).abs() < 1e-4,
            "{}",
            integral(FastPhase::ASSUMED)
        );
    }

    /// Elongation, limit, density relative to the plateau.
    const FROM_SCIPY: [(f64, f64, f64); 27] = [
        (0.00, 0.50, 9.815328628645e-03),
        (0.07, 0.50, 5.000000000000e-01),
        (0.10, 0.50, 8.413447460685e-01),
        (0.30, 0.50, 9.999999999993e-01),
        (0.47, 0.50, 9.733499718895e-01),
        (0.50, 0.50, 8.796044278689e-01),
        (0.55, 0.50, 5.656296764269e-01),
        (0.70, 0.50, 8.806434839093e-02),
        (1.10, 0.50, 5.933729119721e-04),
        (0.00, 0.75, 9.815328628645e-03),
        (0.07, 0.75, 5.000000000000e-01),
        (0.10, 0.75, 8.413447460685e-01),
        (0.30, 0.75, 1.000000000000e+00),
        (0.72, 0.75, 9.733499718895e-01),
        (0.75, 0.75, 8.796044278689e-01),
        (0.80, 0.75, 5.656296764269e-01),
        (0.95, 0.75, 8.806434839093e-02),
        (1.35, 0.75, 5.933729119721e-04),
        (0.00, 1.00, 9.815328628645e-03),
        (0.07, 1.00, 5.000000000000e-01),
        (0.10, 1.00, 8.413447460685e-01),
        (0.30, 1.00, 1.000000000000e+00),
        (0.97, 1.00, 9.733499718895e-01),
        (1.00, 1.00, 8.796044278689e-01),
        (1.05, 1.00, 5.656296764269e-01),
        (1.20, 1.00, 8.806434839093e-02),
        (1.60, 1.00, 5.933729119721e-04),
    ];
}
