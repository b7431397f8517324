//! Remaining life, and elongation now.

use super::filter::Posterior;
use super::projection::{Projection, Slice};
use crate::numeric::normal;
use crate::numeric::root::{self, Tangent};
use crate::units::{Limit, Probability, ReferenceKilometres};

/// Longest remaining life told apart, reference km: the end of [`crate::bounds::REFERENCE_KM`].
const LONGEST: f64 = 10_000_000.0;

/// Quantiles at 10, 50 and 90 %.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Quantiles {
    /// One in ten lies below.
    pub p10: f64,
    /// Half lies below.
    pub p50: f64,
    /// Nine in ten lie below.
    pub p90: f64,
}

impl Quantiles {
    fn of(mut quantile: impl FnMut(f64) -> f64) -> Self {
        let p50 = quantile(0.5);
        Self { p10: quantile(0.1).min(p50), p50, p90: quantile(0.9).max(p50) }
    }
}

/// What lies ahead of one chain.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub struct Outlook {
    /// Exposure that "now" means, reference km since the chain was fitted.
    pub at: ReferenceKilometres,
    /// The limit it is held against.
    pub limit: Limit,
    /// Probability that the limit has been reached by now.
    pub probability_over_limit: f64,
    /// Remaining life until the limit, reference km; 0 when it has been reached.
    pub remaining: Quantiles,
    /// Elongation now, percent.
    pub elongation: Quantiles,
    /// The same for the worst stretch, when the last reading at several spots was uneven.
    pub worst_stretch: Option<WornStretch>,
}

/// A stretch of chain that is longer than the rest.
///
/// The chain as a whole is judged by the mean of the spots; the stretch is taken to stay ahead of it by
/// `excess`, so it reaches the limit when the chain reaches limit less excess (A).
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub struct WornStretch {
    /// Percent by which the worst spot exceeds the mean, beyond what the instrument's scatter explains.
    pub excess: f64,
    /// Probability that the stretch has reached the limit by now.
    pub probability_over_limit: f64,
    /// Remaining life of the stretch, reference km.
    pub remaining: Quantiles,
}

impl Posterior {
    /// What lies ahead at exposure `at`; a time before the last reading counts as the last reading's.
    #[must_use]
    pub fn outlook(&self, at: ReferenceKilometres, limit: Limit) -> Outlook {
        let view = self.view(at, limit.get());
        let slice = view.now();
        Outlook {
            at,
            limit,
            probability_over_limit: 1.0 - view.below(limit.get(), 0.0),
            remaining: Quantiles::of(|p| view.remaining(limit.get(), p)),
            elongation: Quantiles::of(|p| view.elongation(&slice, p)),
            worst_stretch: self.worst_stretch(&view, limit.get()),
        }
    }

    /// Probability that the limit will have been reached `ahead` reference km after `at`.
    #[must_use]
    pub fn probability_over(
        &self,
        at: ReferenceKilometres,
        ahead: ReferenceKilometres,
        limit: Limit,
    ) -> Probability {
        self.probabilities_over(at, &[ahead], limit)[0]
    }

    /// [`Posterior::probability_over`] for several distances ahead, for little more than the cost of one.
    #[must_use]
    pub fn probabilities_over(
        &self,
        at: ReferenceKilometres,
        ahead: &[ReferenceKilometres],
        limit: Limit,
    ) -> Vec<Probability> {
        let view = self.view(at, limit.get());
        ahead
            .iter()
            .map(|ahead| Probability::saturating(1.0 - view.below(limit.get(), ahead.get())))
            .collect()
    }

    /// Reference km after `at` by which the limit will have been reached with probability `p`: 0 when it
    /// has been already, ten million at most.
    #[must_use]
    pub fn remaining_quantile(&self, at: ReferenceKilometres, limit: Limit, p: Probability) -> f64 {
        self.view(at, limit.get()).remaining(limit.get(), p.get())
    }

    /// Elongation at exposure `at` that is not passed with probability `p`, percent; at most
    /// [`super::CEILING_PERCENT`].
    #[must_use]
    pub fn elongation_quantile(&self, at: ReferenceKilometres, p: Probability) -> f64 {
        let view = self.view(at, 0.0);
        view.elongation(&view.now(), p.get())
    }

    /// Density of the elongation at exposure `at`, per percent, at the elongations of `grid`, percent.
    #[must_use]
    pub fn elongation_density(&self, at: ReferenceKilometres, grid: &[f64]) -> Vec<f64> {
        self.over_grid(at, grid, |slice, y| slice.at(y).density)
    }

    /// Probability that the elongation at exposure `at` is below each elongation of `grid`, percent; beyond
    /// [`super::CEILING_PERCENT`] it stays as it is there.
    #[must_use]
    pub fn elongation_distribution(&self, at: ReferenceKilometres, grid: &[f64]) -> Vec<f64> {
        self.over_grid(at, grid, |slice, y| slice.at(y).below)
    }

    fn over_grid(
        &self,
        at: ReferenceKilometres,
        grid: &[f64],
        value: impl Fn(&Slice<'_>, f64) -> f64,
    ) -> Vec<f64> {
        let highest = grid.iter().copied().fold(0.0, f64::max).min(self.ceiling());
        let view = self.view(at, highest);
        let slice = view.now();
        grid.iter().map(|elongation| value(&slice, elongation - view.known(0.0))).collect()
    }

    fn worst_stretch(&self, view: &View<'_>, limit: f64) -> Option<WornStretch> {
        let (measurement, spots) = self.predictives.iter().rev().find_map(|predictive| {
            let measurement = predictive.reading.measurement;
            measurement.as_spots().filter(|spots| spots.count() > 1).map(|spots| (measurement, *spots))
        })?;
        let excess = spots.excess(self.calibrations.of(measurement.instrument()).sd());
        (spots.is_uneven() && excess > 0.0).then(|| WornStretch {
            excess,
            probability_over_limit: 1.0 - view.below(limit - excess, 0.0),
            remaining: Quantiles::of(|p| view.remaining(limit - excess, p)),
        })
    }

    fn view(&self, at: ReferenceKilometres, highest: f64) -> View<'_> {
        let since = (at.get() - self.state.s).max(0.0);
        View { posterior: self, since, projection: Projection::new(self, highest, since) }
    }
}

/// A posterior seen from one exposure.
struct View<'a> {
    posterior: &'a Posterior,
    /// Reference km since the last reading.
    since: f64,
    projection: Projection,
}

impl View<'_> {
    /// Running-in accrued `ahead` reference km from now, percent.
    fn known(&self, ahead: f64) -> f64 {
        self.posterior.parameters.running_in_curve().at(self.posterior.state.s + self.since + ahead)
    }

    fn now(&self) -> Slice<'_> {
        self.projection.slice(self.since)
    }

    /// `P(ε < elongation)`, `ahead` reference km from now.
    fn below(&self, elongation: f64, ahead: f64) -> f64 {
        self.projection.at(elongation - self.known(ahead), self.since + ahead).below
    }

    /// The p-quantile of the remaining life, by Newton's method on the normal deviate of its distribution
    /// function, which is nearly linear in ln s.
    fn remaining(&self, limit: f64, p: f64) -> f64 {
        let over_now = 1.0 - self.below(limit, 0.0);
        if over_now >= p {
            return 0.0;
        }
        if p >= 1.0 {
            return LONGEST;
        }
        let curve = self.posterior.parameters.running_in_curve();
        let s0 = self.posterior.state.s + self.since;
        let wanted = normal::quantile(p);
        let (mean_log_rate, sd) = self.posterior.log_rate();
        let x = self.posterior.state.moments(&self.posterior.parameters).0;
        let to_go = (limit - x - self.since * mean_log_rate.exp() - self.known(0.0)).max(0.01 * limit);
        let start = to_go / mean_log_rate.exp() * (wanted * sd.hypot(0.1)).exp();
        let log_remaining = root::increasing(
            ((1e-6_f64).ln(), LONGEST.ln()),
            start.ln(),
            |a, b| 0.5 * (a + b),
            |_| 1e-8,
            |log_s| {
                let s = log_s.exp();
                let point = self.projection.at(limit - curve.at(s0 + s), self.since + s);
                let over = 1.0 - point.below;
                let deviate = normal::quantile(over.clamp(1e-12, 1.0 - 1e-12));
                let per_km = point.density * curve.slope(s0 + s) - point.drift;
                Tangent { value: deviate - wanted, slope: s * per_km / normal::density(deviate) }
            },
        );
        log_remaining.exp()
    }

    fn elongation(&self, slice: &Slice<'_>, p: f64) -> f64 {
        let (low, high) = self.projection.range();
        if slice.at(high).below <= p {
            return self.posterior.ceiling().min(high + self.known(0.0));
        }
        let y = root::increasing(
            (low, high),
            0.5 * (low + high),
            |a, b| 0.5 * (a + b),
            |_| 1e-9,
            |y| {
                let point = slice.at(y);
                Tangent { value: point.below - p, slope: point.density }
            },
        );
        y + self.known(0.0)
    }
}
