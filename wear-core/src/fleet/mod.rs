//! A fleet learns from its own chains, and knows what it will need.

pub mod calibration;
pub mod demand;
mod learning;
mod multiplier_scores;
pub mod multipliers;
mod rate_likelihood;
pub mod track_record;

pub use learning::{Fleet, Learned};
