//! A part model: what a shop would order.

use wear_core::units::{JockeyTeeth, Limit};

use super::{Label, Money, PartModelId, Place, Teeth, Timestamp};

/// What a model's shape is, by the place it fits.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Geometry {
    /// A chain.
    Chain {
        /// Number of sprockets it is made for, where known.
        sprockets: Option<u32>,
    },
    /// A cassette.
    Cassette {
        /// Teeth of its cogs, fewest first.
        cogs: Vec<Teeth>,
        /// Whether it comes as one piece, so that no cog can be replaced alone.
        one_piece: bool,
    },
    /// One cog.
    Cog {
        /// Its teeth.
        teeth: Teeth,
    },
    /// One chain ring.
    Ring {
        /// Its teeth.
        teeth: Teeth,
        /// Whether wide and narrow teeth alternate.
        narrow_wide: bool,
    },
    /// A pair of jockey wheels.
    JockeyWheels {
        /// Teeth of each.
        teeth: JockeyTeeth,
    },
}

impl Geometry {
    /// The place that a part of this shape fits.
    #[must_use]
    pub const fn place(&self) -> Place {
        match self {
            Self::Chain { .. } => Place::Chain,
            Self::Cassette { .. } => Place::Cassette,
            Self::Cog { .. } => Place::Cog,
            Self::Ring { .. } => Place::Ring,
            Self::JockeyWheels { .. } => Place::JockeyWheels,
        }
    }
}

/// What can be set of a part model.
#[derive(Debug, Clone, PartialEq)]
pub struct PartModelFacts {
    /// What people call it.
    pub name: Label,
    /// Its shape.
    pub geometry: Geometry,
    /// Price of one.
    pub price: Option<Money>,
    /// Swap limit of chains of this model, where it isn't the trade's or the workshop's.
    pub limit: Option<Limit>,
}

/// A part model.
#[derive(Debug, Clone, PartialEq)]
pub struct PartModel {
    /// Its id.
    pub id: PartModelId,
    /// What can be set.
    pub facts: PartModelFacts,
    /// When it was entered.
    pub created_at: Timestamp,
    /// Counts its changes, from 1.
    pub revision: i64,
}
