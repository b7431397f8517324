//! What of an outlook hooks may be told of.

use wear_core::Reason;
use wear_core::bike::{CassetteReport, NextChain, RingReport};

use super::loaded::{LoadedBike, ModelOnBike, cogs_in_words};
use crate::domain::{
    Advice, ChainFinding, Findings, NoticeSaid, Outlook, Place, Position, SprocketFinding, Topic, Worn,
};

/// Probability from which a ring counts as likely worn out, as the library has it for cassettes.
const LIKELY: f64 = 0.5;

/// Probability below which it most likely isn't, likewise.
const UNLIKELY: f64 = 0.2;

impl LoadedBike {
    pub(super) fn findings(&self, outlook: &Outlook) -> Findings {
        // That nothing is known of a chain is no news: whoever entered the bike knows, and lists say so.
        let unknown =
            matches!(outlook.reason, Reason::NoChain | Reason::AgeUnknown | Reason::RidingUnknown { .. });
        let on_bike = self.models.iter().map(|on| on.part_id).collect();
        if unknown {
            return Findings { on_bike, ..Findings::default() };
        }
        let chain = self.present.map(|part_id| ChainFinding {
            part_id,
            model_id: self.models.iter().find(|on| on.part_id == part_id).and_then(|on| on.model),
            advice: outlook.advice,
            evidence: evidence(outlook),
            soon: self.soon.due(outlook.advice, outlook.measure_in_days, outlook.swap_in_days),
        });
        let cassette = outlook.cassette.as_ref().and_then(|report| self.cassette(report, outlook.advice));
        // The library's rings begin with the fewest teeth, places with the most.
        let rings = outlook.rings.iter().rev().zip(0..).filter_map(|(report, at)| self.ring(report, at));
        Findings { on_bike, chain, sprockets: cassette.into_iter().chain(rings).collect() }
    }

    fn at(&self, places: &[Place], position: Position) -> Option<&ModelOnBike> {
        self.models.iter().find(|on| places.contains(&on.place) && on.position == position)
    }

    fn cassette(&self, report: &CassetteReport, advice: Advice) -> Option<SprocketFinding> {
        let on = self.at(&[Place::Cassette, Place::Cog], Position::default())?;
        let (worn, probability) = match report.next_chain() {
            NextChain::LikelySkips { skips } => (Worn::Likely, skips),
            NextChain::MaySkip { skips } => (Worn::Maybe, skips),
            NextChain::RunsWell { skips } => (Worn::No, skips),
            _ => return None,
        };
        // Where the bike has to be checked, what the record says of its cassette is in doubt as well.
        let worn = if advice == Advice::Hold && worn == Worn::No { Worn::Maybe } else { worn };
        Some(SprocketFinding {
            part_id: on.part_id,
            model_id: on.model,
            topic: Topic::Cassette,
            position: on.position,
            shape: cogs_in_words(&self.bike.facts.drivetrain),
            worn,
            probability,
            said: NoticeSaid::CassetteWorn { percent: NoticeSaid::percent(probability) },
        })
    }

    fn ring(&self, report: &RingReport, from_largest: i64) -> Option<SprocketFinding> {
        let on = self.at(&[Place::Ring], Position::new(from_largest).ok()?)?;
        let (teeth, probability) = (report.teeth, report.probability_worn_at_limit);
        let worn = match probability {
            worn if worn >= LIKELY => Worn::Likely,
            worn if worn >= UNLIKELY => Worn::Maybe,
            _ => Worn::No,
        };
        Some(SprocketFinding {
            part_id: on.part_id,
            model_id: on.model,
            topic: Topic::Ring,
            position: on.position,
            shape: format!("{teeth} teeth"),
            worn,
            probability,
            said: NoticeSaid::RingWorn { teeth, percent: NoticeSaid::percent(probability) },
        })
    }
}

/// What an advice rests on, other than the passing of time and kilometres.
fn evidence(outlook: &Outlook) -> String {
    let last =
        outlook.basis.last_reading_at.map_or_else(|| "-".to_owned(), |at| outlook.time_of(at).to_string());
    format!("{} {} {}", outlook.basis.readings_used, last, outlook.limit_percent)
}
