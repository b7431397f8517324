//! A bike as it was loaded, and what the library says of it.

use chrono::NaiveDate;
use chrono_tz::Tz;
use wear_core::bike::{Assessment, NextSwap};
use wear_core::forecast::UseHistory;
use wear_core::knock_on::CassetteLife;

use crate::domain::{
    Bike, BikeId, ChainRecord, Drivetrain, Findings, KeptPassage, LubricantUse, Made, NeededPart, Outlook,
    PartId, PartModelId, Place, Position, ReadingId, SoonDays, SwapNeeds, Taught, Timestamp,
};

/// The part at a place on a bike.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct ModelOnBike {
    pub place: Place,
    pub position: Position,
    pub part_id: PartId,
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
    /// The day on which the first of its chains was fitted, counted since 1970-01-01, where there were others before that
    /// matter no more.
    pub(super) others_before: Option<i64>,
    /// Days before its day that a reading or a swap is told to be due soon.
    pub(super) soon: SoonDays,
    pub(super) now: Timestamp,
    pub(super) today: NaiveDate,
    pub(super) zone: Tz,
}

/// What the library says of a bike.
pub(super) struct Assessed {
    pub outlook: Outlook,
    pub needs: SwapNeeds,
    /// What hooks may be told of.
    pub findings: Findings,
    pub chains: Vec<ChainRecord>,
    /// The forecast of the chain that is on, to be kept.
    pub passage: Option<KeptPassage>,
    pub zone: Tz,
    /// How the bike was used since the first of these chains; none where it wasn't.
    pub used: Option<UseHistory>,
    pub others_before: Option<i64>,
}

impl LoadedBike {
    /// The bike.
    #[must_use]
    pub const fn bike_id(&self) -> BikeId {
        self.bike.id
    }

    /// What its cassettes went through.
    #[must_use]
    pub fn cassette_lives(&self) -> Vec<CassetteLife> {
        self.drivetrain.cassette_lives(self.now.moment_in(self.zone))
    }

    pub(super) fn assess(&self) -> Assessment {
        self.drivetrain.assess(self.now.moment_in(self.zone))
    }

    pub(super) fn assessed(&self) -> Assessed {
        let assessment = self.assess();
        let known = assessment.exposures().zip(assessment.starts());
        let under = assessment.read_under().zip(assessment.ridden_under());
        let chains = self.chains.iter().zip(known.zip(under));
        let chains =
            chains.map(|((part_id, readings), (((at, marks), start), (read_under, ridden_under)))| {
                let marks = marks.into_iter().filter_map(|(place, at)| Some((*readings.get(place)?, at)));
                ChainRecord {
                    part_id: *part_id,
                    bike_id: self.bike.id,
                    group: self.bike.facts.group.clone(),
                    start,
                    reference_km: at,
                    marks: marks.collect(),
                    recorded_at: self.now,
                    read_under,
                    ridden_under: ridden_under.iter().map(LubricantUse::of).collect(),
                }
            });
        let chains = chains.collect();
        let needs = self.needs(assessment.next_swap());
        let used = assessment.use_history();
        let outlook = self.outlook(assessment);
        let passage = KeptPassage::of(&outlook, &needs.timing, &self.bike.facts.group, Made::Shown);
        let (others_before, zone) = (self.others_before, self.zone);
        let findings = self.findings(&outlook);
        Assessed { outlook, needs, findings, chains, passage, zone, used, others_before }
    }

    pub(super) fn outlook(&self, assessment: Assessment) -> Outlook {
        let lubricant_factor = assessment.lubricant_factor();
        Outlook {
            bike_id: self.bike.id,
            part_id: self.present,
            computed_at: self.now,
            today: self.today,
            zone: self.zone,
            taught: Taught { lubricant_factor, ..self.taught.clone() },
            known: assessment.into_outlook(),
        }
    }

    /// The parts that the next swap uses, by their models or, where nobody entered one, by their shape.
    fn needs(&self, swap: &NextSwap) -> SwapNeeds {
        let drivetrain = &self.bike.facts.drivetrain;
        let models = if self.present.is_some() { self.models.as_slice() } else { &[] };
        let parts =
            models.iter().filter_map(|&ModelOnBike { place, position, part_id: _, model: model_id }| {
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
                Some(NeededPart { place, position, model_id, shape, share })
            });
        SwapNeeds { timing: swap.timing, parts: parts.collect(), renewals: swap.renewals }
    }
}

pub(super) fn cogs_in_words(drivetrain: &Drivetrain) -> String {
    let cogs: Vec<String> = drivetrain.cogs().iter().map(|teeth| teeth.get().to_string()).collect();
    format!("{} teeth", cogs.join("-"))
}
