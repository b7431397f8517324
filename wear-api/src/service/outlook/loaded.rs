//! A bike as it was loaded, and what the library says of it.

use chrono::NaiveDate;
use chrono_tz::Tz;
use wear_core::bike::{Assessment, NextSwap};

use crate::domain::{
    Bike, BikeId, ChainRecord, Drivetrain, KeptPassage, Made, NeededPart, Outlook, PartId, PartModelId,
    Place, Position, ReadingId, SwapNeeds, Taught, Timestamp,
};

/// Shares below this aren't kept.
const NEGLIGIBLE: f64 = 1e-4;

/// The part at a place on a bike.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct ModelOnBike {
    pub place: Place,
    pub position: Position,
    pub model: Option<PartModelId>,
}

/// A bike with all that its outlook rests on.
pub struct LoadedBike {
    pub(super) bike: Bike,
    /// As the library takes it.
    pub(super) drivetrain: wear_core::Bike,
    /// Its chains, as the library has them, with the ids of their readings.
    pub(super) chains: Vec<(PartId, Vec<ReadingId>)>,
    /// The chain that is on.
    pub(super) present: Option<PartId>,
    /// What was learned of its tools and people, and of the bike.
    pub(super) taught: Taught,
    /// The models of what is on.
    pub(super) models: Vec<ModelOnBike>,
    pub(super) now: Timestamp,
    pub(super) today: NaiveDate,
    pub(super) zone: Tz,
}

/// What the library says of a bike.
pub(super) struct Assessed {
    pub outlook: Outlook,
    pub needs: SwapNeeds,
    pub chains: Vec<ChainRecord>,
    /// The forecast of the chain that is on, to be kept.
    pub passage: Option<KeptPassage>,
    pub zone: Tz,
}

impl LoadedBike {
    /// The bike.
    #[must_use]
    pub const fn bike_id(&self) -> BikeId {
        self.bike.id
    }

    pub(super) fn assess(&self) -> Assessment {
        self.drivetrain.assess(self.now.moment())
    }

    pub(super) fn assessed(&self) -> Assessed {
        let assessment = self.assess();
        let known = assessment.exposures().zip(assessment.starts());
        let chains = self.chains.iter().zip(known).map(|((part_id, readings), ((at, marks), start))| {
            let marks = marks.into_iter().filter_map(|(place, at)| Some((*readings.get(place)?, at)));
            ChainRecord {
                part_id: *part_id,
                bike_id: self.bike.id,
                group: self.bike.facts.group.clone(),
                start,
                reference_km: at,
                marks: marks.collect(),
                recorded_at: self.now,
            }
        });
        let chains = chains.collect();
        let needs = self.needs(assessment.next_swap());
        let outlook = self.outlook(assessment.into_outlook());
        let passage = KeptPassage::of(&outlook, &needs.timing, &self.bike.facts.group, Made::Shown);
        Assessed { outlook, needs, chains, passage, zone: self.zone }
    }

    pub(super) fn outlook(&self, known: wear_core::Outlook) -> Outlook {
        Outlook {
            bike_id: self.bike.id,
            part_id: self.present,
            computed_at: self.now,
            today: self.today,
            taught: self.taught.clone(),
            known,
        }
    }

    /// The parts that the next swap uses, by their models or, where nobody entered one, by their shape.
    fn needs(&self, swap: &NextSwap) -> SwapNeeds {
        let drivetrain = &self.bike.facts.drivetrain;
        let models = if self.present.is_some() { self.models.as_slice() } else { &[] };
        let parts = models.iter().filter_map(|&ModelOnBike { place, position, model: model_id }| {
            let (shape, share) = match place {
                Place::Chain => (format!("{} sprockets", drivetrain.cogs().len()), 1.0),
                Place::Cassette | Place::Cog => (cogs_in_words(drivetrain), swap.cassette?),
                Place::Ring => {
                    // Places count from the largest ring.
                    let from_largest = usize::from(position.get());
                    let teeth = drivetrain.rings().iter().rev().nth(from_largest)?;
                    (format!("{} teeth", teeth.get()), *swap.rings.get(from_largest)?)
                }
                Place::JockeyWheels => return None,
            };
            (share >= NEGLIGIBLE).then_some(NeededPart { place, position, model_id, shape, share })
        });
        SwapNeeds { timing: swap.timing, parts: parts.collect() }
    }
}

fn cogs_in_words(drivetrain: &Drivetrain) -> String {
    let cogs: Vec<String> = drivetrain.cogs().iter().map(|teeth| teeth.get().to_string()).collect();
    format!("{} teeth", cogs.join("-"))
}
