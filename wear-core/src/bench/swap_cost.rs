//! What it costs to swap a chain on another day than the one it is due on.

use crate::knock_on::slope;

/// Failures on the road (skips under load, snapped links) per kilometre on a chain over its limit (A): one in
/// 10,000 km. To be replaced by what a fleet counts.
pub const FAILURES_PER_KM_OVER_LIMIT: f64 = 1e-4;

/// What the two costs rest on. Money in any one unit; nothing is negative.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SwapEconomics {
    /// Price of the new chain.
    pub chain_price: f64,
    /// Labour of the swap.
    pub labour: f64,
    /// Exposure of the chain so far, reference km.
    pub life_so_far: f64,
    /// Median exposure that it has to go to its limit, reference km.
    pub life_left: f64,
    /// Exposure a day, reference km.
    pub reference_km_per_day: f64,
    /// Distance a day, km.
    pub km_per_day: f64,
    /// Probability that the chain is over its limit, averaged over the days after the due day.
    pub probability_over: f64,
    /// Cost of one failure on the road.
    pub failure: f64,
    /// Price of the sprockets that the chain runs on.
    pub sprocket_price: f64,
    /// Share of these sprockets that a kilometre uses up with the chain at its limit.
    pub share_per_km_at_limit: f64,
    /// The limit, percent.
    pub limit_percent: f64,
}

/// Money per day before or after the due day.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub struct SwapCosts {
    /// Life thrown away.
    pub early_per_day: f64,
    /// Risk and knock-on.
    pub late_per_day: f64,
}

impl SwapCosts {
    /// Per day early, the share of the chain's life that the day would have used:
    /// `c_early = (price + labour) · s_day / (s_so_far + s_left)`.
    ///
    /// Per day late, the failures to be expected and what a worn chain takes from the sprockets beyond what a new
    /// one would: `c_late = km_day · [P(over) · f · c_failure + price_sprockets · w(D) · (1 − h(0)/h(D))]`, with
    /// `f` = [`FAILURES_PER_KM_OVER_LIMIT`], `w(D)` the share used up per km at the limit and `h` the slope of
    /// damage against elongation ([`slope`]). Both are our own (A).
    #[must_use]
    pub fn of(facts: &SwapEconomics) -> Self {
        let life = facts.life_so_far + facts.life_left;
        let share = if life > 0.0 { (facts.reference_km_per_day / life).min(1.0) } else { 0.0 };
        let at_limit = slope(facts.limit_percent);
        let beyond_new = if at_limit > 0.0 { (1.0 - slope(0.0) / at_limit).max(0.0) } else { 0.0 };
        let risk = facts.probability_over * FAILURES_PER_KM_OVER_LIMIT * facts.failure;
        let knock_on = facts.sprocket_price * facts.share_per_km_at_limit * beyond_new;
        Self {
            early_per_day: (facts.chain_price + facts.labour) * share,
            late_per_day: facts.km_per_day * (risk + knock_on),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const FACTS: SwapEconomics = SwapEconomics {
        chain_price: 2000.0,
        labour: 1000.0,
        life_so_far: 2000.0,
        life_left: 1000.0,
        reference_km_per_day: 30.0,
        km_per_day: 20.0,
        probability_over: 0.5,
        failure: 5000.0,
        sprocket_price: 4000.0,
        share_per_km_at_limit: 1e-4,
        limit_percent: 0.75,
    };

    #[test]
    fn a_day_early_throws_away_its_share_of_the_life() {
        assert!((SwapCosts::of(&FACTS).early_per_day - 30.0).abs() < 1e-9);
    }

    #[test]
    fn a_day_late_costs_risk_and_knock_on() {
        let beyond_new = 1.0 - slope(0.0) / slope(0.75);
        let expected = 20.0 * (0.5 * 1e-4 * 5000.0 + 4000.0 * 1e-4 * beyond_new);
        assert!((SwapCosts::of(&FACTS).late_per_day - expected).abs() < 1e-9);
        let club = SwapEconomics { failure: 0.0, ..FACTS };
        assert!(SwapCosts::of(&club).late_per_day < SwapCosts::of(&FACTS).late_per_day);
    }

    #[test]
    fn an_unused_bike_costs_nothing_either_way() {
        let unused = SwapEconomics { reference_km_per_day: 0.0, km_per_day: 0.0, ..FACTS };
        let nothing = SwapCosts { early_per_day: 0.0, late_per_day: 0.0 };
        assert_eq!(SwapCosts::of(&unused), nothing);
        assert_eq!(SwapCosts::of(&SwapEconomics { life_so_far: 0.0, life_left: 0.0, ..unused }), nothing);
    }
}
