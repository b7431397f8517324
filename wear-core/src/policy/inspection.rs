//! When to look at a chain next.

use super::cost::Costs;
use super::integral::panel;
use super::mean_life::MeanLife;
use crate::knock_on::{self, RING_THRESHOLD};

/// Panels of the integrals over the distance ahead.
const STEPS: usize = 200;

/// Probabilities of being late between which a look is due, whatever the costs: below, a look tells nothing new; above,
/// the chain is more likely over its limit than not (A).
const DUE_BETWEEN: (f64, f64) = (0.01, 0.5);

/// What looking, being late and a chain's life are worth.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LookCosts {
    /// One look.
    pub look: f64,
    /// Each reference km beyond the limit, in cassette and ring money and in failures.
    pub late_per_km: f64,
    /// Mean life of a chain to the limit, reference km.
    pub mean_life_km: f64,
    /// Chain and its labour: what a swap spends.
    pub swap: f64,
}

impl LookCosts {
    /// What they are round a limit: beyond it a chain wears at its mean rate, and does to cassette and rings what the
    /// slope of the damage there says.
    #[must_use]
    pub fn at_limit(costs: &Costs, life: &MeanLife, limit_percent: f64) -> Self {
        let sprockets = costs.cassette.sum() + costs.rings.sum() / RING_THRESHOLD;
        Self {
            look: costs.inspection,
            late_per_km: knock_on::cost_per_km(
                sprockets,
                knock_on::slope(limit_percent),
                life.rate_at(limit_percent),
            ) + costs.failure * costs.failures.per_km(limit_percent),
            mean_life_km: life.at(limit_percent),
            swap: costs.chain.sum(),
        }
    }

    /// Probability of being over the limit at which looking pays.
    ///
    /// Someone who looks every τ pays `c_look/τ` for looks, and `c_late τ/2` once in a life M for lateness: together at
    /// least `g = √(2 c_look c_late/M)` per km. Putting a look off saves g for each km and costs `c_late P(over)`; they
    /// are equal at `P* = g/c_late = √(2 c_look/(c_late M))`. Between 0.01 and 0.5 (A).
    #[must_use]
    pub fn due_probability(&self) -> f64 {
        let due = (2.0 * self.look / (self.late_per_km * self.mean_life_km)).sqrt();
        if due.is_nan() { DUE_BETWEEN.1 } else { due.clamp(DUE_BETWEEN.0, DUE_BETWEEN.1) }
    }
}

/// The next look that pays.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub struct NextLook {
    /// Distance from now, reference km; 0 when it is due.
    pub after_reference_km: f64,
    /// Probability that the chain is over its limit by then.
    pub probability_over: f64,
    /// Expected cost of looking then and of being late until then.
    pub expected_cost: f64,
    /// Whether swapping then without looking costs less than the look: what is left of the chain isn't worth it.
    pub swap_without_looking: bool,
}

/// The next look within `horizon` reference km; `None` when none pays within it, or when it is not a positive number.
///
/// `over(s)` is the probability that the chain is over its limit after `s` more reference km; it never falls.
#[must_use]
pub fn next_look(over: impl Fn(f64) -> f64, costs: &LookCosts, horizon: f64) -> Option<NextLook> {
    // min over s of c_look + c_late ∫₀ˢ P(over) − g s, so c_late P(over by s) = g
    let due = costs.due_probability();
    let over = |s: f64| over(s).clamp(0.0, 1.0);
    if !(horizon.is_finite() && horizon > 0.0) || over(horizon) < due {
        return None;
    }
    let (mut before, mut s) = (0.0, horizon);
    if over(0.0) >= due {
        s = 0.0;
    }
    for _ in 0..60 {
        let middle = 0.5 * (before + s);
        if over(middle) >= due { s = middle } else { before = middle }
    }
    let step = (horizon - s) / STEPS as f64;
    // ∫ₛ^∞ (1 − P(over)): the mean life that a swap at s throws away, as far as the horizon shows it.
    let left_km: f64 =
        (0..STEPS).map(|i| panel(s + i as f64 * step, s + (i + 1) as f64 * step, |u| 1.0 - over(u))).sum();
    let per_km = if costs.mean_life_km > 0.0 { costs.swap / costs.mean_life_km } else { 0.0 };
    Some(NextLook {
        after_reference_km: s,
        probability_over: over(s),
        expected_cost: costs.look + costs.late_per_km * super::integral::integral(0.0, s, STEPS, over),
        swap_without_looking: per_km * left_km < costs.look,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    const COSTS: LookCosts = LookCosts { look: 2.0, late_per_km: 0.03, mean_life_km: 4_000.0, swap: 40.0 };

    /// A chain that reaches its limit at a normally distributed distance.
    fn over(mean: f64, sd: f64) -> impl Fn(f64) -> f64 {
        move |s| 0.5 * statrs::function::erf::erfc((mean - s) / (sd * std::f64::consts::SQRT_2))
    }

    #[test]
    fn dearer_lateness_looks_earlier_and_dearer_looks_later() {
        let at =
            |costs: LookCosts| next_look(over(1_000.0, 250.0), &costs, 5_000.0).unwrap().after_reference_km;
        assert!(at(LookCosts { late_per_km: 0.1, ..COSTS }) < at(COSTS));
        assert!(at(LookCosts { look: 8.0, ..COSTS }) > at(COSTS));
        // √(2·2/(0.03·4000)) = 0.1826
        let look = next_look(over(1_000.0, 250.0), &COSTS, 5_000.0).unwrap();
        assert!((look.probability_over - 0.182_574).abs() < 1e-6);
    }

    #[test]
    fn the_closed_form_is_the_minimum_of_what_it_minimises() {
        let over = over(1_000.0, 250.0);
        let found = next_look(&over, &COSTS, 5_000.0).unwrap();
        let per_km = COSTS.late_per_km * COSTS.due_probability();
        let cost = |s: f64| {
            COSTS.look + COSTS.late_per_km * super::super::integral::integral(0.0, s, 100, &over) - per_km * s
        };
        let s = found.after_reference_km;
        assert!(cost(s) < cost(s - 20.0) && cost(s) < cost(s + 20.0));
        assert!((found.expected_cost - per_km * s - cost(s)).abs() < 1e-9);
    }

    #[test]
    fn what_is_known_well_needs_no_look() {
        let sure = next_look(over(1_000.0, 10.0), &COSTS, 5_000.0).unwrap();
        assert!(sure.swap_without_looking && sure.after_reference_km > 900.0);
        let unsure = next_look(over(1_000.0, 600.0), &COSTS, 5_000.0).unwrap();
        assert!(!unsure.swap_without_looking && unsure.after_reference_km < 700.0);
    }

    #[test]
    fn degenerate_chains_and_costs_have_an_answer() {
        assert_eq!(next_look(|_| 1.0, &COSTS, 1_000.0).unwrap().after_reference_km, 0.0);
        assert_eq!(next_look(|_| 0.0, &COSTS, 1_000.0), None);
        assert_eq!(next_look(|_| 0.5, &COSTS, f64::NAN), None);
        let free = LookCosts { look: 0.0, late_per_km: 0.0, mean_life_km: 0.0, swap: 0.0 };
        assert_eq!(free.due_probability(), 0.5);
        assert_eq!(LookCosts { look: 0.0, ..COSTS }.due_probability(), 0.01);
        assert_eq!(LookCosts { late_per_km: 0.0, ..COSTS }.due_probability(), 0.5);
    }
}
