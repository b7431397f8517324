//! Prices, labour, and what a failure on the road costs.

use crate::knock_on::SkipThreshold;
use thiserror::Error;

/// Money for one replacement, in any unit, the same everywhere.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Price {
    /// The part.
    pub part: f64,
    /// The labour to fit it.
    pub labour: f64,
}

impl Price {
    /// Part and labour.
    #[must_use]
    pub fn sum(self) -> f64 {
        self.part + self.labour
    }
}

/// A cassette of separate cogs: what each costs and how much of the wear it gets.
#[derive(Debug, Clone, PartialEq)]
pub struct Cogs {
    /// One cog.
    pub price: Price,
    /// Damage of each cog relative to the busiest one, 0 to 1.
    pub weights: Vec<f64>,
}

/// How often a chain fails on the road, by its elongation: skips, jams, snaps.
///
/// Failures per 1,000 reference km double with every `doubling_percent` of elongation. Both numbers are assumptions (A).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FailureLaw {
    /// Failures per 1,000 reference km of a new chain.
    pub new_per_1000_km: f64,
    /// Elongation that doubles them, percent.
    pub doubling_percent: f64,
}

impl Default for FailureLaw {
    fn default() -> Self {
        Self { new_per_1000_km: 0.005, doubling_percent: 0.2 }
    }
}

impl FailureLaw {
    /// Failures per reference km at an elongation.
    #[must_use]
    pub fn per_km(&self, percent: f64) -> f64 {
        self.new_per_1000_km / 1_000.0 * (percent / self.doubling_percent).exp2()
    }
}

/// What a workshop pays.
#[derive(Debug, Clone, PartialEq)]
pub struct Costs {
    /// A chain.
    pub chain: Price,
    /// A cassette.
    pub cassette: Price,
    /// The rings, all of them.
    pub rings: Price,
    /// Separate cogs, where the cassette comes apart.
    pub cogs: Option<Cogs>,
    /// One look at a chain.
    pub inspection: f64,
    /// One failure on the road; nil for a club, set by a rental fleet.
    pub failure: f64,
    /// Putting the next of several chains on in turn.
    pub rotation: f64,
    /// How often chains fail.
    pub failures: FailureLaw,
    /// How much damage cassettes bear.
    pub cassettes_bear: SkipThreshold,
}

/// Costs that make no sense.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
#[non_exhaustive]
pub enum CostsError {
    /// A number is negative, NaN or beyond reason.
    #[error("{field}: a number from 0 to 1e12")]
    NotMoney {
        /// Path of the field.
        field: &'static str,
    },
    /// A cog's weight is outside 0 to 1, or there is none at 1.
    #[error("cogs/weights: each from 0 to 1, the busiest 1")]
    NotWeights,
    /// The doubling elongation is not positive.
    #[error("failures/doubling_percent: a number from 0.01 to 100")]
    NotDoubling,
}

impl Costs {
    /// Prices of chain, cassette and rings; everything else nil.
    #[must_use]
    pub fn of_parts(chain: Price, cassette: Price, rings: Price) -> Self {
        Self {
            chain,
            cassette,
            rings,
            cogs: None,
            inspection: 0.0,
            failure: 0.0,
            rotation: 0.0,
            failures: FailureLaw::default(),
            cassettes_bear: SkipThreshold::ASSUMED,
        }
    }

    /// Checks every number.
    ///
    /// # Errors
    /// [`CostsError`], naming the field.
    pub fn check(&self) -> Result<(), CostsError> {
        let cogs = self.cogs.as_ref();
        let money = [
            ("chain/part", self.chain.part),
            ("chain/labour", self.chain.labour),
            ("cassette/part", self.cassette.part),
            ("cassette/labour", self.cassette.labour),
            ("rings/part", self.rings.part),
            ("rings/labour", self.rings.labour),
            ("cogs/price/part", cogs.map_or(0.0, |cogs| cogs.price.part)),
            ("cogs/price/labour", cogs.map_or(0.0, |cogs| cogs.price.labour)),
            ("inspection", self.inspection),
            ("failure", self.failure),
            ("rotation", self.rotation),
            ("failures/new_per_1000_km", self.failures.new_per_1000_km),
        ];
        if let Some(&(field, _)) = money.iter().find(|(_, value)| !(0.0..=1e12).contains(value)) {
            return Err(CostsError::NotMoney { field });
        }
        if !(0.01..=100.0).contains(&self.failures.doubling_percent) {
            return Err(CostsError::NotDoubling);
        }
        match cogs {
            Some(cogs) if !cogs.weights.iter().all(|weight| (0.0..=1.0).contains(weight)) => {
                Err(CostsError::NotWeights)
            }
            Some(cogs) if !cogs.weights.contains(&1.0) => Err(CostsError::NotWeights),
            _ => Ok(()),
        }
    }
}
