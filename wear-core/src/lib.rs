//! How bicycle drivetrains wear, and what that costs.

pub mod bounds;
pub mod drivetrain;
pub mod exposure;
pub mod forecast;
pub mod knock_on;
pub mod units;
pub mod vocabulary;
