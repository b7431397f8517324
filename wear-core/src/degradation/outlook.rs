//! Remaining life, and elongation now.

use super::filter::Posterior;
use super::projection::{Point, Projection, Slice};
use crate::numeric::normal;
use crate::numeric::root::{self, Tangent};
use crate::units::{Limit, Probability, ReferenceKilometres};

/// Longest remaining life told apart, reference km: the end of [`crate::bounds::REFERENCE_KM`].
const LONGEST: f64 = 10_000_000.0;

/// The search for a quantile ends with a step in ln s that is smaller; what is left after it is of its square's order.
const QUANTILE_STEP: f64 = 1e-4;

/// Quantiles at 10, 50 and 90 %.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Quantiles {
    /// One in ten lies below.
    pub p10: f64,
    /// Half lies below.
    pub p50: f64,
    /// Nine in ten lie below.
    pub p90: f64,
}

impl std::fmt::Display for Quantiles {
    /// `1927 (1098 to 3190)`: the median with both ends, each to the precision asked for.
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let Self { p10, p50, p90 } = self;
        match f.precision() {
            Some(digits) => write!(f, "{p50:.digits$} ({p10:.digits$} to {p90:.digits$})"),
            None => write!(f, "{p50} ({p10} to {p90})"),
        }
    }
}

impl Quantiles {
    /// Each times a factor above zero.
    #[must_use]
    pub fn times(self, factor: f64) -> Self {
        Self { p10: self.p10 * factor, p50: self.p50 * factor, p90: self.p90 * factor }
    }

    /// Each through a function that rises.
    pub(crate) fn map(self, through: impl Fn(f64) -> f64) -> Self {
        Self { p10: through(self.p10), p50: through(self.p50), p90: through(self.p90) }
    }

    fn of(quantile: &mut dyn FnMut(f64) -> f64) -> Self {
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
        self.snapshot(at, limit).outlook()
    }

    /// The chain at exposure `at`, for several questions; a time before the last reading counts as the last reading's.
    #[must_use]
    pub fn snapshot(&self, at: ReferenceKilometres, limit: Limit) -> Snapshot<'_> {
        Snapshot { at, limit, view: self.view(at, limit.get()), now: Slice::of_reach(self, self.since(at)) }
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
        let view = self.view(at, limit.get());
        view.remaining(limit.get(), view.over(limit.get()), p.get(), &mut None)
    }

    /// Elongation at exposure `at` that is not passed with probability `p`, percent; at most
    /// [`super::CEILING_PERCENT`].
    #[must_use]
    pub fn elongation_quantile(&self, at: ReferenceKilometres, p: Probability) -> f64 {
        let since = self.since(at);
        self.elongation_quantiles(&Slice::of_reach(self, since), since, |quantile| quantile(p.get()))
    }

    /// Elongation at exposure `at` at 10, 50 and 90 %, percent.
    #[must_use]
    pub fn elongation_range(&self, at: ReferenceKilometres) -> Quantiles {
        let since = self.since(at);
        self.elongation_quantiles(&Slice::of_reach(self, since), since, Quantiles::of)
    }

    /// Density of the elongation at exposure `at`, per percent, at the elongations of `grid`, percent.
    #[must_use]
    pub fn elongation_density(&self, at: ReferenceKilometres, grid: &[f64]) -> Vec<f64> {
        let highest = self.parameters.fast_phase().slow(grid.iter().copied().fold(0.0, f64::max));
        let since = self.since(at);
        self.density(&Slice::up_to(self, highest.min(self.ceiling()), since), since, grid)
    }

    fn density(&self, now: &Slice, since: f64, grid: &[f64]) -> Vec<f64> {
        let fast = self.parameters.fast_phase();
        let mut density = self.over_grid(now, since, grid, |point| point.density);
        density.iter_mut().zip(grid).for_each(|(value, elongation)| *value /= fast.slope(*elongation));
        density
    }

    /// Probability that the elongation at exposure `at` is below each elongation of `grid`, percent; beyond
    /// [`super::CEILING_PERCENT`] it stays as it is there.
    #[must_use]
    pub fn elongation_distribution(&self, at: ReferenceKilometres, grid: &[f64]) -> Vec<f64> {
        let highest = self.parameters.fast_phase().slow(grid.iter().copied().fold(0.0, f64::max));
        let since = self.since(at);
        let now = Slice::up_to(self, highest.min(self.ceiling()), since);
        self.over_grid(&now, since, grid, |point| point.below)
    }

    fn over_grid(&self, now: &Slice, since: f64, grid: &[f64], value: impl Fn(&Point) -> f64) -> Vec<f64> {
        let fast = self.parameters.fast_phase();
        let known = self.known(self.state.s + since);
        let places: Vec<f64> = grid.iter().map(|elongation| fast.slow(*elongation) - known).collect();
        match even_step(&places) {
            Some(step) => now.evenly(places[0], step, places.len()).iter().map(value).collect(),
            None => places.iter().map(|&y| value(&now.at(y))).collect(),
        }
    }

    fn elongation_quantiles<T>(
        &self,
        slice: &Slice,
        since: f64,
        collect: impl FnOnce(&mut dyn FnMut(f64) -> f64) -> T,
    ) -> T {
        let known = self.known(self.state.s + since);
        let fast = self.parameters.fast_phase();
        let (low, high) = slice.range();
        let mut start = self.state.moments(&self.parameters).0 + since * self.log_rate().0.exp();
        collect(&mut |p| {
            if slice.at(high).below <= p {
                return self.ceiling().min(fast.elongation(high + known));
            }
            let wanted = normal::quantile(p);
            let y = root::increasing(
                (low, high),
                start,
                |a, b| 0.5 * (a + b),
                |_| 1e-7,
                |y| {
                    let point = slice.at(y);
                    deviate(point.below, wanted, point.density)
                },
            );
            start = y;
            fast.elongation(y + known).min(self.ceiling())
        })
    }

    fn worst_stretch(&self, view: &View<'_>, limit: f64) -> Option<WornStretch> {
        let measurement = self.last_spots?.measurement;
        let spots = measurement.as_spots()?;
        let excess = spots.excess(self.calibrations.of(measurement.instrument()).sd());
        (spots.is_uneven() && excess > 0.0).then(|| {
            let probability_over_limit = view.over(limit - excess);
            let remaining = view.remaining_range(limit - excess, probability_over_limit);
            WornStretch { excess, probability_over_limit, remaining }
        })
    }

    fn view(&self, at: ReferenceKilometres, highest: f64) -> View<'_> {
        let since = self.since(at);
        View { posterior: self, since, projection: Projection::up_to(self, highest, since) }
    }

    /// Reference km since the last reading.
    fn since(&self, at: ReferenceKilometres) -> f64 {
        (at.get() - self.state.s).max(0.0)
    }

    /// Running-in accrued at exposure `s`, percent.
    fn known(&self, s: f64) -> f64 {
        self.parameters.running_in_curve().at(s)
    }
}

/// A chain seen from one exposure and against one limit, for several questions: what they share is computed once.
pub struct Snapshot<'a> {
    at: ReferenceKilometres,
    limit: Limit,
    /// Lives, for elongations up to the limit.
    view: View<'a>,
    /// All elongations that can be by now.
    now: Slice,
}

impl Snapshot<'_> {
    /// What [`Posterior::outlook`] gives.
    #[must_use]
    pub fn outlook(&self) -> Outlook {
        let Self { at, limit, view, now } = self;
        let posterior = view.posterior;
        let probability_over_limit = view.over(limit.get());
        Outlook {
            at: *at,
            limit: *limit,
            probability_over_limit,
            remaining: view.remaining_range(limit.get(), probability_over_limit),
            elongation: posterior.elongation_quantiles(now, view.since, Quantiles::of),
            worst_stretch: posterior.worst_stretch(view, limit.get()),
        }
    }

    /// What [`Posterior::elongation_density`] gives.
    #[must_use]
    pub fn elongation_density(&self, grid: &[f64]) -> Vec<f64> {
        self.view.posterior.density(&self.now, self.view.since, grid)
    }

    /// Probability that the limit will have been reached within `ahead` reference km, and its slope.
    pub(crate) fn over_within(&self, ahead: f64) -> (f64, f64) {
        if ahead > LONGEST {
            return (1.0, 0.0);
        }
        let (point, per_km) = self.view.reached(self.limit.get(), ahead);
        (1.0 - point.below, per_km)
    }
}

/// The distance between places that lie evenly.
fn even_step(places: &[f64]) -> Option<f64> {
    let [first, .., last] = places else { return None };
    let step = (last - first) / (places.len() - 1) as f64;
    let even = places
        .iter()
        .enumerate()
        .all(|(index, place)| (place - first - index as f64 * step).abs() <= 1e-12 * last.abs().max(1.0));
    (even && step > 0.0).then_some(step)
}

/// The normal deviate of a probability above the one wanted; nearly linear where a distribution function is
/// not.
fn deviate(probability: f64, wanted: f64, density: f64) -> Tangent {
    let deviate = normal::quantile(probability.clamp(1e-12, 1.0 - 1e-12));
    Tangent { value: deviate - wanted, slope: density / normal::density(deviate) }
}

/// Lives of a chain seen from one exposure.
struct View<'a> {
    posterior: &'a Posterior,
    /// Reference km since the last reading.
    since: f64,
    projection: Projection,
}

impl View<'_> {
    /// `P(ε < elongation)`, `ahead` reference km from now.
    fn below(&self, elongation: f64, ahead: f64) -> f64 {
        let later = self.posterior.state.s + self.since + ahead;
        let slow = self.posterior.parameters.fast_phase().slow(elongation);
        self.projection.below(slow - self.posterior.known(later), ahead)
    }

    /// Probability that `limit` has been reached now.
    fn over(&self, limit: f64) -> f64 {
        1.0 - self.below(limit, 0.0)
    }

    /// The distribution at `limit`, `ahead` reference km from now, and the slope of its being reached in `ahead`.
    fn reached(&self, limit: f64, ahead: f64) -> (Point, f64) {
        let later = self.posterior.state.s + self.since + ahead;
        let slow = self.posterior.parameters.fast_phase().slow(limit);
        let point = self.projection.at(slow - self.posterior.known(later), ahead);
        let running_in = self.posterior.parameters.running_in_curve().slope(later);
        (point, point.density * running_in - point.drift)
    }

    fn remaining_range(&self, limit: f64, over_now: f64) -> Quantiles {
        let mut near = None;
        Quantiles::of(&mut |p| self.remaining(limit, over_now, p, &mut near))
    }

    /// The p-quantile of the remaining life, sought over ln s from a quantile that was found before, which it becomes;
    /// `over_now` is the probability that the limit has been reached.
    fn remaining(&self, limit: f64, over_now: f64, p: f64, near: &mut Option<Near>) -> f64 {
        if over_now >= p {
            return 0.0;
        }
        if p >= 1.0 {
            return LONGEST;
        }
        let wanted = normal::quantile(p);
        let mut slope = f64::NAN;
        let log_s = root::increasing(
            ((1e-6_f64).ln(), LONGEST.ln()),
            near.map_or_else(|| self.log_remaining(limit, wanted), |near| near.log_remaining(wanted)),
            |a, b| 0.5 * (a + b),
            |_| QUANTILE_STEP,
            |log_s| {
                let s = log_s.exp();
                let (point, per_km) = self.reached(limit, s);
                let tangent = deviate(1.0 - point.below, wanted, s * per_km);
                slope = tangent.slope;
                tangent
            },
        );
        if slope > 0.0 {
            *near = Some(Near { log_s, deviate: wanted, slope });
        }
        log_s.exp()
    }

    /// ln s, roughly, where the rate lies by so many deviations off.
    fn log_remaining(&self, limit: f64, deviations: f64) -> f64 {
        let limit = self.posterior.parameters.fast_phase().slow(limit);
        let s0 = self.posterior.state.s + self.since;
        let (mean_log_rate, sd) = self.posterior.log_rate();
        let x = self.posterior.state.moments(&self.posterior.parameters).0;
        let run_in = self.posterior.known(s0);
        let to_go = (limit - x - self.since * mean_log_rate.exp() - run_in).max(0.01 * limit);
        (to_go / mean_log_rate.exp()).ln() + deviations * sd.hypot(0.1)
    }
}

/// A quantile of the remaining life, and the slope of the normal deviate there over ln s.
#[derive(Clone, Copy)]
struct Near {
    log_s: f64,
    deviate: f64,
    slope: f64,
}

impl Near {
    fn log_remaining(self, deviate: f64) -> f64 {
        self.log_s + (deviate - self.deviate) / self.slope
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::degradation::{TimedReading, WearParameters};
    use crate::reading::{Instrument, InstrumentCalibrations, Measurement};
    use crate::units::ElongationReading;

    /// An even grid goes by the turning of each term, an uneven one by each term anew.
    #[test]
    fn an_even_grid_gives_what_single_places_give() {
        let km = |km| ReferenceKilometres::new(km).expect("legal");
        let percent = ElongationReading::new(0.3).expect("legal");
        let reading = Measurement::percent(Instrument::Dial, percent);
        let readings = [TimedReading::new(km(900.0), reading.expect("legal"))];
        for readings in [&readings[..0], &readings] {
            let posterior =
                Posterior::of(&WearParameters::default(), &InstrumentCalibrations::default(), readings);
            let even: Vec<f64> = (0..=120).map(|i| -0.1 + 0.02 * f64::from(i)).collect();
            let uneven: Vec<f64> = even.iter().copied().chain([2.345]).collect();
            assert!(even_step(&even).is_some() && even_step(&uneven).is_none());
            let at = km(1_500.0);
            let densities = [&even, &uneven].map(|grid| posterior.elongation_density(at, grid));
            let below = [&even, &uneven].map(|grid| posterior.elongation_distribution(at, grid));
            assert!(densities[0].iter().any(|density| *density > 1.0));
            for place in 0..even.len() {
                assert!((densities[0][place] - densities[1][place]).abs() < 1e-9, "density at {place}");
                assert!((below[0][place] - below[1][place]).abs() < 1e-10, "distribution at {place}");
            }
        }
    }
}
