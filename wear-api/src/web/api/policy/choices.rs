//! Models of chain, and lubricants, as choices.

use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;

use super::PerKm;
use crate::domain::{ChainChoice, LubricantChoice};
use crate::web::api::outlooks::BandDocument;
use crate::web::speech;

/// A model of chain, against the one that most bikes of the group have.
#[derive(Serialize, ToSchema)]
#[schema(as = PolicyChainModel)]
pub(super) struct ChainModelDocument {
    /// The model.
    part_model_id: Uuid,
    /// Its name.
    name: String,
    /// Whether it is the one in use.
    in_use: bool,
    /// Price of a chain.
    chain_minor: i64,
    /// Whether nobody entered its price, so that another model's was taken.
    price_is_assumed: bool,
    /// What it costs per 1,000 km.
    cost_per_1000_km_minor: BandDocument,
    /// What it costs more than the one in use; negative when it costs less.
    more_than_in_use_minor: BandDocument,
    /// Probability that it costs less than the one in use; one half of the one in use itself.
    #[schema(minimum = 0, maximum = 1)]
    cheaper_probability: f64,
    /// Further chains, half of either, after which the difference would be believed with 95 %; 0 when it is already, null when
    /// the two are too close.
    #[schema(minimum = 0)]
    chains_to_tell: Option<u32>,
    /// The same in plain words.
    #[schema(
        example = "Coated is cheaper than Bare with a probability of 87 %; about 120 more chains would tell"
    )]
    said: String,
    /// The same as a stable word for programs.
    #[schema(value_type = String, example = "more_would_tell")]
    said_code: &'static str,
}

/// A lubricant, against the one that most bikes of the group are run on.
#[derive(Serialize, ToSchema)]
#[schema(as = PolicyLubricant)]
pub(super) struct LubricantDocument {
    /// The lubricant.
    lubricant_id: Uuid,
    /// Its name.
    name: String,
    /// Whether it is the one in use.
    in_use: bool,
    /// What one application costs: its price, and its minutes at what the labour of a chain's swap costs a minute; null where
    /// nobody said either.
    application_minor: Option<i64>,
    /// Distance between two applications, as the fleet has it; drawn towards what is usual where few are on record.
    #[schema(example = 620.0, exclusive_minimum = 0)]
    every_km: f64,
    /// Whether nobody said what an application costs, so that the others' mean was taken.
    upkeep_is_assumed: bool,
    /// What it costs per 1,000 km, with the chains, cassettes and rings that wear under it.
    cost_per_1000_km_minor: BandDocument,
    /// What it costs more than the one in use; negative when it costs less.
    more_than_in_use_minor: BandDocument,
    /// Probability that it costs less than the one in use; one half of the one in use itself.
    #[schema(minimum = 0, maximum = 1)]
    cheaper_probability: f64,
    /// Further chains, half under either, after which the difference would be believed with 95 %; 0 when it is already, null
    /// when the two are too close.
    #[schema(minimum = 0)]
    chains_to_tell: Option<u32>,
    /// The same in plain words.
    #[schema(
        example = "wax is cheaper than oil with a probability of 80 %; about 240 more chains would tell"
    )]
    said: String,
    /// The same as a stable word for programs.
    #[schema(value_type = String, example = "more_would_tell")]
    said_code: &'static str,
}

impl PerKm {
    pub(super) fn chain_model(self, choice: &ChainChoice) -> ChainModelDocument {
        let ChainChoice { model: (id, name), in_use: _, chain_minor, price_is_assumed, cost } = choice;
        ChainModelDocument {
            part_model_id: id.uuid(),
            name: name.clone(),
            in_use: choice.is_in_use(),
            chain_minor: *chain_minor,
            price_is_assumed: *price_is_assumed,
            cost_per_1000_km_minor: self.band(cost.cost),
            more_than_in_use_minor: self.band(cost.more_than_in_use),
            cheaper_probability: cost.cheaper_probability,
            chains_to_tell: cost.chains_to_tell,
            said: speech::said(&choice.said()),
            said_code: choice.said().code(),
        }
    }

    pub(super) fn lubricant(self, choice: &LubricantChoice) -> LubricantDocument {
        let (said, said_code) = (speech::said(&choice.said()), choice.said().code());
        let LubricantChoice {
            lubricant: (id, name),
            in_use: _,
            application_minor,
            reference_km_per_application,
            upkeep_is_assumed,
            cost,
        } = choice;
        LubricantDocument {
            lubricant_id: id.uuid(),
            name: name.clone(),
            in_use: choice.is_in_use(),
            application_minor: *application_minor,
            every_km: reference_km_per_application * self.0,
            upkeep_is_assumed: *upkeep_is_assumed,
            cost_per_1000_km_minor: self.band(cost.cost),
            more_than_in_use_minor: self.band(cost.more_than_in_use),
            cheaper_probability: cost.cheaper_probability,
            chains_to_tell: cost.chains_to_tell,
            said,
            said_code,
        }
    }
}
