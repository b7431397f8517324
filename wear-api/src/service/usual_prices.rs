//! Prices where nobody said any.

use crate::domain::{Money, PartModel, Workshop};

/// Price of a chain, minor units (A).
pub(super) const CHAIN_MINOR: f64 = 2_000.0;

/// Price of a cassette against a chain's (A).
pub(super) const CASSETTE_PER_CHAIN: f64 = 1.6;

/// Price of a ring against a chain's (A).
pub(super) const RING_PER_CHAIN: f64 = 1.2;

/// Cost of a reading against a chain's price (A: about two minutes of work).
pub(super) const READING_PER_CHAIN: f64 = 0.05;

/// A model's price in the workshop's currency.
pub(super) fn price_of(workshop: &Workshop, model: &PartModel) -> Option<f64> {
    let price = model.facts.price.filter(|price| price.currency() == workshop.settings.currency)?;
    Some(Money::minor(price) as f64)
}
