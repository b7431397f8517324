//! When the bike's next swap comes and what it uses, for counts of parts.

use wear_core::drivetrain::Teeth;
use wear_core::forecast::{LifeCurve, UseForecast};
use wear_core::knock_on;
use wear_core::units::Limit;

use super::chain::ExpectedKnockOn;
use crate::domain::{
    Advice, CassetteReport, Drivetrain, NEED_DAYS, NeededPart, PartModelId, Place, Position, RingReport,
    SwapNeeds,
};

/// Shares below this aren't kept.
const NEGLIGIBLE: f64 = 1e-4;

/// The part at a place on a bike.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ModelOnBike {
    /// The place.
    pub place: Place,
    /// Which of them, where there are several.
    pub position: Position,
    /// The part's model, where it has one.
    pub model: Option<PartModelId>,
}

/// What the next swap of a bike rests on.
#[derive(Debug)]
pub(super) struct SwapFacts<'a> {
    pub advice: Advice,
    pub swap_in_days: Option<u32>,
    pub curve: &'a LifeCurve,
    pub usage: Option<&'a UseForecast>,
    /// What the chain has done to the sprockets by now.
    pub knock_on: ExpectedKnockOn,
    pub limit: Limit,
    pub drivetrain: &'a Drivetrain,
    pub cassette: Option<&'a CassetteReport>,
    pub rings: &'a [RingReport],
    pub models: &'a [ModelOnBike],
}

/// The chain comes off when it reaches its limit, or on the day of the advice to swap it. Cassette and rings go with it
/// when they are used up by then (A: nobody swaps them alone).
pub(super) fn needs(facts: &SwapFacts<'_>) -> SwapNeeds {
    let by = |day: u32| match facts.usage {
        Some(usage) => facts.curve.probability_by_day(usage, f64::from(day)),
        None => facts.curve.probability(0.0),
    };
    let certain_in_days = match facts.advice {
        Advice::SwapNow => Some(0),
        Advice::SwapBy => facts.swap_in_days,
        _ => None,
    };
    let parts = facts.models.iter().filter_map(|&ModelOnBike { place, position, model: model_id }| {
        let (shape, share) = match place {
            Place::Chain => (format!("{} sprockets", facts.drivetrain.cogs().len()), 1.0),
            Place::Cassette | Place::Cog => cassette(facts)?,
            Place::Ring => ring(facts, position)?,
            Place::JockeyWheels => return None,
        };
        (share >= NEGLIGIBLE).then_some(NeededPart { place, position, model_id, shape, share })
    });
    SwapNeeds { certain_in_days, by_day: NEED_DAYS.map(by), parts: parts.collect() }
}

/// Damage that the present chain still does to the busiest sprocket until it comes off.
fn to_come(facts: &SwapFacts<'_>) -> f64 {
    (knock_on::accrued(facts.limit.get()) - facts.knock_on.accrued).max(0.0)
}

fn cassette(facts: &SwapFacts<'_>) -> Option<(String, f64)> {
    let report = facts.cassette?;
    let busiest = report.sprockets.iter().map(|sprocket| sprocket.damage).fold(0.0, f64::max);
    let then = knock_on::probability_used_up(busiest + to_come(facts));
    let cogs: Vec<String> = facts.drivetrain.cogs().iter().map(|teeth| teeth.get().to_string()).collect();
    Some((format!("{} teeth", cogs.join("-")), then.max(report.probability_skips)))
}

fn ring(facts: &SwapFacts<'_>, position: Position) -> Option<(String, f64)> {
    // Places count from the largest ring.
    let mut rings: Vec<Teeth> = facts.drivetrain.rings().to_vec();
    rings.sort_unstable_by(|a, b| b.cmp(a));
    let teeth = rings.get(usize::from(position.get()))?.get();
    let report = facts.rings.iter().find(|ring| ring.teeth == u32::from(teeth))?;
    let busiest = facts.rings.iter().map(|ring| ring.damage).fold(0.0, f64::max);
    let share = if busiest > 0.0 { report.damage / busiest } else { 1.0 };
    let then =
        knock_on::probability_used_up(report.damage + share * to_come(facts) / knock_on::RING_THRESHOLD);
    Some((format!("{teeth} teeth"), then.max(report.probability_worn)))
}
