//! A kind of bike: what the bikes of a kind have in common.

use wear_core::units::Limit;

use super::{BikeId, BikeKindId, Drivetrain, GroupName, Label, PartModelId, Place, Timestamp, Use};

/// What can be set of a kind of bike.
#[derive(Debug, Clone, PartialEq)]
pub struct BikeKindFacts {
    /// What people call it; one kind of a workshop has the name, in any case.
    pub name: Label,
    /// What its bikes are used for.
    pub usage: Use,
    /// Their rings, cogs and chain length.
    pub drivetrain: Drivetrain,
    /// Whether the drivetrain is the usual one, as nobody said what it is.
    pub is_assumed: bool,
    /// Their own limit.
    pub limit: Option<Limit>,
    /// The group of its bikes; the kind's name where there is none.
    pub group: Option<GroupName>,
    /// The models of their parts.
    pub models: ModelsOfKind,
}

impl BikeKindFacts {
    /// The model for a place of a bike of this kind; none for a cassette's place where its bikes have a single cog, nor
    /// the other way round.
    #[must_use]
    pub fn model_at(&self, place: Place) -> Option<PartModelId> {
        let sprockets = if self.drivetrain.cogs().len() == 1 { Place::Cog } else { Place::Cassette };
        match place {
            Place::Chain => self.models.chain,
            Place::Cassette | Place::Cog => self.models.cassette.filter(|_| place == sprockets),
            Place::Ring => self.models.ring,
            Place::JockeyWheels => None,
        }
    }

    /// The group of a bike that is entered with this kind.
    #[must_use]
    pub fn group_of_bikes(&self) -> Option<GroupName> {
        self.group.clone().or_else(|| GroupName::new(self.name.as_str()).ok())
    }
}

/// The part models of a kind of bike, where known.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct ModelsOfKind {
    /// Of the chain.
    pub chain: Option<PartModelId>,
    /// Of the cassette, or of the only cog.
    pub cassette: Option<PartModelId>,
    /// Of the rings.
    pub ring: Option<PartModelId>,
}

/// A kind of bike.
#[derive(Debug, Clone, PartialEq)]
pub struct BikeKind {
    /// Its id.
    pub id: BikeKindId,
    /// What can be set.
    pub facts: BikeKindFacts,
    /// When it was entered.
    pub created_at: Timestamp,
    /// Counts its changes, from 1.
    pub revision: i64,
}

/// What is said of a drivetrain.
#[derive(Debug, Clone, PartialEq)]
pub enum DrivetrainChoice {
    /// All of it.
    Whole(Drivetrain),
    /// The usual one of the use with so many cogs; with the usual number where nobody said.
    Usual(Option<u32>),
    /// That of another bike.
    LikeBike(BikeId),
}

/// How a kind is named.
#[derive(Debug, Clone, PartialEq)]
pub enum KindChoice {
    /// By its id.
    Id(BikeKindId),
    /// By its name, in any case.
    Named(Label),
}
