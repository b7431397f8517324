//! How bicycle drivetrains wear, and what that costs.

pub mod bounds;
pub mod forecast;
pub mod units;
