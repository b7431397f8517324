//! A fleet learns from its own chains, and knows what it will need.

mod approximation;
mod bikes;
pub mod calibration;
pub mod cassettes;
pub mod censored;
pub mod coming_year;
pub mod demand;
pub mod demand_record;
mod drift;
mod joint;
mod learning;
mod lubricants;
pub mod multipliers;
mod newton;
pub mod passage;
pub mod passage_record;
mod rate_likelihood;
mod read_with;
pub mod skip_record;
pub mod skip_reliability;
pub mod swap_by_record;
mod terms;
mod tools;
pub mod track_record;

pub use bikes::{BikeShare, ChainLevel};
pub use drift::{Counted, Days, Drift};
pub use learning::{Fleet, Learned};
pub use lubricants::LubricantEffects;
pub use read_with::{ReadWith, Tool};
pub use terms::{LearnedEffect, LearnedTerms, LubricantShare, Term};
pub use tools::{LearnedBias, LearnedTools};
