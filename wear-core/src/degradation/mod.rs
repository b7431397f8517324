//! How a chain lengthens, what is known of it after readings, and how long it has left.

mod checkpoint;
mod contradiction;
mod doubt;
mod explanation;
mod fast_phase;
mod filter;
mod history;
mod mixture;
mod nodes;
mod outlook;
mod prior;
mod process;
mod projection;
mod start;
mod step;

pub use checkpoint::{CHECKPOINT_VERSION, CheckpointError};
pub use contradiction::Contradiction;
pub use doubt::ExplanationKind;
pub use explanation::{Doubt, Explanation, Explanations, Place};
pub use fast_phase::FastPhase;
pub use filter::{OpenExposure, Posterior, Predictive, Resolution, TimedReading};
pub use history::PosteriorHistory;
pub use mixture::MixedSnapshot;
pub use outlook::{Outlook, Quantiles, Snapshot, WornStretch};
pub use prior::WearParameters;
pub use process::{CEILING_PERCENT, MissingRiding};
pub use start::{AsFound, HINT_LN_SD, LEFT_ON_BEYOND_LIMIT, Start};
pub(crate) use start::{off_beyond, still_on};
