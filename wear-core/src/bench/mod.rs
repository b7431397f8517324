//! Who is on the bench on which day.
//!
//! [`plan`] puts jobs on bench days so that the sum of early, late and left-out costs is least, within each
//! day's minutes and the parts that have arrived. It says how far from the best plan it can be at most.

mod anneal;
mod basis;
mod branch;
mod cover;
mod dual_step;
mod improve;
mod knapsack_bound;
mod merge;
mod model;
mod neighbourhood;
mod plan;
mod prices;
mod problem;
mod relaxation;
mod schedule;
mod shortage;
mod solve;
mod swap_cost;
mod unit;

pub use plan::{Placement, Plan, PlanStatus, plan};
pub use problem::{Arrival, BenchDay, Day, Job, Problem, ProblemError};
pub use shortage::Shortage;
pub use swap_cost::{FAILURES_PER_KM_OVER_LIMIT, SwapCosts, SwapEconomics};
