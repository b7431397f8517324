//! How bicycle drivetrains wear, and what that costs.

pub mod bench;
pub mod bounds;
pub mod degradation;
#[doc = include_str!("../DESIGN.md")]
pub mod design {}
pub mod drivetrain;
pub mod exposure;
pub mod fleet;
pub mod forecast;
pub mod knock_on;
mod numeric;
pub mod policy;
pub mod reading;
pub mod units;
pub mod vocabulary;
