//! How bicycle drivetrains wear, and what that costs.

pub mod bench;
pub mod bounds;
pub mod units;
