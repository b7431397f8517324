//! What a worn chain does to cassette and rings.
//!
//! A worn chain damages a sprocket at a slope that rises with its elongation. The slopes are our assumption (A); their
//! scale comes from common practice (T): about 3.5 chains to 0.5 %, 2 to 0.75 % or 1 to 1.0 % use up one cassette.
//! Worn-looking is not worn: shift-shaped teeth look worn when new. Only accumulated damage and the skip test decide.

mod cassette;
mod hazard;
mod rings;
mod skip;

pub use cassette::{
    CassetteBuild, CassetteFacts, CassetteOutlook, ChainWear, CountQuantiles, KnockOnError, SprocketOutlook,
};
pub use hazard::{BASIS, Basis, Provenance, accrued, cost_per_km, slope};
pub use rings::{RING_THRESHOLD, RingFacts, RingOutlook};
pub use skip::{SkipOutcome, SkipTest, probability_used_up};
