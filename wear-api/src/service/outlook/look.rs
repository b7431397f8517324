//! What a look at the chain and being late cost, for the next reading.

use wear_core::degradation::WearParameters;
use wear_core::policy::{Costs, LookCosts, MeanLife, Price};
use wear_core::units::Limit;

use crate::domain::{PartModel, Workshop};
use crate::service::usual_prices::{
    CASSETTE_PER_CHAIN, CHAIN_MINOR, READING_PER_CHAIN, RING_PER_CHAIN, price_of,
};

/// A bike's parts, where their models are known.
pub struct Models<'a> {
    /// Its chain.
    pub chain: Option<&'a PartModel>,
    /// Its cassette.
    pub cassette: Option<&'a PartModel>,
    /// One of its rings.
    pub ring: Option<&'a PartModel>,
    /// How many rings it has.
    pub rings: usize,
}

/// What a look pays for, and whether a price of it had to be assumed.
#[must_use]
pub fn look_costs(
    workshop: &Workshop,
    models: &Models<'_>,
    parameters: &WearParameters,
    limit: Limit,
) -> (LookCosts, bool) {
    let of = |model: Option<&PartModel>| model.and_then(|model| price_of(workshop, model));
    let (chain, cassette, ring) = (of(models.chain), of(models.cassette), of(models.ring));
    let settings = &workshop.settings.costs;
    let assumed = chain.is_none() || cassette.is_none() || ring.is_none() || settings.reading_minor == 0;
    let labour = settings.swap_labour_minor as f64;
    let chain = chain.unwrap_or(CHAIN_MINOR);
    let price = |part| Price { part, labour };
    let costs = Costs {
        inspection: match settings.reading_minor {
            0 => READING_PER_CHAIN * chain,
            minor => minor as f64,
        },
        failure: settings.failure_minor as f64,
        ..Costs::of_parts(
            price(chain),
            price(cassette.unwrap_or(CASSETTE_PER_CHAIN * chain)),
            price(models.rings as f64 * ring.unwrap_or(RING_PER_CHAIN * chain)),
        )
    };
    (LookCosts::at_limit(&costs, &MeanLife::of_group(parameters), limit.get()), assumed)
}
