//! How far a chain goes on average before it reaches an elongation.

use super::integral::integral;
use crate::degradation::WearParameters;

/// Steps of the table.
const STEP_PERCENT: f64 = 0.01;

/// Panels of the integral over distance.
const PANELS: usize = 48;

/// Elongation at which a group's table ends, percent: above every limit of the curve and above
/// [`super::END_PERCENT`].
const TABLE_END_PERCENT: f64 = 2.1;

/// Mean distance from new to each elongation, as a table in steps of 0.01 percent.
///
/// Costs that depend on elongation alone need no more of a chain than this: the mean time it spends between two
/// elongations is the difference of their mean lives.
#[derive(Debug, Clone, PartialEq)]
pub struct MeanLife {
    km: Vec<f64>,
}

impl MeanLife {
    /// From the distribution of elongation by distance: `below(percent, km)` is P(ε(km) < percent), and the mean life
    /// is its integral over distance. The table ends at `end_percent`.
    ///
    /// The integral ends where less than 1e-9 of the chains are left, or at ten million km.
    #[must_use]
    pub fn from_distribution(below: impl Fn(f64, f64) -> f64, end_percent: f64) -> Self {
        // E[T_x] = ∫₀^∞ P(ε(s) < x) ds
        let mut horizon = 1_000.0;
        let mut previous = 0.0;
        let km = levels(end_percent)
            .map(|percent| {
                while below(percent, horizon) > 1e-9 && horizon < 1e7 {
                    horizon *= 1.25;
                }
                // A table never falls, whatever the last digits of the integrals do.
                previous = integral(0.0, horizon, PANELS, |km| below(percent, km)).max(previous);
                previous
            })
            .collect();
        Self { km }
    }

    /// Of the new chains of a group: the process of [`WearParameters`] before anything is measured, within 0.5 percent
    /// above 0.2 percent of elongation (C: a test integrates the process itself).
    #[must_use]
    pub fn of_group(parameters: &WearParameters) -> Self {
        // E[T_x] = E[1/θ]·(x − ε0 − a(1 − e^{−T/s_r}) + φ/2): a gamma process oversteps by φ/2 in the mean, and the
        // mean of 1/θ is e^{−µ + τ²/2}.
        let (mean, sd) = (parameters.mean_log_rate(), parameters.sd_log_rate());
        let km_per_percent = (-mean + 0.5 * sd * sd).exp();
        let mean_life = |percent: f64| {
            let without = percent - parameters.initial_mean() + 0.5 * parameters.scale();
            let mut km = (without * km_per_percent).max(0.0);
            // The running-in is a small part of the whole, so this settles in a few turns.
            for _ in 0..30 {
                let run_in = -parameters.running_in() * (-km / parameters.running_in_distance()).exp_m1();
                km = 0.5 * (km + ((without - run_in) * km_per_percent).max(0.0));
            }
            km
        };
        let mut life = Self::from_function(mean_life, TABLE_END_PERCENT);
        for i in 1..life.km.len() {
            life.km[i] = life.km[i].max(life.km[i - 1]);
        }
        life
    }

    /// From any function of elongation that gives the mean life; it never falls.
    #[must_use]
    pub fn from_function(mean_life: impl Fn(f64) -> f64, end_percent: f64) -> Self {
        Self { km: levels(end_percent).map(mean_life).collect() }
    }

    /// The same with every life longer by a factor.
    #[must_use]
    pub fn scaled(&self, factor: f64) -> Self {
        Self { km: self.km.iter().map(|km| km * factor).collect() }
    }

    /// Mean life to an elongation, reference km, straight between entries. Beyond the table it goes on at the last rate.
    #[must_use]
    pub fn at(&self, percent: f64) -> f64 {
        let position = (percent / STEP_PERCENT).max(0.0);
        let low = (position as usize).min(self.km.len().saturating_sub(2));
        match (self.km.get(low), self.km.get(low + 1)) {
            (Some(from), Some(to)) => from + (position - low as f64) * (to - from),
            _ => 0.0,
        }
    }

    /// Mean wear rate round an elongation, percent per reference km.
    #[must_use]
    pub fn rate_at(&self, percent: f64) -> f64 {
        let width = 5.0 * STEP_PERCENT;
        let from = (percent - width).max(0.0);
        let km = self.at(percent + width) - self.at(from);
        if km > 0.0 { (percent + width - from) / km } else { 0.0 }
    }

    /// Integral of a function of elongation over the mean distance that a chain spends at it, up to `percent`.
    #[must_use]
    pub(super) fn accumulate(&self, percent: f64, function: impl Fn(f64) -> f64) -> f64 {
        let steps = (percent / STEP_PERCENT).ceil().max(1.0);
        let width = percent / steps;
        (0..steps as usize)
            .map(|i| {
                let from = i as f64 * width;
                function(from + 0.5 * width) * (self.at(from + width) - self.at(from))
            })
            .sum::<f64>()
            + function(0.0) * self.at(0.0)
    }
}

fn levels(end_percent: f64) -> impl Iterator<Item = f64> {
    let count = (end_percent / STEP_PERCENT).ceil().clamp(1.0, 1_000.0) as usize;
    (0..=count).map(|i| i as f64 * STEP_PERCENT)
}

#[cfg(test)]
mod tests {
    use super::super::integral::nodes;
    use super::*;
    use crate::degradation::Posterior;
    use crate::reading::InstrumentCalibrations;
    use crate::units::ReferenceKilometres;

    #[test]
    fn mean_of_a_group_is_that_of_its_process() {
        let defaults = WearParameters::default();
        for parameters in
            [defaults, defaults.with_log_rate(-8.5, 0.1).and_then(|p| p.with_scale(0.02)).unwrap()]
        {
            let posterior = Posterior::new(&parameters, &InstrumentCalibrations::default());
            let grid = [0.2, 0.3, 0.5, 0.75, 1.2, 2.0];
            // ∫₀^∞ P(ε(s) < x) ds over u = ln s, all x at once.
            let mut km = [1.0; 6];
            for panel in 0..13 {
                for (u, weight) in nodes(f64::from(panel), f64::from(panel + 1)) {
                    let at = ReferenceKilometres::new(u.exp()).unwrap();
                    for (sum, below) in km.iter_mut().zip(posterior.elongation_distribution(at, &grid)) {
                        *sum += weight * at.get() * below;
                    }
                }
            }
            let life = MeanLife::of_group(&parameters);
            for (percent, km) in grid.into_iter().zip(km) {
                assert!((life.at(percent) / km - 1.0).abs() < 5e-3, "{percent}: {} {km}", life.at(percent));
            }
        }
    }

    #[test]
    fn mean_of_a_known_distribution() {
        // An exponential life to each level: P(ε(s) < x) = exp(−s/(4000 x)), mean 4000 x.
        let life =
            MeanLife::from_distribution(|x, s| if x > 0.0 { (-s / (4_000.0 * x)).exp() } else { 0.0 }, 1.0);
        for percent in [0.1, 0.35, 0.5, 1.0] {
            assert!((life.at(percent) / (4_000.0 * percent) - 1.0).abs() < 1e-6, "{}", life.at(percent));
        }
        assert!((life.rate_at(0.5) * 4_000.0 - 1.0).abs() < 1e-6);
        assert!((life.accumulate(0.75, |x| x) - 2_000.0 * 0.75 * 0.75).abs() < 1e-3);
    }
}
