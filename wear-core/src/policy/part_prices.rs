//! What parts and work cost one bike, and the usual prices where nobody said.

use super::{Costs, LookCosts, MeanLife, Price};
use crate::degradation::WearParameters;
use crate::knock_on::SkipThreshold;
use crate::units::Limit;

/// Price of a chain, in hundredths of a euro or a unit like it (A).
pub const USUAL_CHAIN: f64 = 2_000.0;

/// Price of a cassette against a chain's (A).
pub const CASSETTE_PER_CHAIN: f64 = 1.6;

/// Price of a ring against a chain's (A).
pub const RING_PER_CHAIN: f64 = 1.2;

/// Cost of a reading against a chain's price (A: about two minutes of work).
pub const READING_PER_CHAIN: f64 = 0.05;

/// Prices of one bike's parts and of the work on it, all in one unit; hundredths of a euro or a unit like it where
/// some are left out.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct PartPrices {
    /// A chain; [`USUAL_CHAIN`] where nobody said.
    pub chain: Option<f64>,
    /// A cassette; [`CASSETTE_PER_CHAIN`] where nobody said.
    pub cassette: Option<f64>,
    /// One ring; [`RING_PER_CHAIN`] where nobody said.
    pub ring: Option<f64>,
    /// A reading; [`READING_PER_CHAIN`] where nobody said.
    pub reading: Option<f64>,
    /// Labour of a swap.
    pub swap_labour: f64,
    /// A failure on the road.
    pub failure: f64,
}

impl PartPrices {
    /// Whether any of the parts' prices or a reading's had to be assumed.
    #[must_use]
    pub const fn are_assumed(&self) -> bool {
        self.chain.is_none() || self.cassette.is_none() || self.ring.is_none() || self.reading.is_none()
    }

    /// What an inspection and being late cost round a limit, on a bike with `rings` rings and a cassette that bears so much.
    #[must_use]
    pub fn look_costs(
        &self,
        rings: usize,
        parameters: &WearParameters,
        limit: Limit,
        cassettes_bear: SkipThreshold,
    ) -> LookCosts {
        let chain = self.chain.unwrap_or(USUAL_CHAIN);
        let price = |part| Price { part, labour: self.swap_labour };
        let costs = Costs {
            inspection: self.reading.unwrap_or(READING_PER_CHAIN * chain),
            failure: self.failure,
            cassettes_bear,
            ..Costs::of_parts(
                price(chain),
                price(self.cassette.unwrap_or(CASSETTE_PER_CHAIN * chain)),
                price(rings as f64 * self.ring.unwrap_or(RING_PER_CHAIN * chain)),
            )
        };
        LookCosts::at_limit(&costs, &MeanLife::of_group(parameters), limit.get())
    }
}
