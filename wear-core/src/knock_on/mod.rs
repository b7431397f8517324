//! What a worn chain does to cassette and rings.
//!
//! A worn chain damages a sprocket at a slope that rises with its elongation. The slopes are our assumption (A); their
//! scale comes from common practice (T): about 3.5 chains to 0.5 %, 2 to 0.75 % or 1 to 1.0 % use up one cassette.
//! Worn-looking is not worn: shift-shaped teeth look worn when new. Only accumulated damage and the skip test decide.

mod cassette;
mod hazard;
mod life;
mod rings;
mod skip;
mod sprockets;
mod threshold;

pub use cassette::{
    CassetteBuild, CassetteFacts, CassetteOutlook, ChainWear, CountQuantiles, KnockOnError, SprocketOutlook,
};
pub use hazard::{BASIS, Basis, Provenance, accrued, cost_per_km, slope};
pub use life::{CassetteLife, Removal, SwapReason, ToldSkip, Trial};
pub use rings::{RING_THRESHOLD, RingFacts, RingOutlook};
pub(crate) use skip::Evidence;
pub use skip::{SkipOutcome, SkipTest, TRIAL_KM};
pub(crate) use sprockets::damage_by_chain;
pub use threshold::SkipThreshold;
pub(crate) use threshold::{COMMON_SHARE, SIGMA as THRESHOLD_SIGMA};
