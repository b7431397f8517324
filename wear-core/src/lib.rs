//! How bicycle drivetrains wear, and what that costs.

pub mod bounds;
pub mod degradation;
pub mod forecast;
mod numeric;
pub mod reading;
pub mod units;
