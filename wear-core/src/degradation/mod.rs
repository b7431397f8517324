//! How a chain lengthens, what is known of it after readings, and how long it has left.

mod checkpoint;
mod contradiction;
mod filter;
mod history;
mod nodes;
mod outlook;
mod prior;
mod process;
mod projection;
mod step;

pub use checkpoint::{CHECKPOINT_VERSION, CheckpointError};
pub use contradiction::Contradiction;
pub use filter::{OpenExposure, Posterior, Predictive, Resolution, TimedReading};
pub use history::PosteriorHistory;
pub use outlook::{Outlook, Quantiles, Sight, WornStretch};
pub use prior::WearParameters;
pub use process::CEILING_PERCENT;
