//! What is cheapest for a group of bikes, in the workshop's money.

use wear_core::bike::RateSource;
use wear_core::policy::{ChoiceCost, LimitCurve};

use super::{Currency, GroupName, LubricantId, PartModelId, Place};

wear_core::sentences! {
    /// What a policy assumes for want of data.
    #[derive(Copy, Eq, PartialOrd, Ord, Hash)]
    Assumption {
        Damage = "damage", "damage by elongation and its spread";
        RoadFailures = "road_failures", "failures on the road by elongation";
        EndOfSet = "end_of_set", "elongation at which a set has had it";
        KmPerReferenceKm = "km_per_reference_km", "kilometres per reference kilometre";
        WearRate = "wear_rate", "wear rate";
        ChainPrice = "chain_price", "price of a chain";
        CassettePrice = "cassette_price", "price of a cassette";
        RingPrice = "ring_price", "price of a ring";
        ReadingPrice = "reading_price", "price of a reading";
    }
}

/// Prices that stand in for those on record, minor units; what is `None` is taken from the record.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct PriceWishes {
    /// A chain.
    pub chain_minor: Option<i64>,
    /// A cassette.
    pub cassette_minor: Option<i64>,
    /// The rings, all of them.
    pub rings_minor: Option<i64>,
    /// One cog of a cassette that comes apart.
    pub cog_minor: Option<i64>,
    /// Labour of one swap.
    pub swap_labour_minor: Option<i64>,
    /// One reading.
    pub reading_minor: Option<i64>,
    /// One failure on the road.
    pub failure_minor: Option<i64>,
}

/// Prices that a policy rests on, minor units.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct PolicyPrices {
    /// A chain.
    pub chain_minor: i64,
    /// A cassette.
    pub cassette_minor: i64,
    /// The rings, all of them.
    pub rings_minor: i64,
    /// One cog, where the cassette comes apart and a cog has a price.
    pub cog_minor: Option<i64>,
    /// Labour of one swap.
    pub swap_labour_minor: i64,
    /// One reading.
    pub reading_minor: i64,
    /// One failure on the road.
    pub failure_minor: i64,
}

/// How many parts of a model are on the bikes of a group now.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct PartsOfGroup {
    /// The model.
    pub model_id: PartModelId,
    /// Where they are.
    pub place: Place,
    /// How many.
    pub count: i64,
}

/// What is cheapest for a group.
#[derive(Debug, Clone, PartialEq)]
pub struct Policy {
    /// The group.
    pub group: GroupName,
    /// Bikes in it.
    pub bikes: i64,
    /// Currency of all money here.
    pub currency: Currency,
    /// What the parts and the work cost.
    pub prices: PolicyPrices,
    /// The limit in force, percent: the middle one of the group's bikes.
    pub current_percent: f64,
    /// The trade's limit for the group's sprockets, percent.
    pub trade_percent: f64,
    /// Kilometres per reference kilometre of the group's use; 1 where it isn't known.
    pub km_per_reference_km: f64,
    /// Where the wear rate comes from.
    pub wear_rate_from: RateSource,
    /// What was assumed for want of data.
    pub assumed: Vec<Assumption>,
    /// Costs by limit in minor units per 1,000 reference km, and the alternatives.
    pub curve: LimitCurve,
    /// Models of chain held against the one in use, the cheapest first; none where nothing was learned of any.
    pub chain_models: Vec<ChainChoice>,
    /// Lubricants held against the one in use, the cheapest first; none where nothing was learned of any.
    pub lubricants: Vec<LubricantChoice>,
}

/// A model of chain as a choice.
#[derive(Debug, Clone, PartialEq)]
pub struct ChainChoice {
    /// The model and its name.
    pub model: (PartModelId, String),
    /// The name of the one in use.
    pub in_use: String,
    /// Price of a chain, minor units.
    pub chain_minor: i64,
    /// Whether nobody entered its price.
    pub price_is_assumed: bool,
    /// What it costs, minor units per 1,000 reference km.
    pub cost: ChoiceCost,
}

/// A lubricant as a choice.
#[derive(Debug, Clone, PartialEq)]
pub struct LubricantChoice {
    /// The lubricant and its name.
    pub lubricant: (LubricantId, String),
    /// The one in use and its name.
    pub in_use: (LubricantId, String),
    /// What one application costs, stuff and work, minor units; none where nobody said.
    pub application_minor: Option<i64>,
    /// Distance between two applications, reference km.
    pub reference_km_per_application: f64,
    /// Whether nobody said what an application costs, so that the others' mean was taken.
    pub upkeep_is_assumed: bool,
    /// What it costs, chains, cassettes and rings with it, minor units per 1,000 reference km.
    pub cost: ChoiceCost,
}

wear_core::sentences! {
    /// Whether a model of chain, or a lubricant, is cheaper than the one in use.
    ChoiceSaid {
        InUse { who: String } = "in_use", "{who} is the one in use";
        Told { who: String, in_use: String, percent: String } = "told",
            "{who} is cheaper than {in_use} with a probability of {percent} %";
        MoreWouldTell { who: String, in_use: String, percent: String, chains: String } = "more_would_tell",
            "{who} is cheaper than {in_use} with a probability of {percent} %; about {chains} more chains would tell";
        TooClose { who: String, in_use: String, percent: String } = "too_close",
            "{who} is cheaper than {in_use} with a probability of {percent} %; the two are too close for more chains to tell";
    }
}

impl ChainChoice {
    /// Whether it is the one in use.
    #[must_use]
    pub fn is_in_use(&self) -> bool {
        self.model.1 == self.in_use
    }

    /// In plain words.
    #[must_use]
    pub fn said(&self) -> ChoiceSaid {
        ChoiceSaid::of(self.model.1.clone(), self.in_use.clone(), self.is_in_use(), &self.cost)
    }
}

impl LubricantChoice {
    /// Whether it is the one in use.
    #[must_use]
    pub fn is_in_use(&self) -> bool {
        self.lubricant.0 == self.in_use.0
    }

    /// In plain words.
    #[must_use]
    pub fn said(&self) -> ChoiceSaid {
        ChoiceSaid::of(self.lubricant.1.clone(), self.in_use.1.clone(), self.is_in_use(), &self.cost)
    }
}

impl ChoiceSaid {
    fn of(who: String, in_use: String, is_in_use: bool, cost: &ChoiceCost) -> Self {
        if is_in_use {
            return Self::InUse { who };
        }
        let percent = format!("{:.0}", 100.0 * cost.cheaper_probability);
        match cost.chains_to_tell {
            Some(0) => Self::Told { who, in_use, percent },
            Some(chains) => Self::MoreWouldTell { who, in_use, percent, chains: chains.to_string() },
            None => Self::TooClose { who, in_use, percent },
        }
    }
}

impl Policy {
    /// Whether what is cheapest goes beyond the trade's limit, by a later limit or by riding all to the end.
    #[must_use]
    pub fn goes_beyond_trade_limit(&self) -> bool {
        // Limits are steps of a hundredth of a percent, so what is further off is more than rounding.
        self.curve.best_point().limit_percent > self.trade_percent + 1e-9
            || self.curve.to_the_end.worth_taking()
    }
}
