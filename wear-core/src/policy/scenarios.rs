//! How the scenario may be: what is not known of chains and of the damage they do.

use super::limit::END_PERCENT;
use super::mean_life::MeanLife;
use crate::numeric::normal;

/// Standard deviation of the logarithm of the damage slopes' scale (A).
const DAMAGE_LN_SD: f64 = 0.35;

/// Standard deviation of the logarithm of the elongation at which a set has had it (A).
const END_LN_SD: f64 = 0.2;

/// One way the scenario may be: how long chains last, and how much they damage.
#[derive(Debug, Clone, PartialEq)]
pub struct Scenario {
    /// Mean life by elongation.
    pub life: MeanLife,
    /// Factor on the damage slopes.
    pub damage_scale: f64,
    /// Elongation at which a set that runs to its end has had it, percent.
    pub end_percent: f64,
    /// Weight; weights need not sum to 1.
    pub weight: f64,
}

/// Twenty-five scenarios round one mean life: `life_ln_sd` says how well the group's mean wear is known; the damage slopes
/// are an assumption with a spread of their own (A). Five equally likely values of each.
#[must_use]
pub fn scenarios_around(life: &MeanLife, life_ln_sd: f64) -> Vec<Scenario> {
    let standard = [0.1, 0.3, 0.5, 0.7, 0.9].map(normal::quantile);
    let mut scenarios = Vec::with_capacity(25);
    for life_z in standard {
        let life = life.scaled((life_ln_sd * life_z).exp());
        for damage_z in standard {
            let damage_scale = (DAMAGE_LN_SD * damage_z).exp();
            // Where chains damage more, a set skips earlier.
            let end_percent = END_PERCENT * (-END_LN_SD * damage_z).exp();
            scenarios.push(Scenario { life: life.clone(), damage_scale, end_percent, weight: 1.0 });
        }
    }
    scenarios
}

/// Quantiles over scenarios.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spread {
    /// One scenario in ten has less.
    pub p10: f64,
    /// Half have less.
    pub p50: f64,
    /// Nine in ten have less.
    pub p90: f64,
}

pub(super) fn spread(mut values: Vec<(f64, f64)>) -> Spread {
    values.sort_by(|a, b| a.0.total_cmp(&b.0));
    let whole: f64 = values.iter().map(|(_, weight)| weight).sum();
    let at = |level: f64| {
        let mut below = 0.0;
        values
            .iter()
            .find(|(_, weight)| {
                below += weight;
                below >= level * whole
            })
            .or(values.last())
            .map_or(0.0, |(value, _)| *value)
    };
    Spread { p10: at(0.1), p50: at(0.5), p90: at(0.9) }
}
