//! Prices on record.

use crate::domain::{Money, PartModel, Workshop};

/// A model's price in the workshop's currency, minor units.
pub(super) fn price_of(workshop: &Workshop, model: &PartModel) -> Option<f64> {
    let price = model.facts.price.filter(|price| price.currency() == workshop.settings.currency)?;
    Some(Money::minor(price) as f64)
}
