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
    /// Whether a part of this shape may take the place of one of the `other` shape.
    #[must_use]
    pub fn stands_in_for(&self, other: &Self) -> StandIn {
        let same = match (self, other) {
            (Self::Chain { sprockets: Some(a) }, Self::Chain { sprockets: Some(b) }) => a == b,
            // Whether cogs come off one by one is no matter of fit.
            (Self::Cassette { cogs: a, .. }, Self::Cassette { cogs: b, .. }) => a == b,
            (Self::Cog { .. }, Self::Cog { .. })
            | (Self::Ring { .. }, Self::Ring { .. })
            | (Self::JockeyWheels { .. }, Self::JockeyWheels { .. }) => self == other,
            _ => false,
        };
        if same { StandIn::Fits } else { StandIn::Check }
    }

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

/// Whether one model may take another's place, going by their shapes alone.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum StandIn {
    /// The shapes are the same.
    Fits,
    /// They differ, or one isn't known: somebody has to check.
    Check,
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_the_same_shape_stands_in_unchecked() {
        let chain = |sprockets| Geometry::Chain { sprockets };
        let ring = |teeth, narrow_wide| Geometry::Ring { teeth: Teeth::new(teeth).unwrap(), narrow_wide };
        let cassette = |cogs: &[u32], one_piece| Geometry::Cassette {
            cogs: cogs.iter().map(|cog| Teeth::new(*cog).unwrap()).collect(),
            one_piece,
        };
        let fits = [
            (chain(Some(8)), chain(Some(8))),
            (ring(42, true), ring(42, true)),
            (cassette(&[11, 13], true), cassette(&[11, 13], false)),
        ];
        for (a, b) in fits {
            assert_eq!(a.stands_in_for(&b), StandIn::Fits, "{a:?} {b:?}");
        }
        let check = [
            (chain(Some(8)), chain(Some(9))),
            (chain(None), chain(None)),
            (ring(42, true), ring(42, false)),
            (cassette(&[11, 13], true), cassette(&[11, 14], true)),
            (chain(Some(8)), ring(42, false)),
        ];
        for (a, b) in check {
            assert_eq!(a.stands_in_for(&b), StandIn::Check, "{a:?} {b:?}");
        }
    }
}
