//! A fleet learns from its own chains.

pub mod calibration;
mod rate_likelihood;
