//! What is cheapest: when to take a chain off, when to look, whether to run everything to the end, which model and which
//! lubricant.
//!
//! All of it is renewal reward (S: Barlow & Proschan 1965): what a cycle costs over how far it goes. Wear enters by
//! closures, survival functions and mean lives, so any model of wear will do. Distances are reference kilometres; money
//! is in whatever unit the prices are in.
//!
//! Checked: replacement by age against numbers computed with scipy; the cost of a limit against 100,000 simulated lives.

mod choice;
mod cost;
mod curve;
mod cycle;
mod inspection;
mod integral;
mod limit;
mod mean_life;
mod part_prices;
mod scenarios;

pub use choice::{Candidate, ChoiceCost, ChoiceQuestion, Effects, MOST_CHAINS_TO_TELL};
pub use cost::{Cogs, Costs, CostsError, FailureLaw, Price};
pub use curve::{
    Alternative, Cause, CurvePoint, LOOK_INTERVALS_KM, LimitCurve, PolicyReason, Question, ROTATIONS,
    Rotation, UsualLimit,
};
pub use cycle::{AgePolicy, age_replacement, age_replacement_rate};
pub use inspection::{LookCosts, NextLook, next_look};
pub use limit::{END_PERCENT, LimitCost, LimitPolicy, cost_of_limit, cost_of_rotation, cost_to_the_end};
pub use mean_life::MeanLife;
pub use part_prices::{CASSETTE_PER_CHAIN, PartPrices, READING_PER_CHAIN, RING_PER_CHAIN, USUAL_CHAIN};
pub use scenarios::{Scenario, Spread, scenarios_around};
