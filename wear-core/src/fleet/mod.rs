//! A fleet learns from its own chains, and knows what it will need.

pub mod calibration;
pub mod demand;
mod learning;
pub mod multipliers;
mod rate_likelihood;
mod scoring;
pub mod track_record;

pub use learning::{Fleet, Learned};
